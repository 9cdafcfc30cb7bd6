#!/bin/sh
# The editor files know every word of the lexer and every built-in.
set -u
cd "$(dirname "$0")/../.."
passed=0 failed=0
words=$(sed -n 's/^ *{"\([^"]*\)", TK_.*/\1/p' lang/words.c
    sed -n 's/^FUNCTION( *[A-Z0-9_]*, *"\([a-z0-9_]*\)".*/\1/p; s/^MOMENT("\([a-z]*\)".*/\1/p' lang/builtins.def)
count=$(echo "$words" | wc -l)
for file in lang/editor/gloam.vim lang/editor/gloam.tmLanguage.json; do
    missing=
    for word in $words; do
        grep -qE -- "(^|[^a-z0-9_-])$word([^a-z0-9_-]|\$)" "$file" || missing="$missing $word"
    done
    if [ -z "$missing" ] && [ "$count" -gt 150 ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "expected $file to know all $count words; missing:$missing"
    fi
done
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
