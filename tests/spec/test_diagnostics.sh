#!/bin/sh
# spec/diagnostics.md lists each warning and note that the sources can give, under its code, and the
# example under each code gives that code.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
gloam=$(cd "${BUILD:-build}" && pwd)/gloam
page=$PWD/spec/diagnostics.md
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
{
    cat lang/*.c runtime/library/*.c runtime/command/*.c |
        awk '/SEVERITY_(WARNING|NOTE)/ { near = 3 } near-- > 0' | grep -o '"[a-z]*\(-[a-z0-9]*\)\{1,\}"' | tr -d '"'
    grep -h -o 'warn_unused(.*"unused-[a-z]*"' lang/references.c | sed 's/.*"\(.*\)"/\1/'
    # Its severity depends on what is hidden.
    grep -h -o '"hides-built-in"' lang/names.c | tr -d '"'
} | sort -u >"$work/code"
sed -n '/^## Likely/,$p' "$page" | grep '^`[a-z-]*`.*:$' | sed 's/:.*//' | grep -o '`[a-z-]*-[a-z-]*`' | tr -d '`' | sort >"$work/page"
[ "$(wc -l <"$work/code")" -gt 20 ] && diff "$work/code" "$work/page"
verdict $? "spec/diagnostics.md (>) to list the warnings and notes of the sources (<)"
awk -v out="$work" '
    /^`[a-z-]*-[a-z-]*`/ { code = $1; gsub(/[`:]/, "", code) }
    /^```gloam wrong/ && code { file = out "/" code ".gloam"; next }
    /^```/ { if (file) { close(file); code = "" } file = "" }
    file { print > file }' "$page"
cp examples/*.gloam "$work" 2>/dev/null
for code in $(cat "$work/page"); do
    [ -e "$work/$code.gloam" ] || continue
    (cd "$work" && "$gloam" check --format json "$code.gloam") >"$work/said"
    # What is wrong with a timetable may be wrong at night, too.
    others=$(grep -v "\"code\": *\"$code\"" "$work/said" | grep '"code"' | grep -vc '"code": *"night-')
    grep -q "\"code\": *\"$code\"" "$work/said" && [ "$others" -eq 0 ]
    verdict $? "the example of $code in spec/diagnostics.md to give it, and nothing else: $(cat "$work/said")"
done
[ "$passed" -gt 20 ]
verdict $? "more than 20 codes and examples, looked at $passed"
close_sum
