#!/bin/sh
# The everyday test programs built by other compilers and at other levels, warnings as errors.
set -u
cd "$(dirname "$0")/../.."
base=${BUILD:-build}
passed=0 failed=0 skipped=0
for one in "clang -O3" "gcc -O0"; do
    compiler=${one% *} level=${one#* }
    if ! command -v "$compiler" >/dev/null 2>&1; then
        echo "skipped: $one: there is no $compiler"
        skipped=$((skipped + 1))
        continue
    fi
    build=$base/matrix$level-$compiler
    if make --no-print-directory -j2 BUILD="$build" CC="$compiler" OPTIMISE="$level" run-tests \
        TEST_SCRIPTS= >"$base/matrix.log" 2>&1; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "expected the tests to pass with $one:"
        grep -E 'error|failed|expected' "$base/matrix.log" | grep -v ' 0 failed' | tail -n 20
    fi
    tail -n 1 "$base/matrix.log" | sed "s/^/$one: sum /"
done
[ $skipped -gt 0 ] && tail=", $skipped skipped" || tail=
echo "$passed passed, $failed failed$tail"
[ "$failed" -eq 0 ]
