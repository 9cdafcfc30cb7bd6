#!/bin/sh
# What `gloam when` and the pictures of days say. Days worked out by hand beside each text; dates
# and instants of tests/data/time/recurrence.csv, sun-times.csv, tz-transitions.csv (their heads say
# where they are from); the calendar is read by icalendar, Debian's python3-icalendar.
set -u
cd "$(dirname "$0")/../.."
. tests/support/verdict.sh
gloam=$(cd "${BUILD:-build}" && pwd)/gloam
data=tests/data/time
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
unset COLUMNS NO_COLOR
LONDON='place 51.5074, -0.1278 zone "Europe/London"'
cat >"$work/routines" <<'TEXT'
routine daybreak lasts 30min { paint black -> 2700K throughout }
routine dusk lasts 40min then nightlight { paint 2700K -> #ff3a00 * 2% throughout }
routine nightlight { paint #ff3a00 * 2% }
routine glow { paint 2700K * 5% }
until clock is set play off
TEXT
file() { # PLACE, the entries on standard input: $work/home.gloam
    { echo "$1"; cat "$work/routines" -; } >"$work/home.gloam"
}
when() { # OPTIONS: what is printed stands in $work/said
    "$gloam" when "$@" "$work/home.gloam" >"$work/said" 2>"$work/error"
}
same() { # WHAT: $work/said is $work/wanted
    diff "$work/wanted" "$work/said" >"$work/diff"
    verdict $? "$1 (<), not (>): $(cat "$work/diff" "$work/error")"
}

# -------- the weekend on which clocks go forward, London 2026 (tz-transitions.csv: at
# 2026-03-29T01:00:00Z 01:00 becomes 02:00) --------
grep -q '^Europe/London,2026-03-29T01:00:00Z,gap,' $data/tz-transitions.csv &&
    grep -q '^Europe/London,2026-10-25T01:00:00Z,overlap,' $data/tz-transitions.csv
verdict $? "the two changes of London in 2026 in tz-transitions.csv"
file "$LONDON" <<'TEXT'
by 03:10                 play daybreak
at 04:00                 play off
at 19:30                 play dusk
between 21:00 and 01:30  keep level under 10%
TEXT
# 03:10 BST is 02:10Z, half an hour earlier is 01:40Z. 01:30 does not exist; by the offset before
# it is 01:30Z (RFC 5545 section 3.3.5), which the clock shows as 02:30.
cat >"$work/wanted" <<'TEXT'
utc,local,lamp,routine,cause
2026-03-28T01:30:00Z,2026-03-28T01:30:00+00:00,,nightlight,between 21:00 and 01:30 is over
2026-03-28T02:40:00Z,2026-03-28T02:40:00+00:00,,daybreak,by 03:10
2026-03-28T04:00:00Z,2026-03-28T04:00:00+00:00,,off,at 04:00
2026-03-28T19:30:00Z,2026-03-28T19:30:00+00:00,,dusk,at 19:30
2026-03-28T20:10:00Z,2026-03-28T20:10:00+00:00,,nightlight,dusk is over
2026-03-28T21:00:00Z,2026-03-28T21:00:00+00:00,,nightlight,between 21:00 and 01:30 keep level under 10%
2026-03-29T01:30:00Z,2026-03-29T02:30:00+01:00,,nightlight,between 21:00 and 01:30 is over
2026-03-29T01:40:00Z,2026-03-29T02:40:00+01:00,,daybreak,by 03:10
2026-03-29T03:00:00Z,2026-03-29T04:00:00+01:00,,off,at 04:00
2026-03-29T18:30:00Z,2026-03-29T19:30:00+01:00,,dusk,at 19:30
2026-03-29T19:10:00Z,2026-03-29T20:10:00+01:00,,nightlight,dusk is over
2026-03-29T20:00:00Z,2026-03-29T21:00:00+01:00,,nightlight,between 21:00 and 01:30 keep level under 10%
TEXT
when --from 2026-03-28 --days 2 --format csv
same "the weekend of spring"
when --from 2026-03-29 --days 1
grep -q '^Sun 2026-03-29 .* clocks go forward: 01:00 becomes 02:00$' "$work/said" &&
    grep -q '^  02:30 .*01:30 does not exist: 02:30$' "$work/said"
verdict $? "the change of the clocks in the head of its day and at the moment that it moves: $(cat "$work/said")"
when --from 2026-03-28 --days 1
! grep -q 'clocks' "$work/said"
verdict $? "no change of the clocks on the day before"

# -------- the weekend on which they go back: 01:30 comes twice, the first counts (BST, 00:30Z);
# half an hour of exact time earlier is 00:00Z, which is 01:00 BST --------
file "$LONDON" <<'TEXT'
by 01:30                play daybreak until 01:45
at 06:30 on sat, sun    play glow for 2h
TEXT
cat >"$work/wanted" <<'TEXT'
utc,local,lamp,routine,cause
2026-10-24T00:00:00Z,2026-10-24T01:00:00+01:00,,daybreak,by 01:30
2026-10-24T00:45:00Z,2026-10-24T01:45:00+01:00,,,until 01:45 is over
2026-10-24T05:30:00Z,2026-10-24T06:30:00+01:00,,glow,at 06:30
2026-10-24T07:30:00Z,2026-10-24T08:30:00+01:00,,,for 2h is over
2026-10-25T00:00:00Z,2026-10-25T01:00:00+01:00,,daybreak,by 01:30
2026-10-25T00:45:00Z,2026-10-25T01:45:00+01:00,,,until 01:45 is over
2026-10-25T06:30:00Z,2026-10-25T06:30:00+00:00,,glow,at 06:30
2026-10-25T08:30:00Z,2026-10-25T08:30:00+00:00,,,for 2h is over
TEXT
when --from 2026-10-24 --days 2 --format csv
same "the weekend of autumn"
when --from 2026-10-25 --days 2
grep -q '^Sun 2026-10-25 .* clocks go back: 02:00 becomes 01:00$' "$work/said" &&
    grep -q '^  01:00 .*01:30 comes twice: the first' "$work/said"
verdict $? "the change back in the head of its day, and the first of two: $(cat "$work/said")"

# -------- rules with dates: the instants of recurrence.csv --------
# rule RULE FIRST DAYS ENTRY: what begins in those days is what the table has for the rule there.
rule() {
    name=$1 first=$2 days=$3
    file "$LONDON" <<TEXT
$4
TEXT
    last=$(date -u -d "$first + $days days" +%Y-%m-%d)
    sed -n "s/^$name,.*,\(20[0-9-]*\)T[0-9:]*,[a-z]*,\(20[0-9TZ:-]*\),20.*/\1 \2/p" $data/recurrence.csv |
        awk -v first="$first" -v last="$last" '$1 >= first && $1 < last { print $2 }' >"$work/wanted"
    when --from "$first" --days "$days" --format csv
    grep ',at ' "$work/said" | cut -d, -f1 >"$work/begins"
    mv "$work/begins" "$work/said"
    [ "$(wc -l <"$work/wanted")" -ge "$5" ]
    verdict $? "at least $5 instants of $name in the table, not $(wc -l <"$work/wanted")"
    same "the instants of $name"
}
rule R01 2026-03-23 19 'at 06:30 on weekdays except 2026-04-03, 2026-04-06 play glow for 1h' 13
rule R02 2026-03-21 23 'at 08:30 on weekends play glow for 1h' 8
rule R03 2024-02-25 15 'at 07:00 on days 1..1 of 2 from 2024-02-25 play glow for 1h' 8
rule R04 2026-02-25 14 'at 07:00 on days 1..1 of 2 from 2026-02-25 play glow for 1h' 7
rule R12 2026-03-28 3 'at 01:30 play glow for 1h' 3
rule R13 2026-10-24 3 'at 01:30 play glow for 1h' 3

# -------- a rota: days 1..4 of 8 from Monday 2026-03-02 are 2 to 5 March and 10 to 13 March --------
file "$LONDON" <<'TEXT'
at 08:30 on days 1..4 of 8 from 2026-03-02 play glow until 15:30
TEXT
when --from 2026-02-27 --days 16 --format csv
sed -n 's/^\([0-9-]*\)T08:30:00Z,.*,glow,at 08:30$/\1/p' "$work/said" | tr '\n' ' ' >"$work/begins"
echo '2026-03-02 2026-03-03 2026-03-04 2026-03-05 2026-03-10 2026-03-11 2026-03-12 2026-03-13 ' | tr -d '\n' >"$work/wanted"
mv "$work/begins" "$work/said"
same "the days of a rota"
when --from 2026-03-06 --days 4
[ "$(grep -c '^  nothing plays$' "$work/said")" -eq 3 ] && grep -q '^  00:00  -  *nothing plays yet$' "$work/said"
verdict $? "days on which nothing plays to be said: $(cat "$work/said")"

# -------- repeated moments: 07:00..21:00 every 1h are 15 a day, in the table one line --------
file "$LONDON" <<'TEXT'
at 22:00                  play off
at 07:00..21:00 every 1h  play glow for 2min
TEXT
when --from 2026-03-29 --days 1 --format csv
[ "$(grep -c ',glow,at 07:00..21:00 every 1h$' "$work/said")" -eq 15 ] &&
    [ "$(grep -c ',off,for 2min is over$' "$work/said")" -eq 15 ] &&
    grep -q '^2026-03-29T06:00:00Z,2026-03-29T07:00:00+01:00,' "$work/said" &&
    grep -q '^2026-03-29T20:02:00Z,2026-03-29T21:02:00+01:00,' "$work/said"
verdict $? "15 repeated moments and their ends: $(cat "$work/said")"
when --from 2026-03-29 --days 1
[ "$(grep -c '^  [0-9]' "$work/said")" -eq 3 ] &&
    grep -q '^  07:00  glow  at 07:00..21:00 every 1h; 15 times, the last at 21:00$' "$work/said"
verdict $? "one line for 15 moments, beside what stands and what comes: $(cat "$work/said")"

# -------- the sun: sun-times.csv, at most a minute off (within two degrees of the pole's day less
# exact: those days are not taken) --------
days=0
sed -n '/^[A-Z]/p' $data/sun-times.csv | grep ',2026-' >"$work/sun"
while IFS=, read -r town latitude longitude zone date state noon rises sets rest; do
    case $town in London | Quito | Tromso | Sydney | "New York") ;; *) continue ;; esac
    [ "$state" = normal ] || continue
    file "place $latitude, $longitude zone \"$zone\"" <<'TEXT'
at sunrise  play daybreak
at sunset   play dusk
TEXT
    when --from "$date" --days 1 --format csv
    for wanted in "$rises sunrise" "$sets sunset"; do
        got=$(sed -n "s/^\([^,]*\),.*,at ${wanted#* }\$/\1/p" "$work/said")
        off=$(($(date -u -d "${got:-1970-01-01}" +%s) - $(date -u -d "${wanted% *}" +%s)))
        [ $off -ge -60 ] && [ $off -le 60 ]
        verdict $? "$town $date ${wanted#* } at ${wanted% *}, not $got"
        days=$((days + 1))
    done
done <"$work/sun"
[ "$days" -eq 40 ]
verdict $? "40 times of the sun to be compared, not $days"
# Longyearbyen has neither on 2026-04-20 (sun_always_up) and 2026-11-25 (sun_always_down).
for day in 2026-04-20:'does not set' 2026-11-25:'does not rise'; do
    grep -q "^Longyearbyen,.*,${day%%:*},sun_always_" $data/sun-times.csv
    verdict $? "Longyearbyen ${day%%:*} in sun-times.csv"
    file 'place 78.2232, 15.6267 zone "Arctic/Longyearbyen"' <<'TEXT'
at sunrise - 30min not before 06:00 else 07:00 play daybreak
at sunset play glow
TEXT
    when --from "${day%%:*}" --days 1
    grep -q "the sun ${day#*:}\$" "$work/said" &&
        grep -q '^  07:00  daybreak .*no sunrise: else 07:00$' "$work/said" &&
        grep -q '^  00:00  (glow) .*at sunset; no sunset$' "$work/said"
    verdict $? "what comes without a sun on ${day%%:*}: $(cat "$work/said")"
    when --from "${day%%:*}" --days 1 --format csv
    [ "$(grep -c . "$work/said")" -eq 2 ] && grep -q ',daybreak,at sunrise - 30min$' "$work/said"
    verdict $? "a row for what comes, none for what does not: $(cat "$work/said")"
done

# -------- what else the table says --------
file "$LONDON" <<'TEXT'
lamp lantern { pixels 16 shape ring }
lamp shelf { pixels 60 shape strip part left 0..29 }
dial passing = 20% from 0% to 100%
event washing_done
at sunset - 20min not after 16:00  play glow on lamp shelf
at 05:00                           play glow on lamp shelf part left for 30min
at 19:30                           play glow
at 19:30                           play dusk
at 23:45                           play daybreak for 30min
when washing_done                  play glow for 6s
when passing * 2 > 50%             play glow for 2min
TEXT
# London's sun sets at 15:59:39 on 2026-11-25, 20 minutes earlier is 15:39; on 2026-08-25 at 20:02.
COLUMNS=200 when --from 2026-11-25 --days 1
grep -q '^  15:39  shelf  *glow  *at sunset - 20min; sunset 15:59$' "$work/said" &&
    grep -q '^  05:00  shelf part left  glow  *at 05:00; until 05:30$' "$work/said" &&
    grep -q '^  19:30  all  *(glow)  *at 19:30; what stands later in the file begins at the same moment$' "$work/said" &&
    grep -q '^  19:30  all  *dusk  *at 19:30$' "$work/said" &&
    grep -q '^  23:45  all  *daybreak  *at 23:45; until 00:15 on Thu$' "$work/said" &&
    grep -q '^  00:00  shelf part left  -  *nothing plays yet$' "$work/said" &&
    grep -q '^when washing_done: glow for 6s$' "$work/said" &&
    grep -q '^when passing \* 2 > 50%: glow for 2min$' "$work/said" &&
    grep -q '^until clock is set: off$' "$work/said"
verdict $? "what the table says of lamps, parts, sunsets and ends: $(cat "$work/said")"
when --from 2026-08-25 --days 1
grep -q 'glow .*sunset 20:02; held by `not after 16:00`$' "$work/said"
verdict $? "a bound that holds: $(cat "$work/said")"
when --from 2026-08-25 --days 1 --lamp lantern
! grep -q 'shelf' "$work/said" && grep -q '^  19:30  dusk ' "$work/said"
verdict $? "one lamp only, without a column for it: $(cat "$work/said")"
COLUMNS=66 "$gloam" when --from 2026-11-25 --days 1 "$work/home.gloam" >"$work/said"
[ "$(awk '{ if (length($0) > most) most = length($0) } END { print most }' "$work/said")" -le 66 ] &&
    [ "$(tr -s ' \n' '  ' <"$work/said" | grep -c 'what stands later in the file begins at the same moment')" -eq 1 ]
verdict $? "lines within 66 columns, and no word lost: $(cat "$work/said")"
! grep -q "$(printf '\033')" "$work/said"
verdict $? "no colours where there is no terminal"
when --from 2026-11-25 --days 1 --colour always
grep -q "$(printf '\033')" "$work/said" && sed "s/$(printf '\033')\[[0-9]*m//g" "$work/said" >"$work/plain"
when --from 2026-11-25 --days 1
diff "$work/plain" "$work/said" >/dev/null
verdict $? "the same text with colours"

# -------- today, TZ, the number of days --------
file "" <<'TEXT'
at 12:00 play glow
TEXT
here() { TZ=UTC-14 date +%Y-%m-%d; }
day=$(here)
TZ=UTC-14 "$gloam" when "$work/home.gloam" >"$work/said"
first=$(sed -n 's/^[A-Z][a-z]* \([0-9-]*\)$/\1/p' "$work/said" | head -1)
{ [ "$first" = "$day" ] || [ "$first" = "$(here)" ]; } && # a day may begin meanwhile
    [ "$(grep -c '^[A-Z][a-z][a-z] 20' "$work/said")" -eq 7 ]
verdict $? "seven days from today on, by TZ: $(cat "$work/said")"
TZ=America/New_York "$gloam" when --from 2026-07-01 --days 1 --format csv "$work/home.gloam" >"$work/said"
grep -q '^2026-07-01T16:00:00Z,2026-07-01T12:00:00-04:00,,glow,at 12:00$' "$work/said"
verdict $? "the zone of TZ where the file names none: $(cat "$work/said")"

# -------- the calendar, by another reader --------
file "$LONDON" <<'TEXT'
lamp lantern_by_the_bed_in_the_room_under_the_roof { pixels 16 shape ring }
by 03:10   play daybreak
at 04:00   play off
at 19:30   play dusk
TEXT
when --from 2026-03-29 --days 1 --format ics
[ "$(grep -c "$(printf '\r')\$" "$work/said")" -eq "$(wc -l <"$work/said")" ] &&
    [ "$(awk '{ if (length($0) - 1 > most) most = length($0) - 1 } END { print most }' "$work/said")" -le 75 ] &&
    grep -q '^ ' "$work/said"
verdict $? "lines that end in CRLF, of at most 75 octets, folded"
if /usr/bin/python3 -c 'import icalendar' 2>/dev/null; then
    cat >"$work/read.py" <<'TEXT'
import sys
from icalendar import Calendar
calendar = Calendar.from_ical(open(sys.argv[1], "rb").read())
assert calendar["VERSION"] == "2.0" and calendar["PRODID"]
for event in calendar.walk("VEVENT"):
    assert event["DTSTAMP"] and event["UID"] and not event.errors
    print(event["DTSTART"].dt.isoformat(), event["DTEND"].dt.isoformat(), event["SUMMARY"],
          event["DESCRIPTION"], sep="|")
print(len({event["UID"] for event in calendar.walk("VEVENT")}), "different")
TEXT
    # The night light goes on until the next `by 03:10`, at 02:40 BST on the 30th.
    lamp=lantern_by_the_bed_in_the_room_under_the_roof
    cat >"$work/wanted" <<TEXT
2026-03-29T01:40:00+00:00|2026-03-29T03:00:00+00:00|daybreak on $lamp|by 03:10
2026-03-29T18:30:00+00:00|2026-03-29T19:10:00+00:00|dusk on $lamp|at 19:30
2026-03-29T19:10:00+00:00|2026-03-30T01:40:00+00:00|nightlight on $lamp|dusk is over
3 different
TEXT
    cp "$work/said" "$work/first.ics"
    /usr/bin/python3 "$work/read.py" "$work/first.ics" >"$work/said" 2>&1
    same "the events of the calendar"
    when --from 2026-03-28 --days 3 --format ics
    mv "$work/said" "$work/second.ics"
    # folded lines are joined first
    for name in first second; do
        tr -d '\r' <"$work/$name.ics" | sed -e ':a' -e 'N' -e '$!ba' -e 's/\n //g' | sed -n 's/^UID://p' | sort >"$work/$name"
    done
    [ "$(comm -12 "$work/first" "$work/second" | wc -l)" -eq 3 ] && [ "$(wc -l <"$work/second")" -eq 9 ]
    verdict $? "the same events to have the same UID in another calendar"
else
    skip "the calendar, read by another program" "there is no python3-icalendar"
fi

# -------- what is wrong --------
fails() { # STATUS SENTENCE OPTIONS...: of $work/home.gloam
    wanted=$1 sentence=$2
    shift 2
    when "$@"
    [ $? -eq "$wanted" ] && grep -q "$sentence" "$work/error" && ! [ -s "$work/said" ]
    verdict $? "status $wanted and \`$sentence\` for $*, not: $(cat "$work/error" "$work/said")"
}
fails 2 '\-\-days takes a whole number from 1 to 366' --days 367
fails 2 '\-\-from takes DATE' --from 2026-02-29
fails 2 '\-\-from takes DATE' --from today
fails 2 '\-\-format takes' --format json
fails 2 'has no lamp `lantern_by[a-z_]*`: `lantern_by' --lamp lantern_by_the_bed_in_the_room_under_the_roo
echo 'routine glow { paint gold }' >"$work/home.gloam"
fails 1 'has no timetable' --days 1
"$gloam" compile -o "$work/code" "$work/home.gloam"
cp "$work/code" "$work/home.gloam"
fails 1 'bytecode, which has no timetable' --days 1
file "$LONDON" <<'TEXT'
at 12:00 play off
TEXT
fails 1 'a calendar needs an event' --from 2026-03-28 --format ics
file "$LONDON" <<'TEXT'
at 12:00 on mon in feb from 2027-02-28 until 2027-03-01 play glow
TEXT
fails 1 'never comes: no date fulfils its weekdays, its months and `from ... until` together' --days 1

# -------- entries that a ceiling cuts --------
# cuts COUNT: notes of `check` for the entries on standard input; glow is 5 %, daybreak full light
cuts() {
    file "$LONDON
lamp lantern { pixels 16 shape ring }
lamp shelf { pixels 60 shape strip part left 0..29 part right 30..59 }"
    "$gloam" check --clock '2026-03-23 00:00' "$work/home.gloam" >"$work/said" 2>&1
    [ "$(grep -c 'note: .* of full light while the ceiling' "$work/said")" -eq "$1" ]
    verdict $? "$1 notes of what a ceiling cuts: $(cat "$work/said")"
}
cuts 1 <<'TEXT'
by 22:00                 play daybreak until 22:30
at 23:00                 play glow
between 21:00 and 05:00  keep level under 10%
TEXT
cuts 2 <<'TEXT'
by 22:00                 play daybreak until 22:30
at 23:00                 play glow
between 21:00 and 05:00  keep level under 2%
TEXT
# Over before it begins; another lamp; another part; not in that week; a Saturday's ceiling.
cuts 0 <<'TEXT'
by 21:00                 play daybreak until 21:00
at 23:00                 play glow
between 21:00 and 05:00  keep level under 10%
TEXT
cuts 0 <<'TEXT'
by 22:00                 play daybreak on lamp lantern until 22:30
between 21:00 and 05:00  keep level under 10% on lamp shelf
TEXT
cuts 1 <<'TEXT'
at 23:00                 play glow on lamp shelf part left until 23:10
by 22:00                 play daybreak on lamp shelf part right until 22:30
between 21:00 and 05:00  keep level under 10% on lamp shelf part right
TEXT
cuts 0 <<'TEXT'
by 22:00                 play daybreak on lamp shelf part right until 22:30
between 21:00 and 05:00  keep level under 10% on lamp shelf part left
TEXT
cuts 0 <<'TEXT'
by 22:00 from 2026-04-01            play daybreak until 22:30
between 21:00 and 05:00             keep level under 10%
TEXT
cuts 0 <<'TEXT'
by 22:00 on fri                     play daybreak until 22:30
between 21:00 and 23:00 on sat      keep level under 10%
TEXT

# -------- pictures of days --------
file "$LONDON" <<'TEXT'
lamp lantern { pixels 16 shape ring }
by 03:10   play daybreak
at 04:00   play off
TEXT
png() { # WIDTH: a whole PNG of that width
    [ "$(od -An -tx1 -N4 "$work/days.png" | tr -d ' \n')" = 89504e47 ] &&
        [ "$((0x$(od -An -tx1 -j16 -N4 "$work/days.png" | tr -d ' \n')))" -eq "$1" ]
}
"$gloam" picture --day 2026-03-28 -o "$work/days.png" "$work/home.gloam" && png 1308
verdict $? "a picture of a day"
"$gloam" picture --week 2026-03-23 --size 900x900 -o "$work/days.png" "$work/home.gloam" && png 900
verdict $? "a picture of a week in the size that was asked for"
for wrong in '--day 2026-03-28 --week 2026-03-23' '--day 2026-03-28 --routine dusk' '--day 2026-13-01' \
    '--week 2026-03-23 --size 640x240' '--day 2026-03-28 --pixels 4'; do
    # shellcheck disable=SC2086
    "$gloam" picture $wrong -o "$work/none.png" "$work/home.gloam" >"$work/said" 2>&1
    [ $? -eq 2 ] && ! [ -e "$work/none.png" ]
    verdict $? "$wrong to be a wrong call: $(cat "$work/said")"
done
[ "$passed" -gt 90 ]
verdict $? "more than 90 checks, made $passed"
close_sum
