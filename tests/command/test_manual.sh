#!/bin/sh
# The pages of the manual: free of mistakes to mandoc, one for each command, and with the options
# that the command itself lists: none missing, none invented. The words of gloam(5) are those of
# the language.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
gloam=${BUILD:-build}/gloam
pages=spec/guide/man
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
result() { # STATUS SENTENCE: what was wrong is in $work/said
    verdict "$1" "$2
$(cat "$work/said")"
}
lines() { # FILE: its lines, as a test wants at least one
    [ -s "$1" ]
}

for page in "$pages"/*.[15]; do
    if ! command -v mandoc >/dev/null 2>&1; then
        skip "$page by mandoc" "it is not here"
        continue
    fi
    mandoc -Tlint -Wwarning "$page" >"$work/said" 2>&1
    result $? "$page to be free of mandoc's warnings:"
done

# Every command has a page, gloam(1) names it, and no page is without a command.
"$gloam" --help | sed -n 's/^  \([a-z-]*\)  *[A-Z].*/\1/p' | sort >"$work/commands"
ls "$pages" | sed -n 's/^gloam-\(.*\)\.1$/\1/p' | sort >"$work/pages"
sed -n 's/^\.It Xr gloam-\([a-z-]*\) 1$/\1/p' "$pages/gloam.1" | sort >"$work/named"
lines "$work/commands" && diff "$work/commands" "$work/pages" >"$work/said"
result $? "a page for each command (<: command without, >: page without):"
lines "$work/commands" && diff "$work/commands" "$work/named" >"$work/said"
result $? "gloam(1) to name each command (<: missing, >: no command):"

# Options: `--name` of --help, with its short form, against the `.It Fl` lines of the page.
# Each command has --help; gloam(1) tells of it once for all.
while read -r command; do
    "$gloam" "$command" --help |
        sed -n 's/^ *\(-\([a-z]\), \)\{0,1\} *--\([a-z-]*\).*/\2 \3/p' |
        sed 's/^ //' | grep -v '^help$' | sort >"$work/help"
    sed -n 's/^\.It Fl \(.*\)/\1/p' "$pages/gloam-$command.1" |
        sed 's/ , Fl -/ /; s/^-//; s/ \(Ar\|Cm\) .*//; s/ Ns.*//' | sort >"$work/page"
    lines "$work/help" && diff "$work/help" "$work/page" >"$work/said"
    result $? "gloam-$command(1) to explain the options of --help (<: missing, >: no option):"
    # What a command takes is in its synopsis, so the first line of --help and the page agree.
    "$gloam" "$command" --help | sed -n '1s/^usage: gloam \([a-z-]*\) .*/\1/p' >"$work/said"
    grep -q "^\.Nm gloam $command\$" "$pages/gloam-$command.1" && [ "$(cat "$work/said")" = "$command" ]
    result $? "gloam-$command(1) to be about \`gloam $command\`"
done <"$work/commands"

# gloam(1) has --help and --version, and both work.
for option in help version; do
    "$gloam" --$option >"$work/said" 2>&1 && lines "$work/said" &&
        grep -q "^\.Fl -help | -version\$" "$pages/gloam.1"
    result $? "gloam --$option to work and to stand in gloam(1):"
done

# gloam(5): the functions and names of the moment of lang/builtins.def, the reserved words of
# lang/words.c, and examples that are free of mistakes.
five=$pages/gloam.5
sed -n 's/^FUNCTION([A-Z_0-9]*, "\([a-z_0-9]*\)".*/\1/p' lang/builtins.def | sort >"$work/code"
sed -n 's/^\.It Fn \([a-z_0-9]*\).*/\1/p' "$five" | sort >"$work/page"
lines "$work/code" && diff "$work/code" "$work/page" >"$work/said"
result $? "gloam(5) to have each function (<: missing, >: none):"
sed -n 's/^MOMENT("\([a-z-]*\)".*/\1/p' lang/builtins.def | sort >"$work/code"
sed -n 's/^\.It Va \([a-z-]*\)$/\1/p' "$five" | sort >"$work/page"
lines "$work/code" && diff "$work/code" "$work/page" >"$work/said"
result $? "gloam(5) to have each name of the moment (<: missing, >: none):"
sed -n 's/^ *{"\([a-z-]*\)", TK_[A-Z]*, [0-9]*, true},.*/\1/p' lang/words.c | sort >"$work/code"
sed -n '/reserved: begin/,/reserved: end/s/^\.Ic //p' "$five" | tr ' ' '\n' | grep '[a-z]' | sort >"$work/page"
lines "$work/code" && diff "$work/code" "$work/page" >"$work/said"
result $? "gloam(5) to list the reserved words (<: missing, >: not reserved):"
awk '/^\.Sh/ { examples = /EXAMPLES/ } /^\.Ed/ { block = 0 } examples && block { print }
     /^\.Bd/ { block = 1 }' "$five" >"$work/example.gloam"
lines "$work/example.gloam" && "$gloam" check "$work/example.gloam" >"$work/said" 2>&1 &&
    ! grep -q 'warning' "$work/said"
result $? "the examples of gloam(5) to be free of mistakes:"

close_sum
