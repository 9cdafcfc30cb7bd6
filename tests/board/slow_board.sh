#!/bin/sh
# The smallest boards: the whole program for 32-bit ARM, without a unit for floating point (Debian's
# armel) and with one (armhf), its programs played by qemu: the tests, the light, the bytes on the
# wire, and the instructions that a frame takes. The libraries are Debian's for those boards, in a
# folder of their own: no other architecture is added to this machine.
# Takes about 360 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
base=${BUILD:-build}
case $base in /*) ;; *) base=$PWD/$base ;; esac
folder=$base/board
mkdir -p "$folder"

# Noon and ten seconds of 2026-11-25 by date(1), in London.
noon=1795608010
scenes="night dawn water embers fade time"
sizes="12 300"
libraries="libjansson-dev libpng-dev libcmocka-dev libmpfr-dev libmicrohttpd-dev nettle-dev libmosquitto-dev libcurl4-gnutls-dev"

# Left out: what takes minutes where qemu computes each floating point operation by hand, or has a
# year in it; and what qemu, a name space without other users, or two boards beside each other cannot
# play.
slow="core/test_number lang/test_parser lang/test_mutations lang/test_limits lang/test_emit
    lang/test_graph lang/test_ramp_forms light/test_guard light/test_quantise light/test_shape
    light/test_dither light/test_pipeline library/test_agenda library/test_examine
    library/test_state_file backends/test_csv backends/test_layout vm/test_random_code
    vm/test_bytecode time/test_overrides_by_chance time/test_changes player/test_life
    player/test_home_years player/test_performance_any service/test_week"
others="backends/test_spi library/test_versions service/test_keep player/test_zone_watch"
scripts="command/test_acts.sh command/test_run.sh command/test_helpers.sh command/test_preview.sh"

# ---- what is needed ----
missing=
for command in qemu-arm arm-linux-gnueabi-gcc arm-linux-gnueabihf-gcc apt-get dpkg-deb unshare; do
    command -v $command >/dev/null 2>&1 || missing="$missing $command"
done
if [ -n "$missing" ]; then
    skip "the smallest boards" "there is no$missing"
    close_sum
    exit
fi

# fetch ARCHITECTURE: Debian's libraries for it in $folder/ARCHITECTURE/root
fetch() {
    at=$folder/$1
    [ "$(cat "$at/complete" 2>/dev/null)" = "$libraries" ] && return
    rm -rf "$at/root" "$at/apt"
    mkdir -p "$at/root" "$at/apt/lists/partial" "$at/apt/archives/partial"
    : >"$at/apt/status"
    set -- -o APT::Architecture="$1" -o APT::Architectures::="$1" -o Dir::State="$at/apt" \
        -o Dir::State::lists="$at/apt/lists" -o Dir::State::status="$at/apt/status" \
        -o Dir::Cache="$at/apt" -o Dir::Cache::archives="$at/apt/archives" \
        -o Acquire::Languages=none -o APT::Sandbox::User=root
    apt-get "$@" update >"$at/log" 2>&1 # what of the lists is out of reach may not be needed
    # shellcheck disable=SC2086
    apt-get "$@" install --download-only -y --no-install-recommends $libraries >>"$at/log" 2>&1 || return
    for package in "$at"/apt/archives/*.deb; do
        dpkg-deb -x "$package" "$at/root" || return
    done
    find "$at/root" -type l -lname '/*' | while read -r link; do # into this root
        ln -sfn "$at/root$(readlink "$link")" "$link"
    done
    rm -rf "$at/apt"
    echo "$libraries" >"$at/complete"
}

# cross NAME ARCHITECTURE TRIPLE WORD-OF-MAKE...: builds in $folder/NAME
cross() {
    at=$folder/$1 root=$folder/$2/root triple=$3
    shift 3
    make --no-print-directory -s BUILD="$at" "$at/generated/font.c" || return
    PKG_CONFIG_LIBDIR=$root/usr/lib/$triple/pkgconfig:$root/usr/share/pkgconfig \
        PKG_CONFIG_SYSROOT_DIR=$root make --no-print-directory -s BUILD="$at" \
        CC="$triple-gcc --sysroot=$root" AR="$triple-ar" OBJCOPY="$triple-objcopy" "$@"
}

# In a machine's part of its own the kernel hands ARM programs to qemu: scripts run as they are.
handed='mount -t binfmt_misc none /proc/sys/fs/binfmt_misc &&
    printf "%s" ":arm:M::\\x7fELF\\x01\\x01\\x01\\x00\\x00\\x00\\x00\\x00\\x00\\x00\\x00\\x00\\x02\\x00\\x28\\x00:\\xff\\xff\\xff\\xff\\xff\\xff\\xff\\x00\\xff\\xff\\xff\\xff\\xff\\xff\\xff\\xff\\xfe\\xff\\xff\\xff:$(command -v qemu-arm):" >/proc/sys/fs/binfmt_misc/register &&
    exec "$@"'
handing() {
    unshare -r -m sh -c "$handed" sh "$@"
}

# ---- scenes ----
scene() { # SIZE NAME: a home with one lamp
    echo 'place 51.45, -2.59 zone "Europe/London"'
    case $2 in
    night) echo 'use "dusk.gloam"' ;;
    dawn | water | embers) echo "use \"$2.gloam\"" ;;
    fade) printf 'use "water.gloam"\nuse "embers.gloam"\n' ;;
    time) echo 'use "water.gloam"' ;;
    esac
    [ "$2" = time ] && dithered='dither time' || dithered=
    echo "lamp lantern { pixels $1 shape ring chip ws2812b port \"/dev/spidev0.0\" supply 5V 20A $dithered }"
    case $2 in
    night) echo 'at 00:00 play nightlight' ;;
    dawn) echo 'by 12:20 play daybreak' ;;
    fade) printf 'at 00:00 play water\nat 12:00 play embers fading 1min\n' ;;
    time) echo 'at 00:00 play water' ;;
    *) echo "at 00:00 play $2" ;;
    esac
    echo 'until clock is set play off'
}
mkdir -p "$folder/homes"
cp examples/*.gloam "$folder/homes/"
for size in $sizes; do
    for name in $scenes; do
        scene "$size" "$name" >"$folder/homes/$name-$size.gloam"
    done
done

# ---- a board, each by functions that say NAME, its folder in $folder, and WHAT it is ----
compare_bytes() { # the bytes on the wire are those of this machine
    for home in "$folder"/homes/*-[0-9]*.gloam; do
        wanted=$(HASH=1 "$base/tests/board/play_frames" "$home" $noon 60 2>&1)
        got=$(HASH=1 qemu-arm "$folder/$1/tests/board/play_frames" "$home" $noon 60 2>&1)
        case $wanted in *" 0 bytes, "*) false ;; *" bytes, hash "*) [ "$wanted" = "$got" ] ;; *) false ;; esac
        verdict $? "$2 to send for ${home##*/} \`$wanted\`, not \`$got\`"
    done
}

compare_light() { # the light of all routines is that of golden.txt
    handing sh tests/matrix/golden.sh "$folder/$1/gloam" routines | grep '^[0-9a-f]\{32\} ' >"$folder/$1/light"
    grep -Fvxf tests/matrix/golden.txt "$folder/$1/light" >"$folder/$1/other"
    [ "$(wc -l <"$folder/$1/light")" -gt 200 ] && [ ! -s "$folder/$1/other" ]
    verdict $? "the light of $2 to be that of tests/matrix/golden.txt, not: $(head -n 5 "$folder/$1/other")"
    echo "$2: the light of $(wc -l <"$folder/$1/light") routines"
}

run_suite() {
    programs=
    for test in tests/*/test_*.c; do
        test=${test#tests/} test=${test%.c}
        case " $(echo $slow $others) " in # in one line
        *" $test "*) ;;
        *) programs="$programs $folder/$1/tests/$test" ;;
        esac
    done
    # shellcheck disable=SC2086
    BUILD=$folder/$1 SLOW_SECONDS="" handing sh tests/tools/run.sh $programs $(printf 'tests/%s ' $scripts) \
        >"$folder/$1/suite" 2>&1
    sum=$(grep -E '^[0-9]+ passed, [0-9]+ failed' "$folder/$1/suite" | tail -n 1)
    echo "$2: ${sum:-no test was run}"
    awk '/ passed +[0-9]+ failed/ { show = !/ 0 failed/ } show' "$folder/$1/suite" | head -n 60
    # shellcheck disable=SC2086
    set -- ${sum:-0 passed, 1 failed}
    passed=$((passed + $1)) failed=$((failed + $3)) skipped=$((skipped + ${5:-0}))
}

count() { # NAME HOME FRAMES
    rm -f "$folder/$1/counted"
    qemu-arm -plugin "$folder/count_plugin.so,into=$folder/$1/counted" \
        "$folder/$1/tests/board/play_frames" "$2" $noon "$3" >/dev/null 2>&1
    counted=$(sed -n 's/ all$//p' "$folder/$1/counted")
    echo "${counted:-0}"
}

# From the first second to the third, so that the start is not in it. A core that does one
# instruction a cycle is an assumption: some do more, memory makes all do less.
measure() {
    for size in $sizes; do
        line=
        for scene in $scenes; do
            home=$folder/homes/$scene-$size.gloam
            counts="$(count "$1" "$home" 0) $(count "$1" "$home" 60) $(count "$1" "$home" 180)"
            line="$line$(echo "$counts" | awk -v scene="$scene" '{ second = ($3 - $2) / 2
                printf "; %s %.0f thousand, %.2f %%, start %.1f million", scene, second / 6e4, second / 1e7, $1 / 1e6 }')"
            echo "$counts" | awk '{ exit !($1 > 0 && $2 > 0 && $3 > 0 && $3 - $2 < 2e9) }'
            verdict $? "$2, $size pixels, $scene to leave something of 10^9 instructions a second: $counts"
        done
        echo "measured: $2, $size pixels, instructions a frame, share of 10^9 a second${line}"
    done
}

board() { # NAME ARCHITECTURE TRIPLE WHAT WORD-OF-MAKE...
    passed=0 failed=0 skipped=0
    name=$1 what=$4
    shift
    if ! fetch "$1"; then
        skip "$what" "its libraries are not to be had: $(tail -n 1 "$folder/$1/log")"
        echo "$passed $failed $skipped" >"$folder/$name.sum"
        return
    fi
    mkdir -p "$folder/$name"
    architecture=$1 triple=$2
    shift 3
    cross "$name" "$architecture" "$triple" "$@" >"$folder/$name/built" 2>&1
    verdict $? "a program for $what to be built: $(grep -E 'error|warning|\*\*\*' "$folder/$name/built" | head -n 5)"
    export QEMU_LD_PREFIX="$folder/$architecture/root"
    measure "$name" "$what"
    compare_bytes "$name" "$what"
    if [ -e "$folder/$name/gloam" ]; then
        if handing "$folder/$name/gloam" --version >/dev/null 2>"$folder/$name/handing"; then
            compare_light "$name" "$what"
            run_suite "$name" "$what"
        else
            skip "$what: light and tests" "ARM programs cannot be handed to qemu: $(head -n 1 "$folder/$name/handing")"
        fi
    fi
    echo "$passed $failed $skipped" >"$folder/$name.sum"
}

everything() { # NAME: what is to be made of it
    for one in gloam gloam-page gloam-mqtt gloam-call libgloam.a libgloam.so tests/board/play_frames; do
        echo "$folder/$1/$one"
    done
    for test in tests/*/test_*.c; do
        echo "$folder/$1/${test%.c}"
    done
}

rm -f "$folder"/*.sum
make --no-print-directory -s BUILD="$base" "$base/tests/board/play_frames" >"$folder/built" 2>&1 &&
    ${HOST_CC:-gcc} -std=c11 -D_GNU_SOURCE -O2 -Wall -Wextra -Werror -fPIC -shared -o "$folder/count_plugin.so" tests/board/count_plugin.c
verdict $? "the programs of this test to build: $(tail -n 5 "$folder/built")"
# shellcheck disable=SC2086
{
    skip "$(echo $slow | wc -w) programs of tests" "qemu takes minutes for each: $(echo $slow)"
    skip "$(echo $others | wc -w) programs of tests" "they need calls, other users or a quiet /tmp, which are not there: $others"
}
own=$passed bad=$failed
# shellcheck disable=SC2046
{
    (board armhf armhf arm-linux-gnueabihf "armhf" $(everything armhf)) >"$folder/armhf.said" 2>&1 &
    (board armel armel arm-linux-gnueabi "armel" $(everything armel)) >"$folder/armel.said" 2>&1
    # A board that has such a unit under Debian's armel, whose calls hand numbers over without.
    (board softfp armel arm-linux-gnueabi "armel with -mfloat-abi=softfp" "$folder/softfp/tests/board/play_frames" \
        EXTRA_CFLAGS="-march=armv6 -mfpu=vfp -mfloat-abi=softfp") >"$folder/softfp.said" 2>&1
    wait
}
passed=$own failed=$bad skipped=2
for name in armhf armel softfp; do
    cat "$folder/$name.said"
    read -r good bad left <"$folder/$name.sum" || good=0 bad=1 left=0
    passed=$((passed + good)) failed=$((failed + bad)) skipped=$((skipped + left))
done
close_sum
