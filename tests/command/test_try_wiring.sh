#!/bin/sh
# gloam try-wiring: the bytes of each step, the supply, the terminal, what goes wrong. Orders of
# channels are those of the chips' data sheets (spec/wire.md).
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/command.sh
gives() { # STATUS WORDS OPTION...
    status=$1 words=$2
    shift 2
    "$gloam" try-wiring "$@" >out 2>&1 </dev/null
    got=$?
    [ "$got" -eq "$status" ] && grep -q -- "$words" out
    verdict $? "status $status and \`$words\` for \`try-wiring $*\`, not $got: $(tail -n 3 out)"
}
gives 2 'which lamp?'
gives 2 'which lamp?' --chip ws2812b --pixels 16
gives 1 'no chip `nochip`' --chip nochip --port /dev/spidev0.0 --pixels 16
gives 1 'no port' --chip ws2812b --port nowhere --pixels 16
gives 1 'order' --chip ws2812b --port /dev/spidev0.0 --pixels 16 --order grr
gives 2 'is no word' --chip 'ws2812b }' --port /dev/spidev0.0 --pixels 16
gives 3 '/dev/spidev97.0' --chip ws2812b --port /dev/spidev97.0 --pixels 16
gives 2 '--every takes DURATION' --every soon --chip ws2812b --port /dev/spidev0.0 --pixels 16
cat >home.gloam <<'H'
lamp lantern { pixels 16 shape ring chip sk6812w port "/dev/spidev97.0" supply 5V 0.2A }
lamp window { pixels 60 shape strip }
H
gives 2 'which lamp of the file' home.gloam
gives 1 'has no port' --lamp window home.gloam
gives 2 'leave out --chip' --lamp window --chip ws2812b home.gloam

# Steps of a second each: frame 0 dark, 25 red, 50 green, 75 blue, 100 the white parts.
gives 0 '1. dark' --lamp lantern --every 1s -o csv:steps.csv home.gloam
pixel() { # FRAME PIXEL: red,green,blue,white
    awk -F, -v f="$1" -v p="$2" '$1 == f && $3 == p { print $4 "," $5 "," $6 "," $7 }' steps.csv
}
at() { # FRAME PIXEL WANTED
    [ "$(pixel "$1" "$2")" = "$3" ]
    verdict $? "frame $1, pixel $2 to be $3, not $(pixel "$1" "$2")"
}
at 0 0 0,0,0,0
at 25 0 64,0,0,0
at 49 15 64,0,0,0
at 50 7 0,64,0,0
at 75 7 0,0,64,0
case $(pixel 100 3) in 0,0,0,64) true ;; *) false ;; esac
verdict $? "the white parts alone to be lit: $(pixel 100 3)"
grep -q 'white part: ' out
verdict $? "a step for the white parts: $(cat out)"
# 16 pixels at 20 mA a channel (and 1 mA dark) would draw far more than 0.2 A.
awk -F, 'NR > 1 { if ($1 != f) { if (s > most) most = s; s = 0; f = $1 } s += ($4 + $5 + $6 + $7) / 255 * 0.02 + 0.001 }
    END { exit !(most > 0.15 && most <= 0.2 + 1e-9) }' steps.csv
verdict $? "no frame to draw more than the supply gives, by 20 mA a channel and 1 mA a pixel"
grep -q 'flashing can harm' out && grep -q 'fuse' out
verdict $? "the cautions to be told"
# Without a supply half an ampere is not passed.
"$gloam" try-wiring --chip ws2812b --port /dev/spidev0.0 --pixels 100 --every 1s -o csv:long.csv 2>out
awk -F, 'NR > 1 { if ($1 != f) { if (s > most) most = s; s = 0; f = $1 } s += ($4 + $5 + $6) / 255 * 0.02 + 0.001 }
    END { exit !(most > 0.4 && most <= 0.5 + 1e-9) }' long.csv
verdict $? "half an ampere at most where no supply is said"
! grep -q 'white part' out
verdict $? "no step for white parts that a chip has not"

# On a terminal: what somebody saw.
if command -v tmux >/dev/null 2>&1; then
    export TMUX_TMPDIR="$work"
    keys() { tmux -f /dev/null send-keys -t try "$@"; sleep 0.25; }
    tmux -f /dev/null new-session -d -s try -x 100 -y 40 "sh"
    sleep 0.3
    sed 's,/dev/spidev97.0,e131:127.0.0.1,' home.gloam >network.gloam
    keys "$gloam try-wiring --lamp lantern $work/network.gloam >$work/said; echo ended \$? >>$work/said" Enter
    sleep 0.5
    keys Enter
    keys g Enter
    keys b Enter
    tmux -f /dev/null capture-pane -t try -p | grep -q '4. blue'
    verdict $? "a letter at a colour to be what was seen, and to go on: $(tmux -f /dev/null capture-pane -t try -p | tail -n 8)"
    keys r Enter
    tmux -f /dev/null capture-pane -t try -p | grep -q '5. white part'
    verdict $? "the next step to be shown"
    keys q Enter
    tries=20
    until grep -q ended said 2>/dev/null || [ "$tries" -eq 0 ]; do tries=$((tries - 1)); sleep 0.1; done
    # sk6812w: grbw. Red looked green, green blue, blue red: the slots are b, g, r, w.
    grep -qx 'write in the lamp: order bgrw' said && grep -qx 'ended 0' said
    verdict $? "the order to be told: $(cat said)"
    tmux -f /dev/null kill-session -t try
else
    skip "what is typed" "there is no tmux"
fi
close_sum
