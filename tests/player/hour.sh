#!/bin/sh
# hour.sh [SECONDS]: a run in real time, by hand, for the record: the night light of the lantern,
# which rests, and a window that moves, to the network of this machine alone. Tells what the process
# took and fails where it grew: more memory at the end than after the first tenth of the time (by
# more than 64 KiB, what the allocator of the C library may move about), more descriptors, frames
# lost by the port. An hour unless said otherwise; SIGTERM ends it early.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/command.sh
seconds=${1:-3600}
cat >home.gloam <<'H'
place 51.45, -2.59 zone "Europe/London"
lamp lantern { pixels 16 shape ring chip ws2812b port "e131:127.0.0.1" supply 5V 1A }
lamp window { pixels 60 shape strip chip sk6812 port "e131:127.0.0.1" universe 5 supply 5V 2A }
routine nightlight { paint #ff3a00 * 2% }
routine window_glow { paint #c46a1a -> 2700K along pos * 60% + 20% * noise(pos * 3, t / 20s) }
at 00:00 play nightlight on lamp lantern
at 00:00 play window_glow on lamp window
H
export XDG_RUNTIME_DIR="$work/runtime"
mkdir -m 700 "$XDG_RUNTIME_DIR"
env -u NOTIFY_SOCKET -u RUNTIME_DIRECTORY "$gloam" run --page none --trust-after 1s --state "$work/state.json" home.gloam >out 2>&1 &
player=$!
trap 'kill "$player" 2>/dev/null; wait "$player" 2>/dev/null; cd /; rm -rf "$work"' EXIT
sample() { # NAME: memory in KiB, descriptors, ticks of the processor
    [ -d "/proc/$player" ] || { cat out; verdict 1 "the player to run"; close_sum; exit 1; }
    memory=$(awk '/^VmRSS/ { print $2 }' "/proc/$player/status")
    data=$(awk '/^VmData/ { print $2 }' "/proc/$player/status")
    descriptors=$(ls "/proc/$player/fd" | wc -l)
    ticks=$(awk '{ print $14 + $15 }' "/proc/$player/stat")
    echo "$1: resident $memory KiB, data $data KiB, $descriptors descriptors, $ticks ticks"
}
first=$((seconds / 10 > 0 ? seconds / 10 : 1))
sleep "$first"
sample "after $first s" || exit 1
before=$data opened=$descriptors began=$ticks
sleep $((seconds - first))
sample "after $seconds s"
"$gloam" status | sed -n '/frames/p; /wakes/p'
echo "measured: $((ticks - began)) ticks of 10 ms in $((seconds - first)) s"
[ $((data - before)) -le 64 ]
verdict $? "memory not to grow: from $before to $data KiB of data"
[ "$descriptors" -eq "$opened" ]
verdict $? "descriptors to stay: from $opened to $descriptors"
"$gloam" status --format json >status.json
grep -q '"failures": [1-9]' status.json && lost=1 || lost=0
verdict "$lost" "no frame to be lost by a port"
close_sum
