#!/bin/sh
# Pixels over the network as another program sees them: packets captured and dissected by tshark,
# field by field; a receiver that loses packets; a network that goes down and comes back. In a
# network of the test's own where the system lets it have one, else on the loopback.
# Takes about 40 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
base=${BUILD:-build}
programs=$base/tests/backends
if [ "${1:-}" != inside ]; then
    if ! make --no-print-directory -s -j2 BUILD="$base" "$programs/e131_player" \
        "$programs/e131_receiver" >/dev/null; then
        echo "expected the player and the receiver to build"
        echo "0 passed, 1 failed"
        exit 1
    fi
    for flags in -rn -n; do
        if unshare "$flags" sh -c 'ip link set lo up && ip route add 239.255.0.0/16 dev lo' \
            2>/dev/null; then
            OWN_NETWORK=1 exec unshare "$flags" sh "$0" inside
        fi
    done
    OWN_NETWORK=0 exec sh "$0" inside
fi
. tests/support/verdict.sh
. tests/support/wait.sh
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
if [ "$OWN_NETWORK" = 1 ]; then
    ip link set lo up
    ip route add 239.255.0.0/16 dev lo
fi

wait_for() { # FILE TEXT: until a program said it, 10 s at most
    await 10 grep -q "$2" "$1"
}

# ---- dissected ----
# Port, universe, priority, pixels, order, frames a second, seconds that move, seconds that rest.
# The first one long enough for the sequence to begin anew.
streams="e131:127.0.0.1 10 120 200 grb 60 7 4
e131:127.0.0.2 63997 200 300 wgrb 50 3 2
e131:::1 7 0 16 rgb 30 2 3"
[ "$OWN_NETWORK" = 1 ] && streams="$streams
e131:multicast 255 100 200 rgb 60 2 2"
[ "$OWN_NETWORK" = 1 ] || skip "multicast" "no network of the test's own; it would leave the machine"
if ! grep -q '^0\{31\}1 ' /proc/net/if_inet6 2>/dev/null; then
    skip "IPv6" "the machine has none"
    streams=$(echo "$streams" | grep -v :::1)
fi

play_all() {
    players=
    while read -r line; do
        # shellcheck disable=SC2086
        "$programs/e131_player" $line >>"$work/played" 2>&1 &
        players="$players $!"
    done <<END
$streams
END
    for player in $players; do
        wait "$player"
        verdict $? "a player to end well"
    done
}

dissect() {
    fields=$(perl tests/backends/e131_dissected.pl fields | sed 's/^/-e /')
    # Both switches are needed: else tshark shows no field of E1.31.
    # shellcheck disable=SC2086
    tshark -r "$work/captured" --enable-heuristic acn -o acn.dmx_enable:TRUE -T fields $fields \
        >"$work/dissected" 2>"$work/dissecting"
    verdict $? "tshark to dissect"
}

judge() { # WORDS: as e131_dissected.pl has them
    what=$1
    shift
    perl tests/backends/e131_dissected.pl "$what" "$work/dissected" "$@"
    verdict $? "the dissection to be as told: $what $*"
}

capture() {
    tshark -q -i lo -f 'udp port 5568' -w "$work/captured" 2>"$work/capturing" &
    shark=$!
    # It says `Capturing on` a little before it does.
    if ! wait_for "$work/capturing" 'Capturing on' || ! sleep 1 || ! kill -0 "$shark" 2>/dev/null; then
        skip "dissection" "tshark cannot capture here: $(tail -n 1 "$work/capturing")"
        kill "$shark" 2>/dev/null
        return
    fi
    play_all
    sleep 1
    kill -INT "$shark"
    wait "$shark"
    dissect
    judge packets
    while read -r port universe priority pixels order _ _ still; do
        judge stream "${port#e131:}" "$universe" "$priority" "$pixels" "$order" "$still"
    done <<END
$streams
END
}

if command -v tshark >/dev/null 2>&1; then
    capture
else
    skip "dissection" "there is no tshark"
fi

# ---- received ----
receive() { # OPTIONS...
    "$programs/e131_receiver" "$@" >"$work/received" 2>&1 &
    receiver=$!
    wait_for "$work/received" ready
    verdict $? "a receiver that listens"
}

# last_frame NUMBER PIXELS: as hex, order grb, universes of 170 pixels in lines
last_frame() {
    perl -e 'my ($n, $pixels) = @ARGV;
        for my $p (0 .. $pixels - 1) {
            print "\n" if $p && $p % 170 == 0;
            printf "%02x", ($n + 3 * $p + 50 * $_) & 255 for 1, 0, 2;
        }
        print "\n"' "$@"
}

# received NUMBER WHAT: nothing wrong came, and the light is that of the last frame
received() {
    last_frame "$1" 200 >"$work/wanted"
    sed -n 's/^light [0-9]* //p' "$work/received" >"$work/light"
    grep -q ' wrong 0 ' "$work/received" && cmp -s "$work/wanted" "$work/light"
    status=$?
    [ "$status" -eq 0 ] || cut -c1-160 "$work/received"
    verdict "$status" "$2"
}

sum_of() { # NAME: a number of the closing line
    sed -n "s/^data .*/ &/; s/.* $1 \([0-9]*\).*/\1/p" "$work/received" | tail -n 1
}

# One packet in ten is lost. The last light gets through all the same: it comes at least eight
# times, so that it fails once in half a million runs.
receive -l 10 -s "$$" -t 12
"$programs/e131_player" e131:127.0.0.1 10 100 200 grb 40 3 5 stays >"$work/played" 2>&1
verdict $? "a player to end well where packets are lost"
wait "$receiver"
verdict $? "a receiver that finds nothing wrong where packets are lost"
received 119 "the last light though one packet in ten is lost"
[ "$(sum_of lost)" -gt 0 ] && [ "$(sum_of late)" -eq 0 ]
verdict $? "packets to be lost, and none to look late for that"

# The way to the lamp is gone for a second while frames move, and comes back.
if [ "$OWN_NETWORK" = 1 ]; then
    ip address add 192.0.2.7/32 dev lo
    receive -a 192.0.2.7 -t 10
    sent() { awk '/^Udp: [0-9]/ { print $5 }' /proc/net/snmp; }
    before=$(sent)
    moves() { [ "$(sent)" -gt $((before + 20)) ]; }
    "$programs/e131_player" e131:192.0.2.7 10 100 200 grb 40 4 1 stays >"$work/played" 2>&1 &
    player=$!
    await 20 moves
    ip address del 192.0.2.7/32 dev lo
    sleep 1
    ip address add 192.0.2.7/32 dev lo
    wait "$player"
    verdict $? "a player to go on when the network comes back: $(cat "$work/played")"
    grep -q ' lost [1-9][0-9]* trouble none$' "$work/played"
    verdict $? "the lost packets to be counted: $(cat "$work/played")"
    wait "$receiver"
    received 159 "the last light after the network came back"
    [ "$(sum_of late)" -eq 0 ] && [ "$(sum_of ended)" -eq 2 ]
    verdict $? "no packet to look late afterwards, and both universes to end"
else
    skip "a network that goes down" "no network of the test's own"
fi

# A name that nobody has.
"$programs/e131_player" e131:lantern.invalid 1 100 16 rgb 40 1 1 2>"$work/said" >/dev/null
[ $? -eq 1 ] && grep -q '^cannot find `lantern.invalid`: ' "$work/said"
verdict $? "a sentence about a name that nobody has: $(cat "$work/said")"
close_sum
