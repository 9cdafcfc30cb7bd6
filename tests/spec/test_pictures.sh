#!/bin/sh
# Pictures of the guide: small, each shown on a page and in looked-at.md; links of all pages lead
# somewhere.
set -u
cd "$(dirname "$0")/../.."
. tests/support/verdict.sh
for picture in spec/guide/pictures/*.png; do
    name=$(basename "$picture")
    [ "$(wc -c <"$picture")" -lt 60000 ]
    verdict $? "expected $picture to be smaller than 60 kB"
    grep -q "pictures/$name)" spec/guide/looked-at.md
    verdict $? "expected spec/guide/looked-at.md to say what was seen in $name"
done
for page in README.md DEVELOPERS.md lang/editor/README.md spec/*.md spec/guide/*.md spec/conformance/README.md; do
    folder=$(dirname "$page")
    missing=
    for link in $(grep -v '^```' "$page" | grep -o '](\([^)#]*\)[#)]' | sed 's/^](//; s/[#)]$//' | grep -v '^[a-z]*:' | sort -u); do
        [ -e "$folder/$link" ] || missing="$missing $link"
    done
    [ -z "$missing" ]
    verdict $? "expected the links of $page to lead somewhere, not:$missing"
done
[ "$passed" -gt 40 ]
verdict $? "more than 40 checks of pictures and links, made $passed"
close_sum
