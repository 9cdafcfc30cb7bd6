#!/bin/sh
# Lines and branches of the hand-written files of lang/, the core and the machine that the everyday
# tests reach: above 90 % of each.
set -u
cd "$(dirname "$0")/../.."
base=${BUILD:-build}
bar=90
passed=0 failed=0
if ! command -v gcovr >/dev/null 2>&1; then
    echo "skipped: there is no gcovr"
    echo "0 passed, 0 failed, 1 skipped"
    exit 0
fi
build=$base/coverage
find "$build" -name '*.gcda' -exec rm -f {} + 2>/dev/null
# No AVX2 in this build: one copy of the kernels is counted.
if ! make --no-print-directory -j2 BUILD="$build" CC=gcc OPTIMISE=-O0 SANITISE=--coverage AVX2= \
    run-tests TEST_SCRIPTS="tests/command/test_hostile.sh tests/command/test_commands.sh tests/examples/test_examples.sh" \
    >"$base/coverage.log" 2>&1; then
    grep -E 'error|failed|expected' "$base/coverage.log" | grep -v ' 0 failed' | tail -n 10
    failed=1
fi
for folder in lang runtime/core runtime/vm; do
    gcovr -r . --object-directory "$build/object" --filter "$folder/.*\.[ch]" \
        --exclude-unreachable-branches --exclude-throw-branches --print-summary \
        --gcov-ignore-parse-errors >"$base/coverage-$(basename $folder).txt" 2>/dev/null
    report=$base/coverage-$(basename $folder).txt
    for kind in lines branches; do
        share=$(sed -n "s/^$kind: \([0-9.]*\)%.*/\1/p" "$report")
        echo "$folder: $kind $share %"
        if awk -v share="${share:-0}" -v bar=$bar 'BEGIN { exit !(share > bar) }'; then
            passed=$((passed + 1))
        else
            failed=$((failed + 1))
            echo "expected more than $bar % of the $kind of $folder; least reached:"
            grep -E '^[a-z].*%' "$report" | sort -k4 -n | head -n 8
        fi
    done
done
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
