#!/bin/sh
# What a lamp makes of light, at the command line: bytes of each kind of chip, supply, guard, and
# what `check` says of it (spec/light.md, spec/commands.md).
set -u
cd "$(dirname "$0")/../.."
. tests/support/command.sh
cat >lamps.gloam <<'TEXT'
lamp ring { pixels 12 shape ring chip ws2812b }
lamp fed { pixels 12 shape ring chip ws2812b supply 5V 200mA }
lamp half { pixels 12 shape ring chip ws2812b level 50% }
lamp warm { pixels 4 shape strip chip sk6812w die 4000K }
lamp fine { pixels 4 shape strip chip sk9822 }
lamp slow { pixels 4 shape strip chip apa102 }
lamp bare { pixels 12 shape ring flashes "I know that flashing can harm" }
lamp quick { pixels 12 shape ring chip ws2812b dither time }
routine full { paint white }
routine strobe { paint white | black every 100ms }
routine faint { paint white * 10.3% }
routine slide { paint #808080 * (0.05 -> 0.2 over 2s) }
routine neutral { paint 4000K * 60% }
TEXT
dump() { # LAMP ROUTINE OPTIONS...
    lamp=$1 routine=$2
    shift 2
    "$gloam" dump --lamp "$lamp" --routine "$routine" "$@" lamps.gloam 2>said
}
check() { # WHAT AWK-PROGRAM that exits 0 where it holds: of the rows behind the header
    [ "$(wc -l <out)" -gt 4 ] && sed 1d out | awk -F, "$2"
    verdict $? "$1: $(sed -n 2,4p out | tr '\n' ' ')$(cat said)"
}

# ---- columns ----
dump warm neutral --length 0s >out
[ "$(head -n 1 out)" = frame,seconds,pixel,red,green,blue,white ]
verdict $? "a column of the white part, not $(head -n 1 out)"
# Light of the die's own colour is the die's alone: 60 % is 153.
check "the white part to take all of its own colour" '{ bad += $4 || $5 || $6 || $7 != 153 } END { exit bad }'
dump fine faint --length 0s >out
[ "$(head -n 1 out)" = frame,seconds,pixel,red,green,blue,level ]
verdict $? "a column of the level, not $(head -n 1 out)"
# 10.3 % of 31 levels: the fourth; 0.103 * 255 * 31 / 4 = 203.55.
check "the smallest level that reaches" '{ bad += $7 != 4 || $4 < 203 || $4 > 204 } END { exit bad }'
dump slow faint --length 0s >out
check "the slow level to stay full" '{ bad += $7 != 31 || $4 < 26 || $4 > 27 } END { exit bad }'
dump warm neutral --length 0s --values light >out
[ "$(head -n 1 out)" = frame,seconds,pixel,red,green,blue ]
verdict $? "light without the lamp's columns"

# ---- level, dithering, supply ----
dump half full --length 0s --no-dither >out
check "half of the light" '{ bad += $4 != 128 } END { exit bad }'
dump ring faint --length 0s >out
# 26.265: of 12 pixels three are one up, 26.25 in the mean (within half a code of 12).
check "the fraction spread over the pixels" '{ s += $4; bad += $4 < 26 || $4 > 27 } END { exit bad || s != 12 * 26 + 3 }'
dump ring faint --length 0s --no-dither >out
check "no dithering" '{ bad += $4 != 26 } END { exit bad }'
dump fed full --length 0s >out
# 20 mA a channel and 1 mA a pixel (data sheets: chips.def) within 200 mA.
check "the supply to suffice" '{ i += 1 + 20 * ($4 + $5 + $6) / 255 } END { exit !(i <= 200 && i > 180) }'
check "one factor for all" '{ d = $4 - $5; e = $5 - $6; bad += d * d > 1 || e * e > 1 } END { exit bad }'

# ---- the flash guard ----
dump ring strobe --length 3s --fps 20 >out
# Changes to and fro whose darker end is below 0.8, counted from the last turning point; 0.11,
# since bytes are rounded.
check "the guard to let no more than six changes a second through" '
    $3 == 0 { y = $4 / 255
    if (!n++) turn = y
    if (way != 1 && y - turn >= 0.11 && turn < 0.799) { c[++k] = $2; way = 1; turn = y }
    if (way != -1 && turn - y >= 0.11 && y < 0.799) { c[++k] = $2; way = -1; turn = y }
    if (way == 1 && y > turn || way == -1 && y < turn) turn = y
    if (k > 6 && c[k] - c[k - 6] < 0.9999) bad = 1 } END { exit bad || k < 6 }'
dump bare strobe --length 3s --fps 20 >out
check "the strobe on the lamp that takes the guard off" '$3 == 0 { s += $4 } END { exit s != 255 * 30 }'
dump ring strobe --length 3s --fps 20 --values light >out
check "light before the guard" '$3 == 0 { s += $4 } END { exit s != 30 }'

# ---- dithering in time ----
dump quick slide --length 1s --fps 400 >out
cp out quick
dump ring slide --length 1s --fps 400 >out
! cmp -s out quick
verdict $? "codes that toggle where the lamp asks for it and the wire is fast enough"
dump quick slide --length 1s --fps 60 >out
cp out quick
dump ring slide --length 1s --fps 60 >out
cmp -s out quick
verdict $? "no dithering in time at 60 frames a second"
dump quick faint --length 100ms --fps 400 >out
check "no dithering in time on a still frame" '{ k = $3; if (seen[k]++ && v[k] != $4) bad = 1; v[k] = $4 } END { exit bad }'

# ---- check ----
"$gloam" check lamps.gloam >out 2>&1
verdict $? "no mistake"
for words in 'lamp ring: ring of 12, ws2812b; all at full about 0.73 A, dark 0.01 A' \
    'no `supply` is said' 'brighter frames are dimmed' 'fuse' 'level shifter' 'warm paper' \
    'flashing can harm' 'local codes' '`strobe` flashes: 20 changes in the second'; do
    grep -qF "$words" out
    verdict $? "check to say: $words"
done
"$gloam" check --costs lamps.gloam >out 2>&1
grep -A1 -F 'on ring, looked at for 10:00.000' out | grep -qF 'at most 0.732 A (at 0:00.000), mean 0.732 A'
verdict $? "720 mA and idle of a ring of 12 at full white"
echo 'routine full { paint white }' >lampless.gloam
"$gloam" check --costs lampless.gloam >out 2>&1
grep -A1 -F 'on a ring of 16 (20 mA a channel, 1 mA idle)' out | grep -qF 'at most 0.976 A (at 0:00.000), mean 0.976 A'
verdict $? "16 times 3 channels of 20 mA and 1 mA of a file without a lamp: $(cat out)"
"$gloam" check --costs lamps.gloam >out 2>&1
grep -qF 'dimmed to stay inside its supply' out
verdict $? "that a supply dims"
"$gloam" check --format json lamps.gloam | grep -q '"code": "flashes-too-often"'
verdict $? "the flashes in the JSON"
# ---- nights ----
cat >night.gloam <<'TEXT'
place 51.45, -2.59 zone "Europe/London"
routine ember { paint #ff3a00 * 2% }
routine feast { paint white }
at 20:00 play ember
at 23:00 on fri from 2026-12-04 until 2026-12-04 play feast until 04:00
until clock is set play off
TEXT
"$gloam" check --clock '2026-11-26 12:00' night.gloam >out 2>&1
grep -qF 'ember on a ring of 16: light 0.49 %' out && ! grep -q feast out
verdict $? "the ember of the week from November 26 on: $(cat out)"
"$gloam" check --clock '2026-12-01 12:00' night.gloam >out 2>&1
grep -qF '`feast` is played at night and holds up to 100 %' out
verdict $? "the feast of the week from December 1 on: $(cat out)"
# Before the clock is set nothing between two times of day holds: no ceiling is advised, there may be one.
cat >clockless.gloam <<'TEXT'
lamp lantern { pixels 16 shape ring }
routine glow { paint gold }
between 21:00 and 05:00 keep level under 2% on lamp lantern
until clock is set play glow
TEXT
"$gloam" check --clock '2026-11-26 12:00' clockless.gloam >out 2>&1
grep -qF '`glow` is played `until clock is set`, which may be at night and under no ceiling, and holds up to 70 %' out &&
    ! grep -qF 'or a ceiling' out
verdict $? "the routine of an unset clock: $(cat out)"
"$gloam" check --clock 'soon' night.gloam >out 2>&1
[ $? -eq 2 ]
verdict $? "a clock that is none to be a wrong call"

printf 'lamp shape { shape grid 8 by 8 }\nroutine a { paint gold }\n' >shape.gloam
"$gloam" check shape.gloam >out
[ "$(wc -l <out)" -eq 1 ]
verdict $? "no cautions for a lamp without hardware"
{
    echo 'lamp wall { shape grid 300 by 300 }'
    echo 'routine a { paint white * noise(x * 9, y * 9, t / 1s) }'
} >large.gloam
"$gloam" check large.gloam >out
grep -qF 'not all of it was looked at' out
verdict $? "that not all of a large lamp was looked at"
close_sum
