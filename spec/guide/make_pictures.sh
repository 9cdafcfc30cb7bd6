#!/bin/sh
# Draws the pictures of the guide again: sh spec/guide/make_pictures.sh
set -eu
cd "$(dirname "$0")/../.."
gloam=${BUILD:-build}/gloam
to=spec/guide/pictures
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
draw() { # NAME FILE OPTIONS...
    name=$1 file=$2
    shift 2
    "$gloam" picture --size 900x300 "$@" -o "$to/$name.png" "$file"
}
for name in hues single swell water embers; do
    draw $name examples/$name.gloam --length 40s
done
draw dawn examples/dawn.gloam
draw dusk examples/dusk.gloam --routine dusk
draw hello examples/hello.gloam --routine hello
draw clock examples/clock.gloam --length 12h --clock '2026-11-24 03:10'
draw moonring examples/moon.gloam --routine moonring --pixels 16 --length 720h --clock '2026-11-09 00:00'
draw rings examples/ball.gloam --length 40s
draw beacon examples/beacon.gloam --routine beacon --length 20s
printf 'routine eye { paint black -> gold along pos }\nroutine light {\n    let share = 0 -> 1 along pos\n    paint gold * share\n}\n' >"$work/even.gloam"
draw even-to-the-eye "$work/even.gloam" --routine eye --length 1s
draw even-in-light "$work/even.gloam" --routine light --length 1s
