#!/bin/sh
# Every limit occurs in the code of some test, and in the code that keeps it.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
for limit in $(sed -n 's/^| `\(LIMIT_[A-Z_]*\)`.*/\1/p' spec/limits.md); do
    for where in "tests --include=test_*.c" "lang runtime --include=*.[chy] --include=*.re --exclude=limits.h"; do
        set -f
        grep -rqw $where -e "$limit"
        verdict $? "$limit in ${where%% *}"
        set +f
    done
done
[ "$passed" -gt 50 ]
verdict $? "more than 50 checks of limits, made $passed"
close_sum
