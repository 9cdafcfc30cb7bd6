#!/bin/sh
# The contracts of spec/commands.md: statuses, streams, options, frames.
set -u
cd "$(dirname "$0")/../.."
root=$(pwd)
gloam=$root/${BUILD:-build}/gloam
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
# gives STATUS PATTERN-OF-ERROR ARGUMENTS...
gives() {
    wanted=$1 pattern=$2
    shift 2
    "$gloam" "$@" >out 2>said </dev/null
    status=$?
    [ $status -eq "$wanted" ]
    verdict $? "status $wanted of \`gloam $*\`, not $status: $(head -n 2 said)"
    if [ -n "$pattern" ]; then
        grep -q -- "$pattern" said
        verdict $? "\`gloam $*\` to say \`$pattern\`, not: $(head -n 2 said)"
    fi
}
same() { # FILE FILE WHAT
    cmp -s "$1" "$2"
    verdict $? "$3: $(diff "$1" "$2" | head -n 3)"
}

cat >two.gloam <<'TEXT'
dial warmth = 40% from 0% to 100%
dial pace = 2s from 1s to 10s
dial shining = true
dial tint = gold
lamp left { pixels 3 shape strip }
lamp right { pixels 4 shape ring }
routine swell lasts 8s { paint (black -> tint every pace) * warmth where shining }
routine still { paint red }
TEXT
cat >one.gloam <<'TEXT'
routine wave { paint (navy -> teal and back every 7s ease-in-out) delayed pos * 3s }
TEXT
cat >wall.gloam <<'TEXT'
place 51.45, -2.59 zone "Europe/London"
routine wall { paint white * (hour / 24) }
TEXT
printf 'routine a { paint 5 }\n' >wrong.gloam

# ---- calls ----
gives 2 'no command' ''
"$gloam" >out 2>said
[ $? -eq 2 ] && grep -q usage said
verdict $? "usage where no command is given"
gives 0 '' --help
grep -q preview out
verdict $? "the commands in --help"
gives 0 '' --version
gives 2 'no command `prewiev`' prewiev
gives 2 'which file' check
gives 2 'no option' check --nonsense one.gloam
gives 2 'one file at a time' check one.gloam two.gloam
gives 2 'needs a value' dump --fps
for command in check preview dump picture format compile disassemble; do
    gives 0 '' $command --help
    grep -q "gloam $command" out
    verdict $? "help of $command"
done
gives 1 'is not there' dump nowhere.gloam
gives 1 'wrong.gloam:1:19: error' dump wrong.gloam
gives 0 '' check -- one.gloam
"$gloam" check - <one.gloam >out 2>&1
verdict $? "- to be standard input: $(cat out)"

# ---- which routine, which lamp ----
gives 2 '`swell`, `still`' dump --lamp left two.gloam
gives 2 '`still`?' dump --routine stil --lamp left two.gloam
gives 2 '2 lamps' dump --routine still two.gloam
gives 2 '`right`?' dump --routine still --lamp rihgt two.gloam
gives 0 '' dump --routine still --lamp right --length 0s two.gloam
[ "$(wc -l <out)" -eq 5 ]
verdict $? "a header and a row for each of 4 pixels, not $(wc -l <out) lines"
gives 0 '' dump --routine still --pixels 7 --length 0s two.gloam
[ "$(wc -l <out)" -eq 8 ]
verdict $? "--pixels to go before the lamps of the file"

# ---- frames ----
gives 0 '' dump --length 100ms one.gloam
[ "$(head -n 1 out)" = frame,seconds,pixel,red,green,blue ]
verdict $? "the header of the frames"
[ "$(grep -c "$(printf '\r')" out)" -eq 0 ] && [ "$(wc -l <out)" -eq $((1 + 6 * 16)) ]
verdict $? "6 frames of 16 pixels in 100 ms at 60 a second, lines ended by LF"
awk -F, 'NR > 1 && (NF != 6 || $2 !~ /^[0-9]+\.[0-9][0-9][0-9][0-9][0-9][0-9]$/ || $4 !~ /^[0-9]+$/ || $4 > 255) { bad = 1 } END { exit bad }' out
verdict $? "six fields, six decimals, bytes"
sed -n '2p;18p;34p' out | cut -d, -f2 | tr '\n' ' ' >times
[ "$(cat times)" = "0.000000 0.016667 0.033333 " ]
verdict $? "frame n at round(n * 1000000 / 60) microseconds, not $(cat times)"
gives 0 '' dump --values light --length 0s --routine still --lamp left two.gloam
[ "$(sed -n 2p out)" = 0,0.000000,0,1,0,0 ]
verdict $? "linear light of red: $(sed -n 2p out)"
# Any way to a moment shows the same light: from the start, by a jump, backwards, at any speed.
light() { cut -d, -f2- | sort -t, -k1,1n -k2,2n; }
"$gloam" dump --values light --fps 10 --length 6s one.gloam | sed 1d | light >ahead
"$gloam" dump --values light --fps 10 --start 5900ms --length 6s --speed -1x one.gloam | sed 1d | light >back
same ahead back "the same frames backwards"
"$gloam" dump --values light --fps 1 --speed 10x --length 60s one.gloam | sed 1d | light | head -n 16 >ten
"$gloam" dump --values light --fps 10 --start 10s --length 100ms one.gloam | sed 1d | light >jump
"$gloam" dump --values light --fps 1 --speed 10x --length 60s one.gloam | sed 1d | light | sed -n 17,32p >sped
same sped jump "the same frame at ten times the speed and by a jump"
gives 2 'never ends' dump --speed 0x one.gloam
gives 2 'above 0' dump --fps 0 one.gloam
gives 2 'takes DURATION' dump --start 5 one.gloam
gives 2 'takes DURATION' dump --length 30min1h one.gloam
gives 2 'whole number' dump --pixels 0 one.gloam
gives 2 'whole number' dump --pixels 100001 one.gloam
gives 0 '' dump --pixels 100000 --length 0s one.gloam

# ---- dials ----
shown() { "$gloam" dump --routine swell --lamp left --values light --start 1s --length 0s "$@" two.gloam 2>/dev/null | sed -n 2p | cut -d, -f4; }
[ "$(shown --set warmth=0%)" = 0 ]
verdict $? "a dial at 0 %: $(shown --set warmth=0%)"
[ "$(shown --set warmth=500%)" = "$(shown --set warmth=100%)" ]
verdict $? "values to be held within the range"
[ "$(shown --set shining=false)" = 0 ]
verdict $? "a truth as a dial"
shown --set tint=blue | awk '{ exit !($1 < 1e-6 && $1 > -1e-6) }' &&
    shown --set 'tint=rgb(255, 0, 0)' | awk '{ exit !($1 > 0.01) }'
verdict $? "a colour as a dial"
[ "$(shown --set pace=4s)" != "$(shown --set pace=2s)" ]
verdict $? "a duration as a dial"
gives 2 'no dial `wramth`' dump --routine still --lamp left --set wramth=1% two.gloam
gives 2 'no value for the dial `pace`' dump --routine still --lamp left --set pace=5 two.gloam
gives 2 '--set takes' dump --routine still --lamp left --set pace two.gloam

# ---- the clock ----
gives 0 '2026-06-21 00:00 UTC' dump --length 0s wall.gloam
at() { "$gloam" dump --values light --length 0s --clock "$1" wall.gloam 2>&1 | sed -n 2p | cut -d, -f4; }
[ "$(at '2026-07-01 12:00')" = 0.5 ] && [ "$(at '2026-01-01 12:00:00')" = 0.5 ]
verdict $? "noon on the wall in summer and in winter: $(at '2026-07-01 12:00') $(at '2026-01-01 12:00:00')"
# 00:00 UTC is 01:00 in London in June.
"$gloam" dump --values light --length 0s wall.gloam 2>/dev/null | sed -n 2p | cut -d, -f4 >one-hour
awk '{ exit !($1 > 0.0416 && $1 < 0.0417) }' one-hour
verdict $? "the zone of the place: $(cat one-hour)"
gives 2 'takes a date' dump --clock yesterday wall.gloam
gives 2 'takes a date' dump --clock '2026-04-31 12:00' wall.gloam
gives 2 'takes a date' dump --clock '2026-04-30 25:00' wall.gloam

# ---- check ----
gives 0 '' check --costs two.gloam
grep -q 'bytes for' out && grep -q 'nothing moves' out && grep -q moving out
verdict $? "rates, memory and rest in --costs"
gives 1 '' check --format json wrong.gloam
if command -v perl >/dev/null && perl -MJSON::PP -e1 2>/dev/null; then
    perl -MJSON::PP -e 'local $/; my $all = decode_json(<STDIN>); my $d = $all->[0];
        exit !(@$all == 1 && $d->{file} eq "wrong.gloam" && $d->{line} == 1 && $d->{column} == 19
            && $d->{end_line} == 1 && $d->{end_column} == 20 && $d->{severity} eq "error"
            && length $d->{code} && length $d->{message} && exists $d->{hint})' <out
    verdict $? "the JSON of spec/diagnostics.md: $(cat out)"
else
    skipped=$((skipped + 1))
    echo "skipped: JSON read by another program: no perl with JSON::PP"
fi
gives 0 '' check --format json one.gloam
[ "$(tr -d ' \n' <out)" = '[]' ]
verdict $? "an empty array where nothing is wrong"

# ---- bytecode ----
gives 0 '' compile -o code one.gloam
gives 0 '' dump --length 1s code
cp out from-code
gives 0 '' dump --length 1s one.gloam
same out from-code "frames of bytecode"
gives 0 '' check code
gives 0 '' disassemble code
cp out listing
gives 0 '' disassemble one.gloam
same listing out "text and bytecode disassembled"
head -c 100 code >cut
gives 1 'no sound bytecode' dump cut
"$gloam" compile one.gloam >piped 2>said
same piped code "bytecode through a pipe"

# ---- format ----
printf 'routine   a{paint gold}' >messy.gloam
gives 1 'layout differs' format --check messy.gloam
gives 0 '' format messy.gloam
[ "$(cat out)" = 'routine a { paint gold }' ]
verdict $? "the one layout: $(cat out)"
gives 0 '' format -o messy.gloam messy.gloam
gives 0 '' format --check messy.gloam
gives 1 'no such file' format wrong2.gloam
printf 'routine a { paint }' >bad.gloam
cp bad.gloam before
gives 1 'error' format -o bad.gloam bad.gloam
same bad.gloam before "a wrong file to be left alone"

# ---- where results go ----
gives 2 'needs a file' picture one.gloam
gives 0 '' picture -o p.png one.gloam
[ "$(head -c 4 p.png | od -An -c | tr -d ' ')" = '211PNG' ]
verdict $? "a PNG"
gives 2 '240x160' picture --size 10x10 -o q.png one.gloam
gives 3 'No such file' dump -o nowhere/x.csv one.gloam
gives 3 'folder' dump -o . one.gloam
if [ -c /dev/full ]; then
    "$gloam" dump one.gloam >/dev/full 2>said
    [ $? -eq 3 ] && grep -q 'space' said
    verdict $? "a full disk to be said with status 3: $(cat said)"
    gives 3 'space' dump -o /dev/full one.gloam
fi
echo keep >kept.csv
(ulimit -f 8; "$gloam" dump -o kept.csv --length 60s one.gloam >/dev/null 2>&1)
[ "$(cat kept.csv)" = keep ] && [ "$(ls | grep -c 'kept.csv\.')" -eq 0 ]
verdict $? "an old result to stay where the new one could not be written: $(ls kept*)"
"$gloam" dump --length 60s one.gloam 2>said | head -n 1 >/dev/null
[ ! -s said ]
verdict $? "a closed pipe to be passed over in silence: $(cat said)"
NO_COLOR=1 "$gloam" check wrong.gloam >out 2>&1
grep -q "$(printf '\033')" out
[ $? -eq 1 ]
verdict $? "no colours under NO_COLOR"
"$gloam" check --colour always wrong.gloam >out 2>&1
grep -q "$(printf '\033')" out
verdict $? "colours where they are asked for"
cd /
rm -r "$work"
[ $skipped -gt 0 ] && tail=", $skipped skipped" || tail=
echo "$passed passed, $failed failed$tail"
[ "$failed" -eq 0 ]
