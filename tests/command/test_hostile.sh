#!/bin/sh
# Bad input of any kind: a clear error with a place, in bounded memory and time, never a crash.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/command.sh
took=$work/took
# Runs `gloam ...` in at most 10 s and 400 MB of address space (sanitizers need more: then no cap),
# notes what it took in the list of all.
measured() {
    (
        [ -n "${SANITISED:-}" ] || ulimit -v 400000
        if [ -x /usr/bin/time ]; then
            timeout 10 /usr/bin/time -q -a -o "$took" -f "%e s, %M KiB: $*" "$gloam" "$@"
        else
            timeout 10 "$gloam" "$@"
        fi
    )
}
# Expects status 1 of `gloam check FILE`, a first line that matches PATTERN, a short answer and in it
# no control characters; `gloam format` must end as well.
refused() { # FILE PATTERN
    measured check "$1" >said 2>&1
    status=$?
    [ $status -eq 1 ]
    verdict $? "status 1 for $1, not $status: $(head -c 300 said)"
    head -n 1 said | grep -q -- "$2"
    verdict $? "a first line like \`$2\` for $1, not: $(head -n 1 said | cut -c1-200)"
    [ "$(wc -c <said)" -lt 20000 ]
    verdict $? "a short answer for $1, not $(wc -c <said) bytes"
    harmless "$1"
    measured format "$1" >formatted 2>&1
    [ $? -le 1 ]
    verdict $? "status 0 or 1 of format for $1: $(head -c 300 formatted)"
}
harmless() { # WHAT
    [ "$(LC_ALL=C tr -d '\000-\010\013-\037\177' <said | wc -c)" -eq "$(wc -c <said)" ]
    verdict $? "no control characters in the answer to $1"
}
repeat() { # COUNT TEXT
    awk -v n="$1" -v text="$2" 'BEGIN { for (i = 0; i < n; i++) printf "%s", text }'
}

printf 'routine a { paint gold }\nlet b = \377\376\n' >latin.gloam
refused latin.gloam 'latin.gloam:2:9: error: .*UTF-8'
printf 'routine a { paint \0 gold }\n' >zero.gloam
refused zero.gloam 'zero.gloam.*error: .*byte 19'
head -c 104857600 /dev/zero >huge.gloam
refused huge.gloam 'huge.gloam: error: .*1 MiB'
{ printf 'let a = '; repeat 100000 '('; printf 1; repeat 100000 ')'; } >parens.gloam
refused parens.gloam 'parens.gloam:1:[0-9]*: error: .*200'
{ printf 'let a = '; repeat 100000 'if true then '; printf 1; repeat 50000 ' else 2'; } >ifs.gloam
refused ifs.gloam 'ifs.gloam:[0-9:]* error: '
{ printf 'let a = '; repeat 100000 '-'; printf 1; } >minus.gloam
refused minus.gloam 'minus.gloam:1:[0-9]*: error: .*200'
{ printf 'let a = '; repeat 100000 'not '; printf true; } >not.gloam
refused not.gloam 'not.gloam:1:[0-9]*: error: .*200'
{ printf 'let a = 1'; repeat 500000 '+1'; } >sum.gloam
refused sum.gloam 'sum.gloam:1:[0-9]*: error: '
{ printf 'let a = 1'; repeat 1000000 '+1'; } >million.gloam
refused million.gloam 'million.gloam: error: .*1 MiB'
{ printf 'routine r { paint red'; repeat 100000 ' -> red'; printf ' every 4s }'; } >stops.gloam
refused stops.gloam 'stops.gloam:1:[0-9]*: error: '
{ printf 'routine r { paint red'; repeat 300 ' -> red'; printf ' every 4s }'; } >stops300.gloam
refused stops300.gloam 'stops300.gloam:1:[0-9]*: error: .*256'
{
    echo 'let b0 = 0 -> 1 every 7s'
    i=1
    while [ $i -le 24 ]; do
        echo "let b$i = (b$((i - 1)) delayed ${i}s) + (b$((i - 1)) delayed $(echo "2^$i" | awk -F^ '{ print 2 ^ $2 }')s)"
        i=$((i + 1))
    done
    echo 'routine r { paint gold * b24 }'
} >doubling.gloam
refused doubling.gloam 'doubling.gloam:[0-9]*:[0-9]*: error: .*b[0-9]'
{ printf 'let '; repeat 1000000 a; printf ' = 1'; } >name.gloam
refused name.gloam 'name.gloam:1:5: error: .*64'
{ printf 'use "'; repeat 1000000 a; printf '"'; } >text.gloam
refused text.gloam 'text.gloam:1:5: error: .*1024'
{ printf 'let a = min('; repeat 10000 '1, '; printf '1)'; } >arguments.gloam
refused arguments.gloam 'arguments.gloam:1:[0-9]*: error: .*64'
awk 'BEGIN { for (i = 0; i < 10000; i++) print "routine r" i " { paint gold }" }' >routines.gloam
refused routines.gloam 'routines.gloam:257:[0-9]*: error: .*256'
{ printf 'let f(x0'; awk 'BEGIN { for (i = 1; i < 10000; i++) printf ", x%d", i }'; printf ') = x0'; } >parameters.gloam
refused parameters.gloam 'parameters.gloam:1:[0-9]*: error: .*16'
awk 'BEGIN { for (i = 0; i < 10000; i++) print "let a" i " = 5m" }' >errors.gloam
refused errors.gloam 'errors.gloam:1:11: error: .*`m`'
[ "$(grep -c ': error:' said)" -eq 20 ] && tail -n 1 said | grep -q '481 more'
verdict $? "20 of the 501 errors at which the file is given up, the rest counted: $(tail -n 1 said)"
awk 'BEGIN { for (i = 0; i < 10000; i++) print "let a" i " = b" i }' >names.gloam
refused names.gloam 'names.gloam:1:10: error: .*`b0`'
[ "$(grep -c ': error:' said)" -eq 20 ] && tail -n 1 said | grep -q '9980 more'
verdict $? "20 of 10,000 errors, the rest counted: $(tail -n 1 said)"
# Names given twice, all on one line behind others.
awk 'BEGIN { for (i = 0; i < 49000; i++) printf "let %s = 1 ", i < 25000 ? "b" i : "a" }' >twice.gloam
refused twice.gloam 'twice.gloam:1:[0-9]*: error: .*named already at line 1'
for opening in '{' '[' 'routine a { ' 'paint ' 'use ' 'if ' '-> ' '"' '# ' 'delayed ' 'a(' '1,' '} ' 'lamp '; do
    repeat 60000 "$opening" >openings.gloam
    refused openings.gloam 'openings.gloam:[0-9]*:[0-9]*: error: '
done
{ printf 'let a = "'; repeat 1000000 x; } >unclosed.gloam
refused unclosed.gloam 'unclosed.gloam:1:9: error: '
{ repeat 300000 '('; printf '\n'; repeat 300000 ')'; } >bare.gloam
refused bare.gloam 'bare.gloam:1:[0-9]*: error: '
{ printf 'let f(n) = f(n)\nroutine a { paint gold * f(1) }\n'; } >self.gloam
refused self.gloam 'self.gloam:1:12: error: .*itself'
{
    echo 'let f0(a) = a * 1.5 + 1'
    awk 'BEGIN { for (i = 1; i <= 40; i++) print "let f" i "(a) = f" i - 1 "(f" i - 1 "(a))" }'
    echo 'routine r { paint gold * f40(pos) }'
} >powers.gloam
refused powers.gloam 'powers.gloam:[0-9]*:[0-9]*: error: '
{
    echo 'routine r0 { paint gold where 50% paint red where 50% }'
    awk 'BEGIN { for (i = 1; i <= 40; i++) print "routine r" i " { paint r" i - 1 " where pos paint r" i - 1 " delayed 1s }" }'
} >nested.gloam
refused nested.gloam 'nested.gloam:[0-9]*:[0-9]*: error: '
awk 'BEGIN { for (i = 0; i < 10000; i++) print "routine r" i " { paint 5 }" }' | head -n 250 >many.gloam
refused many.gloam 'many.gloam:1:[0-9]*: error: '
[ "$(grep -c ': error:' said)" -eq 20 ]
verdict $? "20 errors shown, not $(grep -c ': error:' said)"
grep -q '230 more' said
verdict $? "the rest counted: $(tail -n 1 said)"

# ---- files ----
printf 'use "b.gloam"\n' >a.gloam
printf 'use "a.gloam"\n' >b.gloam
refused a.gloam '[ab].gloam:1:1: error: .*a.gloam.*b.gloam'
mkdir inside
printf 'use "../a.gloam"\n' >inside/up.gloam
refused inside/up.gloam 'inside/up.gloam:1:[15]: error: '
printf 'use "/etc/passwd"\n' >absolute.gloam
refused absolute.gloam 'absolute.gloam:1:[15]: error: '
printf 'let secret = 1\n' >outside.gloam
ln -s ../outside.gloam inside/link.gloam
printf 'use "link.gloam"\n' >inside/main.gloam
refused inside/main.gloam 'inside/main.gloam:1:[15]: error: .*folder'
grep -q secret said
[ $? -ne 0 ]
verdict $? "nothing of a file outside to be shown"
printf 'use "missing.gloam"\n' >lost.gloam
refused lost.gloam 'lost.gloam:1:[15]: error: .*missing.gloam'
printf 'use "inside"\n' >folder.gloam
refused folder.gloam 'folder.gloam:1:[15]: error: .*folder'
refused inside 'inside: error: .*folder'
refused nowhere.gloam 'nowhere.gloam: error: '
mkfifo pipe.gloam
printf 'use "pipe.gloam"\n' >fifo.gloam
refused fifo.gloam 'fifo.gloam:1:[15]: error: '
refused pipe.gloam 'pipe.gloam: error: '
refused /dev/zero '/dev/zero: error: '
# Points of a lamp come from a file, too.
points() { # FILE PATTERN
    printf 'lamp l { shape points "%s" }\nroutine a { paint gold }\n' "$1" >points.gloam
    refused points.gloam "$2"
}
points missing.csv 'points.gloam:1:[0-9]*: error: .*missing.csv'
points ../a.csv 'points.gloam:1:[0-9]*: error: '
points /etc/passwd 'points.gloam:1:[0-9]*: error: '
points inside 'points.gloam:1:[0-9]*: error: .*folder'
points pipe.gloam 'points.gloam:1:[0-9]*: error: '
points huge.gloam 'points.gloam:1:[0-9]*: error: .*1 MiB'
repeat 100001 '0,0,1\n' | sed 's/\n/\n/g' >many.csv
awk 'BEGIN { for (i = 0; i < 100001; i++) print i ",0" }' >many.csv
points many.csv 'many.csv:100001:1: error: .*100000'
printf '0,0\n1,nan\n' >nan.csv
points nan.csv 'nan.csv:2:3: error: '
printf '0,0\n1,1e999\n' >far.csv
points far.csv 'far.csv:2:[0-9]*: error: '
repeat 1000000 , >commas.csv
points commas.csv 'commas.csv:1:1: error: '
printf '0,0\n\033[2J\n' >escape.csv
points escape.csv 'escape.csv:2:1: error: '
: >none.csv
points none.csv ': error: '
# A chain of files, each of which uses the next.
awk 'BEGIN { for (i = 0; i < 100; i++) print "use \"c" i + 1 ".gloam\"" > ("c" i ".gloam") }'
refused c0.gloam 'c63.gloam:1:1: error: .*64'
rm c[0-9]*.gloam
name=$(printf 'strange\033[31m\n.gloam')
cp sum.gloam "$name"
measured check "$name" >said 2>&1
[ $? -eq 1 ]
verdict $? "a file with a strange name to be told"
LC_ALL=C grep -q "$(printf '\033')" said
[ $? -eq 1 ]
verdict $? "no escape sequence of a file's name to reach the terminal: $(head -n 1 said | od -c | head -n 3)"
# Standard input that never ends.
for source in yes "cat /dev/zero" "cat /dev/urandom"; do
    $source 2>/dev/null | measured check - >said 2>&1
    [ $? -eq 1 ]
    verdict $? "status 1 for what \`$source\` gives without end: $(head -c 300 said)"
    harmless "$source"
done
"$gloam" compile -o small.code - <<TEXT
routine a { paint (black -> gold and back every 2s) delayed pos * 1s }
TEXT
cut=$(wc -c <small.code)
{ cat small.code; repeat 1000 x; } >long.code
{ cat small.code; head -c 17000000 /dev/zero; } >huge.code
{ head -c 16 small.code; head -c 5000 /dev/urandom; } >random.code
head -c $((cut - 1)) small.code >cut.code
for file in long.code huge.code random.code cut.code; do
    measured check $file >said 2>&1
    [ $? -eq 1 ] && grep -q "$file: " said
    verdict $? "status 1 and a sentence for $file: $(head -c 300 said)"
    harmless $file
done

printf 'let a = 1\n' >closed.gloam
chmod 0 closed.gloam
if [ "$(id -u)" != 0 ]; then
    refused closed.gloam 'closed.gloam: error: .*chmod'
elif command -v setpriv >/dev/null 2>&1; then
    chmod 755 "$work"
    setpriv --reuid 65534 --clear-groups "$gloam" check closed.gloam >said 2>&1
    grep -q 'closed.gloam: error: .*read' said
    verdict $? "a sentence about rights, not: $(cat said)"
else
    skipped=$((skipped + 1))
    echo "skipped: an unreadable file: root reads all, and there is no setpriv"
fi

# ---- what must be harmless or fine ----
printf 'let a = "\033[2J\033]0;x\007" §\n' >escape.gloam
"$gloam" check --colour never escape.gloam >said 2>&1
grep -q "$(printf '\033')" said
[ $? -eq 1 ]
verdict $? "no escape sequences of a file to reach the terminal"
printf '\357\273\277// c\r\nroutine a { paint gold }\r\n' >windows.gloam
"$gloam" check windows.gloam >said 2>&1
verdict $? "a byte order mark and CRLF to be fine: $(cat said)"
: >empty.gloam
"$gloam" check empty.gloam >said 2>&1
verdict $? "an empty file to be free of mistakes: $(cat said)"
"$gloam" dump empty.gloam >said 2>&1
[ $? -eq 1 ]
verdict $? "a file without routines to be told by dump: $(cat said)"
{ printf 'routine r { paint gold * (1'; repeat 150 ' + 1'; printf ') }'; } >deep.gloam
"$gloam" check deep.gloam >said 2>&1
verdict $? "150 terms to be fine: $(head -c 200 said)"
{
    echo 'let b0 = black -> gold every 7s'
    awk 'BEGIN { for (i = 1; i <= 10; i++) print "let b" i " = (b" i - 1 " delayed " i "s) + (b" i - 1 " delayed " 2 ^ i "s)" }'
    echo 'routine r { paint b10 }'
} >ten.gloam
measured check ten.gloam >said 2>&1
[ $? -le 1 ]
verdict $? "ten lets that double to be fine, or to be told: $(head -c 300 said)"
for size in 1 7 100 1000; do
    head -c $size /dev/urandom >random.gloam
    timeout 20 "$gloam" check random.gloam >said 2>&1
    [ $? -le 1 ]
    verdict $? "status 0 or 1 for $size random bytes"
done
chmod 644 closed.gloam
[ -s "$took" ] && {
    echo "of $(wc -l <"$took") runs, the longest: $(sort -rn "$took" | head -n 1); the largest: $(sort -t, -k2 -rn "$took" | head -n 1)"
}
close_sum
