#!/bin/sh
# What the port sends, read by a signal analyser (sigrok-cli, as Debian has it): its decoders of
# pixels and of SPI give back the frames, and the times of all edges lie inside the data sheets.
# Takes about 20 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
base=${BUILD:-build}
if ! command -v sigrok-cli >/dev/null 2>&1; then
    skip "the wire" "there is no sigrok-cli (apt-get install sigrok-cli)"
    close_sum
    exit
fi
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
if ! make --no-print-directory -s "$base/tests/backends/wire_samples" >"$work/log" 2>&1; then
    cat "$work/log"
    verdict 1 "tests/backends/wire_samples to build"
    close_sum
    exit
fi

wire() { # CHIP PIXELS KILOHERTZ: $work/samples, $work/shown with a dark frame behind, $rate
    rate=$("$base/tests/backends/wire_samples" "$1" "$2" "$3" "$work/samples" "$work/shown") ||
        return 1
    columns=$(awk 'NR == 1 { print NF }' "$work/shown")
    awk -v pixels="$2" -v columns="$columns" 'BEGIN {
        for (i = 0; i < pixels; i++) for (k = 1; k <= columns; k++)
            printf "0%s", k < columns ? " " : "\n" }' >>"$work/shown"
}

analyse() { # LINES DECODER...
    lines=$1
    shift
    sigrok-cli -i "$work/samples" -I "binary:numchannels=$lines:samplerate=$rate" "$@"
}

# Windows in ns as the sheets have them: T0H T1H T0L T1L, least and most of each. Read: WS2812
# (2012-11-01), WS2812B (2013-10-31 and 2023-07), SK6812RGBW Rev 01 (2015-07-31). Second hand: the
# WS2812B's 0.4 and 0.8 us, WS2812B-2020, WS2812B-Mini V3.
ws2812_2012="200 500 550 850 650 950 450 750"
ws2812b_2013="200 500 750 1050 750 1050 200 500"
ws2812b_quoted="250 550 650 950 700 1000 300 600"
ws2812b_2020="220 380 580 1000 580 1000 220 420"
ws2812b_mini="220 380 580 1000 580 1000 580 1000"
ws2812b_2023="220 380 750 1600 750 1600 220 420"
sk6812w_2015="150 450 450 750 750 1050 450 750"

# Every pulse inside the windows; the bits that the windows tell are the frames, in the ORDER of the
# wire; a rest of 300 us or more behind each frame and nowhere else.
pulses() { # CHIP PIXELS KILOHERTZ ORDER WINDOWS...
    name="$1 at $3 kHz, $2 pixels"
    order=$4 pixels=$2
    if ! wire "$1" "$2" "$3"; then
        verdict 1 "$name to be sent"
        return
    fi
    shift 4
    analyse 1 -P timing:data=0:avg_period=0 -A timing=time --protocol-decoder-samplenum >"$work/edges"
    awk -v order="$order" '{ for (i = 1; i <= length(order); i++)
        print $index("rgbw", substr(order, i, 1)) }' "$work/shown" >"$work/wanted"
    for windows in "$@"; do
        awk -v windows="$windows" -v rate="$rate" -v bytes="$((pixels * ${#order}))" '
            function inside(time, k) { return time >= w[k] - 1e-6 && time <= w[k + 1] + 1e-6 }
            function bit(value) {
                byte = 2 * byte + value
                if (++bits % 8 == 0) { print byte; byte = 0; sent++ }
            }
            BEGIN { split(windows, w, " ") }
            {
                split($1, at, "-")
                time = (at[2] - at[1]) * 1e9 / rate
                if (NR % 2) { high = time; next }
                last = time > 50000
                if (last && (time < 300000 || sent + (bits % 8 == 7) - before != bytes)) bad++
                if (inside(high, 1) && (last || inside(time, 5))) bit(0)
                else if (inside(high, 3) && (last || inside(time, 7))) bit(1)
                else bad++
                if (last) before = sent
            }
            END {
                # The last pulse of all has no edge behind it.
                if (NR % 2) { if (inside(high, 1)) bit(0); else if (inside(high, 3)) bit(1); else bad++ }
                if (bad) print bad " pulses or rests outside"
            }' "$work/edges" >"$work/read"
        cmp -s "$work/wanted" "$work/read"
        verdict $? "$name: every pulse inside $windows, and the frames: $(tail -n 1 "$work/read")"
    done
}

# The decoder of pixels takes 24 bits as green, red, blue, and a bit as 1 where it is high for more
# than half of its time; so it reads the patterns of the WS2812B, not those that are high for half.
decoded() { # CHIP PIXELS KILOHERTZ
    name="$1 at $3 kHz, $2 pixels, decoded"
    wire "$1" "$2" "$3" || : >"$work/shown"
    awk '{ printf "#%02x%02x%02x\n", $1, $2, $3 }' "$work/shown" >"$work/wanted"
    analyse 1 -P rgb_led_ws281x:din=0 -A rgb_led_ws281x=rgb | sed 's/.*: //' >"$work/read"
    [ -s "$work/wanted" ] && cmp -s "$work/wanted" "$work/read"
    verdict $? "$name to be the frames"
    rests=$(analyse 1 -P rgb_led_ws281x:din=0 -A rgb_led_ws281x=reset | wc -l)
    [ "$rests" -eq 3 ]
    verdict $? "$name to have 3 rests, not $rests"
}

# Data taken at the rising clock (mode 0): 4 zero bytes, 111 and 5 bits of level, blue, green, red of
# each pixel, 4 zero bytes, half a clock a pixel (cpldcpu.wordpress.com 2014-11-30, cpldcpu.com
# 2016-12, second hand).
clocked() { # CHIP PIXELS KILOHERTZ
    name="$1 at $3 kHz, $2 pixels"
    wire "$1" "$2" "$3" || : >"$work/shown"
    awk -v pixels="$2" '
        function zeros(n) { while (n-- > 0) print "00" }
        NR % pixels == 1 || pixels == 1 { zeros(4) }
        { printf "%02X\n%02X\n%02X\n%02X\n", 224 + $4, $3, $2, $1 }
        NR % pixels == 0 { zeros(4); zeros(int((pixels + 15) / 16)) }' "$work/shown" >"$work/wanted"
    analyse 2 -P spi:clk=1:mosi=0:cpol=0:cpha=0 -A spi=mosi-data | sed 's/.*: //' >"$work/read"
    [ -s "$work/wanted" ] && cmp -s "$work/wanted" "$work/read"
    verdict $? "$name: the bytes of the frames on the wire"
    # The decoder of pixels on SPI takes three bytes after the other as one colour.
    awk '{ three = three tolower($1) } NR % 3 == 0 { print "#" three; three = "" }' \
        "$work/wanted" >"$work/threes"
    analyse 2 -P spi:clk=1:mosi=0:cpol=0:cpha=0,rgb_led_spi -A rgb_led_spi=rgb | sed 's/.*: //' >"$work/read"
    cmp -s "$work/threes" "$work/read"
    verdict $? "$name, decoded, to be the frames"
}

for pixels in 1 16 60; do
    for clock in 3200 3158 3333 6400 2650; do
        pulses ws2812b $pixels $clock grb "$ws2812b_2013" "$ws2812b_quoted" "$ws2812b_2020" "$ws2812b_2023"
        decoded ws2812b $pixels $clock
    done
    for clock in 3200 3158 3636 6400; do pulses ws2812 $pixels $clock grb "$ws2812_2012"; done
    pulses ws2812 $pixels 3200 grb "$ws2812b_mini"
    for clock in 3200 2858 4000 6400; do
        pulses sk6812 $pixels $clock grb "$sk6812w_2015"
        pulses sk6812w $pixels $clock grbw "$sk6812w_2015"
    done
    clocked apa102 $pixels 4000
    clocked sk9822 $pixels 1000
done
decoded ws2812b 300 3200
clocked apa102 300 4000
# What must be told: the windows of another chip do not hold these pulses.
before=$failed
pulses ws2812b 16 3200 grb "$sk6812w_2015" >"$work/log"
told=$((failed - before))
failed=$before
[ "$told" -eq 1 ]
verdict $? "the pulses of a WS2812B to be outside the windows of the SK6812"
close_sum
