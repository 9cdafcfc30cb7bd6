#!/bin/sh
# Acts by hand on a state file, as people do them: what `status` says before, during and after
# (spec/overrides.md, spec/protocol.md). Bristol keeps Greenwich time in winter, so local times of
# November are UTC. The instants are worked out by hand.
set -u
cd "$(dirname "$0")/../.."
. tests/support/command.sh
cat >home.gloam <<'TEXT'
place 51.45, -2.59 zone "Europe/London"
lamp lantern { pixels 16 shape ring }
lamp window { pixels 60 shape strip part left 0..29 }
dial warmth = 40% from 0% to 100%
dial tone = gold
event washing_done
routine daybreak lasts 30min { paint black -> 2700K throughout }
routine dusk lasts 40min then nightlight { paint 2700K * warmth }
routine nightlight { paint tone * 2% }
routine nap lasts 20min then daybreak { paint black }
routine beacon { paint teal }
by 03:10 on tue..sat play daybreak on lamp lantern
at 08:00 play off
at 19:30 play dusk
when washing_done play beacon for 6s
until clock is set play nightlight
TEXT
# 2026-11-25 is a Wednesday.
does() { # STATUS WORDS-OF-ANSWER TIME COMMAND ARGUMENTS...
    wanted=$1 words=$2 time=$3 command=$4
    shift 4
    "$gloam" "$command" --home home.gloam --state state.json --clock "2026-11-$time" "$@" >out 2>&1
    status=$?
    [ $status -eq "$wanted" ] && grep -qF -- "$words" out
    verdict $? "status $wanted and \`$words\` of \`gloam $command $*\` at $time, not $status: $(head -n 3 out)"
}
says() { # TIME LINE: a whole line of `status`
    "$gloam" status --home home.gloam --state state.json --clock "2026-11-$1" >out 2>&1
    grep -qxF -- "$2" out
    verdict $? "\`$2\` of \`gloam status\` at $1, not: $(head -n 12 out)"
}
anew() {
    rm -f state.json*
}

# ---- skip tomorrow, and take it back ----
says '25 20:00' 'lantern: dusk (at 19:30) since 19:30'
says '25 20:00' '  next: daybreak at 2026-11-26 02:40 (by 03:10)'
does 0 'skip daybreak (by 03:10)' '25 20:00' skip --lamp lantern
says '25 20:00' '  next: off at 2026-11-26 08:00 (at 08:00)'
says '26 03:00' 'lantern: nightlight (at 19:30) since 2026-11-25 20:10'
does 0 'taken back: skip daybreak' '25 20:01' undo
says '26 03:00' 'lantern: daybreak (by 03:10) since 02:40'
anew
does 0 'skip daybreak' '25 20:00' skip --lamp lantern
# Only once: the morning after is as ever (Friday).
says '27 03:00' 'lantern: daybreak (by 03:10) since 02:40'

# ---- fifteen more minutes ----
anew
does 0 '15min more daybreak (by 03:10) on lamp lantern (number 1)' '26 02:50' more 15min --lamp lantern
says '26 03:00' 'lantern: daybreak (by 03:10) since 02:50, standing still'
says '26 03:20' 'lantern: daybreak (by 03:10) since 02:55'

# ---- earlier, once: the train at five ----
anew
does 0 'at 02:10 instead: daybreak (by 03:10) on lamp lantern' '25 21:00' earlier 02:10 --lamp lantern
says '26 02:00' 'lantern: daybreak (by 03:10) since 01:40'
says '27 02:00' 'lantern: nightlight (at 19:30) since 2026-11-26 20:10'
anew
does 1 'gloam: ' '26 02:00' earlier 02:10 --lamp lantern

# ---- a nap, a feed at night, a guest ----
anew
does 0 'nap until the next entry' '25 13:00' play nap
says '25 13:10' 'lantern: nap (by hand, number 1) since 13:00, until 19:30'
says '25 13:25' 'lantern: daybreak (by hand, number 1) since 13:20, until 19:30'
says '25 19:31' 'lantern: dusk (at 19:30) since 19:30'
anew
does 0 'nightlight for 20min on lamp lantern' '26 02:30' play nightlight --for 20min --lamp lantern --with tone=red
says '26 02:45' 'lantern: nightlight (by hand, number 1) since 02:30, until 02:50'
says '26 02:51' 'lantern: daybreak (by 03:10) since 02:40'
anew
does 0 'off until 09:00' '25 22:00' play off --until 09:00
says '26 03:00' 'lantern: off (by hand, number 1) since 2026-11-25 22:00, until 09:00'
says '26 09:30' 'lantern: off (at 08:00) since 08:00'

# ---- levels: both figures; CIE L* 40 is 11.25 % of the light (CIE 15) ----
anew
does 0 'level 40 (11.3 % of the light) for 1h (number 1)' '25 20:00' level 40 --for 1h
says '25 20:30' '  level 40 (11.3 % of the light), by hand, number 1'
does 0 'level 37.84 (10 % of the light) until the next entry' '25 20:31' level 10%
does 2 'from 0 to 100' '25 20:31' level 140
does 0 'cleared: level 37.84' '25 20:32' clear 2
says '25 20:33' '  level 40 (11.3 % of the light), by hand, number 1'

# ---- dials and events ----
anew
does 0 '`warmth` is set' '25 20:00' set warmth 70%
says '25 20:00' 'dial warmth: 70%, set by hand'
does 0 '`tone` is set' '25 20:01' set tone 'rgb(255, 136, 0)'
does 0 '`warmth` is set' '25 20:02' set warmth 300%
says '25 20:02' 'dial warmth: 100%, set by hand'
does 0 'taken back' '25 20:03' undo
says '25 20:03' 'dial warmth: 70%, set by hand'
does 0 '`washing_done` was told: it plays' '25 20:04' report washing_done
says '25 20:04' 'window: beacon (when washing_done, number 4) since 20:04, until 20:04'

# ---- what is wrong is said, and changes nothing ----
cp state.json before
does 2 'there is no routine `daybrake`: `daybreak`?' '25 20:05' play daybrake
does 2 'there is no lamp `latern`: `lantern`?' '25 20:05' play dusk --lamp latern
does 2 'there is no dial `warmht`: `warmth`?' '25 20:05' set warmht 3
does 2 'is no value for the dial `warmth`' '25 20:05' set warmth red
does 2 'there is no event `washing`' '25 20:05' report washing
does 2 'how long is written like `30min`' '25 20:05' more 15
does 2 'a time of day is written like `22:00`' '25 20:05' earlier 7am
does 2 'one word too many' '25 20:05' undo now
does 2 'a number of the list' '25 20:05' clear all
cmp -s before state.json
verdict $? "a state file that refused acts leave alone"
"$gloam" skip >out 2>&1
[ $? -eq 2 ] && grep -q -- '--home home.gloam --state state.json' out
verdict $? "a call without a home to be refused with what to write: $(cat out)"

# ---- files that are not as they should be ----
for text in '' '{' 'gloam' '{"gloam_state":7}'; do
    anew
    printf '%s' "$text" >state.json
    does 0 '' '25 20:00' set warmth 50%
    [ -e state.json.aside-1 ] && says '25 20:00' 'dial warmth: 50%, set by hand'
    verdict $? "nonsense (\`$text\`) to be set aside"
done
anew
mkdir closed
"$gloam" set --home home.gloam --state nowhere/state.json warmth 5% >out 2>&1
[ $? -eq 3 ] && grep -q 'name a place where you may write' out
verdict $? "status 3 where the folder is not there: $(cat out)"
(
    ulimit -f 0
    "$gloam" set --home home.gloam --state full.json warmth 5% >out2 2>&1
)
[ $? -ne 0 ] && [ ! -s full.json ]
verdict $? "a full disk to be an error"

# ---- two at once ----
anew
for n in 1 2 3 4 5 6 7 8; do
    "$gloam" level --home home.gloam --state state.json --clock '2026-11-25 20:00' $((10 * n)) --for 1h \
        >/dev/null 2>&1 &
done
wait
"$gloam" status --home home.gloam --state state.json --clock '2026-11-25 20:01' >out
[ "$(grep -c '^by hand [1-8]: level' out)" -eq 8 ]
verdict $? "eight acts at once to be kept, each with its number: $(grep '^by' out)"

# ---- for programs ----
"$gloam" status --home home.gloam --state state.json --clock '2026-11-25 20:01' --format json >out
perl -MJSON::PP -e 'local $/; my $s = decode_json(<STDIN>);
    my $l = $s->{lamps}[0];
    exit !($l->{name} eq "lantern" && $l->{plays} eq "dusk" && $l->{why} eq "at 19:30"
        && $l->{since} eq "2026-11-25T19:30:00Z" && $l->{next}{at} eq "2026-11-26T02:40:00Z"
        && @{$s->{by_hand}} == 8 && $s->{clock}{trusted} && !defined $l->{until}
        && abs($l->{level}{light} - (($l->{level}{lightness} + 16) / 116) ** 3) < 1e-6)' <out
verdict $? "the JSON of status, as another parser reads it: $(head -n 30 out)"
close_sum
