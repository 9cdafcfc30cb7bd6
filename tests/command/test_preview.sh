#!/bin/sh
# The preview from end to end in a terminal of tmux: screen, keys, size, signals, colours; and what
# it does where there is no terminal.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/command.sh
tmux="tmux -L gloam-test-$$ -f /dev/null"
trap '$tmux kill-server 2>/dev/null; rm -rf "$work"' EXIT
cat >"$work/two.gloam" <<'TEXT'
routine hues { paint oklch(75%, 0.12, angle + t / 30s * 1turn) }
routine rest { paint red }
TEXT

is() { # GOT WANTED WHAT
    [ "$1" = "$2" ]
    verdict $? "$3: \`$2\`, not \`$1\`"
}

# ---- without a terminal ----
"$gloam" preview "$work/two.gloam" </dev/null >"$work/lines" 2>"$work/said"
verdict $? "lines instead of a preview: $(cat "$work/said")"
is "$(wc -l <"$work/lines")" 10 "a title and nine moments"
grep -q "$(printf '\033')" "$work/lines"
is $? 1 "no sequences where there is no terminal (grep's status)"
"$gloam" preview --colour always "$work/two.gloam" </dev/null >"$work/lines"
grep -q "$(printf '\033')" "$work/lines"
verdict $? "colours where they are asked for"
# A timetable: a day, what plays and why. `daybreak` is over at 03:10, so it is 20 minutes in at 03:00.
cat >"$work/home.gloam" <<'TEXT'
place 51.45, -2.59 zone "Europe/London"
routine daybreak lasts 30min { paint black -> 2700K throughout }
routine glow { paint red }
routine hues { paint oklch(75%, 0.12, t / 30s * 1turn) }
by 03:10 on tue..sat play daybreak
at 04:00 play off
at 18:00 play glow
at 21:30 play hues
until clock is set play off
TEXT
"$gloam" preview --clock '2026-11-24 00:00' "$work/home.gloam" </dev/null >"$work/lines" 2>"$work/said"
verdict $? "lines of a timetable: $(cat "$work/said")"
is "$(sed -n 3p "$work/lines" | sed 's/  [^ ]*  / /')" "Tue 2026-11-24 03:00:00 daybreak, by 03:10" "what plays, and why"
is "$(sed -n 8p "$work/lines" | sed 's/  [^ ]*  / /')" "Tue 2026-11-24 18:00:00 glow, at 18:00" "what plays later"
if [ -c /dev/full ]; then
    "$gloam" preview "$work/two.gloam" >/dev/full 2>/dev/null </dev/null
    is $? 3 "status of a disk that is full"
fi
if ! command -v tmux >/dev/null; then
    echo "skipped: no tmux here, so nothing was tried in a terminal"
    echo "$passed passed, $failed failed, 1 skipped"
    exit $((failed > 0))
fi

# ---- in a terminal ----
keys() { $tmux send-keys -t 0 "$@"; }
flags() { $tmux display -t 0 -p '#{alternate_on} #{cursor_flag}'; }
screen() { $tmux capture-pane -t 0 -p; }
shows() { screen | grep -q -- "$1"; } # PATTERN
says() { # PATTERN WHAT
    await 20 shows "$1"
    verdict $? "$2: a screen with \`$1\`, not: $(screen | grep . | tail -n 3)"
}
flagged() { [ "$(flags)" = "$1" ]; } # FLAGS
waits() { # FLAGS WHAT
    await 20 flagged "$1"
    verdict $? "$2 (alternate screen, cursor): \`$1\`, not \`$(flags)\`"
}
start() { # ARGUMENTS of preview
    keys "clear; '$gloam' preview $* '$work/two.gloam'; echo ended \$?" Enter
    waits "1 0" "a preview that runs"
}
child() {
    shell=$($tmux display -t 0 -p '#{pane_pid}')
    awk '{ print $1 }' "/proc/$shell/task/$shell/children"
}
settled() { # WHAT: the terminal is as it was before
    waits "0 1" "$1"
    rm -f "$work/after"
    keys "stty -g >'$work/after'; echo set" Enter
    says '^\([$] \)*set$' "$1"
    cmp -s "$work/before" "$work/after"
    verdict $? "$1: the terminal's settings as before"
}

$tmux new-session -d -x 80 -y 24 "env -u NO_COLOR COLORTERM=truecolor PS1='$ ' sh"
says '^[$]' "a prompt"
keys "stty -g >'$work/before'; echo ready" Enter
says '^\([$] \)*ready$' "a shell"

start
says 'hues .*0:0' "the routine's name and time"
$tmux capture-pane -t 0 -e -p | grep -q '38;2;'
verdict $? "24-bit colours"
keys Space
says paused "space to pause"
one=$(screen | tail -n 1)
sleep 0.3
is "$(screen | tail -n 1)" "$one" "a pause"
keys Right Right Right Right Right Right Right Right Right
keys Up
says '0:[12][0-9].*paused' "arrows to seek"
keys + +
says '5x' "+ to go faster"
keys -
says '2x' "- to go slower"
$tmux resize-window -t 0 -x 50 -y 16
below() { [ "$(screen | wc -l)" -eq 16 ] && screen | tail -n 1 | grep -q 'hues.*paused'; }
await 20 below
verdict $? "the status in the last of 16 rows of a smaller window: $(screen | wc -l) rows, $(screen | tail -n 1)"
$tmux resize-window -t 0 -x 80 -y 24
keys Space n
says 'rest .*still' "n for the next routine, which is still"
# A still routine sleeps: within 20 s there is one in which it does not wake.
pid=$(child)
woken() { awk '/^voluntary/ { print $2 }' "/proc/$pid/status"; }
asleep() {
    before=$(woken)
    sleep 1
    [ -n "$before" ] && [ "$(woken)" = "$before" ]
}
await 1 asleep
verdict $? "a second without a wake-up while still"
keys q
says 'ended 0' "q to end"
settled "after q"

# The timetable: sped up, scrubbed, left and come back to.
keys "clear; '$gloam' preview --clock '2026-11-24 02:54:58' '$work/home.gloam'; echo ended \$?" Enter
waits "1 0" "a preview of a timetable"
says 'daybreak, by 03:10.*2026-11-24 02:55:0' "what plays, why, and the clock on the wall"
keys Space
says paused "space to pause the timetable"
keys Up Up
says '02:55:[12]' "arrows to go on in the timetable"
keys Down Down Down Down
says '02:54:[34]' "arrows to go back before the beginning"
keys n
says 'daybreak .*of 30:00' "n to leave the timetable"
keys n n n
says 'daybreak, by 03:10.*2026-11-24' "n to come back to it"
keys q
says 'ended 0' "q to end the timetable"
settled "after the timetable"
# At rest the clock goes on, a wake-up or two a second; the light is not made anew.
keys "clear; '$gloam' preview --clock '2026-11-24 18:00:02' '$work/home.gloam'; echo ended \$?" Enter
waits "1 0" "a preview of a timetable at rest"
says 'glow, at 18:00.*18:00:\(0[4-9]\|[1-5]\).*still' "the clock to go on while nothing moves"
pid=$(child)
before=$(woken) began=$(date +%s)
says '18:00:[1-5]' "the clock to go on"
woken=$(($(woken) - before)) took=$(($(date +%s) - began + 1))
[ "$woken" -ge 1 ] && [ "$woken" -le $((5 * took)) ]
verdict $? "a few wake-ups a second at rest, not $woken in $took s"
keys q
settled "after the timetable at rest"

for signal in INT TERM HUP QUIT SEGV ABRT; do
    start
    kill -s $signal "$(child)"
    # A shell gives up the rest of a line whose command an interrupt ended.
    [ $signal = INT ] || says 'ended 1[0-9][0-9]' "the end by $signal"
    settled "after $signal"
done

# sh as an interactive shell has job control.
start
keys C-z
waits "0 1" "while it is stopped"
keys "stty -g >'$work/after'; echo stopped" Enter
says '^\([$] \)*stopped$' "a shell while it is stopped"
cmp -s "$work/before" "$work/after"
verdict $? "the terminal's settings while it is stopped"
keys "fg" Enter
waits "1 0" "after fg"
keys q
settled "after fg and q"

keys "clear; NO_COLOR=1 '$gloam' preview '$work/two.gloam'" Enter
waits "1 0" "a preview without colours"
says '[-=+*#%@]' "letters"
$tmux capture-pane -t 0 -e -p | grep -q '\[[34]8;'
is $? 1 "no colours with NO_COLOR (grep's status)"
keys q
settled "after a preview without colours"

keys "clear; '$gloam' preview --length 1s '$work/two.gloam' </dev/null; echo ended \$?" Enter
waits "1 0" "a preview without keys"
says 'ended 0' "a preview that ends by itself"
settled "after a preview without keys"

close_sum
