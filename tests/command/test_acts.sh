#!/bin/sh
# Acts by hand on a state file, as people do them: what `status` says before, during and after
# (spec/overrides.md, spec/protocol.md). Bristol keeps Greenwich time in winter, so local times of
# November are UTC. The instants are worked out by hand.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/command.sh
cat >home.gloam <<'TEXT'
place 51.45, -2.59 zone "Europe/London"
lamp lantern { pixels 16 shape ring }
lamp window { pixels 60 shape strip part left 0..29 }
dial warmth = 40% from 0% to 100%
dial tone = gold
dial d1 = 0
dial d2 = 0
dial d3 = 0
dial d4 = 0
dial d5 = 0
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
does 0 'by 02:10 instead: daybreak (by 03:10) on lamp lantern' '25 21:00' earlier 02:10 --lamp lantern
says '26 02:00' 'lantern: daybreak (by 03:10) since 01:40'
says '27 02:00' 'lantern: nightlight (at 19:30) since 2026-11-26 20:10'
anew
does 1 'gloam: ' '26 02:00' earlier 02:10 --lamp lantern

# ---- a little longer to read: the dusk stands where it is, 10 of its 40 minutes gone ----
anew
does 0 '20min more dusk (at 19:30)' '25 19:40' more 20min --lamp lantern
says '25 19:55' 'lantern: dusk (at 19:30) since 19:45, standing still'
says '25 20:29' 'lantern: dusk (at 19:30) since 19:50'
says '25 20:31' 'lantern: nightlight (at 19:30) since 20:30'
says '25 20:05' 'window: dusk (at 19:30) since 19:30'

# ---- away for two weeks: dark until the hour at which it was said ----
anew
does 0 'off for 336h' '25 20:00' play off --for 336h
says '25 20:00' 'window: off (by hand, number 1) since 20:00, until 2026-12-09 20:00'
"$gloam" status --home home.gloam --state state.json --clock '2026-12-09 19:59' | grep -qxF 'window: off (by hand, number 1) since 2026-11-25 20:00, until 20:00'
verdict $? "a fortnight away to last to its end"
"$gloam" status --home home.gloam --state state.json --clock '2026-12-09 20:01' | grep -qxF 'window: dusk (at 19:30) since 19:30'
verdict $? "a fortnight away to be over"
does 1 'at most 366 days' '25 20:00' play off --for 8785h

# ---- a nap, a feed at night, a guest ----
anew
does 0 'nap until the next entry' '25 13:00' play nap
says '25 13:10' 'lantern: nap (by hand, number 1) since 13:00, until 19:30'
says '25 13:25' 'lantern: daybreak (by hand, number 1) since 13:20, until 19:30'
says '25 19:31' 'lantern: dusk (at 19:30) since 19:30'
anew
does 0 'nightlight for 20min on lamp lantern, with tone light 1, 0, 0 (number 1)' '26 02:30' play nightlight --for 20min --lamp lantern --with tone=red
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
does 0 '`warmth` is 70%' '25 20:00' set warmth 70%
says '25 20:00' 'dial warmth: 70%, set by hand'
does 0 '`tone` is set' '25 20:01' set tone 'rgb(255, 136, 0)'
does 0 '`warmth` is 100%, the most it goes to' '25 20:02' set warmth 300%
says '25 20:02' 'dial warmth: 100%, set by hand'
does 0 'taken back' '25 20:03' undo
says '25 20:03' 'dial warmth: 70%, set by hand'
does 0 '`washing_done` was told: it plays' '25 20:04' report washing_done
says '25 20:04' 'window: beacon (when washing_done, number 4) since 20:04, until 20:04'

# ---- help says what --lamp means to each ----
for act in play level more skip earlier when; do
    "$gloam" $act --help 2>&1 | grep -e '--lamp' -A1 >helped
    grep -q alone helped && ! grep -q 'to show it on' helped
    verdict $? "what --lamp is to \`$act\`: $(cat helped)"
done

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
"$gloam" skip --state state.json >out 2>&1
[ $? -eq 2 ] && grep -q 'which home is that the state of? --home home.gloam' out
verdict $? "a call with a state alone to be refused: $(cat out)"
"$gloam" status --home home.gloam >out 2>&1
[ $? -eq 2 ] && grep -q 'where is what was done by hand? --state state.json' out
verdict $? "a call with a home alone to be refused: $(cat out)"

# ---- files that are not as they should be ----
for text in '' '{' '{"gloam_st' '{"gloam_state":7}'; do
    anew
    printf '%s' "$text" >state.json
    does 0 '' '25 20:00' set warmth 50%
    [ -e state.json.aside-1 ] && says '25 20:00' 'dial warmth: 50%, set by hand'
    verdict $? "nonsense (\`$text\`) to be set aside"
done
anew
does 0 '' '25 20:00' play nap
head -c 200 state.json >short && mv short state.json
cp state.json short
does 0 'nothing is overridden; the next act sets it aside' '25 20:00' status
cmp -s short state.json && [ ! -e state.json.aside-1 ]
verdict $? "a file that was cut short to be left by status"
does 0 'it is kept beside it as state.json.aside-1' '25 20:00' set warmth 50%
cmp -s short state.json.aside-1
verdict $? "a file that was cut short to be set aside by an act"
# A slip of the pen costs no file: neither the home, by whatever name, nor notes of one's own.
ln -s home.gloam link.gloam
for command in status skip; do
    for state in home.gloam ./link.gloam; do
        "$gloam" $command --home home.gloam --state $state >out 2>&1
        [ $? -eq 2 ] && grep -q 'is the home file itself' out
        verdict $? "\`$command --state $state\` to be refused: $(cat out)"
    done
    for text in gloam '{"name": "notes"}'; do
        printf '%s' "$text" >notes.txt
        "$gloam" $command --home home.gloam --state notes.txt >out 2>&1
        [ $? -eq 2 ] && grep -q 'notes.txt is no state of a player' out && [ "$(cat notes.txt)" = "$text" ]
        verdict $? "\`$command --state notes.txt\` to be refused, and the notes (\`$text\`) to stay: $(cat out)"
    done
done
[ -s home.gloam ] && [ ! -e home.gloam.aside-1 ] && [ ! -e home.gloam.lock ] && [ ! -e notes.txt.lock ]
verdict $? "refused states to leave no file behind"
rm link.gloam notes.txt
anew
says '25 20:00' 'lantern: dusk (at 19:30) since 19:30'
[ ! -e state.json ]
verdict $? "status to make no state file"
"$gloam" set --home home.gloam --state nowhere/state.json warmth 5% >out 2>&1
[ $? -eq 3 ] && grep -q 'name a place where you may write' out
verdict $? "status 3 where the folder is not there: $(cat out)"
mkdir folder closed
"$gloam" set --home home.gloam --state folder warmth 5% >out 2>&1
[ $? -eq 3 ] && grep -q 'is a folder: name a file in it' out
verdict $? "status 3 where the state is a folder: $(cat out)"
if [ "$(id -u)" -ne 0 ]; then
    chmod 555 closed
    "$gloam" set --home home.gloam --state closed/state.json warmth 5% >out 2>&1
    [ $? -eq 3 ] && grep -q 'name a place where you may write' out
    verdict $? "status 3 where the folder may not be written to: $(cat out)"
else
    skip 'a folder that may not be written to' 'root may'
fi
# A link is replaced by the file; what it led to is as it was.
anew
does 0 '' '25 20:00' set warmth 50%
mv state.json kept.json && cp kept.json before && ln -s kept.json state.json
says '25 20:00' 'dial warmth: 50%, set by hand'
does 0 '' '25 20:00' set warmth 60%
[ ! -L state.json ] && cmp -s before kept.json && says '25 20:00' 'dial warmth: 60%, set by hand'
verdict $? "a link to be replaced, and what it led to left alone"

# ---- no room: the file is as it was ----
cp state.json before
(
    ulimit -f 0
    exec "$gloam" set --home home.gloam --state state.json warmth 5%
) 2>&1 | cat >out
grep -q 'nothing was changed' out && cmp -s before state.json && [ ! -e state.json.new ]
verdict $? "a file that may not grow to be said, and the state to be as it was: $(cat out)"
full() { # in a file system of 4096 bytes: the first act fits, the second does not
    mkdir -p full && mount -t tmpfs -o size=4k none full || exit 9
    "$gloam" set --home home.gloam --state full/state.json warmth 5% || exit 8
    cp full/state.json before
    "$gloam" set --home home.gloam --state full/state.json warmth 6%
    [ $? -eq 3 ] && cmp before full/state.json
}
if unshare -rm true 2>/dev/null; then
    export gloam && unshare -rm sh -c "$(sed -n '/^full() {/,/^}/p' "$root/tests/command/test_acts.sh"); full" >out 2>&1
    status=$?
    if [ $status -eq 9 ]; then
        skip 'a full disk' 'nothing can be mounted here'
    else
        [ $status -eq 0 ] && grep -q 'No space left on device; nothing was changed' out
        verdict $? "a full disk to be status 3 with a sentence, and the state as it was: $(cat out)"
    fi
else
    skip 'a full disk' 'there is no file system of its own here'
fi

# ---- ten at once ----
anew
for n in 1 2 3 4 5; do
    "$gloam" level --home home.gloam --state state.json --clock '2026-11-25 20:00' $((10 * n)) --for 1h \
        >/dev/null 2>&1 &
    "$gloam" set --home home.gloam --state state.json --clock '2026-11-25 20:00' "d$n" $n >/dev/null 2>&1 &
done
wait
"$gloam" status --home home.gloam --state state.json --clock '2026-11-25 20:01' >out
[ "$(grep -c '^by hand [0-9]*: level' out)" -eq 5 ] && [ "$(grep -c '^dial d\([1-5]\): \1, set by hand' out)" -eq 5 ]
verdict $? "ten acts at once to be kept: $(grep '^by\|^dial' out)"

# ---- for programs ----
"$gloam" status --home home.gloam --state state.json --clock '2026-11-25 20:01' --format json >out
perl -MJSON::PP -e 'local $/; my $s = decode_json(<STDIN>);
    my $l = $s->{lamps}[0];
    exit !($l->{name} eq "lantern" && $l->{plays} eq "dusk" && $l->{why} eq "at 19:30"
        && $l->{since} eq "2026-11-25T19:30:00Z" && $l->{next}{at} eq "2026-11-26T02:40:00Z"
        && @{$s->{by_hand}} == 5 && $s->{clock}{trusted} && !defined $l->{until}
        && abs($l->{level}{light} - (($l->{level}{lightness} + 16) / 116) ** 3) < 1e-6)' <out
verdict $? "the JSON of status, as another parser reads it: $(head -n 30 out)"
close_sum
