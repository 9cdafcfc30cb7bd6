#!/bin/sh
# Run as the first process of the machine that slow_device.sh starts, with that script's $work, $base
# and $root in its environment file. What it says goes to $work/said; then the machine is switched off.
export PATH=/usr/sbin:/usr/bin:/sbin:/bin HOME=/run
finish() {
    close_sum >>"$result/said" 2>&1
    touch "$result/ended"
    echo o >/proc/sysrq-trigger
    sleep 10
}
mount -t proc proc /proc
mount -t sysfs sys /sys
mount -t tmpfs tmp /run
# shellcheck disable=SC1090
. "$1"
cd "$root" || exit 1
. tests/support/verdict.sh
. tests/support/wait.sh
result=$work work=/run/work dev=/dev
mkdir "$work"
exec >"$result/said" 2>&1
insmod "$modules/fs/fuse/fuse.ko" && insmod "$modules/fs/fuse/cuse.ko" && [ -c /dev/cuse ]
verdict $? "the kernel's CUSE to be there"
serve() { # NUMBER
    "$result/device" "spidev0.$1" "$work/log" 2>"$work/trouble" &
    server=$!
    await 20 test -c "$dev/spidev0.$1"
}
for number in 4 3 2 1 0; do
    serve $number
done
[ -c "$dev/spidev0.0" ]
verdict $? "a character device to be made: $(cat "$work/trouble")"
. tests/system/spidev_checks.sh

# ---- the player at the device ----
gloam=$base/gloam
cat >"$work/home.gloam" <<'TEXT'
place 51.45, -2.59 zone "Europe/London"
lamp lantern { pixels 16 shape ring chip ws2812b port "/dev/spidev0.0" supply 5V 1A }
routine morning { paint #ff0000 }
routine evening { paint #0000ff }
at 08:00 play morning
at 18:00 play evening
until clock is set play off
TEXT
export XDG_RUNTIME_DIR=$work/run # where the player listens
say() { "$gloam" "$@" 2>&1; }
# A frame of 16 pixels of one colour, green, red and blue on the wire; each bit is 1000 or 1110.
wire() {
    printf '00'
    for _ in 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16; do
        printf %s "$1"
    done
    zeros 120
}
off=88888888 on=EEEEEEEE
red=$(wire $off$on$off) blue=$(wire $off$off$on)
last_is() { [ "$(sed -n 's/^message 3200000 //p' "$work/log" | tail -n 1)" = "$1" ]; }
status_has() { say status >"$work/status" && grep -q -- "$1" "$work/status"; }
heard() { grep -q -- "$1" "$work/heard"; }

date -s '2026-11-25 12:00' >/dev/null
mkdir "$work/state" "$XDG_RUNTIME_DIR"
: >"$work/log"
"$gloam" run --wait --trust-after 1s --state "$work/state/state.json" "$work/home.gloam" >"$work/heard" 2>&1 &
player=$!
await 10 last_is "$red"
verdict $? "red on the wire at noon: $(cat "$work/heard"; tail -n 2 "$work/log")"
await 20 status_has morning
verdict $? "the morning's light to be told: $(cat "$work/status")"
[ "$(sed -n '1,4p' "$work/log" | tr '\n' ' ')" = 'open mode 0 bits 8 speed 3200000 ' ]
verdict $? "mode, bits and speed to be set first: $(cut -c1-80 "$work/log" | head -n 6)"

# ---- the clock is set while it plays ----
date -s '2026-11-25 19:00' >/dev/null
await 10 last_is "$blue"
verdict $? "blue on the wire once the clock says seven in the evening: $(cat "$work/heard"; tail -n 2 "$work/log")"
await 20 status_has evening
verdict $? "the evening's light to be told: $(cat "$work/status")"
grep -q '; clock set 1$' "$work/status"
verdict $? "the step of the clock to be told: $(cat "$work/status")"
date -s '2026-11-25 07:59:58' >/dev/null
await 10 last_is "$red"
verdict $? "red again when a clock that was set back comes to eight: $(tail -n 2 "$work/log")"

# ---- the device goes and comes back ----
kill "$server"
wait "$server"
await 20 test ! -e "$dev/spidev0.0"
verdict $? "the device to be gone"
say play evening --for 1h >"$work/done"
await 10 heard '/dev/spidev0.0'
verdict $? "its loss to be said: $(cat "$work/done" "$work/heard")"
echo "heard: $(grep /dev/spidev0.0 "$work/heard" | head -n 2)"
kill -0 "$player"
verdict $? "the player to go on without it"
: >"$work/log"
serve 0
await 30 last_is "$blue"
verdict $? "blue on the wire when it is back: $(cat "$work/heard"; tail -n 2 "$work/log")"
kill "$player"
wait "$player"
verdict $? "a good end: $(cat "$work/heard")"
await 20 grep -q release "$work/log"
last_is "$(wire $off$off$off)"
verdict $? "a dark frame at the end: $(tail -n 2 "$work/log")"
finish
