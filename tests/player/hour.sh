#!/bin/sh
# hour.sh [SECONDS]: a run in real time, by hand, for the record: the night light of the lantern,
# which rests, and a window that moves, to the network of this machine alone. Tells what the process
# took at the beginning (when a tenth of the time is over, 5 s at least) and at the end, and fails where it grew
# between them: memory of its own (not the pages of its program, which come as they are used) by more
# than 64 KiB, which the allocator of the C library may move about, or descriptors by one; and where a
# port lost frames. An hour unless said otherwise.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/command.sh
# Not in /tmp: what others do in a folder on the way to a file that is watched wakes its watcher.
rm -r "$work"
work=$(mktemp -d /var/tmp/gloam-XXXXXX)
cd "$work" || exit 1
seconds=${1:-3600}
cat >home.gloam <<'TEXT'
place 51.45, -2.59 zone "Europe/London"
lamp lantern { pixels 16 shape ring chip ws2812b port "e131:127.0.0.1" supply 5V 1A }
lamp window { pixels 60 shape strip chip sk6812 port "e131:127.0.0.1" universe 5 supply 5V 2A }
routine nightlight { paint #ff3a00 * 2% }
routine window_glow { paint #c46a1a -> 2700K along pos * 60% + 20% * noise(pos * 3, t / 20s) }
at 00:00 play nightlight on lamp lantern
at 00:00 play window_glow on lamp window
TEXT
export XDG_RUNTIME_DIR="$work/runtime"
mkdir -m 700 "$XDG_RUNTIME_DIR"
env -u NOTIFY_SOCKET -u RUNTIME_DIRECTORY -u WATCHDOG_USEC "$gloam" run --page none --trust-after 1s --state "$work/state.json" home.gloam >out 2>&1 &
player=$!
trap 'kill "$player" 2>/dev/null; wait "$player" 2>/dev/null; cd /; rm -rf "$work"' EXIT
sample() { # NAME: a row of the table; of `status`, frames and wakes
    if ! [ -d "/proc/$player" ] || ! "$gloam" status >status; then
        verdict 1 "the player to run: $(cat out)"
        close_sum
        exit 1
    fi
    resident=$(awk '/^VmRSS/ { print $2 }' "/proc/$player/status")
    own=$(awk '/^RssAnon/ { print $2 }' "/proc/$player/status")
    data=$(awk '/^VmData/ { print $2 }' "/proc/$player/status")
    descriptors=$(ls "/proc/$player/fd" | wc -l)
    ticks=$(awk '{ print $14 + $15 }' "/proc/$player/stat")
    printf 'measured: %9s %8d %8d %8d %11d %9d.%02d s\n' "$1" "$resident" "$own" "$data" "$descriptors" \
        $((ticks / 100)) $((ticks % 100))
    sed -n 's/^\(.*: frames .*\)/measured:           \1/p; s/^\(wakes .*\)/measured:           \1/p' status
}
first=$((seconds / 10 > 5 ? seconds / 10 : 5))
sleep "$first"
for _ in 1 2 3 4 5; do # what answers take for the first time is no growth
    "$gloam" status >/dev/null
    "$gloam" status --format json >/dev/null
done
printf 'measured:     after resident      own data KiB descriptors    processor\n'
sample "$first s"
began_own=$own began_data=$data began_descriptors=$descriptors began_ticks=$ticks
sleep $((seconds - first))
sample "$seconds s"
echo "measured: $(((ticks - began_ticks) * 10 / (seconds - first))) ms of processor time a second"
[ $((own - began_own)) -le 64 ] && [ $((data - began_data)) -le 64 ]
verdict $? "memory not to grow: from $began_own and $began_data KiB to $own and $data"
[ "$descriptors" -eq "$began_descriptors" ]
verdict $? "descriptors to stay: from $began_descriptors to $descriptors"
"$gloam" status --format json >status.json && grep -q '"failures": 0' status.json &&
    ! grep -q '"failures": [1-9]' status.json
verdict $? "no frame to be lost by a port"
close_sum
