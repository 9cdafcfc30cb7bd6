#!/bin/sh
# gloam run: its frames are those of dump, a file that changes, signals, wrong files, real time.
set -u
cd "$(dirname "$0")/../.."
. tests/support/command.sh
export HOME="$work" TZ=UTC
unset NOTIFY_SOCKET WATCHDOG_USEC JOURNAL_STREAM STATE_DIRECTORY XDG_STATE_HOME RUNTIME_DIRECTORY XDG_RUNTIME_DIR
cat >home.gloam <<'TEXT'
place 51.45, -2.59 zone "Europe/London"
lamp lantern { pixels 16 shape ring chip sk6812w die 3000K supply 5V 1A port "/dev/spidev9.9" }
lamp window {
    pixels 20 shape strip chip apa102 level 60%
    part left 0..9
}
lamp glimmer { pixels 12 chip ws2812b dither time }
routine daybreak lasts 30min { paint black -> 2700K throughout }
routine nightlight { paint #ff3a00 * 2% }
routine glow { paint #c46a1a -> 2700K along pos * 60% + 20% * noise(pos * 3, t / 20s) }
by 03:10 on tue..sat play daybreak on lamp lantern
by 03:10 on tue..sat play daybreak on lamp glimmer
at 04:00 play off on lamp lantern fading 2min
at 03:09 play glow on lamp window
at 03:10 play nightlight on lamp window part left for 10s fading 2s
between 21:00 and 03:09 keep level under 10% on lamp lantern
until clock is set play nightlight
TEXT
cat >sea.gloam <<'TEXT'
lamp lantern { pixels 4 }
routine sea { paint teal * 20% }
at 00:00 play sea
until clock is set play sea
TEXT
gives() { # STATUS PATTERN-OF-ERROR ARGUMENTS...
    wanted=$1 pattern=$2
    shift 2
    timeout 60 "$gloam" run "$@" >out 2>said </dev/null
    status=$?
    [ $status -eq "$wanted" ]
    verdict $? "status $wanted of \`gloam run $*\`, not $status: $(head -n 2 said)"
    if [ -n "$pattern" ]; then
        grep -q -- "$pattern" said
        verdict $? "\`gloam run $*\` to say \`$pattern\`, not: $(head -n 2 said)"
    fi
}
has() { grep -q -- "$1" said; }
shows() { tail -n 1 "$1" | grep -q -- "$2"; }

# ---- calls ----
gives 2 'which file'
gives 2 'try' --clock '2026-11-24 02:00' home.gloam
gives 2 'try' --length 10s home.gloam
gives 2 'takes terminal or csv:FILE' --output nowhere home.gloam
gives 2 'how much' --output csv:- --clock '2026-11-24 02:00' --lamp window home.gloam
gives 2 'no terminal' --output terminal home.gloam
gives 2 'needs a file' --output csv: home.gloam
gives 2 'standard input' -
gives 1 'is not there' --output csv:- missing.gloam
gives 1 'say which with --lamp' --output csv:- home.gloam
gives 2 'it has no lamp `nowhere`$' --output csv:- --lamp nowhere home.gloam
gives 2 'it has no lamp `lantren`: `lantern`?' --output csv:- --lamp lantren home.gloam
gives 1 'has no port' --lamp window home.gloam
gives 3 'spidev9.9' home.gloam
grep -q 'a supply of its own' said
verdict $? "the cautions once at the start: $(cat said)"

# ---- frames: those of dump; a frame that is left out is like the one before ----
compare() { # RUN DUMP WHAT
    awk -F, '
        FNR == 1 { next }
        { row = $0; sub(/^[^,]*,[^,]*,/, "", row) }
        NR == FNR { got[$1] = got[$1] row "\n"; when[$1] = $2; next }
        { if ($1 != n && n != "") check(); n = $1; if ($1 != old) { all = ""; old = $1 } all = all row "\n"; at = $2 }
        function check() {
            frames++
            if (n in got) {
                sent++
                if (got[n] != all || when[n] != at) bad++
                last = all
                delete got[n]
            } else if (all != last) bad++
        }
        END { check(); for (i in got) extra++
            print frames + 0, sent + 0, bad + 0, extra + 0 }' "$1" "$2" >sum
    read -r frames sent bad extra <sum
    [ "$frames" -gt 0 ] && [ "$sent" -gt 0 ] && [ "$bad" -eq 0 ] && [ "$extra" -eq 0 ]
    verdict $? "$3: $frames frames, $sent of them shown, $bad differ, $extra too many"
}
span() { # LAMP CLOCK LENGTH MORE...
    lamp=$1 clock=$2 length=$3
    shift 3
    gives 0 '' --output csv:run.csv --lamp "$lamp" --clock "$clock" --length "$length" "$@" home.gloam
    "$gloam" dump --lamp "$lamp" --clock "$clock" --length "$length" "$@" -o dump.csv home.gloam
    compare run.csv dump.csv "the frames of $lamp from $clock"
}
span lantern '2026-11-24 03:08:50' 90s
[ "$sent" -lt "$frames" ]
verdict $? "no frames while the dawn is over"
span lantern '2026-11-24 03:59:58' 130s
span window '2026-11-24 03:08:58' 90s
span lantern '2026-11-24 00:00' 24h --speed 60x --fps 2
span glimmer '2026-11-24 03:09:58' 4s --fps 380
[ "$(awk -F, 'NR > 1 { print $4 }' dump.csv | sort -u | wc -l)" -gt 1 ] && [ "$sent" -gt 700 ]
verdict $? "a light that is dithered in time: $sent frames"
span window '2026-03-29 00:30' 3h --speed 600x

# ---- real time ----
"$gloam" run --output csv:- --length 1s --lamp window home.gloam >out 2>said
verdict $? "a second of real time: $(cat said)"
frames=$(awk -F, '$3 == 0' out | wc -l)
[ "$frames" -ge 1 ] && [ "$frames" -le 61 ]
verdict $? "at most 61 frames in a second, not $frames"

# ---- signals, a changed file, the state ----
"$gloam" run --output csv:live.csv --state live.json sea.gloam >out 2>said &
player=$!
await 20 test -s live.csv
verdict $? "a first frame: $(cat said)"
gives 3 'another player' --output csv:- --state live.json sea.gloam
gives 2 'sea.gloam is the home file itself' --output csv:- --state sea.gloam sea.gloam
echo 'two strips, one lantern' >notes.txt
gives 2 'notes.txt is no state of a player' --output csv:- --state notes.txt sea.gloam
[ -s sea.gloam ] && [ "$(cat notes.txt)" = 'two strips, one lantern' ]
verdict $? "files that are no state to stay where they are"
: >said
kill -USR1 $player
await 20 has '^wakes'
verdict $? "SIGUSR1 to tell how it goes: $(cat said)"
sed 's/teal \* 20%/red/' sea.gloam >new && mv new sea.gloam
await 10 shows live.csv ',255,0,0$'
verdict $? "the changed file to be shown, after a fade: $(tail -n 1 live.csv)"
# On the way to red it gets less green from one to the next; a machine that is busy leaves some out.
awk -F, '$3 == 0 && $5 > 0 && $5 < last { steps++ } $3 == 0 { last = $5 } END { exit !(steps >= 3) }' live.csv
verdict $? "frames of a fade: $(awk -F, '$3 == 0' live.csv | wc -l) in all"
echo 'nonsense' >sea.gloam
await 20 has 'sea.gloam is not taken'
verdict $? "a wrong file to be told: $(cat said)"
shows live.csv ',255,0,0$'
verdict $? "what played to go on beside a wrong file"
sed 's/red/lime/' >sea.gloam <<'TEXT'
lamp lantern { pixels 4 }
routine sea { paint red }
at 00:00 play sea
until clock is set play sea
TEXT
kill -HUP $player
await 10 shows live.csv ',0,255,0$'
verdict $? "SIGHUP to take the file: $(tail -n 1 live.csv)"
kill -TERM $player
wait $player
verdict $? "status 0 at SIGTERM"
[ -s live.json.accepted ]
verdict $? "a copy of the file"

# ---- a wrong file at the start ----
echo 'nonsense' >sea.gloam
gives 0 'its copy that was right before plays' --output csv:copy.csv --length 500ms --state live.json sea.gloam
shows copy.csv ',0,255,0$'
verdict $? "the copy to play: $(tail -n 1 copy.csv)"
gives 1 'error' --output csv:- --length 500ms --state other.json sea.gloam

# ---- a port that is waited for ----
"$gloam" run --wait --state wait.json home.gloam >out 2>said &
player=$!
await 10 has 'it is waited for'
verdict $? "a port to be waited for: $(cat said)"
kill -INT $player
wait $player
verdict $? "status 0 at SIGINT while a port is waited for"

# ---- no place for the socket ----
cat >alone.gloam <<'TEXT'
lamp lantern { pixels 16 shape ring port "e131:127.0.0.1" universe 5 }
routine nightlight { paint #ff3a00 * 2% }
at 00:00 play nightlight
until clock is set play nightlight
TEXT
"$gloam" run --page none --state alone.json alone.gloam >out 2>&1 &
alone=$!
await 5 grep -q 'nobody can tell this player anything: XDG_RUNTIME_DIR names no folder.*export XDG_RUNTIME_DIR=/' out
verdict $? "a player without a place for its socket to say so: $(cat out)"
"$gloam" status >out 2>&1
[ $? -eq 2 ] && grep -q 'no player is found: .*XDG_RUNTIME_DIR' out
verdict $? "status without that folder not to say that no player runs: $(cat out)"
kill $alone && wait $alone
XDG_RUNTIME_DIR=$work/alone.gloam "$gloam" run --page none --state alone.json alone.gloam >out 2>&1 &
alone=$!
await 5 grep -q "no place for its socket, $work/alone.gloam/gloam/player.socket: " out
verdict $? "a player whose socket has no folder to say so: $(cat out)"
XDG_RUNTIME_DIR=$work/run "$gloam" status >out 2>&1
[ $? -eq 2 ] && grep -q 'no player runs on this machine' out
verdict $? "status with a folder that has no socket: $(cat out)"
kill $alone && wait $alone

# ---- two lamps on one port ----
# What goes to the same pixels would be shown by turns (spec/player.md); one file for several boards
# is no mistake, so `check` says nothing.
one_port() {
    cat >port.gloam <<TEXT
lamp lantern { pixels 171 port $1 }
lamp window { pixels 60 port $2 }
routine nightlight { paint #ff3a00 * 2% }
at 00:00 play nightlight
until clock is set play nightlight
TEXT
}
one_port '"e131:127.0.0.1" universe 7' '"e131:127.0.0.1" universe 8'
gives 1 '`lantern` and `window` have the same port and universe: `universe 9` in `window`' port.gloam
gives 0 '' --lamp window --output csv:- --length 100ms port.gloam
one_port '"/dev/spidev9.9"' '"/dev/spidev9.9"'
gives 1 '`lantern` and `window` have the same port: another in `window`, .*--lamp lantern' port.gloam
"$gloam" check port.gloam >out 2>&1
verdict $? "two lamps on one port to be right for \`check\`: $(cat out)"
# Universes 7 and 8 are of the first lamp: 171 pixels are one more than a universe has.
one_port '"e131:127.0.0.1" universe 7' '"e131:127.0.0.1" universe 9'
"$gloam" run --page none --state port.json port.gloam >out 2>&1 &
neighbour=$!
await 5 grep -q 'plays on 2 lamps' out
verdict $? "two lamps in different universes to play: $(cat out)"
kill $neighbour && wait $neighbour

# ---- two lamps at once, told through the socket ----
cat >two.gloam <<'TEXT'
lamp lantern { pixels 16 shape ring port "e131:127.0.0.1" universe 7 }
lamp window { pixels 60 port "e131:127.0.0.1" universe 8 }
routine nightlight { paint #ff3a00 * 2% }
routine hues { paint oklch(75%, 0.12, pos * 1turn + t / 30s * 1turn) * 10% }
at 00:00 play nightlight on lamp lantern
at 00:00 play hues on lamp window
until clock is set play nightlight
TEXT
mkdir run
XDG_RUNTIME_DIR=$work/run
export XDG_RUNTIME_DIR
"$gloam" run --state two.json two.gloam >out 2>said &
player=$!
await 10 test -S run/gloam/player.socket
verdict $? "a socket: $(cat said)"
"$gloam" play hues --lamp window --for 10min >out 2>err
verdict $? "an act of a running player: $(cat err)"
grep -q '^hues' out
verdict $? "what was done: $(cat out)"
frames_of() { sed -n "s/^$1: frames \([0-9]*\) rendered.*/\1/p" out; }
moves() { "$gloam" status >out 2>err && [ "$(frames_of window)" -gt 10 ]; }
await 20 moves
verdict $? "frames of the lamp that moves: $(cat out)"
grep -q '^lantern: nightlight' out && grep -q '^window: hues (by hand' out
verdict $? "what plays on both: $(cat out err)"
frames=$(frames_of lantern)
[ "${frames:-0}" -ge 1 ] && [ "$frames" -lt 5 ]
verdict $? "no frames of the lamp that rests: $(cat out)"
kept_alive() { "$gloam" status >out 2>err && grep -q '^wakes .*port' out; }
await 20 kept_alive
verdict $? "wakes by the network's keep-alive, counted: $(cat out)"
# One shape with a player and without; only what a player alone can tell is more (spec/commands.md).
members() { perl -MJSON::PP -0 -e 'print join " ", sort keys %{ decode_json(<STDIN>) }'; }
"$gloam" status --format json >out 2>err
with=$(members <out)
"$gloam" status --format json --home two.gloam --state none.json >out 2>err
without=$(members <out)
[ "$without" = "by_hand clock dials lamps undo" ] && [ "$with" = "by_hand clock dials kept lamps player taken trial undo wrong" ]
verdict $? "one shape of status: $with, and $without"
"$gloam" play nothing >out 2>err
[ $? -eq 1 ] && grep -q 'no routine' err
verdict $? "an act that is refused: $(cat err)"
"$gloam" skip --home two.gloam --state two.json >out 2>err
[ $? -eq 3 ] && grep -q 'another player' err
verdict $? "nobody else to change the state meanwhile: $(cat err)"
kill -TERM $player
wait $player
verdict $? "status 0 at SIGTERM with two lamps"
[ ! -e run/gloam/player.socket ]
verdict $? "no socket left behind"
grep -q '"routine": *"hues"' two.json
verdict $? "the act in the state: $(cat two.json)"
"$gloam" status >out 2>err
[ $? -eq 2 ]
verdict $? "status 2 where nobody runs: $(cat err)"
unset XDG_RUNTIME_DIR

# ---- a terminal ----
if command -v tmux >/dev/null; then
    tmux="tmux -L gloam-run-$$ -f /dev/null"
    $tmux new-session -d -x 80 -y 24 \
        "'$gloam' run --output terminal --lamp lantern --clock '2026-11-25 02:45' --speed 10x home.gloam; echo ended \$?; sleep 60"
    screen() { $tmux capture-pane -t 0 -p; }
    captioned() { screen | grep -q 'daybreak, by 03:10 *2026-11-25 02:[45]'; }
    await 10 captioned
    verdict $? "the lamp in the terminal, what plays, and its clock: $(screen | tail -n 3)"
    $tmux send-keys -t 0 C-c
    ended() { screen | grep -q 'ended 0'; }
    await 10 ended
    verdict $? "the end by a key: $(screen | head -n 3)"
    $tmux kill-server
    # What is said while light covers the terminal is below it, and there in full at the end.
    cp home.gloam spoken.gloam
    tmux="tmux -L gloam-said-$$ -f /dev/null" # a server of its own: the one before may still be ending
    $tmux new-session -d -x 80 -y 24 \
        "'$gloam' run --output terminal --lamp lantern --state spoken.json spoken.gloam; echo ended \$?; sleep 60"
    seen() { screen | grep -q "$1"; }
    await 20 seen '2[0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9] [0-9][0-9]:'
    echo 'routine {' >>spoken.gloam
    await 10 seen '^  spoken.gloam is not taken: what played goes on'
    verdict $? "the last sentence below the light: $(screen | tail -n 3)"
    ! seen '^gloam: '
    verdict $? "nothing to be painted over: $(screen)"
    $tmux send-keys -t 0 C-c
    await 10 seen 'ended 0'
    seen '^gloam: spoken.gloam is not taken' && seen '^ *routine {'
    verdict $? "all of it at the end: $(screen)"
    $tmux kill-server
else
    skip "a terminal" "there is no tmux"
fi

# ---- the usual place of the state ----
gives 0 '' --output csv:- --length 100ms --lamp window home.gloam
[ -d .local/state/gloam ] && [ -s .local/state/gloam/state.json.accepted ]
verdict $? "the state below ~/.local/state/gloam"
mkdir given
STATE_DIRECTORY=$work/given gives 0 '' --output csv:- --length 100ms --lamp window home.gloam
[ -s given/state.json.accepted ]
verdict $? "the state in STATE_DIRECTORY"
gives 0 '' --output csv:- --length 1s --clock '2026-11-24 02:00' --lamp window home.gloam
[ "$(ls -A given .local/state/gloam | grep -c new)" -eq 0 ]
verdict $? "nothing half-written"
close_sum
