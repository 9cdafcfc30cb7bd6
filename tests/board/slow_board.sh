#!/bin/sh
# A board of the smallest kind: the whole program for 32-bit ARM, with and without floating point in
# hardware, run by qemu's user mode: the suite, the golden light, and the instructions of a frame for
# 12 and for 300 pixels. What share of a core of 1 GHz that is at 60 frames a second takes one
# instruction a cycle: an assumption. Libraries of that architecture are unpacked into a folder of
# their own. Takes about 420 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
base=${BUILD:-build}
case $base in /*) ;; *) base=$PWD/$base ;; esac
folder=$base/board
mkdir -p "$folder"
DEBS="libjansson4 libjansson-dev libpng16-16 libpng-dev zlib1g zlib1g-dev libcmocka0 libcmocka-dev libmpfr6 libmpfr-dev libgmp10 libgmp-dev"

# Those packages of another architecture, unpacked; nothing of this machine's is touched.
fetch() { # ARCHITECTURE
    at=$folder/$1
    [ -e "$at/fetched" ] && return 0
    mkdir -p "$at/state/lists/partial" "$at/cache/archives/partial" "$at/debs" "$at/root"
    : >"$at/status"
    set -- "$1" -o "APT::Architecture=$1" -o "APT::Architectures::=$1" -o "Dir::State=$at/state" \
        -o "Dir::State::status=$at/status" -o "Dir::Cache=$at/cache"
    shift
    apt-get "$@" -qq update >"$at/log" 2>&1
    # shellcheck disable=SC2086
    (cd "$at/debs" && apt-get "$@" download $DEBS >>"$at/log" 2>&1) || return 1
    for deb in "$at"/debs/*.deb; do dpkg-deb -x "$deb" "$at/root" || return 1; done
    : >"$at/fetched"
}

write_lamp() { # PIXELS
    cat >"$folder/lamp-$1.gloam" <<H
lamp board { pixels $1 shape ring chip ws2812b port "/dev/spidev0.0" supply 5V 2A }
routine nightlight { paint #ff3a00 * 2% }
routine daybreak lasts 30min { paint black -> #3a0f00 at 40% -> 2000K -> 2700K throughout }
routine hues { paint oklch(75%, 0.12, angle + t / 40s * 1turn) * 70% }
routine embers {
    let heat   = noise(pixel * 0.7, t / 900ms)
    let breath = 70% + 30% * noise(t / 4s, 5)
    paint (black -> #5a0c00 at 35% -> #d23a00 at 70% -> #ffa02a along heat) * breath
}
H
}
instructions() { # RUNNER PROGRAM FILE ROUTINE FRAMES
    "$1" -plugin "$folder/count.so" "$2" "$3" "$4" "$5" 2>&1 >/dev/null | sed -n 's/^instructions //p'
}

board() { # ARCHITECTURE TRIPLET WORDS
    architecture=$1 triplet=$2 words=$3
    if ! command -v "$triplet-gcc" >/dev/null 2>&1 || ! command -v qemu-arm-static >/dev/null 2>&1; then
        skip "$architecture" "$triplet-gcc or qemu-arm-static is not installed"
        return
    fi
    if ! fetch "$architecture"; then
        skip "$architecture" "its libraries cannot be fetched: $(tail -n 1 "$folder/$architecture/log")"
        return
    fi
    root=$folder/$architecture/root
    build=$folder/build-$architecture
    make_it() {
        nice make --no-print-directory -j2 BUILD="$build" CC="$triplet-gcc" \
            EXTRA_CFLAGS="-isystem $root/usr/include -isystem $root/usr/include/$triplet" \
            LDFLAGS="-L$root/usr/lib/$triplet -L$root/lib/$triplet -Wl,-rpath-link=$root/usr/lib/$triplet:$root/lib/$triplet" PAGE_LIBRARIES= MQTT_LIBRARIES= CALL_LIBRARIES= WERROR= "$@" >"$folder/log" 2>&1
    }
    suite=$(ls tests/core/test_*.c tests/vm/test_*.c tests/light/test_*.c tests/time/test_*.c tests/player/test_*.c tests/backends/test_*.c 2>/dev/null | sed "s|^tests/|$build/tests/|; s|\.c\$||")
    export QEMU_LD_PREFIX="/usr/$triplet" QEMU_SET_ENV="LD_LIBRARY_PATH=$root/usr/lib/$triplet:$root/lib/$triplet"
    # shellcheck disable=SC2086
    make_it "$build/gloam" "$build/tests/board/frames" $suite
    verdict $? "the program and its suite to be built for $architecture: $(tail -n 5 "$folder/log")"
    [ -x "$build/gloam" ] || return
    good=0 bad=
    for program in $suite; do
        if timeout 240 qemu-arm-static "$program" >"$folder/said" 2>&1; then
            good=$((good + 1))
        else
            bad="$bad ${program#"$build"/tests/}"
        fi
    done
    [ -z "$bad" ]
    verdict $? "all programs of the suite to pass on $architecture, not to fail: $bad"
    echo "measured: $architecture: $good programs of the suite pass"
    printf '#!/bin/sh\nexec qemu-arm-static %s "$@"\n' "$build/gloam" >"$folder/gloam-$architecture"
    chmod +x "$folder/gloam-$architecture"
    other=
    for text in examples/*.gloam; do
        for routine in $(sed -n 's/^routine \([a-z_]*\).*/\1/p' "$text"); do
            for gloam in "$base/gloam" "$folder/gloam-$architecture"; do
                "$gloam" dump --values light --routine "$routine" --pixels 77 --length 100ms --fps 60 \
                    --start 3min --clock '2026-11-24 03:10' "$text" 2>/dev/null | sha256sum
            done | uniq | wc -l | grep -qx 1 || other="$other $routine"
        done
    done
    [ -z "$other" ]
    verdict $? "the light of the examples to be the same bit for bit on $architecture, not another for: $other"
    for pixels in 12 300; do
        write_lamp "$pixels"
        for routine in nightlight daybreak hues embers; do
            some=$(instructions qemu-arm "$build/tests/board/frames" "$folder/lamp-$pixels.gloam" "$routine" 60)
            more=$(instructions qemu-arm "$build/tests/board/frames" "$folder/lamp-$pixels.gloam" "$routine" 360)
            [ "${some:-0}" -gt 0 ] && [ "${more:-0}" -gt "$some" ]
            verdict $? "instructions to be counted for $routine on $architecture: $some, $more"
            awk -v a="${some:-0}" -v b="${more:-0}" -v n="$architecture ($words)" -v r="$routine" -v p="$pixels" 'BEGIN {
                f = (b - a) / 300
                printf "measured: %s: %s on %d pixels: %.0f instructions a frame, %.2f %% of 1 GHz at 60 frames a second\n", n, r, p, f, f * 60 / 1e7 }'
        done
    done
}
if ! gcc -shared -fPIC -O1 -o "$folder/count.so" tests/board/count.c 2>"$folder/log" || ! command -v qemu-arm >/dev/null 2>&1; then
    skip "a small board" "there is no qemu-arm that takes plugins: $(head -n 1 "$folder/log")"
else
    board armhf arm-linux-gnueabihf "floating point in hardware"
    board armel arm-linux-gnueabi "floating point by software"
fi
close_sum
