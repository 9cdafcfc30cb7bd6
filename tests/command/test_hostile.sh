#!/bin/sh
# Bad input of any kind: a clear error with a place, in bounded memory and time, never a crash.
set -u
cd "$(dirname "$0")/../.."
gloam=$(pwd)/${BUILD:-build}/gloam
case ${BUILD:-build} in /*) gloam=$BUILD/gloam ;; esac
work=$(mktemp -d)
passed=0 failed=0 skipped=0
cd "$work" || exit 1
verdict() { # STATUS WHAT
    if [ "$1" -eq 0 ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        echo "expected $2"
    fi
}
# Runs check on FILE in at most 10 s and 600 MB of address space (sanitizers need more: then no cap);
# expects status 1 and a first line that matches PATTERN.
refused() { # FILE PATTERN
    (
        [ -n "${SANITISED:-}" ] || ulimit -v 600000
        timeout 20 "$gloam" check "$1"
    ) >said 2>&1
    status=$?
    [ $status -eq 1 ]
    verdict $? "status 1 for $1, not $status: $(head -c 300 said)"
    head -n 1 said | grep -q -- "$2"
    verdict $? "a first line like \`$2\` for $1, not: $(head -n 1 said | cut -c1-200)"
    [ "$(wc -c <said)" -lt 20000 ]
    verdict $? "a short answer for $1, not $(wc -c <said) bytes"
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
for size in 1 7 100 1000; do
    head -c $size /dev/urandom >random.gloam
    timeout 20 "$gloam" check random.gloam >said 2>&1
    [ $? -le 1 ]
    verdict $? "status 0 or 1 for $size random bytes"
done
chmod 644 closed.gloam
cd /
rm -r "$work"
[ $skipped -gt 0 ] && tail=", $skipped skipped" || tail=
echo "$passed passed, $failed failed$tail"
[ "$failed" -eq 0 ]
