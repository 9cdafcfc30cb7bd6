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
draw window examples/home.gloam --routine window_glow --lamp window --length 5min

# From the pages: the block behind `<!-- picture: NAME OPTIONS -->`.
for page in spec/guide/*.md; do
    awk -v out="$work" '
        /^<!-- picture: / { name = $3; $1 = $2 = $3 = $NF = ""; print name, $0; next }
        /^```/ { if (open) { open = 0; close(file); name = "" } else if (name) { open = 1; file = out "/" name ".gloam" } next }
        open { print > file }' "$page" >"$work/list"
    while read -r name options; do
        # shellcheck disable=SC2086
        draw "$name" "$work/$name.gloam" $options
    done <"$work/list"
done
