#!/bin/sh
# make_lists.sh FILE: writes FILE on standard output with the lists of words as the lexer, the
# built-ins and the colours have them. A list stands in the line behind one with `list: NAMES`:
# in `(?:a|b)` or `\%(a\|b\)`, or behind `syn keyword GROUP`.
set -eu
file=$1
cd "$(dirname "$0")/../.."
kind() { # TOKEN...: the words of these tokens
    for token in "$@"; do sed -n "s/^ *{\"\([^\"]*\)\", $token, .*/\1/p" lang/words.c; done
}
lists() {
    sed -n 's/^FUNCTION([A-Z_0-9]*, "\([a-z_0-9]*\)".*/functions \1/p; s/^MOMENT("\([a-z]*\)".*/moments \1/p' lang/builtins.def
    sed -n 's/^ *{"\([a-z]*\)", 0x.*/colours \1/p' lang/colour_names.c
    kind TK_EASE | sed 's/^/easings /'
    kind TK_EASEFN | sed 's/^/easing-functions /'
    kind TK_HUEDIR | sed 's/^/hue-paths /'
    kind TK_WEEKDAY TK_MONTH | sed 's/^/days /'
    kind TK_SUN TK_TWILIGHT TK_DAWN | sed 's/^/sun /'
}
# The longest first: `ease` must not be found in `ease-in`.
lists | awk '{ print length($2), $0 }' | sort -k1,1nr -k3,3 | awk '
    FNR == NR { words[$2] = words[$2] (words[$2] ? " " : "") $3; next }
    wanted {
        n = split(wanted, name, " ")
        list = ""
        for (i = 1; i <= n; i++) {
            if (!(name[i] in words)) { print "no list " name[i] > "/dev/stderr"; exit 1 }
            list = list (list ? " " : "") words[name[i]]
        }
        if (match($0, /\(\?:[a-z0-9_|-]*\)/)) {
            gsub(/ /, "|", list)
            $0 = substr($0, 1, RSTART + 2) list substr($0, RSTART + RLENGTH - 1)
        } else if (match($0, /\\%\([a-z0-9_|\\-]*\)/)) {
            gsub(/ /, "\\|", list)
            $0 = substr($0, 1, RSTART + 2) list substr($0, RSTART + RLENGTH - 2)
        } else if (match($0, /^syn keyword [A-Za-z]+ /)) {
            $0 = substr($0, 1, RLENGTH) list
        } else { print "no place for " wanted > "/dev/stderr"; exit 1 }
        wanted = ""
    }
    /^ *"( |comment": ")list: / { wanted = $0; sub(/.*list: /, "", wanted); gsub(/[^a-z -]/, "", wanted) }
    { print }' - "$file"
