#!/bin/sh
# lexer_self_check.sh [BUILD]: re2c writes a program that drives the automata of the lexer over
# inputs that cover them and compares where each token ends with what it should be (re2c -S).
# Spoilt expectations have to be noticed. Ends with `N passed, N failed`.
set -u
cd "$(dirname "$0")/../.." || exit 2
. tests/support/verdict.sh
BUILD=${1:-${BUILD:-build}}
CC=${CC:-gcc}
root=$(pwd)
mkdir -p "$BUILD/tests/grammar/skeleton"
cd "$BUILD/tests/grammar/skeleton" || exit 2
rm -f skeleton*
re2c -S -i --no-generation-date -o skeleton.c "$root/lang/lexer.re" && $CC -w -O1 -o skeleton skeleton.c
verdict $? "the skeleton to build"
[ "$(ls skeleton.c.line*.input | wc -l)" -ge 2 ]
verdict $? "inputs for both automata"
./skeleton
verdict $? "the automata to end tokens where they should"
for keys in skeleton.c.line*.keys; do
    cp "$keys" kept
    # every expectation one off
    perl -e 'local $/; open my $f, "<", $ARGV[0]; binmode $f; my $t = <$f>; close $f;
        my @b = unpack "C*", $t; $b[-2] = ($b[-2] + 1) % 256; open $f, ">", $ARGV[0]; binmode $f;
        print $f pack "C*", @b' "$keys"
    ! ./skeleton >/dev/null 2>&1
    verdict $? "a spoilt expectation in $keys to be noticed"
    cp kept "$keys"
done
close_sum
