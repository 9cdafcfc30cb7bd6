#!/bin/sh
# Every example is free of mistakes and of warnings, formatted, drawn, and the same twice.
set -u
cd "$(dirname "$0")/../.."
gloam=${BUILD:-build}/gloam
work=$(mktemp -d)
. tests/support/verdict.sh
for file in examples/*.gloam; do
    "$gloam" check "$file" >"$work/check" 2>&1
    verdict $? "$file to have no mistake: $(cat "$work/check")"
    ! grep -qE '^[^ ]*: (error|warning|note): ' "$work/check"
    verdict $? "$file to give no warning: $(cat "$work/check")"
    "$gloam" format --check "$file" 2>"$work/format"
    verdict $? "$file to be formatted"
    lamp=
    case $file in *home*) lamp="--lamp lantern" ;; esac
    for routine in $(sed -n 's/^routine \([a-z_]*\).*/\1/p' "$file"); do
        "$gloam" picture --routine "$routine" $lamp -o "$work/$routine.png" "$file" 2>"$work/said"
        verdict $? "a picture of $routine in $file: $(cat "$work/said")"
        "$gloam" dump --routine "$routine" $lamp --length 2s --fps 5 --start 7s "$file" \
            >"$work/one" 2>/dev/null
        "$gloam" dump --routine "$routine" $lamp --length 2s --fps 5 --start 7s "$file" \
            >"$work/two" 2>/dev/null
        [ -s "$work/one" ] && cmp -s "$work/one" "$work/two"
        verdict $? "the same frames of $routine in $file from the same command"
        "$gloam" compile -o "$work/code" "$file" && "$gloam" dump --routine "$routine" \
            --pixels 16 --length 2s --fps 5 --start 7s "$work/code" >"$work/three" 2>/dev/null
        "$gloam" dump --routine "$routine" --pixels 16 --length 2s --fps 5 --start 7s "$file" \
            >"$work/four" 2>/dev/null
        [ -s "$work/four" ] && cmp -s "$work/three" "$work/four"
        verdict $? "bytecode of $routine in $file to give the frames of its text"
    done
done

# The moon's lit share on a grid, counted in pixels, against the share that astronomy gives:
# tests/data/time/moon-illumination.csv (its source stands in it).
grid() { # CLOCK: lit share of the disc, in thousandths
    "$gloam" dump --routine moon --lamp window --clock "$1" --length 0s --values light examples/moon.gloam |
        awk -F, 'NR > 1 { if ($4 + 0 > 0.1) lit++; if ($4 + 0 > 0) disc++ } END { printf "%d", 1000 * lit / disc }'
}
ring() { # CLOCK: lit share of 100 pixels
    "$gloam" dump --routine moonring --pixels 100 --clock "$1" --length 0s examples/moon.gloam |
        awk -F, 'NR > 1 { sum += $4; if ($4 + 0 > full) full = $4 + 0 }
                 END { printf "%d", 10 * sum / (full ? full : 1) }'
}
rows=0
grep -v '^#' tests/data/time/moon-illumination.csv | sed -n '2,$p' | awk 'NR % 29 == 3' | head -n 12 >"$work/moons"
while IFS=, read -r utc rest; do
    clock=$(echo "$utc" | sed 's/T/ /; s/Z$//; s/\.[0-9]*$//')
    share=$(echo "$rest" | awk -F, -v c="${COLUMN:-1}" '{ printf "%d", 1000 * $c }')
    got=$(ring "$clock")
    [ $((got - share)) -le 15 ] && [ $((share - got)) -le 15 ]
    verdict $? "the ring at $clock to be lit by $share thousandths, got $got"
    # 256 pixels of a 16 by 16 grid: a pixel more or less along the edge of light is 16 of about 200.
    got=$(grid "$clock")
    [ $((got - share)) -le 80 ] && [ $((share - got)) -le 80 ]
    verdict $? "the grid at $clock to be lit by about $share thousandths, got $got"
    rows=$((rows + 1))
done <"$work/moons"
[ "$rows" -eq 11 ]
verdict $? "11 nights of the table, every 29th of its 303, read $rows"
rm -r "$work"
close_sum
