#!/bin/sh
# The lamp's calendar over HTTP, read by icalendar (Debian's python3-icalendar): its events are what
# the week tells of the same days, and those of `gloam when --format ics`.
set -u
cd "$(dirname "$0")/../.." || exit 1
. tests/support/served.sh
needs "the calendar" curl
if ! /usr/bin/python3 -c 'import icalendar' 2>/dev/null; then
    skip "the calendar, read by another program" "there is no python3-icalendar"
    close_sum
    exit
fi
cat >home/home.gloam <<'H'
place 51.45, -2.59 zone "Europe/London"
lamp lantern { pixels 16 shape ring chip ws2812b port "e131:127.0.0.1" supply 5V 1A }
lamp window { pixels 60 chip ws2812b universe 2 port "e131:127.0.0.1" supply 5V 2A }
routine daybreak lasts 30min { paint black -> 2700K throughout }
routine dusk lasts 40min then nightlight { paint 2700K -> #ff3a00 * 2% throughout }
routine nightlight { paint #ff3a00 * 2% }
by 03:10 play daybreak on lamp lantern
at 08:00 play off
at 16:00 play dusk on lamp window until 22:00
until clock is set play off
H
start --pairing none
knows() { curl -s "$page/v1/home" | grep -q daybreak; }
await 20 knows
verdict $? "the page to know its home: $(cat out)"
cat >read.py <<'P'
import datetime, json, sys
from icalendar import Calendar

def events(path):
    calendar = Calendar.from_ical(open(path, "rb").read())
    assert calendar["VERSION"] == "2.0" and calendar["PRODID"]
    found = {}
    for event in calendar.walk("VEVENT"):
        assert event["DTSTAMP"] and not event.errors and event["UID"] not in found
        found[event["UID"]] = (event["DTSTART"].dt, event["DTEND"].dt, str(event["SUMMARY"]))
    return found

def plays(path):
    week = json.load(open(path))
    assert week["whole"]
    for day in week["days"]:
        for play in day["plays"]:
            if play["kind"] in ("begins", "follows") and play["routine"] != "off":
                yield (datetime.datetime.fromisoformat(play["at"].replace("Z", "+00:00")),
                       f"{play['routine']} on {week['lamp']}")

kind, first = sys.argv[1:3]
if kind == "same":
    assert events(first) == events(sys.argv[3]), (events(first), events(sys.argv[3]))
else:
    told = sorted(one for path in sys.argv[3:] for one in plays(path))
    read = sorted((start, name) for start, _, name in events(first).values())
    assert told == read, (told, read)
print(len(events(first)))
P
curl -s -D head -o week.ics "$page/v1/calendar.ics?days=7"
grep -qi '^Content-Type: text/calendar' head && grep -q ' 200' head
verdict $? "a calendar: $(cat head)"
curl -s -o lantern.json "$page/v1/week?days=7&lamp=lantern"
curl -s -o window.json "$page/v1/week?days=7&lamp=window"
# On each of seven days, whatever the hour and though clocks change at night (02:40 is no hour of a
# change of London's): daybreak at 02:40, dusk at 16:00, night light at 16:40.
said=$(/usr/bin/python3 read.py week week.ics lantern.json window.json 2>&1)
[ "$said" = 21 ]
verdict $? "the calendar's events to be the week's: $said"
curl -s -o one.ics "$page/v1/calendar.ics?days=7&lamp=lantern"
said=$(/usr/bin/python3 read.py week one.ics lantern.json 2>&1)
[ "$said" = 7 ]
verdict $? "those of one lamp to be its week's: $said"
"$gloam" when --days 7 --format ics home/home.gloam >when.ics 2>error
said=$(/usr/bin/python3 read.py same week.ics when.ics 2>&1)
[ "$said" = 21 ]
verdict $? "the same events, by the same names, as of \`gloam when\`: $said $(cat error)"
code=$(curl -s -o answer -w '%{http_code}' "$page/v1/calendar.ics?days=367")
[ "$code" = 400 ]
verdict $? "a year and more to be refused: $code $(cat answer)"
close_sum
