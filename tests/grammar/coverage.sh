#!/bin/sh
# coverage.sh [BUILD]: every state of the grammar with every token it acts on is come by, by texts
# that are parsed as they should be (cover.c). Ends with `N texts, N pairs, N missed, N wrong`;
# status 0 where both are 0.
set -u
cd "$(dirname "$0")/../.." || exit 2
BUILD=${1:-${BUILD:-build}}
CC=${CC:-gcc}
make --no-print-directory BUILD="$BUILD" "$BUILD/generated/grammar.c" "$BUILD/generated/lexer.c" >/dev/null || exit 2
mkdir -p "$BUILD/tests/grammar"
$CC -std=c11 -O1 -DYYCOVERAGE -D_GNU_SOURCE -I. -I"$BUILD/generated" -o "$BUILD/tests/grammar/cover" \
    tests/grammar/cover.c "$BUILD/generated/lexer.c" lang/*.c runtime/core/*.c -lm || exit 2
"$BUILD/tests/grammar/cover" examples/*.gloam tests/lang/corpus/*.gloam
