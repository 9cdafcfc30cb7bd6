#!/bin/sh
# The calls that the SPI port makes, made for real: to files in user space (libfuse3) that answer as
# the driver spidev does. No strip and no controller are involved.
# Takes about 15 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
. tests/support/wait.sh
base=${BUILD:-build}
cannot() { # REASON
    skip "the calls to an SPI port" "$1"
    close_sum
    exit
}
[ "$(id -u)" = 0 ] || cannot "only root may mount"
[ -c /dev/fuse ] || cannot "there is no /dev/fuse"
pkg-config --exists fuse3 2>/dev/null || cannot "there is no libfuse3-dev"
work=$(mktemp -d)
server=
finish() {
    [ -n "$server" ] && kill "$server" 2>/dev/null && wait "$server"
    rm -rf "$work"
}
trap finish EXIT
mkdir "$work/dev"
# shellcheck disable=SC2046
if ! ${CC:-gcc} -std=c11 -D_GNU_SOURCE -D_FILE_OFFSET_BITS=64 -Wall -Wextra -Werror -I. -o "$work/server" \
    tests/system/spidev_file.c $(pkg-config --cflags --libs fuse3) ||
    ! make --no-print-directory -s "$base/tests/system/strip_client" >"$work/built" 2>&1; then
    cat "$work/built" 2>/dev/null
    verdict 1 "the programs of this test to build"
    close_sum
    exit
fi
"$work/server" "$work/dev" "$work/log" 2>"$work/trouble" &
server=$!
made() { [ -e "$work/dev/spidev0.0" ] || ! kill -0 "$server"; }
await 20 made && [ -e "$work/dev/spidev0.0" ] ||
    cannot "it could not be mounted: $(head -n 1 "$work/trouble")"

dev=$work/dev client=$base/tests/system/strip_client
. tests/system/spidev_checks.sh

# The command that tries a lamp: its first steps, each frame once. In a mount namespace of its own the
# files are /dev, since a lamp's port lies there. A quarter of the light is 64, 01000000, so 8E888888
# where 0 is 88888888; red, green and blue of two pixels in the order of the sheet, green, red, blue,
# then the first pixel, the last, the first again, and dark at the end.
if unshare -m true 2>/dev/null && make --no-print-directory -s "$base/gloam" >"$work/built" 2>&1; then
    gloam=$(cd "$base" && pwd)/gloam
    begin() { # OPTION...: a try, as $trying
        : >"$work/said"
        # shellcheck disable=SC2016
        unshare -m sh -c 'mount --bind "$1/dev" /dev && shift && exec "$@"' - \
            "$work" "$gloam" try-wiring "$@" >"$work/said" 2>&1 </dev/null &
        trying=$!
    }
    ends() {
        kill "$trying"
        wait "$trying"
    }
    messages() { [ "$(grep message "$work/log" | uniq | wc -l)" -ge "$1" ]; }
    : >"$work/log"
    begin --chip ws2812b --port /dev/spidev0.0 --pixels 2 --every 200ms
    await 20 messages 7
    ends
    verdict $? "a lamp to be tried: $(cat "$work/said")"
    released
    o=88888888 i=8E888888
    {
        for light in $o$o$o$o$o$o $o$i$o$o$i$o $i$o$o$i$o$o $o$o$i$o$o$i $i$i$i$o$o$o $o$o$o$i$i$i \
            $i$i$i$o$o$o $o$o$o$o$o$o; do # how far the walk comes before the end is not looked at
            echo "message 3200000 00$light$(zeros 120)"
        done
    } >"$work/wanted"
    { grep message "$work/log" | uniq | head -n 7 && grep message "$work/log" | tail -n 1; } | diff "$work/wanted" -
    verdict $? "these frames of the steps (<), not those (>)"

    # While another has the port open, that is told.
    unshare -m sh -c 'mount --bind "$1/dev" /dev && exec sleep 60 3<>/dev/spidev0.0' - "$work" &
    other=$!
    has_it() { [ "$(cat "/proc/$other/comm")" = sleep ] && [ -e "/proc/$other/fd/3" ]; }
    await 20 has_it
    begin --chip ws2812b --port /dev/spidev0.0 --pixels 2 --every 200ms
    await 20 grep -q "process $other (sleep) has /dev/spidev0.0 open too" "$work/said"
    verdict $? "who else has the port to be told: $(cat "$work/said")"
    ends
    kill $other
    wait $other 2>/dev/null
    : >"$work/log"
    begin --chip apa102 --port /dev/spidev0.1 --pixels 2
    wait $trying
    [ $? -eq 3 ] && grep -q 'did not send a frame' "$work/said"
    verdict $? "status 3 where the port fails: $(cat "$work/said")"
else
    skip "try-wiring at an SPI port" "no mount namespace, or no gloam"
fi
close_sum
