#!/bin/sh
# The page under load, all of it on loopback and bounded: malformed requests, slow clients, far too
# many connections, an upload of 1 GB, event streams, clients that trickle, while the player works out
# 60 frames a second. The rate stays, one frame in a hundred may be dropped, and memory stays
# bounded. Needs node. Takes about 90 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/served.sh
needs "the page under load" node curl
cat >home/home.gloam <<'H'
lamp lantern { pixels 16 shape ring chip ws2812b supply 5V 1A }
routine hues { paint oklch(75%, 0.12, angle + t / 40s * 1turn) * 70% }
at 00:00 play hues
until clock is set play hues
H
start --pairing none --output csv:/dev/null
count() { # WHAT: of the lamp, as the player counts
    "$gloam" status --format json | sed -n "s/.*\"$1\": \([0-9]*\).*/\1/p" | head -n 1
}
process=$(pgrep -P "$player" -x gloam-page)
memory() { awk '/^VmRSS/ { print $2 }' "/proc/$process/status" 2>/dev/null || echo 0; }
sleep 2
dropped=$(count dropped) late=$(count late)
# A quiet time, for the rate.
a=$(count shown) began=$(date +%s%N)
sleep 4
quiet=$(awk -v n="$(($(count shown) - a))" -v t="$(($(date +%s%N) - began))" 'BEGIN { printf "%.1f", n * 1e9 / t }')
before=$(($(count dropped) - dropped))
dropped=$(count dropped) late=$(count late)
a=$(count shown) began=$(date +%s%N)
timeout 150 node "$root/tests/service/page/load.mjs" "$port" >load.log 2>&1 &
load=$!
most=0 opened=0
while kill -0 "$load" 2>/dev/null; do
    now=$(memory)
    [ "${now:-0}" -gt "$most" ] && most=$now
    now=$(ls "/proc/$process/fd" 2>/dev/null | wc -l)
    [ "$now" -gt "$opened" ] && opened=$now
    sleep 0.2
done
wait "$load"
status=$?
busy=$(awk -v n="$(($(count shown) - a))" -v t="$(($(date +%s%N) - began))" 'BEGIN { printf "%.1f", n * 1e9 / t }')
grep -v '^expected' load.log | sed 's/^/measured: /'
[ "$status" -eq 0 ]
verdict $? "each client to be answered as it should: $(grep '^expected' load.log | head -n 5; tail -n 2 load.log)"
echo "measured: $quiet frames a second in 4 quiet s with $before dropped, $busy under load; $(($(count dropped) - dropped)) dropped, $(($(count late) - late)) late; the page has $most KiB at most"
awk -v a="$quiet" -v b="$busy" 'BEGIN { exit !(b > a * 0.98) }'
verdict $? "the rate of frames to stay under load: $quiet, then $busy"
# A scheduler whose cores are all busy comes too late for some frames: one in a hundred may be dropped.
awk -v d="$(($(count dropped) - dropped))" -v n="$(($(count shown) - a))" 'BEGIN { exit !(d <= n / 100) }'
verdict $? "frames not to be lost under load: $(($(count dropped) - dropped)) of $(($(count shown) - a))"
echo "measured: $opened descriptors of the page at most"
[ "$opened" -gt 8 ] && [ "$opened" -lt 100 ]
verdict $? "connections to be limited: $opened descriptors"
[ "$most" -gt 0 ] && [ "$most" -lt 65536 ]
verdict $? "the page to stay below 64 MiB, not $most KiB"
[ "$(pgrep -P "$player" -x gloam-page)" = "$process" ]
verdict $? "the page to be the same process afterwards: $(tail -n 3 out)"
curl -s --max-time 5 "$page/v1/me" | grep -q owner
verdict $? "the page to answer afterwards"
close_sum
