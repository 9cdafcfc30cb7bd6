#!/bin/sh
# gloam run in real time: how often a still light wakes the process and what it asks of the system,
# the pace of a moving one, and 1,000 ends by SIGKILL at random moments while it writes its state.
# Takes about 150 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
root=$(pwd)
case ${BUILD:-build} in /*) gloam=$BUILD/gloam ;; *) gloam=$root/${BUILD:-build}/gloam ;; esac
# Not in /tmp: what others do in a folder on the way to a file that is watched wakes its watcher.
work=$(mktemp -d /var/tmp/gloam-XXXXXX)
trap 'rm -rf "$work"' EXIT
cd "$work" || exit 1
export TZ=UTC HOME="$work"
unset NOTIFY_SOCKET WATCHDOG_USEC JOURNAL_STREAM STATE_DIRECTORY XDG_STATE_HOME
cat >still.gloam <<'TEXT'
lamp lantern { pixels 16 shape ring }
routine nightlight { paint #ff3a00 * 2% }
at 19:30 play nightlight
until clock is set play nightlight
TEXT
cat >moving.gloam <<'TEXT'
lamp lantern { pixels 16 shape ring }
routine hues { paint oklch(75%, 0.12, angle + t / 30s * 1turn) * 10% }
at 00:00 play hues
until clock is set play hues
TEXT
await() { # SECONDS COMMAND...
    tries=$(($1 * 50))
    shift
    while [ $tries -gt 0 ]; do
        "$@" && return 0
        sleep 0.02
        tries=$((tries - 1))
    done
    return 1
}
ticks() { cut -d ' ' -f 14,15 "/proc/$1/stat" | tr ' ' '+'; }

# ---- a minute of a still light ----
"$gloam" run --output csv:still.csv --state still.json still.gloam 2>said &
player=$!
await 10 test -s still.csv
verdict $? "a first frame: $(cat said)"
sleep 0.5
before=$(ticks $player)
sleep 60
after=$(ticks $player)
: >said
kill -USR1 $player
await 5 grep -q '^files' said
wakes=$(sed -n 's/^wakes \(.*\)/\1/p' said)
echo "measured: a minute of a still light: wakes $wakes; $(((${after}) - (${before}))) ticks of processor time"
# What others do wakes it too: a clock that is set (then a frame is looked at again), a file that comes
# on the way, an untrusted clock once a minute (spec/clock.md), and that signal.
echo "$wakes" | awk -F '[:,] *' '{
    for (i = 2; i <= NF; i++) { split($i, one, " "); n[one[1]] = one[2] }
    exit !(n["frame"] <= n["clock"] + 1 && n["trust"] <= 2 && n["timetable"] + n["port"] + n["repaint"] + n["state"] + n["watchdog"] + n["nothing"] == 0) }'
quiet=$?
[ $quiet -eq 0 ] && [ $(((${after}) - (${before}))) -le 1 ]
verdict $? "a still light to rest: $wakes"
kill -TERM $player
wait $player

# ---- what a still light asks of the system ----
if command -v strace >/dev/null && strace -o /dev/null true 2>/dev/null; then
    strace -f -r -o calls sh -c 'echo $$ >traced.pid; exec "$@"' sh "$gloam" run --output csv:traced.csv --state traced.json still.gloam 2>said &
    tracer=$!
    await 10 test -s traced.csv
    sleep 1
    first=$(wc -l <calls)
    sleep 10
    last=$(wc -l <calls)
    echo "measured: system calls in ten seconds of a still light: $((last - first))"
    # A clock that nobody set may be looked at once in these seconds.
    [ $((last - first)) -le 40 ]
    verdict $? "next to no system calls: $(tail -n 5 calls)"
    kill -TERM "$(cat traced.pid)"
    wait $tracer
else
    skip "system calls" "strace is not here, or may not trace"
fi

# ---- ten seconds of a moving one ----
"$gloam" run --output csv:moving.csv --state moving.json --length 10s moving.gloam 2>said &
player=$!
await 10 test -s moving.csv
before=$(ticks $player)
sleep 9
after=$(ticks $player)
: >said
kill -USR1 $player
await 5 grep -q '^files' said
frames=$(sed -n 's/^lantern: frames //p' said)
wait $player
rows=$(awk -F, '$3 == 0' moving.csv | wc -l)
echo "measured: ten seconds of moving light: $rows frames; $frames; $(((${after}) - (${before}))) ticks of processor time in nine"
[ "$rows" -gt 300 ] && [ "$rows" -le 601 ]
verdict $? "about 600 frames, none twice, in ten seconds: $rows"
awk -F, '$3 == 0 { if (p != "" && $1 <= p) bad++; p = $1; d = $2 - $1 / 60; if (d * d > 1e-11) bad++ } END { exit bad > 0 }' moving.csv
verdict $? "frames on the raster of 60 a second, none after a later one"

# ---- killed ----
cat >kill.gloam <<'TEXT'
lamp lantern { pixels 4 }
routine sea { paint teal }
routine ruby { paint red }
at 00:00 play sea
at 12:00 play off
until clock is set play sea
TEXT
"$gloam" play ruby --for 48h --home kill.gloam --state kill.json >out 2>said
verdict $? "a play by hand: $(cat said)"
sleep 1.2 # until it has faded in
kills=0 wrong=0 early=0 running=0 first=$(date +%s)
while [ $kills -lt 1000 ]; do
    rm -f frames.csv
    "$gloam" run --output csv:frames.csv --state kill.json kill.gloam 2>/dev/null &
    player=$!
    number=$(od -An -N2 -tu2 /dev/urandom)
    # One in ten is let live until it shows a frame, and told to save again and again.
    if [ $((kills % 10)) -eq 0 ]; then
        await 5 test -s frames.csv
        for i in 1 2 3 4 5; do kill -HUP $player; done
        running=$((running + 1))
        tail -n 1 frames.csv | grep -q ',255,0,0$' || wrong=$((wrong + 1))
    fi
    sleep "0.0$(printf %02d $((number % 40)))"
    kill -KILL $player
    wait $player 2>/dev/null
    [ $? -eq 137 ] || early=$((early + 1))
    kills=$((kills + 1))
    if [ $((kills % 10)) -eq 0 ]; then
        "$gloam" status --home kill.gloam --state kill.json >out 2>said
        grep -q 'ruby' out && [ ! -s said ] || wrong=$((wrong + 1))
    fi
done
echo "measured: $kills ends by SIGKILL in $(($(date +%s) - first)) s, $running of them after a frame: $wrong wrong"
[ "$early" -eq 0 ]
verdict $? "none to end before: $early"
[ "$wrong" -eq 0 ] && [ ! -e kill.json.aside-1 ]
verdict $? "the state to be whole after each end: $wrong wrong, $(ls)"
"$gloam" run --output csv:end.csv --state kill.json --length 200ms kill.gloam 2>/dev/null
tail -n 1 end.csv | grep -q ',255,0,0$'
verdict $? "the right frame after the last: $(tail -n 1 end.csv)"
close_sum
