#!/bin/sh
# spec/grammar.md is what spec/make_grammar.sh makes of lang/grammar.y.
set -u
cd "$(dirname "$0")/../.."
page=$(mktemp)
if sh spec/make_grammar.sh >"$page" && [ "$(wc -l <"$page")" -gt 100 ] && diff spec/grammar.md "$page"; then
    echo "1 passed, 0 failed"
    status=0
else
    echo "expected spec/grammar.md (<) to be what spec/make_grammar.sh makes (>); \`make spec\` renews it"
    echo "0 passed, 1 failed"
    status=1
fi
rm -f "$page"
exit $status
