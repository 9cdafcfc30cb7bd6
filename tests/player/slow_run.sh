#!/bin/sh
# gloam run in real time: how often a still light wakes the process and what it asks of the system,
# the pace of a moving one.
# Takes about 90 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
. tests/support/wait.sh
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
await 20 grep -q '^files' said
wakes=$(sed -n 's/^wakes \(.*\)/\1/p' said)
echo "measured: a minute of a still light: wakes $wakes; $(((${after}) - (${before}))) ticks of processor time"
# What others do wakes it too: a clock that is set (then a frame is looked at again), a file that comes
# on the way, an untrusted clock once a minute (spec/clock.md), and that signal.
echo "$wakes" | awk -F '[:,] *' '{
    for (i = 2; i <= NF; i++) { split($i, one, " "); n[one[1]] = one[2] }
    exit !(n["frame"] <= n["clock"] + 1 && n["trust"] <= 2 && n["timetable"] + n["port"] + n["repaint"] + n["state"] + n["watchdog"] + n["nothing"] == 0) }'
quiet=$?
[ $quiet -eq 0 ] && [ $(((${after}) - (${before}))) -le 5 ]
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
await 20 grep -q '^files' said
frames=$(sed -n 's/^lantern: frames //p' said)
wait $player
rows=$(awk -F, '$3 == 0' moving.csv | wc -l)
echo "measured: ten seconds of moving light: $rows frames; $frames; $(((${after}) - (${before}))) ticks of processor time in nine"
[ "$rows" -gt 300 ] && [ "$rows" -le 601 ]
verdict $? "about 600 frames, none twice, in ten seconds: $rows"
awk -F, '$3 == 0 { if (p != "" && $1 <= p) bad++; p = $1; d = $2 - $1 / 60; if (d * d > 1e-11) bad++ } END { exit bad > 0 }' moving.csv
verdict $? "frames on the raster of 60 a second, none after a later one"
close_sum
