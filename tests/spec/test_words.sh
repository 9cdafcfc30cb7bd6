#!/bin/sh
# The words of spec/text.md are those of lang/words.c.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
same() { # WHAT SPEC CODE
    [ -n "$2" ] && [ "$2" = "$3" ]
    verdict $? "spec/text.md to list $1 as lang/words.c does:
  spec: $2
  code: $3"
}
words() { tr -s '` ' '\n\n' | grep . | sort | tr '\n' ' '; }
code() { # PATTERN of what stands behind the spelling
    sed -n "s/^ *{\"\([^\"]*\)\", $1},.*/\1/p" lang/words.c | sort | tr '\n' ' '
}
row() { # NAME of the token
    sed -n "s/^| $1 | \(.*\) |\$/\1/p" spec/text.md | sed 's/one of//' | words
}
same "reserved words" "$(sed -n '/<!-- reserved -->/,/<!-- end -->/p' spec/text.md | grep '^`' | words)" \
    "$(code 'TK_[A-Z]*, [0-9]*, true')"
same "soft words" "$(sed -n '/<!-- soft -->/,/<!-- end -->/p' spec/text.md | grep '^`' | words)" \
    "$(sed -n 's/^ *{"\([^"]*\)", \(TK_[A-Z]*\), [0-9]*, false},.*/\2 \1/p' lang/words.c |
        grep -vE '^TK_(HYPHENNAME|EASE|EASEFN|WEEKDAY|MONTH|HUEDIR|SUN|TWILIGHT|DAWN) ' | cut -d' ' -f2 | sort | tr '\n' ' ')"
# A word is soft exactly where the grammar lets its token fall back to a name.
soft_tokens=$(sed -n 's/^ *{"[^"]*", TK_\([A-Z]*\), [0-9]*, false},.*/\1/p' lang/words.c | grep -v HYPHENNAME | sort -u | tr '\n' ' ')
fallback=$(sed -n '/^%fallback NAME/,/\.$/p' lang/grammar.y | sed 's/%fallback NAME//' | tr -s ' .\n' '\n' | grep . | sort -u | tr '\n' ' ')
[ -n "$soft_tokens" ] && [ "$soft_tokens" = "$fallback" ]
verdict $? "the soft words of lang/words.c to be those of %fallback:
  words: $soft_tokens
  grammar: $fallback"
same "hyphenated words" "$(row HYPHENATED)" "$(code 'TK_HYPHENNAME, 0, false')"
same "easings" "$(row EASING)" "$(code 'TK_EASE, 0, false')"
same "easing functions" "$(row EASING-FUNCTION)" "$(code 'TK_EASEFN, 0, false')"
same "weekdays" "$(row WEEKDAY)" "$(code 'TK_WEEKDAY, [0-9]*, false')"
same "months" "$(row MONTH)" "$(code 'TK_MONTH, [0-9]*, false')"
same "hue paths" "$(row HUE-PATH)" "$(code 'TK_HUEDIR, 0, false')"
close_sum
