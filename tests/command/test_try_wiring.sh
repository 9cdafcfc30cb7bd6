#!/bin/sh
# gloam try-wiring: the bytes of each step, the supply, the terminal, what goes wrong. A quarter of the
# light is 0.25 * 255 = 64 (spec/commands.md); currents are reckoned with the figures of the chips'
# data sheets (spec/light.md, section 4): 20 mA a channel, 1 mA a dark pixel.
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
gives 2 'is no word' --chip ws2812b --port /dev/spidev0.0 --pixels 16 --supply '5V 2A // more'
gives 2 'name the file' --chip ws2812b --port /dev/spidev0.0 --pixels 16 --lamp lantern
gives 2 'takes terminal or csv:FILE' --chip ws2812b --port /dev/spidev0.0 --pixels 16 -o nowhere
gives 2 'no terminal' --chip ws2812b --port /dev/spidev0.0 --pixels 16 -o terminal
# 600 dark pixels draw more than the 0.5 A that are taken where nothing is said.
gives 1 '600 pixels draw 0.60 A while dark.*--supply' --chip ws2812b --port /dev/spidev0.0 --pixels 600 -o csv:none.csv
gives 3 '/dev/spidev97.0' --chip ws2812b --port /dev/spidev97.0 --pixels 16
gives 2 '--every takes DURATION' --every soon --chip ws2812b --port /dev/spidev0.0 --pixels 16
cat >home.gloam <<'H'
lamp lantern { pixels 16 shape ring chip sk6812w port "/dev/spidev97.0" supply 5V 0.2A }
lamp window { pixels 60 shape strip }
H
gives 2 'which lamp of the file' home.gloam
gives 1 'has no port' --lamp window home.gloam
gives 2 'leave out --chip' --lamp window --chip ws2812b home.gloam
gives 2 'leave out --chip' --pixels 16 home.gloam
gives 2 'no lamp `lantren`: `lantern`' --lamp lantren home.gloam
echo 'routine dusk { paint gold }' >bare.gloam
gives 1 'has no lamp' bare.gloam

# Steps of a second each: frame 0 dark, 25 red, 50 green, 75 blue, 100 the white parts, 125 the first
# pixel, 150 the last, from 175 on each for half a second, from 375 on the rise, 1 s more.
before=$(date +%s)
gives 0 '1 of 9, dark: all is dark' --lamp lantern --every 1s -o csv:steps.csv home.gloam
[ $(($(date +%s) - before)) -lt 20 ]
verdict $? "26 s as CSV without waiting"
pixel() { # FRAME PIXEL: red,green,blue[,white or level]
    awk -F, -v f="$1" -v p="$2" '$1 == f && $3 == p { sub(/^[^,]*,[^,]*,[^,]*,/, ""); print }' steps.csv
}
at() { # FRAME PIXEL WANTED
    [ "$(pixel "$1" "$2")" = "$3" ]
    verdict $? "frame $1, pixel $2 to be $3, not $(pixel "$1" "$2")"
}
dark() { # FRAME: pixels that are dark
    awk -F, -v f="$1" '$1 == f && $4 + $5 + $6 + $7 == 0' steps.csv | wc -l
}
at 0 0 0,0,0,0
at 25 0 64,0,0,0
at 49 15 64,0,0,0
at 50 7 0,64,0,0
at 75 7 0,0,64,0
at 100 3 0,0,0,64
at 125 0 64,64,64,0
at 150 15 64,64,64,0
walked=0
for place in 0 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15; do
    frame=$((175 + place * 25 / 2 + 1))
    [ "$(pixel $frame $place)" = 64,64,64,0 ] && [ "$(dark $frame)" = 15 ] && walked=$((walked + 1))
done
[ "$walked" = 16 ] && [ "$(dark 125)" = 15 ] && [ "$(dark 150)" = 15 ] && [ "$(dark 0)" = 16 ]
verdict $? "each pixel to be lit alone in its turn, not $walked of 16"
[ "$(tail -n 1 steps.csv | cut -d, -f1)" = 649 ]
verdict $? "26 s of frames: $(tail -n 1 steps.csv)"
grep -q 'white part: ' out && ! grep -q 'level: ' out
verdict $? "a step for the white parts: $(cat out)"
# All colours of 16 pixels at full draw 16 * (3 * 20 + 1) mA = 0.976 A, more than the 0.2 A of the
# supply; the rise takes ten seconds all the same, and never falls.
most() { # FILE LEAST MOST: amperes of the frame that draws most
    awk -F, -v least="$2" -v most="$3" 'NR == 1 { columns = NF; next }
        $1 != f { if (s > top) top = s; s = 0; f = $1 }
        { for (i = 4; i <= columns; i++) s += $i / 255 * 0.02; s += 0.001 }
        END { if (s > top) top = s; print top; exit !(top >= least && top <= most + 1e-9) }' "$1" >top
}
most steps.csv 0.17 0.2
verdict $? "no frame to draw more than the supply gives, and the last nearly as much, not $(cat top) A"
awk -F, '$3 == 0 && $1 >= 375 { fell += $4 < last; if ($1 == 500) half = $4; last = $4 }
    END { exit !(!fell && half > last / 2 - 2 && half < last / 2 + 2) }' steps.csv
verdict $? "a rise that never falls and is half done after half of the time"
grep -q 'flashing can harm' out && grep -q 'fuse' out
verdict $? "the cautions to be told"
sed 's/ supply 5V 0.2A//' home.gloam >unsaid.gloam
gives 0 'no frame draws more than 0.5 A here, estimated: `supply 5V 2A` in the lamp' --lamp lantern --every 1s -o csv:unsaid.csv unsaid.gloam
# Without a supply half an ampere is not passed, which is said.
"$gloam" try-wiring --chip ws2812b --port /dev/spidev0.0 --pixels 100 --every 1s -o csv:long.csv 2>out
most long.csv 0.4 0.5
verdict $? "half an ampere at most where no supply is said, not $(cat top) A"
grep -q "no frame draws more than 0.5 A here, estimated: --supply '5V 2A'" out && ! grep -q 'nothing limits' out && grep -q 'no supply is said: at most 0.50 A' out
verdict $? "that limit to be said: $(cat out)"
! grep -q 'white part: ' out
verdict $? "no step for white parts that a chip has not"
# What no port shows needs none.
gives 0 '1 of 8, dark' --chip ws2812b --pixels 16 --every 1s -o csv:portless.csv
[ "$(awk -F, '$1 == 25 && $3 == 15 { print $4 "," $5 "," $6 }' portless.csv)" = 64,0,0 ]
verdict $? "the light of a lamp without a port as CSV"
# A chip with a level, after blue: from 31 to 1 in 6.2 s.
gives 0 '5 of 9, level' --chip apa102 --port /dev/spidev0.0 --pixels 2 --every 1s -o csv:steps.csv
at 99 1 0,0,64,31
at 100 1 64,64,64,31
at 250 1 64,64,64,1
at 279 1 64,64,64,1
at 280 0 64,64,64,31
at 280 1 0,0,0,31
[ "$(awk -F, '$3 == 1 && $1 >= 100 && $1 < 280 { print $7 }' steps.csv | uniq | tr '\n' ' ')" = \
    "$(seq -s ' ' 31 -1 1) " ]
verdict $? "all 31 levels, one after the other"
# Whatever the file says, there is something to see: a level of 1 % is taken as 12.5 %, and a white part
# does not mix into the colours.
cat >dim.gloam <<'H'
lamp lantern { pixels 4 chip sk6812w die 3000K level 1% ends last flashes "I know that flashing can harm" }
H
gives 0 'dark' --every 1s -o csv:steps.csv dim.gloam
at 25 0 8,0,0,0
at 125 0 8,8,8,0
if [ -c /dev/full ]; then
    gives 3 'No space left' --lamp lantern -o csv:/dev/full home.gloam
fi

# Ends by signals, at a lamp in the network that nobody listens to: status 0.
sed 's,/dev/spidev97.0,e131:127.0.0.1,' home.gloam >network.gloam
told() { grep -q -- "$1" out; }
tries() { # SIGNAL: a try of that lamp, ended by it in its first step; its status is $got
    : >out
    # A shell has what it starts beside itself ignore SIGINT and SIGQUIT.
    env --default-signal=INT,QUIT "$gloam" try-wiring --lamp lantern network.gloam >out 2>&1 </dev/null &
    trying=$!
    await 20 told '1 of 9, dark'
    kill -s "$1" $trying
    wait $trying
    got=$?
}
for signal in INT TERM HUP QUIT; do
    tries $signal
    [ $got -eq 0 ] && told '1 of 9, dark'
    verdict $? "status 0 at SIG$signal, not $got: $(tail -n 1 out)"
done

# A player that runs is told of.
mkdir run
printf 'lamp shelf { pixels 4 port "e131:127.0.0.1" universe 9 }\nroutine dusk { paint gold * 1%% }\nat 19:30 play dusk\nuntil clock is set play dusk\n' >sea.gloam
export XDG_RUNTIME_DIR="$work/run"
"$gloam" run --page none --state sea.json sea.gloam >player 2>&1 &
player=$!
await 20 test -S run/gloam/player.socket
tries TERM
told 'a player runs on this machine.*systemctl stop gloam'
verdict $? "a player to be told of: $(cat out player)"
kill $player
wait $player
tries TERM
told '1 of 9, dark' && ! told 'a player runs'
verdict $? "nothing of a player that has ended: $(cat out)"
unset XDG_RUNTIME_DIR

# On a terminal: keys, what somebody saw, and the light itself.
if command -v tmux >/dev/null 2>&1; then
    export TMUX_TMPDIR="$work"
    keys() { tmux -f /dev/null send-keys -t try "$@"; }
    screen() { tmux -f /dev/null capture-pane -t try -p; }
    shows() { screen | grep -q -- "$1"; }
    says() { # WORDS WHAT
        await 20 shows "$1"
        verdict $? "$2 (\`$1\`): $(screen | grep . | tail -n 8)"
    }
    tmux -f /dev/null new-session -d -s try -x 120 -y 150 "env PS1='$ ' sh"
    says '^[$]' "a prompt"
    keys "$gloam try-wiring --lamp lantern $work/network.gloam >$work/said; echo ended \$? >>$work/said" Enter
    says '1 of 9, dark' "the first step"
    keys Enter
    says '2 of 9, red' "Enter to go on"
    keys Enter
    says '3 of 9, green' "Enter to go on"
    counts() { [ "$(screen | grep -c -- "$1")" -eq "$2" ]; } # WORDS NUMBER: so often on the screen
    keys b Enter
    await 20 counts '2 of 9, red' 2
    verdict $? "b to go back: $(screen | tail -n 12)"
    keys Enter
    await 20 counts '3 of 9, green' 2
    keys x Enter
    says 'Enter, b or q' "what may be typed"
    keys Enter
    says '4 of 9, blue' "Enter to go on"
    keys grg Enter
    says 'not r, g and b, each once' "letters that cannot be"
    await 20 counts '2 of 9, red' 3
    keys Enter
    await 20 counts '3 of 9, green' 3
    keys Enter
    await 20 counts '4 of 9, blue' 2
    # In the network channels are sent as red, green, blue, white. Red looked green, green blue and
    # blue red: so the first place is green, the second blue, the third red.
    keys gbr Enter
    says 'then it is .order gbrw.' "the order to be told, and tried at once"
    await 20 counts '2 of 9, red' 4
    keys Enter
    await 20 counts '3 of 9, green' 4
    keys Enter
    await 20 counts '4 of 9, blue' 3
    keys Enter
    says '5 of 9, white part' "the next step"
    keys q Enter
    await 20 grep -q ended said
    grep -qx 'write in the lamp: order gbrw' said && grep -qx 'ended 0' said
    verdict $? "the order to be told at the end: $(cat said)"
    keys "clear; $gloam try-wiring -o terminal --lamp lantern $work/home.gloam 2>$work/err; echo ended \$?" Enter
    says '1 of 9, dark  *all is dark .*Enter on' "a step on the screen"
    keys Enter
    says '2 of 9, red  *all 16 pixels are red' "Enter to go on, on the screen"
    keys Space
    says '3 of 9, green' "space to go on"
    keys b
    says '2 of 9, red' "b to go back"
    keys q
    says 'ended 0' "q to end"
    tmux -f /dev/null kill-session -t try
else
    skip "what is typed" "there is no tmux"
fi
close_sum
