#!/bin/sh
# The same bits however the core is built: compilers, levels, vector code, other processors
# (run by qemu where its user mode is installed).
# Takes about 60 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
sources="tests/core/bits.c runtime/core/blackbody.c runtime/core/easing.c
    runtime/core/ramp.c runtime/core/operations.c runtime/core/reference.c
    runtime/core/soft_sum.c"
house="-std=c11 -ffp-contract=off -fno-tree-slp-vectorize -fno-math-errno -D_GNU_SOURCE -I."
passed=0 failed=0 skipped=0 first=

# build RUNNER COMPILER FLAGS...
build() {
    runner=$1
    shift
    name="$*"
    if ! command -v "$1" >/dev/null || { [ "$runner" != - ] && ! command -v "$runner" >/dev/null; }; then
        echo "skipped: $name: $1 or its runner is not installed"
        skipped=$((skipped + 1))
        return
    fi
    # shellcheck disable=SC2086
    if ! "$@" $house $sources -o "$work/bits" -lm; then
        echo "FAILED: $name does not build"
        failed=$((failed + 1))
        return
    fi
    [ "$runner" = - ] && runner=
    bits=$($runner "$work/bits")
    : "${first:=$bits}"
    if [ -n "$bits" ] && [ "$bits" = "$first" ]; then
        passed=$((passed + 1))
    else
        echo "FAILED: $name: $bits, not $first"
        failed=$((failed + 1))
    fi
}

for compiler in gcc clang; do
    for level in -O0 -O1 -O2 -O3 -Os "-O3 -fno-trapping-math"; do
        # shellcheck disable=SC2086
        build - $compiler $level
    done
    case $(uname -m) in
    x86_64)
        build - $compiler -O3 -mavx2 -fno-trapping-math
        build - $compiler -O3 -mavx2 -mfma -fno-trapping-math
        ;;
    esac
done
# As it is made where no unit for doubles is.
build - gcc -O2 -DNUMBER_SOFT=1
for level in -O0 -O3; do
    build qemu-i386-static i686-linux-gnu-gcc -static -msse2 -mfpmath=sse $level
    build qemu-arm-static arm-linux-gnueabi-gcc -static $level \
        -Wl,--wrap=__aeabi_dadd,--wrap=__aeabi_dsub
    build qemu-arm-static arm-linux-gnueabihf-gcc -static $level
    build qemu-aarch64-static aarch64-linux-gnu-gcc -static $level
    build qemu-riscv64-static riscv64-linux-gnu-gcc -static $level
done
echo "$passed passed, $failed failed, $skipped skipped"
[ "$failed" -eq 0 ]
