#!/bin/sh
# The grammar: no conflicts, no trap of %fallback, the same trees with and without compressed
# tables, all of it visited; and the lexer's own check. See the scripts beside this one.
set -u
cd "$(dirname "$0")/../.." || exit 2
BUILD=${BUILD:-build}
CC=${CC:-gcc}
LEMPAR=/usr/share/lemon/lempar.c
case $BUILD in /*) out=$BUILD/tests/grammar ;; *) out=$(pwd)/$BUILD/tests/grammar ;; esac
passed=0 failed=0
count() { # count STATUS WHAT
    if [ "$1" -eq 0 ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "FAILED: $2"
    fi
}
mkdir -p "$out/plain" "$out/wide" "$out/sample"
(cd lang && lemon -q -l -T$LEMPAR -d"$out/plain" grammar.y)
count $? "the grammar has no conflicts"
(cd lang && lemon -c -l -T$LEMPAR -d"$out/wide" grammar.y)
count $? "the grammar has no conflicts without compression"
traps=$(awk -f tests/grammar/traps.awk lang/grammar.y "$out/wide/grammar.out")
[ "$traps" = 0 ]
count $? "no soft word is taken for a name: $traps"
lemon -c -l -T$LEMPAR -d"$out/sample" tests/grammar/trap_sample.y >/dev/null 2>&1
awk -f tests/grammar/traps.awk tests/grammar/trap_sample.y "$out/sample/trap_sample.out" | grep -q 'REST'
count $? "the trap of the sample is found"

re2c -W -i --no-generation-date --no-version -o "$out/lexer.c" lang/lexer.re
for kind in plain wide; do
    $CC -std=c11 -O1 -D_GNU_SOURCE -I. -I"$out/$kind" -o "$out/dump_$kind" tests/grammar/dump_tree.c \
        "$out/$kind/grammar.c" "$out/lexer.c" lang/*.c runtime/core/*.c -lm
    count $? "the grammar builds ($kind)"
    "$out/dump_$kind" examples/*.gloam spec/conformance/*/*.gloam tests/lang/corpus/*.gloam \
        tests/fuzz/corpus_text/* >"$out/dump_$kind.text"
    count $? "the files are parsed ($kind)"
done
[ "$(grep -c '^== ' "$out/dump_plain.text")" -ge 50 ] && cmp "$out/dump_plain.text" "$out/dump_wide.text"
count $? "trees and messages are the same with and without compression"

sh tests/grammar/coverage.sh "$BUILD" >"$out/coverage.text" 2>&1
status=$?
[ $status -eq 0 ] || tail -n 20 "$out/coverage.text"
count $status "all of the grammar is visited: $(tail -n 1 "$out/coverage.text")"
sh tests/grammar/lexer_self_check.sh "$BUILD" >"$out/self_check.text" 2>&1
status=$?
[ $status -eq 0 ] || cat "$out/self_check.text"
count $status "the lexer's self check"
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
