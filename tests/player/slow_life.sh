#!/bin/sh
# gloam run through what happens to it: a minute with nothing growing, a disk that is full, 1,000
# signals and changes of its file, a port that goes and comes back, an end that the network hears of,
# packets that are lost, and 1,000 ends by SIGKILL. In mounts of its own where the system lets it.
# Takes about 120 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
. tests/support/wait.sh
root=$(pwd)
case ${BUILD:-build} in /*) base=$BUILD ;; *) base=$root/${BUILD:-build} ;; esac
if [ "${1:-}" != inside ]; then
    if ! make --no-print-directory -s BUILD="$base" "$base/tests/backends/e131_receiver" >/dev/null; then
        echo "expected the receiver to build"
        echo "0 passed, 1 failed"
        exit 1
    fi
    if unshare -m true 2>/dev/null; then
        OWN_MOUNTS=1 exec unshare -m sh "$0" inside
    fi
    OWN_MOUNTS=0 exec sh "$0" inside
fi
gloam=$base/gloam
# Not in /tmp: what others do in a folder on the way to a file that is watched wakes its watcher.
work=$(mktemp -d /var/tmp/gloam-XXXXXX)
started= covered=
finish() {
    for process in $started; do kill "$process" 2>/dev/null && wait "$process" 2>/dev/null; done
    cd / || exit 1
    if [ "$OWN_MOUNTS" = 1 ]; then
        [ -n "$covered" ] && umount -l /dev
        umount -l "$work/spi" "$work/small" "$work"/dev/* 2>/dev/null
    fi
    rm -rf "$work"
}
trap finish EXIT
cd "$work" || exit 1
export TZ=UTC HOME="$work"
unset NOTIFY_SOCKET WATCHDOG_USEC JOURNAL_STREAM STATE_DIRECTORY RUNTIME_DIRECTORY XDG_STATE_HOME XDG_RUNTIME_DIR
says() { grep -q -- "$1" "$2"; }
begin() { # NAME OPTIONS...: a player that says what it says in NAME.said, its socket in NAME.run
    name=$1
    shift
    rm -rf "$name.run" && mkdir "$name.run"
    : >"$name.said"
    XDG_RUNTIME_DIR=$work/$name.run "$gloam" run --page none --trust-after 1s "$@" >"$name.out" 2>"$name.said" &
    player=$!
    started="$started $player"
}
tell() { # NAME COMMAND...
    XDG_RUNTIME_DIR=$work/$1.run
    export XDG_RUNTIME_DIR
    shift
    "$gloam" "$@" >told 2>&1
    status=$?
    unset XDG_RUNTIME_DIR
    return $status
}
ends() { # SIGNAL
    kill "-$1" "$player"
    wait "$player" 2>/dev/null
    status=$?
    return $status
}
# Three pixels tell what plays, the others move.
home() { # COLOUR
    cat <<TEXT
lamp lantern { pixels 16 shape ring }
dial strength = 50% from 0% to 100%
routine glow {
    paint teal * noise(pos * 9, t / 1s)
    paint $1 where pixel < 3
}
at 00:00 play glow
until clock is set play glow
TEXT
}

# ---- a minute, while the rest goes on ----
(cd "$root" && BUILD=$base exec sh tests/player/hour.sh 60) >minute 2>&1 &
minute=$!
started="$started $minute"

# ---- a full disk ----
small=
if [ "$OWN_MOUNTS" = 1 ] && mkdir small && mount -t tmpfs -o size=128k tmpfs "$work/small" 2>/dev/null; then
    small=1
    home red >small.gloam
    begin small --output csv:small.csv --state small/state.json small.gloam
    small_player=$player
    await 10 test -S small.run/gloam/player.socket
    verdict $? "a player to start: $(cat small.said)"
    tell small set strength 41%
    verdict $? "an act before the disk is full: $(cat told)"
    cp small/state.json before.json
    cat /dev/zero >small/filling 2>/dev/null
    cat /dev/zero >small/filling_too 2>/dev/null
    tell small set strength 42%
    verdict $? "an act to be done though the disk is full: $(cat told)"
    await 20 says 'state.json: No space left on device' small.said
    verdict $? "the full disk to be told: $(cat small.said)"
    cmp -s small/state.json before.json
    verdict $? "the state to be what it was: $(cat small/state.json)"
    home lime >new && mv new small.gloam
    await 10 says 'small.gloam is taken' small.said
    verdict $? "a changed file to be taken though the disk is full: $(cat small.said)"
    begin full --output csv:/dev/full --state full.json small.gloam
    wait "$player"
    [ $? -eq 3 ] && says 'No space left on device' full.said
    verdict $? "status 3 and a sentence where no frame can be written: $(cat full.said)"
    rm small/filling small/filling_too
    freed=$(date +%s)
else
    skip "a full disk" "nothing may be mounted"
fi

# ---- a storm ----
# What is free goes back to the system at once (mallopt(3)): otherwise the heap keeps up to 150 KiB
# that are free, or does not, by chance.
home red >storm.gloam
export MALLOC_TRIM_THRESHOLD_=0
begin storm --output csv:storm.csv --state storm.json storm.gloam
unset MALLOC_TRIM_THRESHOLD_
await 10 test -S storm.run/gloam/player.socket
verdict $? "a player to start: $(cat storm.said)"
held() { ls "/proc/$player/fd" | wc -l; }
own() { awk '/^RssAnon/ { print $2 }' "/proc/$player/status"; }
storm() { # NUMBER
    n=$1
    while [ "$n" -gt 0 ]; do
        home "red * $((n % 90))%" >new && mv new storm.gloam
        kill -HUP "$player"
        [ $((n % 10)) -eq 0 ] && sleep 0.05
        n=$((n - 1))
    done
    sleep 2
    tell storm status
}
storm 300
before=$(held) memory=$(own)
storm 1000
after=$(held) grown=$(own)
home blue >new && mv new storm.gloam
kill -HUP "$player"
blue() { tail -n 16 storm.csv | grep -q ',0,0,0,255$'; }
await 10 blue
verdict $? "the last file to play: $(tail -n 16 storm.csv | head -n 3)"
tell storm status
taken=$(sed -n 's/^files taken \([0-9]*\), refused 0;.*/\1/p' told)
frames=$(sed -n 's/^lantern: frames //p' told)
echo "measured: 1,000 signals and 1,000 changes: descriptors $before and $after, memory of its own $memory and $grown KiB, ${taken:-?} files taken; $frames"
[ "$before" -eq "$after" ]
verdict $? "descriptors to stay: from $before to $after"
# Measured in six runs: 0 to 36 KiB more, and in four of them none after 750 changes more. 64 bytes
# that each change leaves are seen.
[ $((grown - memory)) -le 64 ]
verdict $? "memory not to grow: from $memory to $grown KiB"
[ "${taken:-0}" -gt 100 ]
verdict $? "files to be taken, none refused: $(cat told)"
ends TERM
verdict $? "the player to have lived through it: status $status"

# ---- a port that goes and comes back ----
port() {
    mkdir -p spi dev
    # shellcheck disable=SC2046
    ${CC:-gcc} -std=c11 -D_GNU_SOURCE -D_FILE_OFFSET_BITS=64 -I"$root" -o server \
        "$root/tests/system/spidev_file.c" $(pkg-config --cflags --libs fuse3) 2>built
    verdict $? "the stand-in of the driver to build: $(head -n 3 built)"
    for node in null zero urandom full fuse; do
        : >"dev/$node"
        mount --bind "/dev/$node" "dev/$node" || return 1
    done
    ln -s /proc/self/fd dev/fd
    mount --rbind dev /dev 2>/dev/null && covered=1
}
plug() {
    ./server spi spi.log 2>trouble &
    server=$!
    started="$started $server"
    await 20 test -e spi/spidev0.0 && ln -s "$work/spi/spidev0.0" /dev/spidev8.0
}
pull() {
    rm /dev/spidev8.0
    umount -l spi
    kill "$server" 2>/dev/null
    wait "$server" 2>/dev/null
}
if [ "$OWN_MOUNTS" = 1 ] && [ "$(id -u)" = 0 ] && [ -c /dev/fuse ] && pkg-config --exists fuse3 2>/dev/null && port; then
    home red | sed 's|shape ring|shape ring chip apa102 port "/dev/spidev8.0" supply 5V 1A|' >port.gloam
    begin port --wait --state port.json port.gloam
    await 10 says 'it is waited for' port.said
    verdict $? "a port that is not there to be waited for: $(cat port.said)"
    plug
    verdict $? "a port to be made: $(cat trouble)"
    there() { [ "$(grep -c 'is there again' port.said)" -ge "$1" ] && says message spi.log; }
    await 65 there 1
    verdict $? "the port to be taken when it comes: $(cat port.said)"
    lost=0
    for round in 1 2 3; do
        sleep 1
        pull
        waits() { [ "$(grep -c 'it is waited for' port.said)" -gt "$round" ]; }
        await 10 waits || lost=$((lost + 1))
        : >spi.log
        plug || lost=$((lost + 1))
        await 65 there $((round + 1)) || lost=$((lost + 1))
    done
    [ "$lost" -eq 0 ]
    verdict $? "the port to be lost and found three times while it plays: $(cat port.said)"
    tell port status
    echo "measured: a port pulled three times while it plays: $(sed -n 's/^lantern: frames //p' told)"
    : >spi.log
    ends TERM
    verdict $? "status 0 at SIGTERM: $status"
    # Frames of apa102: 32 bits of zeros, then 111 and the level, blue, green, red of each pixel.
    dark() { grep -q release spi.log && tail -n 2 spi.log | head -n 1 | grep -Eq '^message [0-9]+ 0{8}(FF000000|E0000000){16}0+$'; }
    await 20 dark
    verdict $? "the lamp to be left dark: $(tail -n 2 spi.log)"
    home red | sed 's|shape ring|shape ring chip apa102 port "/dev/spidev8.0" supply 5V 1A ends last|' >port.gloam
    : >spi.log
    begin stays --wait --state port.json port.gloam
    await 20 says message spi.log
    ends TERM
    await 20 says release spi.log && says message spi.log && ! dark
    verdict $? "the lamp to be left as it was where it says \`ends last\`: $(tail -n 2 spi.log)"
    pull
else
    skip "a port that goes and comes back" "it takes root, mounts, /dev/fuse and libfuse3-dev $(head -n 1 built 2>/dev/null)"
fi

# ---- the network: an end, and packets that are lost ----
cat >two.gloam <<'TEXT'
lamp lantern { pixels 16 shape ring port "e131:127.0.0.3" universe 7 }
lamp window { pixels 60 port "e131:127.0.0.3" universe 8 ends last }
routine rise lasts 3s { paint black -> yellow throughout }
at 00:00 play rise
until clock is set play rise
TEXT
receive() { # OPTIONS...
    "$base/tests/backends/e131_receiver" -a 127.0.0.3 "$@" >received 2>&1 &
    receiver=$!
    started="$started $receiver"
    await 20 says ready received
    verdict $? "a receiver that listens: $(cat received)"
}
yellow() { i=$1; while [ "$i" -gt 0 ]; do printf ffff00; i=$((i - 1)); done; }
zeros() { printf "%0$((2 * $1))d" 0; }
receive -t 20
begin two --state two.json two.gloam
await 10 test -S two.run/gloam/player.socket
sleep 5
ends TERM
verdict $? "status 0 at SIGTERM: $status"
wait "$receiver"
verdict $? "no packet to be wrong: $(head -c 400 received)"
says ' wrong 0 ended 2 ' received
verdict $? "both universes to be ended: $(tail -n 1 received)"
says "^light 7 $(zeros 48)\$" received
verdict $? "the lantern to be dark: $(sed -n 's/^light 7//p' received)"
says "^light 8 $(yellow 60)\$" received
verdict $? "the window to stay as it was: $(sed -n 's/^light 8//p' received)"
receive -t 10
begin two --state two.json two.gloam
await 10 test -S two.run/gloam/player.socket
sleep 1
ends KILL
wait "$receiver"
says '^light 8 ' received && says ' wrong 0 ended 0 ' received
verdict $? "no end after SIGKILL: $(tail -n 1 received)"

# One packet in ten is lost. A still light comes three times at once and then every 0.9 s, at least
# ten times in all, so it is missed once in ten thousand million runs.
receive -l 10 -s "$$" -t 14
begin two --state two.json two.gloam
await 10 test -S two.run/gloam/player.socket
tell two play rise --for 1h
verdict $? "a light to rise: $(cat told)"
sleep 11
ends TERM
wait "$receiver"
verdict $? "no packet to be wrong where some are lost: $(head -c 400 received)"
says "^light 8 $(yellow 60)\$" received
verdict $? "the last light though one packet in ten is lost: $(sed -n 's/^light 8//p' received)"
tail -n 1 received | grep -Eq ' late 0 lost [1-9][0-9]* wrong 0 '
verdict $? "packets to be lost, and none to look late: $(tail -n 1 received)"
echo "measured: one packet in ten lost: $(tail -n 1 received)"

# ---- killed ----
home 'red * strength' | sed 's/pixels 16 shape ring/pixels 4000/' >kill.gloam
mkdir kills
if perl -MJSON::PP -e 1 2>/dev/null; then
    (cd kills && perl "$root/tests/player/kills.pl" "$gloam" ../kill.gloam 1000) >killed 2>&1
    verdict $? "nothing to be lost by SIGKILL: $(cat killed)"
    grep '^measured' killed
else
    skip "1,000 ends by SIGKILL" "there is no JSON::PP of perl"
fi

# ---- what went on beside ----
if [ -n "$small" ]; then
    left=$((freed + 65 - $(date +%s)))
    await $((left > 1 ? left : 1)) says 'state.json is written again' small.said
    verdict $? "the state to be written again within a minute after there is room: $(cat small.said)"
    tr -d ' ' <small/state.json | grep -q '"value":0.4[12]'
    verdict $? "what was done on the full disk to be kept: $(cat small/state.json)"
    grep -c 'No space' small.said | grep -qx '[1-3]'
    verdict $? "the full disk to be told once for each file: $(cat small.said)"
    player=$small_player
    ends TERM
    verdict $? "status 0 at SIGTERM after a full disk: $status"
fi
wait "$minute"
verdict $? "nothing to grow in a minute: $(cat minute)"
grep '^measured' minute
close_sum
