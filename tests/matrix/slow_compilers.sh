#!/bin/sh
# The everyday tests built by other compilers and at other levels, warnings as errors.
# Takes about 500 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/matrix/everyday.sh
for one in "clang -O2" "clang -O3" "gcc -O0"; do
    compiler=${one% *} level=${one#* }
    # At -O0 square roots are calls of libm: the same numbers, but calls.
    but=
    [ "$level" = -O0 ] && but=vm/test_render_path.sh
    if command -v "$compiler" >/dev/null 2>&1; then
        everyday "$compiler$level" CC="$compiler" OPTIMISE="$level" TEST_SCRIPTS="$(scripts_but $but)"
    else
        skip "$one" "there is no $compiler"
    fi
done
close_sum
