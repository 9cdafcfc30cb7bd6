#!/bin/sh
# The real clock of the runtime while another program moves real time and nothing else: libfaketime
# with FAKETIME_DONT_FAKE_MONOTONIC=1 gives CLOCK_REALTIME alone an offset. The jumps that are
# expected are those that are written into its file.
# Takes about 30 s.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/verdict.sh
library=$(ls /usr/lib/*/faketime/libfaketime.so.1 2>/dev/null | head -n 1)
if [ -z "$library" ]; then
    skip "a clock that is set" "there is no libfaketime (package faketime)"
    close_sum
    exit $?
fi
base=${BUILD:-build}
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
if ! make --no-print-directory -s BUILD="$base" "$base/tests/player/see_clock" >"$work/log" 2>&1; then
    verdict 1 "see_clock to be built: $(tail -n 5 "$work/log")"
    close_sum
    exit 1
fi
jump() { # OFFSET FROM TO: what is seen of a jump from the offset of before to OFFSET, in seconds
    printf '%s\n' "$2" >"$work/offset"
    FAKETIME_TIMESTAMP_FILE=$work/offset FAKETIME_NO_CACHE=1 FAKETIME_DONT_FAKE_MONOTONIC=1 \
        LD_PRELOAD=$library "$base/tests/player/see_clock" "$work/offset" "$1" >"$work/seen" 2>&1
    verdict $? "see_clock to run: $(cat "$work/seen")"
    # Nothing else takes a second: it has neither to wait nor to compute.
    awk -v step="$3" '{ v[$1] = $2 } END {
        d = v["step"] / 1e6 - step
        exit !(v["first"] == 0 && v["still"] == 0 && v["stepped"] == (step != 0) && d * d < 1e-4 &&
            v["utc"] / 1e6 >= step && v["utc"] / 1e6 < step + 1 && v["monotonic"] > 0 &&
            v["monotonic"] < 1e6 && v["boottime"] > 0 && v["boottime"] < 1e6) }' "$work/seen"
    verdict $? "a jump of $3 s, seen by real time alone: $(tr '\n' ' ' <"$work/seen")"
}
jump +7200 +0 7200         # the network is back after a power cut of two hours
jump +0 +7200 -7200        # put back
jump +1 +0 1               # a second
jump +0 +0 0               # written, but the same
jump +1000000000 +0 1000000000 # past 2038
jump -86400 +86400 -172800 # by days
close_sum
