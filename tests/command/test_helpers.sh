#!/bin/sh
# The programs that `gloam run` starts: a stand-in of theirs, put where the real one would be, tells
# what it was given; it crashes, hangs, outlives its player or not. The network is loopback's.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/command.sh
mkdir -p bin libexec/gloam
cp "$gloam" bin/gloam
cat >home.gloam <<'H'
lamp lantern { pixels 16 shape ring chip ws2812b port "e131:127.0.0.1" supply 5V 1A level 30% }
routine ember { paint 1800K * 10% }
until clock is set play ember
at 19:00 play ember
H
# Tells its words and descriptors and when it came, asks the player, then does what `mode` says.
cat >libexec/gloam/gloam-page <<P
#!/bin/sh
echo "words \$*" >>"$work/log"
echo "process \$\$" >>"$work/log"
echo "came \$(date +%s%N)" >>"$work/log"
for n in 0 1 2 3 4 5 6 7 8 9; do [ -e /proc/\$\$/fd/\$n ] && echo "has \$n" >>"$work/log"; done
echo "passed \$(readlink /proc/\$\$/fd/4)" >>"$work/log"
echo "listen \${LISTEN_PID-}\${LISTEN_FDS-}\${LISTEN_FDNAMES-}" >>"$work/log"
echo status >&3
read -r answer <&3
echo "answer \$answer" >>"$work/log"
case \$(cat "$work/mode") in
crash) kill -SEGV \$\$ ;;
hang) trap '' TERM && echo deaf >>"$work/log" ;;
fail) exit 7 ;;
esac
while :; do sleep 0.2; done
P
chmod +x libexec/gloam/gloam-page
unset JOURNAL_STREAM NOTIFY_SOCKET RUNTIME_DIRECTORY
export XDG_RUNTIME_DIR="$work/runtime"
mkdir -m 700 runtime
begin() { # OPTION...: a player, as $player; what it says is in `out`, what its page tells in `log`
    : >log
    : >out
    bin/gloam run --state "$work/state.json" "$@" home.gloam >out 2>&1 &
    player=$!
}
ends() { # the player, by SIGTERM
    kill "$player"
    wait "$player"
}
# It answers once what it starts is started.
answers() { bin/gloam status | grep -q '^lantern: ember'; }
told() { grep -q -- "$1" out; }
started() { cat "/proc/$player/task/$player/children"; } # the processes that the player has started
alive() { # processes of the stand-in that are still there
    for process in $(sed -n 's/^process //p' log); do
        [ -e "/proc/$process" ] && ! grep -q '^State:.*Z' "/proc/$process/status" 2>/dev/null && echo "$process"
    done
}
logged() { grep -q "$1" log; }
logged_times() { [ "$(grep -c "$1" log)" -ge "$2" ]; }
nobody() { [ -z "$(alive)" ]; }

echo stay >mode
begin
await 20 logged '^answer'
[ -n "$(started)" ]
verdict $? "the page to be a process of the player: $(cat out)"
ends
logged "^words --home $work/home.gloam --state $work/state.json --listen \*:8080 --pairing code\$"
verdict $? "the page to be told home, state, where to listen, and pairing: $(head -n 1 log)"
logged '^answer done'
verdict $? "the page to have the player at descriptor 3"
for n in 4 5 6 7 8 9; do logged "^has $n" && break; done
[ $? -ne 0 ]
verdict $? "no other descriptor of the player to be handed on: $(grep '^has' log | tr '\n' ' ')"
await 20 nobody
verdict $? "the page to end with the player"
begin --page 127.0.0.1:8123 --pairing none --guests
await 20 logged '^words'
ends
logged '^words .*--listen 127.0.0.1:8123 --pairing none --guests$'
verdict $? "options of the page to reach it: $(head -n 1 log)"
# As sd_listen_fds(3) has it: descriptor 3 is open, for the process of that number.
: >log
sh -c 'LISTEN_PID=$$ LISTEN_FDS=1 LISTEN_FDNAMES=page exec bin/gloam run --state "$1" home.gloam' \
    sh "$work/state.json" 3</dev/zero >out 2>&1 &
player=$!
await 20 logged '^answer'
ends
logged '^words .*--listen fd:4 ' && logged '^passed /dev/zero$'
verdict $? "a socket that a service manager has opened to be handed on as descriptor 4: $(cat log)"
logged '^listen' && ! logged '^listen [^ ]'
verdict $? "what a service manager says to the player not to be said to the page: $(grep '^listen' log)"
# A link stays one: it may lead elsewhere later.
mkdir elsewhere
mv home.gloam elsewhere/winter.gloam
ln -s elsewhere/winter.gloam home.gloam
begin
await 20 logged '^words'
ends
rm home.gloam
mv elsewhere/winter.gloam home.gloam
logged "^words --home $work/home.gloam "
verdict $? "the page to be told the home file by its own name: $(head -n 1 log)"
begin --page none
await 20 answers && [ -z "$(started)" ] && [ ! -s log ]
verdict $? "--page none to start none: $(cat out log)"
ends

echo crash >mode
begin
await 60 logged_times '^came' 3
ends
# Not before; how much later is the machine's.
awk '$1 == "came" { at[++n] = $2 / 1e9 } END { exit !(n >= 3 && at[2] - at[1] >= 1 && at[3] - at[2] >= 2) }' log
verdict $? "a page that crashes to be started again after 1 s, then 2 s: $(grep '^came' log | tr '\n' ' ')"
[ "$(grep -c 'gloam-page was ended by signal 11' out)" -eq 1 ]
verdict $? "its crash to be told once: $(cat out)"
echo fail >mode
begin
await 20 told 'gloam-page ended with status 7'
verdict $? "its status to be told: $(cat out)"
ends

# Where whoever started the player ignores what becomes of children (POSIX keeps that over exec).
: >log
: >out
env --ignore-signal=SIGCHLD bin/gloam run --state "$work/state.json" home.gloam >out 2>&1 &
player=$!
await 20 told 'gloam-page ended with status 7'
verdict $? "its status to be told where SIGCHLD was ignored: $(cat out)"
# A second later, when the page is started again, an end that wakes it without end has done so often.
await 20 logged_times '^process' 2
kill -USR1 "$player"
await 20 told '^wakes'
ends
# But for files: what others put beside the folder of this test wakes it as well.
woken=$(awk '/^wakes/ { n = $2 + 0; if (match($0, / file [0-9]+/)) n -= substr($0, RSTART + 6); print n }' out)
[ "${woken:-999999}" -lt 40 ]
verdict $? "an end of the page to wake the player once, not $woken times in all: $(grep '^wakes' out)"

echo hang >mode
cp libexec/gloam/gloam-page libexec/gloam/gloam-mqtt
begin --broker broker.invalid
await 20 logged_times '^deaf' 2
began=$(date +%s%N)
ends
took=$((($(date +%s%N) - began) / 1000000))
rm libexec/gloam/gloam-mqtt
echo "measured: two that do not end to be killed: $took ms"
[ "$took" -ge 1000 ] && [ "$took" -lt 10000 ] && [ "$(grep -c '^process' log)" -eq 2 ] && await 20 nobody
verdict $? "two that do not end to be killed after a second: after $took ms, left $(alive)"
echo stay >mode
begin
await 20 logged '^answer'
kill -KILL "$player"
wait "$player" 2>/dev/null
await 20 nobody
verdict $? "the page to end where its player is killed: $(alive)"

# The stand-in is not there: what was asked for is said, the lamp plays.
rm libexec/gloam/gloam-page
begin --page 8123 --broker broker.invalid
await 20 told 'no page: gloam-page is not installed' && await 20 told 'no broker: gloam-mqtt is not installed'
verdict $? "what is not installed to be said: $(cat out)"
ends
begin
await 20 answers
kill -USR1 "$player"
await 20 told '^wakes'
ends
told '^wakes' && ! told 'gloam-page'
verdict $? "a page that nobody asked for to be missing in silence: $(cat out)"
bin/gloam --version | grep -q '^page: not installed$'
verdict $? "--version to say that there is no page: $(bin/gloam --version)"

gives() { # STATUS WORDS OPTION...
    status=$1 words=$2
    shift 2
    bin/gloam run "$@" home.gloam >out 2>&1
    got=$?
    [ "$got" -eq "$status" ] && grep -q -- "$words" out
    verdict $? "status $status and \`$words\` for \`run $*\`, not $got: $(cat out)"
}
gives 2 '--page takes a port' --page nowhere
gives 2 '--page takes a port' --page 70000
gives 2 '--page takes a port' --page :8080
gives 2 'for a lamp at a broker' --takes home
gives 2 'for a lamp at a broker' --as lantern
gives 2 '--as takes letters' --broker broker.invalid --as 'bad/id'
gives 2 '--as takes letters' --broker broker.invalid --as all
gives 3 'No such file' --broker broker.invalid --broker-file nowhere
gives 2 '--pairing takes' --pairing never
gives 2 'a page shows the present' --page 8080 --clock '2026-11-25 02:30' --output csv:-
close_sum
