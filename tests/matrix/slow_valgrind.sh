#!/bin/sh
# The release build under valgrind's memcheck: every command on every example, mistakes, and test
# programs. Takes about 400 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/matrix/everyday.sh
if ! command -v valgrind >/dev/null 2>&1; then
    skip "memcheck" "there is no valgrind"
    close_sum
    exit
fi
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
gives() { # STATUS COMMAND...
    wanted=$1
    shift
    valgrind -q --error-exitcode=99 --leak-check=full --errors-for-leak-kinds=definite,indirect,possible \
        "$@" >"$work/out" 2>"$work/said" </dev/null
    got=$?
    if [ $got -eq "$wanted" ] && ! grep -q '^==[0-9]*==' "$work/said"; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "expected status $wanted, not $got, and nothing found by valgrind in: $*"
        tail -n 15 "$work/said"
    fi
}
gloam=$base/gloam
for file in examples/*.gloam; do
    lamp=
    case $file in *home*) lamp="--lamp lantern" ;; esac
    gives 0 "$gloam" check --costs "$file"
    gives 0 "$gloam" format "$file"
    gives 0 "$gloam" compile -o "$work/code" "$file"
    gives 0 "$gloam" disassemble "$file"
    gives 0 "$gloam" disassemble "$work/code"
    routine=$(sed -n 's/^routine \([a-z_]*\).*/\1/p' "$file" | head -n 1)
    [ -n "$routine" ] || continue
    # shellcheck disable=SC2086
    gives 0 "$gloam" dump --routine "$routine" $lamp --length 200ms "$file"
    gives 0 "$gloam" dump --routine "$routine" --pixels 20 --length 200ms "$work/code"
    # shellcheck disable=SC2086
    gives 0 "$gloam" picture --routine "$routine" $lamp --size 300x200 -o "$work/p.png" "$file"
done
gives 0 "$gloam" preview examples/swell.gloam
for file in spec/conformance/errors/*.gloam; do
    gives 1 "$gloam" check "$file"
done
head -c 100 "$work/code" >"$work/cut"
gives 1 "$gloam" disassemble "$work/cut"
for test in lang/test_syntax_errors lang/test_names lang/test_expand lang/test_format \
    lang/test_allocation library/test_library vm/test_bytecode vm/test_machine light/test_encode; do
    if make --no-print-directory BUILD="$base" "$base/tests/$test" >"$work/log" 2>&1; then
        gives 0 "$base/tests/$test"
    else
        failed=$((failed + 1))
        tail -n 5 "$work/log"
    fi
done
close_sum
