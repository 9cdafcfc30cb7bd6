#!/bin/sh
# gcc makes vector code of the loop of every operation on numbers and channels: a loop that a change
# of number.h or light.h leaves with a branch is found here, not as a slow lamp.
# Takes about 40 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
if ! command -v gcc >/dev/null || [ "$(uname -m)" != x86_64 ]; then
    echo "skipped: needs gcc on x86-64"
    echo "0 passed, 0 failed, 1 skipped"
    exit 0
fi
list=runtime/core/operations.def
passed=0 failed=0

# check NAME EXCEPTIONS FLAGS...: every line of the list of form NUMBER or CHANNEL
check() {
    name=$1 except=$2
    shift 2
    gcc -std=c11 -O3 -fno-trapping-math -ffp-contract=off -fno-tree-slp-vectorize -fno-math-errno \
        -D_GNU_SOURCE -I. "$@" -fno-ipa-icf -fopt-info-vec-optimized -c runtime/vm/kernels.c \
        -o /dev/null 2>&1 | sed -n 's/.*operations\.def:\([0-9]*\):.*loop vectorized.*/\1/p' |
        sort -u >"$work/done"
    grep -nE '^OP\(.*, (NUMBER|CHANNEL), ' $list >"$work/wanted"
    while IFS= read -r line; do
        number=${line%%:*}
        operation=${line#*OP(}
        operation=${operation%%,*}
        case " $except " in *" $operation "*) continue ;; esac
        if grep -qx "$number" "$work/done"; then
            passed=$((passed + 1))
        else
            echo "FAILED: $name: $operation is not vector code"
            failed=$((failed + 1))
        fi
    done <"$work/wanted"
}
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
# Without AVX2 gcc 12 reckons that the 64-bit products of HASH3 and HASH4 do not pay over a block of
# 32 pixels, and leaves a branch where
# the truths of COLOUR_SELECT, doubles, choose singles.
check baseline "HASH3 HASH4 COLOUR_SELECT"
check avx2 "" -mavx2 -DKERNELS_AVX2
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
