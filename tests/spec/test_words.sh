#!/bin/sh
# The words of spec/text.md are those of lang/words.c.
set -u
cd "$(dirname "$0")/../.."
passed=0 failed=0
same() { # WHAT SPEC CODE
    if [ -n "$2" ] && [ "$2" = "$3" ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "expected spec/text.md to list $1 as lang/words.c does:"
        echo "  spec: $2"
        echo "  code: $3"
    fi
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
same "hyphenated words" "$(row HYPHENATED)" "$(code 'TK_HYPHENNAME, 0, false')"
same "easings" "$(row EASING)" "$(code 'TK_EASE, 0, false')"
same "easing functions" "$(row EASING-FUNCTION)" "$(code 'TK_EASEFN, 0, false')"
same "weekdays" "$(row WEEKDAY)" "$(code 'TK_WEEKDAY, [0-9]*, false')"
same "months" "$(row MONTH)" "$(code 'TK_MONTH, [0-9]*, false')"
same "hue paths" "$(row HUE-PATH)" "$(code 'TK_HUEDIR, 0, false')"
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
