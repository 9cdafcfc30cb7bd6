#!/bin/sh
# The grammar: no conflicts, no trap of %fallback, the same trees with and without compressed
# tables, all of it visited; and the lexer's own check. See the scripts beside this one.
set -u
cd "$(dirname "$0")/../.." || exit 2
. tests/support/verdict.sh
BUILD=${BUILD:-build}
CC=${CC:-gcc}
LEMPAR=/usr/share/lemon/lempar.c
case $BUILD in /*) out=$BUILD/tests/grammar ;; *) out=$(pwd)/$BUILD/tests/grammar ;; esac
mkdir -p "$out/plain" "$out/wide" "$out/sample"
(cd lang && lemon -q -l -T$LEMPAR -d"$out/plain" grammar.y)
verdict $? "the grammar to have no conflicts"
(cd lang && lemon -c -l -T$LEMPAR -d"$out/wide" grammar.y)
verdict $? "the grammar to have no conflicts without compression"
traps=$(awk -f tests/grammar/traps.awk lang/grammar.y "$out/wide/grammar.out")
[ "$traps" = 0 ]
verdict $? "no soft word to be taken for a name: $traps"
lemon -c -l -T$LEMPAR -d"$out/sample" tests/grammar/trap_sample.y >/dev/null 2>&1
awk -f tests/grammar/traps.awk tests/grammar/trap_sample.y "$out/sample/trap_sample.out" | grep -q 'REST'
verdict $? "the trap of the sample to be found"

re2c -W -i --no-generation-date --no-version -o "$out/lexer.c" lang/lexer.re
set -- examples/*.gloam spec/conformance/*/*.gloam tests/lang/corpus/*.gloam tests/fuzz/corpus_text/*
for kind in plain wide; do
    $CC -std=c11 -O1 -D_GNU_SOURCE -I. -I"$out/$kind" -o "$out/dump_$kind" tests/grammar/dump_tree.c \
        "$out/$kind/grammar.c" "$out/lexer.c" lang/*.c runtime/core/*.c -lm
    verdict $? "the grammar to build ($kind)"
    "$out/dump_$kind" "$@" >"$out/dump_$kind.text"
    verdict $? "the files to be parsed ($kind)"
done
[ "$(grep -c '^== ' "$out/dump_plain.text")" -eq $# ] && cmp "$out/dump_plain.text" "$out/dump_wide.text"
verdict $? "trees and messages to be the same with and without compression"

sh tests/grammar/coverage.sh "$BUILD" >"$out/coverage.text" 2>&1
status=$?
[ $status -eq 0 ] || tail -n 20 "$out/coverage.text"
verdict $status "all of the grammar to be visited: $(tail -n 1 "$out/coverage.text")"
sh tests/grammar/lexer_self_check.sh "$BUILD" >"$out/self_check.text" 2>&1
status=$?
[ $status -eq 0 ] || cat "$out/self_check.text"
verdict $status "the lexer's self check to hold"
close_sum
