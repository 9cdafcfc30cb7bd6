#!/bin/sh
# Draws the lamps of shapes.md again: sh spec/guide/make_shape_drawings.sh [NAME...]
# Wants Debian's librsvg2-bin, pngquant and fonts-dejavu-core.
#
# A block behind `<!-- drawing: NAME OPTIONS -->` is a lamp; OPTIONS are those of shape_drawing.awk.
# Where a dot sits is what the program says in a dump; where the block has a routine, the dots show
# its light.
set -eu
cd "$(dirname "$0")/../.."
gloam=${BUILD:-build}/gloam
to=spec/guide/pictures
for tool in rsvg-convert:librsvg2-bin pngquant:pngquant; do
    command -v "${tool%:*}" >/dev/null || {
        echo "make_shape_drawings.sh: ${tool%:*} is missing: apt-get install ${tool#*:}" >&2
        exit 3
    }
done
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
cp spec/guide/*.csv "$work"
frame() { # FILE ROUTINE [TEXT]: one frame of linear light, of the routine or of one that says TEXT
    [ $# -eq 2 ] || { cp "$1" "$work/asked.gloam"; echo "routine $2 { paint $3 }" >>"$work/asked.gloam"; }
    "$gloam" dump --values light --length 0s --routine "$2" "$work/asked.gloam"
}
awk -v out="$work" '
    /^<!-- drawing: / { name = $3; $1 = $2 = $3 = $NF = ""; print name, $0 > (out "/list"); next }
    /^```/ { if (open) { open = 0; name = "" } else if (name) open = 1; next }
    open { print > (out "/" name ".gloam") }' spec/guide/shapes.md
while read -r name options; do
    case " ${*:-$name} " in *" $name "*) ;; *) continue ;; esac
    file=$work/$name.gloam
    frame "$file" places '#f00 * x + #0f0 * y + #00f * z' >"$work/places"
    frame "$file" around '#f00 * radius + #0f0 * (angle / 1turn) + #00f * pos' >"$work/around"
    light=
    routine=$(sed -n 's/^routine \([a-z_]*\).*/\1/p' "$file" | head -1)
    if [ -n "$routine" ]; then
        light=$work/light
        cp "$file" "$work/asked.gloam"
        frame "$file" "$routine" >"$light"
    fi
    struts=
    frequency=$(sed -n 's/.*shape ball \([0-9]*\).*/\1/p' "$file")
    if [ -n "$frequency" ]; then
        echo "lamp ball { shape ball $frequency }" >"$work/corners.gloam"
        frame "$work/corners.gloam" places '#f00 * x + #0f0 * y + #00f * z' >"$work/struts"
        struts="-v struts=$work/struts"
    fi
    title=$(sed -n 's/.*\(shape [^}]*[^} ]\).*/\1/p' "$file" | tr -s ' ' | sed 's/"/\&quot;/g')
    settings=
    for option in $options; do settings="$settings -v $option"; done
    # shellcheck disable=SC2086
    awk -v title="$title" $settings $struts -f spec/guide/shape_drawing.awk "$work/places" "$work/around" $light >"$work/$name.svg"
    rsvg-convert "$work/$name.svg" | pngquant 64 - >"$to/$name.png"
done <"$work/list"
