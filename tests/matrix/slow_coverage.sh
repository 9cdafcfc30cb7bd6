#!/bin/sh
# Lines and branches of the hand-written files of lang/, the core and the machine that the everyday
# tests reach: above 90 % of each. Takes about 240 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/matrix/everyday.sh
bar=90
if ! command -v gcovr >/dev/null 2>&1; then
    skip "coverage" "there is no gcovr"
    close_sum
    exit
fi
mkdir -p "$base/coverage"
find "$base/coverage" -name '*.gcda' -exec rm -f {} +
# No AVX2 in this build: one copy of the kernels is counted. Headers are left out below: each file
# that includes them has copies of their functions, whether it calls them or not.
everyday coverage CC=gcc OPTIMISE=-O0 SANITISE=--coverage AVX2= \
    TEST_SCRIPTS="$(scripts_but library/test_install.sh vm/test_render_path.sh)"
for folder in lang runtime/core runtime/vm; do
    report=$base/coverage/$(basename "$folder").txt
    gcovr -r . --object-directory "$base/coverage/object" --filter "$folder/.*\.c" \
        --exclude-unreachable-branches --exclude-throw-branches --print-summary \
        --gcov-ignore-parse-errors >"$report" 2>"$report.said"
    for kind in lines branches; do
        share=$(sed -n "s/^$kind: \([0-9.]*\)%.*/\1/p" "$report")
        echo "measured: $folder: $kind ${share:-unknown} %"
        if awk -v share="${share:-0}" -v bar=$bar 'BEGIN { exit !(share > bar) }'; then
            passed=$((passed + 1))
        else
            failed=$((failed + 1))
            echo "expected more than $bar % of the $kind of $folder; least reached:"
            grep -E '^[a-z].*%' "$report" | sort -k4 -n | head -n 8
        fi
    done
done
close_sum
