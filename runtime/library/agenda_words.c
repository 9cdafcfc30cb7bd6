/* Times and causes of an agenda as the language writes them. */
#include <stdio.h>
#include <string.h>

#include "runtime/core/civil.h"
#include "runtime/library/agenda.h"
#include "runtime/library/agenda_inside.h"
#include "runtime/time/moment.h"
#include "runtime/time/sun.h"

static const char *const SUN_WORDS[SUN_EVENT_COUNT] = {
    "sunrise",       "sunset",        "civil dawn",        "civil dusk",
    "nautical dawn", "nautical dusk", "astronomical dawn", "astronomical dusk"};

void agenda_duration(int64_t microseconds, char *text, size_t size) {
    int64_t hours = microseconds / 3600000000, rest = microseconds % 3600000000;
    int64_t minutes = rest / 60000000, millionths = rest % 60000000;
    char part[3][32] = {"", "", ""};
    if (hours)
        snprintf(part[0], sizeof part[0], "%lldh", (long long)hours);
    if (minutes)
        snprintf(part[1], sizeof part[1], "%lldmin", (long long)minutes);
    if (millionths % 1000000 == 0 && (millionths || (!hours && !minutes)))
        snprintf(part[2], sizeof part[2], "%llds", (long long)(millionths / 1000000));
    else if (millionths) {
        int length = snprintf(part[2], sizeof part[2], "%lld.%06lld",
                              (long long)(millionths / 1000000), (long long)(millionths % 1000000));
        while (part[2][length - 1] == '0')
            length--;
        part[2][length] = 's';
        part[2][length + 1] = '\0';
    }
    snprintf(text, size, "%s%s%s", part[0], part[1], part[2]);
}

static void words_reading(int32_t clock, char *text, size_t size) {
    int seconds = clock % 60;
    if (seconds)
        snprintf(text, size, "%02d:%02d:%02d", clock / 3600, clock / 60 % 60, seconds);
    else
        snprintf(text, size, "%02d:%02d", clock / 3600, clock / 60 % 60);
}

void agenda_moment(const TimetableMoment *moment, char *text, size_t size) {
    char offset[40];
    if (!moment->sun) {
        words_reading(moment->clock, text, size);
        return;
    }
    agenda_duration(moment->offset < 0 ? -moment->offset : moment->offset, offset, sizeof offset);
    snprintf(text, size, "%s%s%s", SUN_WORDS[moment->event],
             moment->offset == 0  ? ""
             : moment->offset < 0 ? " - "
                                  : " + ",
             moment->offset ? offset : "");
}

/* Seconds of the local clock, as if it were in UTC. */
static int64_t words_wall(const TimetableContext *context, int64_t utc) {
    int64_t seconds = civil_floor_divide(utc, 1000000);
    return seconds + zone_offset(context->zone, seconds).offset;
}

void agenda_clock(const TimetableContext *context, int64_t utc, char *text, size_t size) {
    int64_t wall = words_wall(context, utc);
    int64_t clock = wall - 86400 * civil_floor_divide(wall, 86400);
    snprintf(text, size, "%02d:%02d", (int)(clock / 3600), (int)(clock / 60 % 60));
}

/* The time of day, and the day where it is not that of `date`: "02:30 on Thu". */
static void words_clock_and_day(const TimetableContext *context, int32_t date, int64_t utc,
                                char *text, size_t size) {
    static const char *const DAYS[] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
    char clock[16];
    int32_t day = timetable_local_date(context, utc);
    agenda_clock(context, utc, clock, sizeof clock);
    if (day == date) {
        snprintf(text, size, "%s", clock);
        return;
    }
    CivilDate civil = civil_from_days(day);
    if (day > date && day - date < 7)
        snprintf(text, size, "%s on %s", clock, DAYS[weekday_from_days(day)]);
    else
        snprintf(text, size, "%s on %04d-%02d-%02d", clock, (int)civil.year, (int)civil.month,
                 (int)civil.day);
}

const char *agenda_routine(const Program *program, uint16_t routine) {
    return routine < program->routine_count ? program->routines[routine].name : "off";
}

void agenda_play(const Program *program, const TimetablePlay *play, char *text, size_t size) {
    char end[AGENDA_WORDS] = "";
    if (play->end == TIMETABLE_FOR)
        agenda_duration(play->stays, end, sizeof end);
    else if (play->end == TIMETABLE_UNTIL)
        agenda_moment(&play->until, end, sizeof end);
    snprintf(text, size, "%s%s%s", agenda_routine(program, play->routine),
             play->end == TIMETABLE_FOR     ? " for "
             : play->end == TIMETABLE_UNTIL ? " until "
                                            : "",
             end);
}

/* -------- causes -------- */

void agenda_cause_entry(const TimetableEntry *entry, uint32_t moment_index, char *text,
                        size_t size) {
    char one[AGENDA_WORDS], last[16], every[40];
    const char *word = entry->kind == TIMETABLE_BY ? "by" : "at";
    if (entry->every > 0) {
        words_reading(entry->first, one, sizeof one);
        words_reading(entry->last, last, sizeof last);
        agenda_duration(entry->every * 1000000, every, sizeof every);
        snprintf(text, size, "%s %s..%s every %s", word, one, last, every);
        return;
    }
    agenda_moment(&entry->moments[moment_index], one, sizeof one);
    snprintf(text, size, "%s %s", word, one);
}

void agenda_cause_end(const TimetablePlay *play, const Program *program, char *text, size_t size) {
    char end[AGENDA_WORDS];
    if (play->end == TIMETABLE_GOES_ON) {
        snprintf(text, size, "%s is over", agenda_routine(program, play->routine));
        return;
    }
    if (play->end == TIMETABLE_FOR)
        agenda_duration(play->stays, end, sizeof end);
    else
        agenda_moment(&play->until, end, sizeof end);
    snprintf(text, size, "%s %s is over", play->end == TIMETABLE_FOR ? "for" : "until", end);
}

void agenda_cause_ceiling(const TimetableCeiling *ceiling, bool over, char *text, size_t size) {
    char from[AGENDA_WORDS], to[AGENDA_WORDS], level[32];
    agenda_moment(&ceiling->from, from, sizeof from);
    agenda_moment(&ceiling->to, to, sizeof to);
    snprintf(level, sizeof level, "keep level under %.6g%%", ceiling->level * 100);
    snprintf(text, size, "between %s and %s %s", from, to, over ? "is over" : level);
}

/* -------- notes -------- */

void agenda_note(char *notes, const char *note) {
    size_t used = strlen(notes);
    if (*note)
        snprintf(notes + used, AGENDA_NOTES - used, "%s%s", used ? "; " : "", note);
}

/* Of a reading of the clock that a change of the clocks skips or repeats. */
void agenda_note_clock(const TimetableContext *context, int32_t date, int32_t clock, char *notes) {
    char reading[16], shown[16], note[80] = "";
    int64_t utc;
    ZoneCase found = zone_to_utc(context->zone, (int64_t)date * 86400 + clock, &utc);
    words_reading(clock, reading, sizeof reading);
    agenda_clock(context, utc * 1000000, shown, sizeof shown);
    if (found == ZONE_GAP)
        snprintf(note, sizeof note, "%s does not exist: %s", reading, shown);
    else if (found == ZONE_OVERLAP)
        snprintf(note, sizeof note, "%s comes twice: the first", reading);
    agenda_note(notes, note);
}

static void note_held(const TimetableBounds *bounds, bool later, char *notes) {
    char reading[16], note[64];
    words_reading(later ? bounds->not_before : bounds->not_after, reading, sizeof reading);
    snprintf(note, sizeof note, "held by `not %s %s`", later ? "before" : "after", reading);
    agenda_note(notes, note);
}

/* `moved`: its line does not stand at the time of the sun itself. */
static void note_sun(const TimetableContext *context, const TimetableMoment *moment, int64_t sun,
                     bool moved, char *notes) {
    char shown[16], note[64];
    if (!moved && moment->offset == 0)
        return;
    agenda_clock(context, sun, shown, sizeof shown);
    snprintf(note, sizeof note, "%s %s", SUN_WORDS[moment->event], shown);
    agenda_note(notes, note);
}

static void note_no_sun(const TimetableMoment *moment, const TimetableBounds *bounds, char *notes) {
    char note[64], reading[16] = "";
    if (bounds->otherwise != TIMETABLE_NOT_SAID)
        words_reading(bounds->otherwise, reading, sizeof reading);
    snprintf(note, sizeof note, "no %s%s%s", SUN_WORDS[moment->event], *reading ? ": else " : "",
             reading);
    agenda_note(notes, note);
}

void agenda_note_moment(const TimetableContext *context, const TimetableEntry *entry,
                        uint32_t moment_index, int32_t date, char *notes) {
    const TimetablePlace *said = &context->timetable->place;
    MomentPlace place = {context->zone, said->latitude, said->longitude};
    const TimetableMoment moment = timetable_moment(entry, moment_index);
    const TimetableBounds *bounds = &entry->bounds;
    MomentStart held, free;
    int64_t sun;
    if (moment.sun &&
        !sun_time(moment.event, date, context->zone, said->latitude, said->longitude, &sun)) {
        note_no_sun(&moment, bounds, notes);
        if (bounds->otherwise != TIMETABLE_NOT_SAID)
            agenda_note_clock(context, date, bounds->otherwise, notes);
        return;
    }
    bool bound = moment_start(&place, &moment, bounds, date, &held) &&
                 moment_start(&place, &moment, &moment_unbound, date, &free) &&
                 held.utc != free.utc;
    bool later = bound && held.utc > free.utc;
    if (moment.sun)
        note_sun(context, &moment, sun, bound || entry->kind == TIMETABLE_BY, notes);
    if (bound)
        note_held(bounds, later, notes);
    if (!moment.sun || bound)
        agenda_note_clock(context, date,
                          !bound  ? moment.clock
                          : later ? bounds->not_before
                                  : bounds->not_after,
                          notes);
}

void agenda_note_end(const TimetableContext *context, const char *word, int64_t from, int64_t utc,
                     char *notes) {
    char shown[AGENDA_WORDS], note[AGENDA_WORDS + 16];
    words_clock_and_day(context, timetable_local_date(context, from), utc, shown, sizeof shown);
    snprintf(note, sizeof note, "%s %s", word, shown);
    agenda_note(notes, note);
}

void agenda_lamp(const LampInfo *lamps, uint32_t count, int32_t lamp, int32_t part, char *text,
                 size_t size) {
    if (!count)
        text[0] = '\0';
    else if (part == TIMETABLE_NOT_SAID)
        snprintf(text, size, "%s", lamps[lamp].name);
    else
        snprintf(text, size, "%s part %s", lamps[lamp].name, lamps[lamp].groups[part].name);
}
