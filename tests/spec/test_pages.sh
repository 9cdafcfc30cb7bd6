#!/bin/sh
# The pages of spec/ that are made from the sources are what their makers make; `make spec` renews
# them.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
work=$(mktemp -d)
current() { # PAGE MAKER
    [ "$(wc -l <"$work/page")" -gt 50 ] && diff "$1" "$work/page"
    verdict $? "$1 (<) to be what $2 makes (>)"
}
sh spec/make_grammar.sh >"$work/page"
current spec/grammar.md spec/make_grammar.sh
for page in builtins:make_builtins bytecode:make_operations; do
    maker=spec/${page#*:}.c page=spec/${page%:*}.md
    ${CC:-gcc} -std=c11 -I. -o "$work/make" "$maker" && "$work/make" "$page" >"$work/page"
    current "$page" "$maker"
done
rm -r "$work"
close_sum
