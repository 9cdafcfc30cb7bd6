#!/bin/sh
# The light of every example and conformance program, to the bit, is the same from gcc and clang, at
# -O0 and -O3, with AVX2 and without, and the same as when golden.txt was last written.
# Takes about 300 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/matrix/everyday.sh
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
grep -v '^#' tests/matrix/golden.txt >"$work/golden"
compare() { # NAME GLOAM
    sh tests/matrix/golden.sh "$2" | grep -v '^#' >"$work/got"
    if [ "$(grep -c '^[0-9a-f]\{32\} ' "$work/got")" -gt 200 ] &&
        diff "$work/golden" "$work/got" >"$work/diff"; then
        passed=$((passed + $(wc -l <"$work/got")))
    else
        failed=$((failed + 1))
        echo "expected the light of $1 (>) to be that of tests/matrix/golden.txt (<):"
        head -n 8 "$work/diff"
        echo "where it was changed on purpose: sh tests/matrix/golden.sh $2 > tests/matrix/golden.txt"
    fi
}
build() { # NAME COMPILER ARGUMENTS-OF-MAKE...
    name=$1 compiler=$2
    shift 2
    if ! command -v "$compiler" >/dev/null 2>&1; then
        skip "$name" "there is no $compiler"
    elif make --no-print-directory -j2 BUILD="$base/golden/$name" CC="$compiler" "$@" \
        "$base/golden/$name/gloam" >"$work/log" 2>&1; then
        compare "$name" "$base/golden/$name/gloam"
    else
        failed=$((failed + 1))
        tail -n 5 "$work/log"
    fi
}
compare "the build itself" "$base/gloam"
for compiler in gcc clang; do
    for level in -O0 -O3; do
        build "$compiler$level" $compiler OPTIMISE=$level FLAGS_kernels=$level
    done
    build "$compiler-without-avx2" $compiler AVX2=
done
grep -q -w avx2 /proc/cpuinfo 2>/dev/null ||
    skip "AVX2 beside the baseline" "this processor has no AVX2: all builds used the baseline"
close_sum
