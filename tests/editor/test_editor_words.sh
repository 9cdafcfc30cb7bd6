#!/bin/sh
# The words in the files for editors are those of the language: the lists as their maker writes
# them from the sources, and every word of lang/words.c somewhere.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
sed -n 's/^ *{"\([^"]*\)", TK_[A-Z]*, [0-9]*, [a-z]*},.*/\1/p' lang/words.c >"$work/words"
for file in lang/editor/gloam.tmLanguage.json lang/editor/vim/syntax/gloam.vim; do
    sh lang/editor/make_lists.sh "$file" >"$work/made" && [ -s "$work/made" ] &&
        diff "$file" "$work/made" >"$work/said"
    verdict $? "$file (<) to be what lang/editor/make_lists.sh makes of it (>): $(cut -c1-100 "$work/said")"
    # Patterns only; vim splits `jump-start`, as JSON does, into `jump-` and its ends.
    grep -v '^"\|"comment"\|^hi ' "$file" | sed 's/\\\\b/ /g; s/\\[<>]/ /g; s/\\z[se]/ /g' | tr -c 'a-z_-' '\n' | grep . | sort -u >"$work/there"
    missing=
    while read -r word; do
        case $word in jump-*) word=${word#jump-} ;; plus-lighter | srgb-linear) ;; esac
        grep -qx -- "$word" "$work/there" || missing="$missing $word"
    done <"$work/words"
    # Names that a pattern takes in general need not stand there.
    [ "$file" = lang/editor/gloam.tmLanguage.json ] &&
        missing=$(echo "$missing" | sed 's/ plus-lighter//; s/ srgb-linear//')
    [ "$(wc -l <"$work/words")" -gt 100 ] && [ -z "$missing" ]
    verdict $? "$file to know each word of lang/words.c; missing:$missing"
done
close_sum
