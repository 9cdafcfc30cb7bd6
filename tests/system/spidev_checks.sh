# shellcheck shell=sh
# The calls that a strip makes and what it says of what fails, read with `.` beside verdict.sh and wait.sh: ports
# in $dev that answer as spidev_answers.h does and list the calls in $work/log, and $client, the
# program strip_client.
client() { "$client" "$dev/$1" "$2" "$3" >"$work/said" 2>&1; }
released() { # the file hears of the end a little after the client has ended
    await 20 grep -q release "$work/log"
}
zeros() { printf "%0$((2 * $1))d" 0; }

# By hand: 00 FF 80 on a wire of green, red, blue, each bit 1000 or 1110; 300 us at 3.2 MHz are 120
# bytes; then the same place dark.
client spidev0.0 ws2812b 1
verdict $? "a strip of one pixel to be driven: $(cat "$work/said")"
released
{
    printf 'open\nmode 0\nbits 8\nspeed 3200000\n'
    echo "message 3200000 0088888888EEEEEEEEE8888888$(zeros 120)"
    echo "message 3200000 00888888888888888888888888$(zeros 120)"
    echo release
} >"$work/wanted"
diff "$work/wanted" "$work/log"
verdict $? "these calls and bytes of a one-wire strip (<), not those (>)"

# Blue, green, red behind 111 and 31; dark. Without levels all pixels are at 31.
: >"$work/log"
client spidev0.0 apa102 1
verdict $? "a clocked strip of one pixel to be driven: $(cat "$work/said")"
released
{
    printf 'open\nmode 0\nbits 8\nspeed 4000000\n'
    echo "message 4000000 00000000FF8000FF0000000000"
    echo "message 4000000 00000000FF0000000000000000"
    echo release
} >"$work/wanted"
diff "$work/wanted" "$work/log"
verdict $? "these calls and bytes of a clocked strip (<), not those (>)"

fails() { # FILE CHIP PIXELS WORDS: a sentence that has the words
    client "$1" "$2" "$3"
    [ $? -eq 1 ] && grep -q "$4" "$work/said"
    verdict $? "a strip at $1 to fail with \`$4\`, not: $(cat "$work/said")"
}
# 331 pixels are 1 + 331 * 12 + 120 = 4093 bytes, one more are 4105.
client spidev0.0 ws2812b 331
verdict $? "331 pixels to fit the driver: $(cat "$work/said")"
fails spidev0.0 ws2812b 332 '332 pixels need 4105 bytes.*spidev.bufsiz=65536 '
fails spidev0.1 ws2812b 2 'did not send a frame'
fails spidev0.2 ws2812b 2 'you may not use the port'
fails spidev0.3 ws2812b 2 'has a clock of 1000 kHz'
fails spidev0.4 ws2812b 2 'no SPI controller stands behind the port'
fails spidev0.9 ws2812b 2 'there is no port'
client spidev0.3 apa102 2
verdict $? "a clocked strip to take the slower clock: $(cat "$work/said")"
