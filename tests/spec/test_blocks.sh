#!/bin/sh
# Every example of the README, the specification and the guide is run: a fenced block tagged
#   gloam           a whole file: no mistakes (`use` finds the files of examples/)
#   gloam layers    the body of a routine; each line that begins with `paint` is one of its own
#   gloam timetable lines for the file that the first `gloam` block of the page is: its lamps,
#                   routines and `until clock is set`, without its other entries
#   gloam wrong     a file with mistakes: the block tagged `text` behind it is what check says of it
#   text when ...   what `gloam when` with these options says of the block in front of it
#   text acts ...   acts by hand on that block at this time on the clock, one after the other: what
#                   each line that begins with `$ gloam` says; the state lasts to the end of the page
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
gloam=$(cd "$(dirname "${BUILD:-build}/gloam")" && pwd)/gloam
work=$(mktemp -d)
cp examples/*.gloam spec/guide/*.csv "$work"
acts() { # those of $block
    clock=$(cat "$block.options")
    while IFS= read -r said; do
        case $said in
        '$ gloam '*) echo "$said" ;;
        *) continue ;;
        esac
        eval "set -- ${said#? gloam }"
        command=$1
        shift
        (cd "$work" && "$gloam" "$command" --home example.gloam --state state.json --clock "$clock" "$@")
    done <"$block"
}
pages="README.md $(find spec -name '*.md' -not -path '*/conformance/*' | sort)"
for page in $pages; do
    rm -f "$work"/block.* "$work/begin" "$work"/state.json*
    awk -v out="$work/block" '
        /^ *```/ {
            indent = index($0, "`") - 1; $0 = substr($0, indent + 1)
            if (open) { open = 0; close(name); next }
            tag = substr($0, 4); open = 1; options = ""
            if (match(tag, /^text (when|acts) /)) { options = substr(tag, 11); tag = substr(tag, 1, 9) }
            if (tag ~ /^gloam|^text$|^text (when|acts)$/) { n++; gsub(/ /, "-", tag); name = sprintf("%s.%03d.%d.%s", out, n, NR, tag) }
            else name = "/dev/null"
            printf "" > name
            if (options) { print options > (name ".options"); close(name ".options") }
            next
        }
        open { print substr($0, 1, indent) ~ /^ *$/ ? substr($0, indent + 1) : $0 > name }' "$page"
    wrong=
    for block in "$work"/block.*; do
        [ -e "$block" ] || continue
        line=$(echo "$block" | sed 's/.*block\.[0-9]*\.\([0-9]*\)\..*/\1/')
        file=$work/example.gloam
        case $block in
        *.gloam)
            cp "$block" "$file"
            [ -e "$work/begin" ] || grep -vE '^(at|by|when|between) ' "$block" >"$work/begin" ;;
        *.gloam-timetable)
            cat "$work/begin" "$block" >"$file" ;;
        *.text-when)
            # shellcheck disable=SC2046
            (cd "$work" && COLUMNS=100 "$gloam" when $(cat "$block.options") example.gloam) >"$work/said" 2>&1
            diff "$block" "$work/said" >"$work/diff"
            verdict $? "at $page:$line: when to say (<) what it does not (>):
$(cat "$work/diff")"
            continue ;;
        *.text-acts)
            acts >"$work/said" 2>&1
            # The release of the time zone database is the machine's.
            sed 's/; time zone database .*//' "$block" >"$work/wanted"
            sed 's/; time zone database .*//' "$work/said" | diff "$work/wanted" - >"$work/diff"
            verdict $? "at $page:$line: these acts to say (<) what they do not (>):
$(cat "$work/diff")"
            continue ;;
        *.options) continue ;;
        *.gloam-layers)
            # Layers that stand alone in the text are checked alone; lets belong to what follows.
            { echo 'dial warmth = 40% from 0% to 100%'
              echo 'let ember = #3a0f00'
              echo 'routine nightlight { paint ember where warmth }'
              awk '/^paint/ && !lets { printf "routine example%d {\n%s\n}\n", NR, $0; next }
                   { lets = 1; body = body $0 "\n" }
                   END { if (lets) printf "routine example {\n%s}\n", body }' "$block"; } >"$file" ;;
        *.gloam-wrong)
            cp "$block" "$file"
            wrong=$block
            continue ;;
        *.text)
            [ -n "$wrong" ] || continue
            (cd "$work" && "$gloam" check example.gloam) >"$work/said" 2>&1
            name=$(sed -n '1s/:.*//p' "$block")
            sed "s/^example\.gloam:/${name:-example.gloam}:/" "$work/said" >"$work/named"
            diff "$block" "$work/named" >"$work/diff"
            verdict $? "at $page:$line: check to say (<) what it does not (>):
$(cat "$work/diff")"
            wrong=
            continue ;;
        esac
        (cd "$work" && "$gloam" check example.gloam) >"$work/said" 2>&1 &&
            ! grep -q ': warning:' "$work/said"
        verdict $? "at $page:$line: this example to be free of mistakes and warnings:
$(cat "$work/said")"
    done
done
[ "$passed" -ge 10 ]
verdict $? "at least 10 examples in the pages, ran $passed"
rm -r "$work"
close_sum
