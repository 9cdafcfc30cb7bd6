#!/bin/sh
# Every limit occurs in the code of some test, and in the code that keeps it.
set -u
cd "$(dirname "$0")/../.."
passed=0 failed=0
for limit in $(sed -n 's/^| `\(LIMIT_[A-Z_]*\)`.*/\1/p' spec/limits.md); do
    for where in "tests --include=test_*.c" "lang runtime --include=*.[chy] --include=*.re --exclude=limits.h"; do
        set -f
        if grep -rqw $where -e "$limit"; then
            passed=$((passed + 1))
        else
            failed=$((failed + 1))
            echo "expected $limit in ${where%% *}"
        fi
        set +f
    done
done
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ] && [ "$passed" -gt 50 ]
