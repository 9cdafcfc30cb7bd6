#!/bin/sh
# The calls that the SPI port makes, made for real: to files in user space (libfuse3) that answer as
# the driver spidev does. No strip and no controller are involved.
# Takes about 15 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
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
if ! ${CC:-gcc} -std=c11 -D_GNU_SOURCE -D_FILE_OFFSET_BITS=64 -Wall -Wextra -Werror -o "$work/server" \
    tests/system/spidev_file.c $(pkg-config --cflags --libs fuse3) ||
    ! make --no-print-directory -s "$base/tests/system/strip_client" >"$work/built" 2>&1; then
    cat "$work/built" 2>/dev/null
    verdict 1 "the programs of this test to build"
    close_sum
    exit
fi
"$work/server" "$work/dev" "$work/log" 2>"$work/trouble" &
server=$!
tries=0
until [ -e "$work/dev/spidev0.0" ]; do
    tries=$((tries + 1))
    if [ "$tries" -gt 50 ] || ! kill -0 "$server" 2>/dev/null; then
        cannot "it could not be mounted: $(head -n 1 "$work/trouble")"
    fi
    sleep 0.1
done

client() { "$base/tests/system/strip_client" "$work/dev/$1" "$2" "$3" >"$work/said" 2>&1; }
released() { # the file hears of the end a little after the client has ended
    for _ in 1 2 3 4 5 6 7 8 9 10; do
        grep -q release "$work/log" && return
        sleep 0.1
    done
}
zeros() { printf "%0$((2 * $1))d" 0; }

# By hand: 00 FF 80 on a wire of green, red, blue, each bit 1000 or 1110; 300 us at 3.2 MHz are 120
# bytes; then the same place dark.
client spidev0.0 ws2812b 1
verdict $? "a strip of one pixel to be driven: $(cat "$work/said")"
released
{
    printf 'open\nmode 0\nbits 8\nspeed 3200000\n'
    echo "message 3200000 0088888888EEEEEEEEE8888888$(zeros 120)"
    echo "message 3200000 00888888888888888888888888$(zeros 120)"
    echo release
} >"$work/wanted"
diff "$work/wanted" "$work/log"
verdict $? "these calls and bytes of a one-wire strip (<), not those (>)"

# Blue, green, red behind 111 and 31; dark. Without levels all pixels are at 31.
: >"$work/log"
client spidev0.0 apa102 1
verdict $? "a clocked strip of one pixel to be driven: $(cat "$work/said")"
released
{
    printf 'open\nmode 0\nbits 8\nspeed 4000000\n'
    echo "message 4000000 00000000FF8000FF0000000000"
    echo "message 4000000 00000000FF0000000000000000"
    echo release
} >"$work/wanted"
diff "$work/wanted" "$work/log"
verdict $? "these calls and bytes of a clocked strip (<), not those (>)"

fails() { # FILE CHIP PIXELS WORDS: a sentence that has the words
    client "$1" "$2" "$3"
    [ $? -eq 1 ] && grep -q "$4" "$work/said"
    verdict $? "a strip at $1 to fail with \`$4\`, not: $(cat "$work/said")"
}
# 331 pixels are 1 + 331 * 12 + 120 = 4093 bytes, one more are 4105.
client spidev0.0 ws2812b 331
verdict $? "331 pixels to fit the driver: $(cat "$work/said")"
fails spidev0.0 ws2812b 332 '332 pixels need 4105 bytes.*spidev.bufsiz=65536 '
fails spidev0.1 ws2812b 2 'did not send a frame'
fails spidev0.2 ws2812b 2 'you may not use the port'
fails spidev0.3 ws2812b 2 'has a clock of 1000 kHz'
fails spidev0.4 ws2812b 2 'no SPI controller stands behind the port'
fails spidev0.9 ws2812b 2 'there is no port'
client spidev0.3 apa102 2
verdict $? "a clocked strip to take the slower clock: $(cat "$work/said")"

# The command that tries a lamp: its first steps, each frame once. In a mount namespace of its own the
# files are /dev, since a lamp's port lies there. A quarter of the light is 64, 01000000, so 8E888888
# where 0 is 88888888; red, green and blue of two pixels in the order of the sheet, green, red, blue,
# then the first pixel, the last, the first again, and dark at the end.
if unshare -m true 2>/dev/null && make --no-print-directory -s "$base/gloam" >"$work/built" 2>&1; then
    gloam=$(cd "$base" && pwd)/gloam
    try() { # OPTION...: until it is ended, in the walk
        # shellcheck disable=SC2016
        unshare -m sh -c 'mount --bind "$1/dev" /dev && shift && exec timeout --preserve-status 2 "$@"' - \
            "$work" "$gloam" try-wiring "$@" >"$work/said" 2>&1 </dev/null
    }
    : >"$work/log"
    try --chip ws2812b --port /dev/spidev0.0 --pixels 2 --every 200ms
    verdict $? "a lamp to be tried: $(cat "$work/said")"
    released
    o=88888888 i=8E888888
    {
        for light in $o$o$o$o$o$o $o$i$o$o$i$o $i$o$o$i$o$o $o$o$i$o$o$i $i$i$i$o$o$o $o$o$o$i$i$i \
            $i$i$i$o$o$o $o$o$o$o$o$o; do
            echo "message 3200000 00$light$(zeros 120)"
        done
    } >"$work/wanted"
    grep message "$work/log" | uniq | diff "$work/wanted" -
    verdict $? "these frames of the steps (<), not those (>)"

    # While another has the port open, that is told.
    unshare -m sh -c 'mount --bind "$1/dev" /dev && exec sleep 3 3<>/dev/spidev0.0' - "$work" &
    other=$!
    sleep 0.5
    try --chip ws2812b --port /dev/spidev0.0 --pixels 2 --every 200ms
    grep -q "process $other (sleep) has /dev/spidev0.0 open too" "$work/said"
    verdict $? "who else has the port to be told: $(cat "$work/said")"
    wait $other
    : >"$work/log"
    try --chip apa102 --port /dev/spidev0.1 --pixels 2
    [ $? -eq 3 ] && grep -q 'did not send a frame' "$work/said"
    verdict $? "status 3 where the port fails: $(cat "$work/said")"
else
    skip "try-wiring at an SPI port" "no mount namespace, or no gloam"
fi
close_sum
