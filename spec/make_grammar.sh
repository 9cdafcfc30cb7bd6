#!/bin/sh
# Writes spec/grammar.md from lang/grammar.y on standard output. The rules are those that lemon
# reprints, without the ones that only recognise mistakes (they report an error).
set -eu
cd "$(dirname "$0")/.."
mistakes=$(mktemp)
trap 'rm -f "$mistakes"' EXIT
sed -n '/MISTAKES\[\] = {/,/};/s/^ *"\(.*\)",*$/\1/p' tests/grammar/cover.c >"$mistakes"
cat <<'TEXT'
# The grammar

Made from `lang/grammar.y` by `make spec`; a test holds the two together.

`"word"` is a word or a sign as it is written. Names in capitals are tokens of [text.md](text.md). A rule that may be empty has the alternative `(nothing)`. Precedence, loosest first: `if`, `delayed`, ramps, `or`, `and`, `not`, comparisons (not chained), `+ -`, `* /`, unary `-`.

Some tokens are told from their neighbours, one token ahead: `at` and `by` before a moment at top level (`AT-MOMENT`, `BY-MOMENT`; else `at` belongs to a stop), `until` before `clock` (`UNTIL-CLOCK`), `and back` and `and round` before a driver (`AND-BACK`, `AND-ROUND`), `ease` before `(` (`EASE-CALL`). Soft words (text.md) are names wherever the grammar wants a name.

Left out are rules that only recognise mistakes. Each of them reports, and the file has an error then:

- Forms that are wrong in a known way: a ramp without a driver or a driver without a ramp, `if` without `else`, a chain of comparisons, `%` as a remainder, `then` without `lasts`, a layer outside a routine, `on lamp` before `play`, a blend space before the driver.
- Places of what was wrong and has been reported, so that the rest is still looked at: a value (`BAD`), a statement, what stands between `routine NAME` and `{`, what stands in parentheses (three kinds of `HOLE`).

TEXT
echo '```ebnf'
lemon -g -T/usr/share/lemon/lempar.c lang/grammar.y | awk -v mistakes="$mistakes" '
BEGIN {
    while ((getline line < mistakes) > 0) skip[line] = 1
    n = split("EQUALS = LPAREN ( RPAREN ) COMMA , LBRACE { RBRACE } ARROW -> BAR | EQ == NE != LT < LE <= GT > GE >= PLUS + MINUS - STAR * SLASH / DOT . DOTDOT ..", sign, " ")
    for (i = 1; i < n; i += 2) signs[sign[i]] = sign[i + 1]
    n = split("NAME HYPHENNAME NUMBER PERCENT DURATION ANGLE KELVIN VOLT AMPERE HERTZ TIME DATE COLOUR STRING EASE EASEFN SUN TWILIGHT DAWN WEEKDAY MONTH HUEDIR", kind, " ")
    for (i = 1; i <= n; i++) kinds[kind[i]] = kind[i]
    kinds["HYPHENNAME"] = "HYPHENATED"; kinds["EASE"] = "EASING"; kinds["EASEFN"] = "EASING-FUNCTION"
    kinds["ATMOMENT"] = "AT-MOMENT"; kinds["BYMOMENT"] = "BY-MOMENT"; kinds["UNTILCLOCK"] = "UNTIL-CLOCK"
    kinds["ANDBACK"] = "AND-BACK"; kinds["ANDROUND"] = "AND-ROUND"; kinds["EASECALL"] = "EASE-CALL"
    kinds["DAWN"] = "DAWN-OR-DUSK"; kinds["SUN"] = "SUNRISE-OR-SUNSET"; kinds["HUEDIR"] = "HUE-PATH"
}
function shown(symbol) {
    if (symbol in kinds) return kinds[symbol]
    if (symbol in signs) return "\"" signs[symbol] "\""
    if (symbol ~ /^[A-Z]/) return "\"" tolower(symbol) "\""
    return symbol
}
/^[a-z_]+ ::=/ {
    rule = $0
    sub(/\..*$/, "", rule); gsub(/ +$/, "", rule)
    if (rule in skip || rule ~ /HOLE|BAD|REMAINDER/) next
    left = $1
    right = ""
    n = split(substr(rule, length(left) + 5), part, " ")
    for (i = 1; i <= n; i++) right = right " " shown(part[i])
    known = (left in rules)
    if (!known) order[++count] = left
    before = known ? rules[left] : ""
    if (right == "") rules[left] = " (nothing)" (known ? "\n    |" before : "")
    else rules[left] = (known ? before "\n    |" : "") right
}
END {
    printf "file =%s\n", rules["file"]
    for (i = 1; i <= count; i++)
        if (order[i] != "file") printf "\n%s =%s\n", order[i], rules[order[i]]
}'
echo '```'
