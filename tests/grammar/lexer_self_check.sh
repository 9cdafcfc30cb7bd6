#!/bin/sh
# lexer_self_check.sh [BUILD]: re2c writes a program that drives the automata of the lexer over
# inputs that cover them and compares where each token ends with what it should be (re2c -S).
# Spoilt expectations have to be noticed. Ends with `N passed, N failed`.
set -u
cd "$(dirname "$0")/../.." || exit 2
BUILD=${1:-${BUILD:-build}}
CC=${CC:-gcc}
root=$(pwd)
mkdir -p "$BUILD/tests/grammar/skeleton"
cd "$BUILD/tests/grammar/skeleton" || exit 2
rm -f skeleton*
passed=0 failed=0
count() { # count STATUS WHAT
    if [ "$1" -eq 0 ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "FAILED: $2"
    fi
}
re2c -S -i --no-generation-date -o skeleton.c "$root/lang/lexer.re" && $CC -w -O1 -o skeleton skeleton.c
count $? "the skeleton builds"
[ "$(ls skeleton.c.line*.input | wc -l)" -ge 2 ]
count $? "there are inputs for both automata"
./skeleton
count $? "the automata end tokens where they should"
for keys in skeleton.c.line*.keys; do
    cp "$keys" kept
    # every expectation one off
    perl -e 'local $/; open my $f, "<", $ARGV[0]; binmode $f; my $t = <$f>; close $f;
        my @b = unpack "C*", $t; $b[-2] = ($b[-2] + 1) % 256; open $f, ">", $ARGV[0]; binmode $f;
        print $f pack "C*", @b' "$keys"
    ! ./skeleton >/dev/null 2>&1
    count $? "a spoilt expectation in $keys is noticed"
    cp kept "$keys"
done
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
