#!/bin/sh
# A lamp at a real broker on loopback: what it tells, what it does, what it refuses, files, restarts
# of the broker, the last will. Takes about 40 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/command.sh
broker=$(command -v mosquitto || echo /usr/sbin/mosquitto)
if [ ! -x "${gloam%/*}/gloam-mqtt" ] || [ ! -x "$broker" ] || ! command -v mosquitto_pub >/dev/null 2>&1; then
    skip "a lamp at a broker" "gloam-mqtt or mosquitto is not here"
    close_sum
    exit
fi
mkdir home kept
cat >home/home.gloam <<'H'
lamp lantern { pixels 16 shape ring chip ws2812b port "e131:127.0.0.1" supply 5V 1A }
dial rest = 2% from 0.5% to 10%
dial shade = #ff8800
routine nightlight { paint #ff3a00 * rest }
routine hues { paint shade * 50% }
until clock is set play nightlight
at 19:30 play nightlight
H
chmod 777 "$work"
serving= player= listening=
end() { # PROCESS
    [ -n "$1" ] && kill "$1" 2>/dev/null && wait "$1" 2>/dev/null
}
serve() { # a broker at $port, as $serving; false: it has ended, since somebody else has that port
    : >broker.log
    "$broker" -c broker.conf >>broker.log 2>&1 &
    serving=$!
    ready() { grep -q 'mosquitto version .* running' broker.log || ! kill -0 "$serving" 2>/dev/null; }
    await 20 ready && kill -0 "$serving" 2>/dev/null
}
serve_somewhere() { # at a port that is free, below those that the system gives to who asks for any
    for try in 0 1 2 3 4 5 6 7 8 9; do
        port=$((20000 + ($$ + 997 * try) % 10000))
        cat >broker.conf <<C
listener $port 127.0.0.1
allow_anonymous true
persistence true
persistence_location $work/
C
        serve && return
        wait "$serving"
    done
    serving=
    return 1
}
finish() {
    end "$player"
    for process in $listening; do end "$process"; done
    end "$serving"
    cd /
    rm -rf "$work"
}
trap finish EXIT
unset JOURNAL_STREAM NOTIFY_SOCKET RUNTIME_DIRECTORY
export XDG_RUNTIME_DIR="$work/runtime"
mkdir -m 700 runtime
start() { # OPTION...
    "$gloam" run --page none --state "$work/kept/state.json" --broker "127.0.0.1:$port" --as lantern --takes home --takes second "$@" home/home.gloam >>out 2>&1 &
    player=$!
}
publish() { # TOPIC TEXT OPTION...
    topic=$1 text=$2
    shift 2
    mosquitto_pub -p "$port" -q 1 -t "$topic" -m "$text" "$@"
}
retained() { # TOPIC
    mosquitto_sub -p "$port" -t "$1" -C 1 -W 3 2>/dev/null
}
is_retained() { retained "$1" | grep -q -- "$2"; }
until_retained() { # TOPIC PATTERN
    await 20 is_retained "$1" "$2"
}
plays() { "$gloam" status | grep -q -- "$1"; }
dropped() { [ "$(grep -c 'a retained act is not done' out)" -ge "$1" ]; } # NUMBER: so often, or more
listen() { # TOPIC FILE: what is told there is in the file, from when this is done
    stdbuf -oL mosquitto_sub -d -p "$port" -t "$1" -v >"$2" 2>&1 &
    listening="$listening $!"
    await 20 grep -q '^Subscribed' "$2"
}
# What came before an act has been looked at when that is answered: one thing comes after the other.
answered() { publish gloam/lantern/act 'play nowhere' && [ "$(grep -c '"done":false' said)" -gt "$told" ]; }
all_looked_at() {
    told=$(grep -c '"done":false' said)
    await 20 answered
}

serve_somewhere
verdict $? "a broker: $(tail -n 3 broker.log)"
start
until_retained gloam/lantern/online '^1$'
verdict $? "the lamp to be online: $(tail -n 3 out)"
until_retained gloam/lantern/state '"plays":"nightlight"'
verdict $? "the state to be kept by the broker: $(retained gloam/lantern/state | head -c 300)"
until_retained gloam/lantern/dials/rest '^2%$' && until_retained gloam/lantern/dials/shade '^#ff8800$'
verdict $? "each dial as it can be set: $(retained gloam/lantern/dials/rest) $(retained gloam/lantern/dials/shade)"
listen gloam/lantern/said said
publish gloam/lantern/act 'play hues for 5min'
until_retained gloam/lantern/state '"plays":"hues"'
verdict $? "an act to be done: $(tail -n 2 said)"
publish gloam/lantern/dials/rest/set '5%'
until_retained gloam/lantern/dials/rest '^5%$'
verdict $? "a dial to be set: $(tail -n 1 said)"
publish gloam/all/dials/shade/set '#00ff80'
until_retained gloam/lantern/dials/shade '^#00ff80$'
verdict $? "a colour for all lamps to be set, and told as it was: $(retained gloam/lantern/dials/shade)"
for line in 'more 15min' 'undo' 'watch state' 'play nowhere' 'level 40
level 80'; do
    publish gloam/lantern/act "$line"
done
head -c 300 /dev/urandom >noise
mosquitto_pub -p "$port" -q 1 -t gloam/lantern/act -f noise
refusals() { [ "$(grep -c '"done":false' said)" -eq 6 ]; }
await 20 refusals
verdict $? "each act that is not done to be told with its reason: $(cat said)"
printf 'play h\377es' | mosquitto_pub -p "$port" -q 1 -t gloam/lantern/act -s
await 5 grep -q '"act":"play h?es","done":false' said
verdict $? "an act that is no UTF-8 to be answered: $(tail -n 1 said)"
retained gloam/lantern/online | grep -q 1
verdict $? "nonsense to leave the lamp at the broker"

# A command that is kept by mistake is not done again when the lamp or the broker comes back.
publish gloam/lantern/act 'level 30' -r
await 20 plays 'level 30'
verdict $? "an act that the broker keeps to be done when it comes: $("$gloam" status)"
"$gloam" clear >/dev/null
end "$player"
until_retained gloam/lantern/online '^0$'
verdict $? "a lamp that ends to say so: $(retained gloam/lantern/online)"
start
until_retained gloam/lantern/online '^1$'
await 20 dropped 1 && plays 'lantern: ' && ! plays 'level 30'
verdict $? "a retained act to be dropped and logged: $(tail -n 3 out)"
end "$serving"
plays 'lantern: '
verdict $? "the lamp to play on without its broker"
sed '/^dial shade/d; s/shade/gold/' home/home.gloam >fewer.gloam
cp home/home.gloam more.gloam
cp fewer.gloam home/home.gloam
fewer() { ! "$gloam" status --format json | grep -q '"shade"'; }
await 20 fewer
serve
until_retained gloam/lantern/online '^1$' && until_retained gloam/lantern/state plays
verdict $? "a lamp to come back to its broker: $(tail -n 3 out)"
no_shade() { [ -z "$(mosquitto_sub -p "$port" -t gloam/lantern/dials/shade -C 1 -W 1 2>/dev/null)" ]; }
await 20 no_shade && until_retained gloam/lantern/dials/rest '^5%$'
verdict $? "a dial that went while the broker was away to be no more: $(retained gloam/lantern/dials/shade)"
cp more.gloam home/home.gloam
until_retained gloam/lantern/dials/shade '^#'
verdict $? "a dial that comes again to be told"
# It goes while the lamp does not play: what the broker has of it goes at the next start.
end "$player"
cp fewer.gloam home/home.gloam
start
until_retained gloam/lantern/online '^1$'
await 5 no_shade && until_retained gloam/lantern/dials/rest '^5%$'
verdict $? "a dial that went while nobody was there to be no more: $(retained gloam/lantern/dials/shade)"
cp more.gloam home/home.gloam
until_retained gloam/lantern/dials/shade '^#'
verdict $? "that dial to be told again: $(retained gloam/lantern/dials/shade)"
await 20 dropped 2 && plays 'lantern: ' && ! plays 'level 30'
verdict $? "the retained act to be dropped after the broker's restart too: $(tail -n 3 out)"
# The broker may tell the will but a moment before the program is back.
listen gloam/lantern/online online
shown() { grep '^gloam/lantern/online ' online | cut -d ' ' -f 2 | tr -d '\n' | grep -qx "$1"; }
await 20 shown 1
helper=$(pgrep -P "$player" -x gloam-mqtt)
kill -KILL "$helper"
await 20 shown '10.*'
verdict $? "the last will of a program that is killed: $(grep ^gloam online)"
await 20 shown 101
verdict $? "it to be started again: $(grep ^gloam online)"

# Files.
cp home/home.gloam mine.gloam
sed 's/50%/40%/' mine.gloam >fresh.gloam
mosquitto_pub -p "$port" -q 1 -r -t gloam/files/home -f fresh.gloam
until_retained gloam/lantern/took '"taken":true'
verdict $? "a file to be taken: $(retained gloam/lantern/took)"
cmp -s home/home.gloam fresh.gloam
verdict $? "the home file to be that file"
# What is changed on the lamp afterwards stays, though the broker brings its file again.
cp mine.gloam home/home.gloam
end "$player"
start
until_retained gloam/lantern/online '^1$' && all_looked_at && cmp -s home/home.gloam mine.gloam
verdict $? "a file to be taken once"
echo 'lamp lantern {' | mosquitto_pub -p "$port" -q 1 -r -t gloam/files/home -s
until_retained gloam/lantern/took '"taken":false'
verdict $? "a file that is wrong to be refused with its place: $(retained gloam/lantern/took)"
retained gloam/lantern/took | grep -q '"says":"home:1:14: ' && grep -q 'the file home is not taken: home:1:14: ' out
verdict $? "the first mistake to be told, placed in the file as it was sent: $(retained gloam/lantern/took)"
echo 'routine glow { paint gold }' | mosquitto_pub -p "$port" -q 1 -r -t gloam/files/home -s
told_anew() { ! is_retained gloam/lantern/took 'home:1:14: ' && is_retained gloam/lantern/took '"taken":false'; }
await 20 told_anew && cmp -s home/home.gloam mine.gloam
verdict $? "a file that the player refuses to be taken back"
# While another program keeps a text, as the page does, the broker's waits.
exec 9<home
flock -n 9
sed 's/50%/30%/' mine.gloam >waits.gloam
mosquitto_pub -p "$port" -q 1 -r -t gloam/files/home -f waits.gloam
sleep 1.2
cmp -s home/home.gloam mine.gloam
verdict $? "a file to wait while another text is being kept: $(retained gloam/lantern/took)"
exec 9<&-
until_retained gloam/lantern/took '"taken":true' && cmp -s home/home.gloam waits.gloam
verdict $? "it to be taken then: $(retained gloam/lantern/took)"
cp mine.gloam home/home.gloam
sleep 0.5
echo 'let broken = gold *' >home/tones.gloam
echo 'use "tones.gloam"' | mosquitto_pub -p "$port" -q 1 -r -t gloam/files/home -s
until_retained gloam/lantern/took '"says":"tones.gloam:1:'
verdict $? "a mistake in a file beside it to be told without this machine's folders: $(retained gloam/lantern/took)"
# Two of them while the player answers for neither: what it has taken comes back.
refused=$(grep -c 'the file home is not taken' out)
kill -STOP "$player"
for name in home second; do
    echo "routine glow { paint gold } // $name" | mosquitto_pub -p "$port" -q 1 -r -t "gloam/files/$name" -s
done
sleep 0.5
kill -CONT "$player"
both() { grep -q 'the file second is not taken' out && [ "$(grep -c 'the file home is not taken' out)" -gt "$refused" ]; }
await 6 both && cmp -s home/home.gloam mine.gloam
verdict $? "two files that the player refuses to leave what it plays: $(cat home/home.gloam) $(tail -n 4 out)"
{ cat mine.gloam && head -c 1100000 /dev/zero | tr '\0' ' '; } >huge
mosquitto_pub -p "$port" -q 1 -t gloam/files/home -f huge
until_retained gloam/lantern/took 'larger than 1 MiB' && cmp -s home/home.gloam mine.gloam
verdict $? "a file that is too large to be refused with its reason: $(retained gloam/lantern/took)"
fresh=$(cat fresh.gloam)
publish gloam/files/other "$fresh" -r
all_looked_at && cmp -s home/home.gloam mine.gloam
verdict $? "a file that is meant for others to be left"

# A file of user and password that is empty is told once, and read when there is something in it.
end "$player"
until_retained gloam/lantern/online '^0$'
: >users
start --broker-file "$work/users"
await 5 grep -q 'no user and password' out
sleep 1.5
printf 'baker\nbread\n' >users
until_retained gloam/lantern/online '^1$' && [ "$(grep -c 'no user and password' out)" -eq 1 ]
verdict $? "a file without a user to be told once, and read again: $(tail -n 3 out)"

# A broker that knows other people: told once, however often it is tried.
end "$player"
end "$serving"
printf 'listener %s 127.0.0.1\nallow_anonymous false\n' "$port" >broker.conf
: >out
serve && start
refused() { [ "$(grep -c 'not authorised' broker.log)" -ge 3 ]; }
await 60 refused
verdict $? "a refused lamp to try again: $(tail -n 3 broker.log)"
grep -qi 'broker 127.0.0.1' out && [ "$(grep -ci 'broker 127.0.0.1' out)" -le 3 ]
verdict $? "that the broker refuses to be told once: $(cat out)"
close_sum
