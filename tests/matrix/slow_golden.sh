#!/bin/sh
# The light of every example, to the bit, is the same from gcc and clang, at -O0 and -O3, and the
# same as when tests/matrix/golden.txt was last made on purpose (a guard against drift, not a source
# of truth: sh tests/matrix/golden.sh build/gloam).
set -u
cd "$(dirname "$0")/../.."
base=${BUILD:-build}
passed=0 failed=0 skipped=0
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
grep -v '^#' tests/matrix/golden.txt >"$work/golden"
compare() { # NAME GLOAM
    sh tests/matrix/golden.sh "$2" >"$work/got"
    if [ -s "$work/got" ] && diff "$work/golden" "$work/got" >"$work/diff"; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "expected the light of $1 (>) to be that of tests/matrix/golden.txt (<):"
        head -n 8 "$work/diff"
    fi
}
compare "the build itself" "$base/gloam"
for one in "gcc -O0" "gcc -O3" "clang -O0" "clang -O3"; do
    compiler=${one% *} level=${one#* }
    if ! command -v "$compiler" >/dev/null 2>&1; then
        echo "skipped: $one: there is no $compiler"
        skipped=$((skipped + 1))
        continue
    fi
    build=$base/golden$level-$compiler
    make --no-print-directory -j2 BUILD="$build" CC="$compiler" OPTIMISE="$level" FLAGS_kernels="$level" \
        "$build/gloam" >"$work/log" 2>&1 || tail -n 5 "$work/log"
    compare "$one" "$build/gloam"
done
[ $skipped -gt 0 ] && tail=", $skipped skipped" || tail=
echo "$passed passed, $failed failed$tail"
[ "$failed" -eq 0 ]
