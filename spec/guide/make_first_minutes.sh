#!/bin/sh
# Draws the picture of first-minutes.md again: sh spec/guide/make_first_minutes.sh
# Wants Debian's gnuplot-nox, pngquant and fonts-dejavu-core.
#
# The bytes are those of `gloam dump`; only the picture makes them visible: four steps of the chip are
# shown as the brightest.
set -eu
cd "$(dirname "$0")/../.."
gloam=${BUILD:-build}/gloam
for tool in gnuplot:gnuplot-nox pngquant:pngquant; do
    command -v "${tool%:*}" >/dev/null || {
        echo "make_first_minutes.sh: ${tool%:*} is missing: apt-get install ${tool#*:}" >&2
        exit 3
    }
done
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
dump() { "$gloam" dump --routine daybreak --lamp lantern --fps 0.5 --length 8min "$@" examples/home.gloam; }
dump --no-dither >"$work/rounded"
dump >"$work/spread"
dump --values light >"$work/light"
for way in rounded spread light; do
    awk -F, -v full="$([ $way = light ] && echo 1 || echo 255)" -v to="$work/$way" '
        # IEC 61966-2-1, as CSS Color 4 has it.
        function encoded(v) {
            v = v > 1 ? 1 : v
            return 255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ^ (1 / 2.4) - 0.055)
        }
        # CIE 15; weights of WCAG 2.2.
        function lightness(y) { return y > 216 / 24389 ? 116 * y ^ (1 / 3) - 16 : y * 24389 / 27 }
        function close_frame() { if (pixels) print minute, lightness(sum / pixels / full) > (to ".curve") }
        NR == 1 { next }
        $1 != frame { close_frame(); frame = $1; sum = 0 }
        {
            minute = $2 / 60; pixels = $3 + 1
            sum += 0.2126 * $4 + 0.7152 * $5 + 0.0722 * $6
            print minute, $3, encoded($4 / 4), encoded($5 / 4), encoded($6 / 4) > (to ".pixels")
        }
        END { close_frame() }' "$work/$way"
done
cat >"$work/plot" <<END
set terminal pngcairo size 900,520 background rgb "#16181d" font "DejaVu Sans,10" noenhanced
set output "$work/picture.png"
set border lc rgb "#4a5060"
set tics textcolor rgb "#c8c8c8" nomirror out scale 0.5
unset key
set multiplot
set xrange [0:8]
set xtics 0,2
set mxtics 2
set format x "%g min"
set lmargin at screen 0.07; set rmargin at screen 0.495
set tmargin at screen 0.88; set bmargin at screen 0.55
set yrange [15.5:-0.5]
set ytics (0, 4, 8, 12, 15)
set label 1 "each pixel rounded to the nearest step" at screen 0.07,0.945 font "DejaVu Sans Bold,12" textcolor rgb "#ffffff"
set label 2 "steps spread over the lamp" at screen 0.545,0.945 font "DejaVu Sans Bold,12" textcolor rgb "#ffffff"
set label 3 "pixel" at screen 0.062,0.91 right textcolor rgb "#c8c8c8"
plot "$work/rounded.pixels" using 1:2:3:4:5 with rgbimage
unset label
set lmargin at screen 0.545; set rmargin at screen 0.97
plot "$work/spread.pixels" using 1:2:3:4:5 with rgbimage
set tmargin at screen 0.40; set bmargin at screen 0.09
set lmargin at screen 0.07; set rmargin at screen 0.495
set yrange [0:3.5]
set ytics 0,1
set label 1 "light of the whole lamp, in L* (100: all white)" at screen 0.07,0.435 textcolor rgb "#c8c8c8"
set label 2 "grey: what the file asks for" at screen 0.545,0.435 textcolor rgb "#c8c8c8"
plot "$work/light.curve" with lines lw 5 lc rgb "#5a6275", "$work/rounded.curve" with lines lw 2 lc rgb "#f0a040"
unset label
set lmargin at screen 0.545; set rmargin at screen 0.97
plot "$work/light.curve" with lines lw 5 lc rgb "#5a6275", "$work/spread.curve" with lines lw 2 lc rgb "#f0a040"
unset multiplot
END
gnuplot "$work/plot"
pngquant 64 - <"$work/picture.png" >spec/guide/pictures/first-minutes.png
