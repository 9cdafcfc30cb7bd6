#!/bin/sh
# The contracts of spec/commands.md: statuses, streams, options, frames.
set -u
cd "$(dirname "$0")/../.."
. tests/support/command.sh
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

cat >bell.gloam <<'TEXT'
event rung
routine a { paint red }
routine b { paint lime }
lamp l { pixels 1 shape strip }
at 08:00 play a until 20:00
when rung play b for 6s
until clock is set play off
TEXT

# ---- calls ----
gives 2 'no command' ''
"$gloam" >out 2>said
[ $? -eq 2 ] && grep -q usage said
verdict $? "usage where no command is given"
gives 0 '' --help
grep -q preview out
verdict $? "the commands in --help"
gives 0 '' --version
grep -qx "time zone database $(sed -n '1s/^# version //p' /usr/share/zoneinfo/tzdata.zi)" out
verdict $? "the release of tzdata in --version: $(cat out)"
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


# ---- more of calls ----
gives 2 '`preview`?' prewiev
gives 2 'command comes first' one.gloam
gives 0 '' help dump
grep -q -- '--values' out
verdict $? "help of a command by \`gloam help\`"
gives 2 'no command `dmup`' help dmup
gives 0 '' picture -h
grep -q -- '--size' out
verdict $? "-h to be --help"
gives 2 '`--length`?' dump --lenght 3s one.gloam
gives 2 '`--length`?' dump --lenght=3s one.gloam
gives 2 '`gloam check` has' dump --costs one.gloam
gives 2 'write it out' dump --s 3s one.gloam
gives 2 'no option `-x`' dump -xyz one.gloam
gives 2 'takes no value' check --costs=3 one.gloam
gives 2 '`-o` needs a value' dump one.gloam -o
gives 2 'takes bytes|light' dump --values lihgt one.gloam
gives 2 'takes text|json' check --format xml one.gloam
gives 2 'takes auto|always|never' check --colour red one.gloam
gives 2 'ring of its own' dump --lamp left --pixels 3 --routine still two.gloam
# Every option that --help lists is taken, by its name and by what begins it alone.
for command in check preview dump picture format compile disassemble; do
    for option in $("$gloam" $command --help | sed -n 's/^ .*--\([a-z-]*\).*/\1/p'); do
        "$gloam" $command --$option >out 2>said </dev/null
        grep -q 'has no option' said
        [ $? -eq 1 ]
        verdict $? "gloam $command to take --$option, which its help lists"
    done
done
# Results and messages go apart.
cat >useless.gloam <<'TEXT'
let unused = 3
routine a { paint gold }
TEXT
gives 0 'useless.gloam:1:5: warning' dump --length 0s useless.gloam
[ "$(head -n 1 out)" = frame,seconds,pixel,red,green,blue ] && [ "$(grep -c warning out)" -eq 0 ]
verdict $? "nothing but frames on standard output"
gives 1 '' check wrong.gloam
[ ! -s said ] && grep -q 'wrong.gloam:1:19: error' out
verdict $? "what check finds on standard output"
gives 1 'error' compile -o never wrong.gloam
[ ! -s out ] && [ ! -e never ]
verdict $? "no bytecode of a wrong file"
gives 1 'error' disassemble wrong.gloam
gives 1 'error' picture -o never wrong.gloam
gives 1 'error' preview wrong.gloam

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
gives 2 'goes from 0.000001' dump --fps 0 one.gloam
gives 2 'goes from 0.000001' dump --fps 0.0000001 one.gloam
gives 2 'takes DURATION' dump --start 5 one.gloam
gives 2 'takes DURATION' dump --length 30min1h one.gloam
gives 2 'whole number' dump --pixels 0 one.gloam
gives 2 'whole number' dump --pixels 100001 one.gloam
gives 0 '' dump --pixels 100000 --length 0s one.gloam

gives 0 '' dump --length 1s --fps 2 --speed 60x one.gloam
[ "$(sed 1d out | cut -d, -f2 | uniq)" = 0.000000 ]
verdict $? "--length to be the routine's time: one frame in a second at sixty times the speed"
gives 0 '' dump --length 90s --fps 2 --speed 60x one.gloam
[ "$(sed 1d out | cut -d, -f2 | uniq | tr '\n' ' ')" = "0.000000 30.000000 60.000000 " ]
verdict $? "--speed 60x: $(sed 1d out | cut -d, -f2 | uniq | tr '\n' ' ')"
gives 0 '' dump --length 2s --fps 2 --speed -0.5x --start 1s one.gloam
[ "$(sed 1d out | cut -d, -f2 | uniq | tr '\n' ' ')" = "1.000000 0.750000 0.500000 0.250000 0.000000 -0.250000 -0.500000 -0.750000 " ]
verdict $? "backwards over the start: $(sed 1d out | cut -d, -f2 | uniq | tr '\n' ' ')"
gives 0 '' dump --start -1h30min2.5s --length 0s one.gloam
[ "$(sed -n 2p out | cut -d, -f2)" = -5402.500000 ]
verdict $? "a start before the start: $(sed -n 2p out)"
"$gloam" dump --values light --routine still --lamp left --fps 1 two.gloam 2>/dev/null | sed 1d | wc -l >count
[ "$(cat count)" -eq 30 ]
verdict $? "10 s where nothing says how long: 30 rows, not $(cat count)"
"$gloam" dump --routine swell --lamp left --fps 1 --start 3s two.gloam 2>/dev/null | sed 1d | wc -l >count
[ "$(cat count)" -eq 15 ]
verdict $? "what is left of the 8 s it lasts: 15 rows, not $(cat count)"
for wrong in sixty 1e3x 0x10 inf nan 1xx '' ' 1' 2000000x 0.0000001x; do
    gives 2 '--speed' dump --speed "$wrong" one.gloam
done
for wrong in -1 abc inf 10001 '' 5x; do
    gives 2 '--fps' dump --fps "$wrong" one.gloam
done
for wrong in '' 5 s 1x -s 1.0000001s 1h1h 400000000000h 10s5min ' 1s'; do
    gives 2 'takes DURATION' dump --start "$wrong" one.gloam
done
gives 2 'takes DURATION' dump --length -1s one.gloam
for wrong in 1.5 -1 '' x 1e3; do
    gives 2 'whole number' dump --pixels "$wrong" one.gloam
done
# Linear light reads back: each decimal is the nine digits of the single-precision number nearest to it.
if command -v perl >/dev/null; then
    "$gloam" dump --values light --length 1s --fps 7 one.gloam |
        perl -ne 'next if $. == 1; chomp; for (@f = (split /,/)[3..5]) { $n++; $bad++ unless /^-?[0-9]/
            && sprintf("%.9g", $_) == sprintf("%.9g", unpack "f", pack "f", $_) }
            END { exit !($n == 7 * 48 && !$bad) }'
    verdict $? "light that reads back to the same single-precision number"
else
    skipped=$((skipped + 1))
    echo "skipped: light read back by another program: there is no perl"
fi

# ---- dials ----
shown() { "$gloam" dump --routine swell --lamp left --values light --start 1s --length 0s "$@" two.gloam 2>/dev/null | sed -n 2p | cut -d, -f4; }
[ "$(shown --set warmth=0%)" = 0 ]
verdict $? "a dial at 0 %: $(shown --set warmth=0%)"
[ "$(shown --set warmth=500%)" = "$(shown --set warmth=100%)" ]
verdict $? "values to be held within the range"
gives 0 '`warmth` is 100%, the most it goes to' dump --routine swell --lamp left --length 0s --set warmth=300% two.gloam
gives 2 'goes from 0% to 100%: --set warmth=60%' dump --routine swell --lamp left --set warmth=60 two.gloam
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

wrong_value() { # DIAL=VALUE EXAMPLE
    gives 2 "no value for the dial .*: --set $2" dump --routine still --lamp left --set "$1" two.gloam
}
for wrong in blue 2s true '' 50x '40%%' '{' '1 2' 'nothing' '40% then'; do
    wrong_value "warmth=$wrong" warmth=40%
done
for wrong in 5 gold true '' 2 1m 2days; do
    wrong_value "pace=$wrong" pace=2s
done
for wrong in 1 yes gold 2s ''; do
    wrong_value "shining=$wrong" shining=true
done
for wrong in 5 2s true '' goold '#ff880' 'rgb(1 2 3)'; do
    wrong_value "tint=$wrong" tint=gold
done
[ "$(shown --set warmth=10% --set warmth=90%)" = "$(shown --set warmth=90%)" ]
verdict $? "the later of two settings"
[ "$(shown --set pace=1ms)" = "$(shown --set pace=1s)" ]
verdict $? "a duration to be held within the range"
[ "$(shown --set 'tint=2700K * 50%')" = "$(shown --set 'tint = 2700K * 0.5')" ]
verdict $? "a colour that is worked out: $(shown --set 'tint=2700K * 50%')"
gives 2 'no dial ``' dump --routine still --lamp left --set =5 two.gloam
gives 2 '`warmth`?' dump --routine still --lamp left --set wramth=1% two.gloam
gives 2 'the file has none' dump --set warmth=1% one.gloam

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

for wrong in '' now 2026-07-01 2026-07-01T12:00 '2026-07-01 12:00Z' '2026-07-01 12:00:60' '2026-07-01 24:00' \
    '2026-07-01 -2:00' '2026-13-01 12:00' '2026-02-29 12:00' '26-07-01 12:00' '2026-07-01 12:0' \
    '2026-07-01 12:00 ' '2026-07-01  2:00'; do
    gives 2 'takes a date' dump --clock "$wrong" wall.gloam
done
gives 0 '' dump --length 0s --clock '2028-02-29 12:00' wall.gloam
# Clocks of the European Union and the United Kingdom go forward at 01:00 UTC on the last Sunday of
# March and back at 01:00 UTC on the last Sunday of October (directive 2000/84/EC).
gives 2 'go forward' dump --clock '2026-03-29 01:30' wall.gloam
"$gloam" dump --values light --length 3601s --fps 1 --speed 1800x --pixels 1 --clock '2026-10-25 01:30' wall.gloam |
    sed 1d | cut -d, -f4 | awk '{ printf "%.2f ", $1 * 24 }' >hours
[ "$(cat hours)" = "1.50 1.00 1.50 " ]
verdict $? "the first of two half past one, then one o'clock again: $(cat hours)"
# On Lord Howe Island clocks go forward by half an hour, from 02:00 to 02:30 (2026-10-04, tz database).
printf 'place -31.55, 159.08 zone "Australia/Lord_Howe"\nroutine wall { paint white * (hour / 24) }\n' >isle.gloam
gives 2 'go forward' dump --clock '2026-10-04 02:29:59' isle.gloam
gives 0 '' dump --length 0s --clock '2026-10-04 02:30' isle.gloam
gives 0 '' dump --length 0s --clock '2026-10-04 01:59:59' isle.gloam
printf 'place 0, 0 zone "Europe/Lundon"\nroutine wall { paint white * (hour / 24) }\n' >zone.gloam
gives 0 'zone.gloam:1:[0-9]*: warning: .*Lundon' dump --length 0s zone.gloam
TZ=Asia/Tokyo "$gloam" dump --values light --length 0s --clock '2026-07-01 12:00' wall.gloam >out 2>said
[ "$(sed -n 2p out | cut -d, -f4)" = 0.5 ]
verdict $? "the zone of the file before that of the system"
printf 'routine wall { paint white * (hour / 24) }\n' >nowhere.gloam
TZ=Asia/Tokyo "$gloam" dump --length 0s nowhere.gloam >one 2>said
TZ=America/New_York "$gloam" dump --length 0s nowhere.gloam >other 2>said
same one other "the same frames in every zone where the file names none"
# The preview has the zone of the system, or of TZ as tzset(3) reads it.
for zone in Europe/London :Europe/London :/usr/share/zoneinfo/Europe/London GMT0BST,M3.5.0/1,M10.5.0; do
    TZ=$zone "$gloam" preview --clock '2026-03-29 01:30' nowhere.gloam </dev/null >out 2>said
    [ $? -eq 2 ] && grep -q 'go forward' said
    verdict $? "the gap of TZ=$zone: $(cat said)"
done
for zone in '' Asia/Tokyo JST-9; do
    TZ=$zone "$gloam" preview --clock '2026-03-29 01:30' nowhere.gloam </dev/null >out 2>said
    verdict $? "no gap in TZ=$zone: $(cat said)"
done

# ---- the timetable ----
# Primaries are 1 or 0 in linear light; ease-in-out is 0.5 half way.
cat >home.gloam <<'TEXT'
place 51.45, -2.59 zone "Europe/London"
dial warmth = 40% from 0% to 100%
lamp shelf { pixels 4 shape strip part right 2..3 }
lamp lantern { pixels 2 shape ring }
routine ruby { paint red }
routine rise lasts 30min { paint white * (0 -> 1 throughout) }
routine warm { paint white * warmth }
by 03:10 on tue..sat play rise on lamp lantern
at 04:00 play off
at 18:00 play warm
at 19:00 play ruby on lamp shelf part right until 20:00 fading 10s
at 21:00 play warm with warmth = 90%
between 22:00 and 23:00 keep level under 20%
until clock is set play off
TEXT
shown() { # CLOCK PIXEL ARGUMENTS: red
    clock=$1 pixel=$2
    shift 2
    "$gloam" dump --values light --length 0s --clock "$clock" "$@" home.gloam 2>said | sed 1d |
        awk -F, -v pixel="$pixel" '$3 == pixel { print $4 }'
}
light_is() { # WANTED CLOCK PIXEL ARGUMENTS
    wanted=$1
    shift
    got=$(shown "$@")
    awk -v got="$got" -v wanted="$wanted" 'BEGIN { exit !(got != "" && (got - wanted) ^ 2 < 1e-12) }'
    verdict $? "$wanted at $*, not $got: $(cat said)"
}
light_is 0.5 '2026-11-24 02:55' 0 --lamp lantern
light_is 1 '2026-11-24 03:10' 0 --lamp lantern
light_is 0.4 '2026-11-23 03:10' 0 --pixels 3 --start 16h
light_is 0 '2026-11-22 04:10' 0 --lamp lantern
light_is 0.4 '2026-11-24 18:30' 0 --lamp shelf
light_is 0.7 '2026-11-24 19:00:05' 2 --lamp shelf
light_is 0.4 '2026-11-24 19:00:05' 1 --lamp shelf
light_is 1 '2026-11-24 19:30' 3 --lamp shelf
light_is 0.6 '2026-11-24 18:30' 0 --lamp lantern --set warmth=60%
light_is 0.9 '2026-11-24 21:30' 0 --lamp lantern --set warmth=60%
light_is 0.5 '2026-11-24 21:00' 0 --lamp lantern --set warmth=10% --start 500ms
# Summer time begins on 2026-03-29 at 01:00 UTC: 18:00 comes 23 h after 18:00 of the day before.
light_is 0.4 '2026-03-28 18:00' 0 --lamp lantern --start 23h1s
light_is 0 '2026-03-28 18:00' 0 --lamp lantern --start 22h59min
# Under a ceiling at 20 %: 51 of 255.
"$gloam" dump --lamp lantern --clock '2026-11-24 22:30' --length 0s home.gloam >out 2>said
[ "$(sed -n 2p out)" = 0,0.000000,0,51,51,51 ]
verdict $? "a ceiling: $(sed -n 2p out)"
gives 0 'timetable is played from 2026-06-21 00:00 UTC' dump --lamp lantern --length 0s home.gloam
gives 0 '' dump --lamp lantern --length 0s --clock '2026-11-24 03:10' home.gloam
[ "$(grep -c 'played from' said)" -eq 0 ]
verdict $? "nothing to be said of a clock that is given: $(cat said)"
gives 0 '' dump --lamp lantern --routine ruby --length 0s home.gloam
[ "$(sed -n 2p out)" = 0,0.000000,0,255,0,0 ]
verdict $? "a routine of a file with a timetable: $(sed -n 2p out)"
gives 2 '2 lamps' dump home.gloam
gives 0 '' picture --lamp lantern --clock '2026-11-24 00:00' -o day.png home.gloam
# A run and a jump, forward and backward, at any speed.
"$gloam" dump --values light --lamp shelf --clock '2026-11-24 18:59:59' --fps 10 --length 12s home.gloam | sed 1d | light >ahead
"$gloam" dump --values light --lamp shelf --clock '2026-11-24 18:59:59' --fps 10 --start 11900ms --length 12s --speed -1x home.gloam | sed 1d | light >back
same ahead back "the same frames of a timetable backwards"
"$gloam" dump --values light --lamp shelf --clock '2026-11-24 19:00:04' --length 0s home.gloam | sed 1d | cut -d, -f3- >jump
sed -n 201,204p ahead | cut -d, -f2- >run
same jump run "the same frame of a timetable by a jump"

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

# The JSON of every wrong file is JSON, and tells as much as the text.
if command -v perl >/dev/null && perl -MJSON::PP -e1 2>/dev/null; then
    cp "$root"/spec/conformance/errors/*.gloam "$root"/spec/conformance/warnings/*.gloam .
    printf 'routine a { paint "\\"\303\244\\\\" §\t}\nlet b = 5m\n' >'q"uo\te.gloam'
    for file in *.gloam; do
        "$gloam" check "$file" 2>&1 | grep -cE '^[^ ].*(error|warning|note): ' >lines
        "$gloam" check --format json "$file" |
            perl -MJSON::PP -e 'local $/; my $all = decode_json(<STDIN>); my $wrong = 0;
                for my $d (@$all) { $wrong++ unless join(",", sort keys %$d) eq
                    "code,column,end_column,end_line,file,hint,line,message,severity"
                    && $d->{severity} =~ /^(error|warning|note)$/ && $d->{line} =~ /^\d+$/ }
                print $wrong ? "wrong" : scalar @$all, "\n"' >objects 2>&1
        # The text ends after 20 errors, the array does not.
        [ "$(cat objects)" = "$(cat lines)" ] || grep -q more lines || [ "$(cat lines)" -ge 20 ]
        verdict $? "as many objects as lines of $file: $(cat objects) $(cat lines)"
    done
fi

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

for command in dump disassemble check "picture -o -" "compile -o -"; do
    "$gloam" $command code >out 2>said
    "$gloam" $command - <code >piped 2>said
    verdict $? "bytecode on standard input for $command: $(cat said)"
    sed 's/^code:/-:/' out >wanted
    same wanted piped "the same from standard input by $command"
done
"$gloam" compile -o - two.gloam 2>/dev/null | "$gloam" dump --routine still --pixels 1 --length 0s - >out 2>said
[ "$(sed -n 2p out)" = 0,0.000000,0,255,0,0 ]
verdict $? "a program through two pipes: $(cat said)"
head -c 100 code | "$gloam" dump - >out 2>said
[ $? -eq 1 ] && grep -q 'no sound bytecode' said
verdict $? "half of a program on standard input: $(cat said)"
gives 2 'bytecode, which has no lamps' dump --lamp left code
gives 1 'bytecode, which has no layout' format code

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
ln -s nowhere/x dangling
gives 3 'leads nowhere' dump -o dangling one.gloam
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
# What a result replaces keeps its rights, a link stays a link.
printf 'routine   a{paint gold}' >secret.gloam
chmod 600 secret.gloam
ln -s secret.gloam link.gloam
gives 0 '' format -o link.gloam link.gloam
[ -L link.gloam ] && [ "$(cat secret.gloam)" = 'routine a { paint gold }' ] &&
    [ "$(stat -c %a secret.gloam)" = 600 ]
verdict $? "a file behind a link to be written with the rights it had: $(stat -c %a secret.gloam)"
# A folder where nothing may be written, a disk that is full.
mkdir shut
echo keep >shut/x.csv
chmod 555 shut
if [ "$(id -u)" != 0 ]; then
    gives 3 'denied.*where you may write' dump -o shut/x.csv one.gloam
elif command -v setpriv >/dev/null 2>&1; then
    chmod 755 .
    setpriv --reuid 65534 --clear-groups "$gloam" dump -o shut/x.csv one.gloam >out 2>said
    [ $? -eq 3 ] && grep -q 'denied.*where you may write' said
    verdict $? "a folder where nothing may be written: $(cat said)"
else
    skipped=$((skipped + 1))
    echo "skipped: a folder where nothing may be written: root may, and there is no setpriv"
fi
[ "$(cat shut/x.csv)" = keep ]
verdict $? "what was there to be kept"
mkdir small
if mount -t tmpfs -o size=64k none small 2>/dev/null; then
    echo keep >small/x.csv
    gives 3 'No space' dump -o small/x.csv --length 60s one.gloam
    gives 3 'No space' picture -o small/x.png --size 4000x4000 one.gloam
    [ "$(cat small/x.csv)" = keep ] && [ "$(ls small | wc -l)" -eq 1 ]
    verdict $? "nothing half written on a disk that is full: $(ls small)"
    umount small
else
    skipped=$((skipped + 1))
    echo "skipped: a disk that is full: no right to mount a small one"
fi
if [ -c /dev/full ]; then
    for call in --help --version "dump --help" "check one.gloam" "format one.gloam" "compile one.gloam" \
        "disassemble one.gloam" "picture -o - one.gloam" "check --costs one.gloam"; do
        "$gloam" $call >/dev/full 2>said
        [ $? -eq 3 ] && grep -q 'space' said
        verdict $? "a full disk to be said by $call with status 3: $(cat said)"
    done
fi
# Interrupted: nothing half written stays.
mkdir broken
"$gloam" dump -o broken/x.csv --length 10h one.gloam 2>said &
process=$!
begun() { [ -n "$(ls broken)" ]; }
await 20 begun
verdict $? "a file to be begun: $(cat said)"
kill $process
wait $process 2>/dev/null
[ $? -gt 128 ] && [ -z "$(ls broken)" ]
verdict $? "nothing left of what was interrupted: $(ls broken)"
# Colours on a terminal only, and not under NO_COLOR (https://no-color.org).
if command -v script >/dev/null 2>&1; then
    TERM=xterm script -qec "'$gloam' check wrong.gloam" /dev/null </dev/null >coloured
    TERM=xterm NO_COLOR=1 script -qec "'$gloam' check wrong.gloam" /dev/null </dev/null >plain
    TERM=dumb script -qec "'$gloam' check wrong.gloam" /dev/null </dev/null >dumb
    grep -q "$(printf '\033\\[')" coloured
    verdict $? "colours on a terminal"
    [ "$(cat plain dumb | grep -c "$(printf '\033\\[')")" -eq 0 ] && grep -q error plain
    verdict $? "no colours under NO_COLOR and on a terminal that has none"
else
    skipped=$((skipped + 1))
    echo "skipped: colours on a terminal: there is no \`script\`"
fi
NO_COLOR=1 "$gloam" check wrong.gloam >out 2>&1
grep -q "$(printf '\033')" out
[ $? -eq 1 ]
verdict $? "no colours under NO_COLOR"
"$gloam" check --colour always wrong.gloam >out 2>&1
grep -q "$(printf '\033')" out
verdict $? "colours where they are asked for"

# ---- events of the timetable: told at a moment, for 6 s, without a cross-fade ----
for moment in 09:00:02 '2026-11-25 09:00:02'; do
    gives 0 '' dump --clock '2026-11-25 09:00' --report "rung@$moment" --length 10s --fps 1 bell.gloam
    awk -F, 'NR > 1 { bad += ($5 == 255) != ($1 >= 2 && $1 < 8) } END { exit bad || NR != 11 }' out
    verdict $? "lime from second 2 up to 8: $(tr '\n' ' ' <out)"
done
gives 0 '' dump --clock '2026-11-25 09:00' --report rung@08:59 --length 1s --fps 1 bell.gloam
gives 2 'no event `ring`: `rung`?' dump --report ring@09:00 bell.gloam
gives 2 'no time that a clock shows' dump --report rung@9 bell.gloam
gives 2 'takes EVENT@TIME' dump --report rung bell.gloam
gives 2 'each event once' dump --report rung@09:00 --report rung@10:00 bell.gloam
gives 2 'tells a timetable' dump --routine a --report rung@09:00 bell.gloam
close_sum
