#!/bin/sh
# The release build under valgrind's memcheck: every command on every example, and test programs.
set -u
cd "$(dirname "$0")/../.."
build=${BUILD:-build}
passed=0 failed=0
if ! command -v valgrind >/dev/null 2>&1; then
    echo "skipped: there is no valgrind"
    echo "0 passed, 0 failed, 1 skipped"
    exit 0
fi
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
clean() {
    if valgrind -q --error-exitcode=9 --leak-check=full --errors-for-leak-kinds=definite \
        "$@" >"$work/out" 2>"$work/said" </dev/null; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "expected valgrind to find nothing in: $*"
        tail -n 15 "$work/said"
    fi
}
for file in examples/*.gloam; do
    lamp=
    case $file in *home*) lamp="--lamp lantern" ;; esac
    clean "$build/gloam" check --costs "$file"
    clean "$build/gloam" format "$file"
    clean "$build/gloam" disassemble "$file"
    clean "$build/gloam" compile -o "$work/code" "$file"
    routine=$(sed -n 's/^routine \([a-z_]*\).*/\1/p' "$file" | head -n 1)
    [ -n "$routine" ] || continue
    clean "$build/gloam" dump --routine "$routine" $lamp --length 200ms "$file"
    clean "$build/gloam" dump --routine "$routine" --pixels 20 --length 200ms "$work/code"
done
clean "$build/gloam" picture -o "$work/p.png" examples/dawn.gloam
clean "$build/gloam" preview examples/swell.gloam
printf 'routine a { paint 2s + }\nlet b = (((\nat 7 play\n' >"$work/wrong.gloam"
valgrind -q --error-exitcode=9 "$build/gloam" check "$work/wrong.gloam" >/dev/null 2>"$work/said"
if [ $? -eq 1 ]; then passed=$((passed + 1)); else failed=$((failed + 1)); cat "$work/said"; fi
for test in lang/test_syntax_errors lang/test_names lang/test_allocation library/test_library vm/test_bytecode; do
    make --no-print-directory "$build/tests/$test" >/dev/null 2>&1
    clean "$build/tests/$test"
done
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
