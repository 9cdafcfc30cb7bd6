/* What `when` writes for other programs: CSV (RFC 4180) and a calendar (RFC 5545). */
#include <string.h>

#include "runtime/command/planned.h"
#include "runtime/core/civil.h"
#include "runtime/library/gloam.h"

typedef struct Reading {
    CivilDate date;
    int hour, minute, second;
} Reading;

/* Seconds since 1970 as a clock shows them. */
static Reading reading_of(int64_t seconds) {
    int64_t days = civil_floor_divide(seconds, 86400);
    int32_t rest = (int32_t)(seconds - 86400 * days);
    return (Reading){civil_from_days((int32_t)days), rest / 3600, rest / 60 % 60, rest % 60};
}

static void print_reading(FILE *out, const Reading *reading) {
    fprintf(out, "%04d-%02d-%02dT%02d:%02d:%02d", (int)reading->date.year, (int)reading->date.month,
            (int)reading->date.day, reading->hour, reading->minute, reading->second);
}

static const char *played(const Planned *planned, const AgendaItem *item) {
    return item->routine == ROUTINE_NONE ? ""
                                         : agenda_routine(planned->context.program, item->routine);
}

/* -------- CSV -------- */

static void csv_row(const Planned *planned, const AgendaItem *item, FILE *out) {
    int64_t seconds = civil_floor_divide(item->utc, 1000000);
    int32_t offset = zone_offset(planned->zone, seconds).offset;
    int32_t size = offset < 0 ? -offset : offset;
    Reading utc = reading_of(seconds), local = reading_of(seconds + offset);
    char lamp[160];
    planned_lamp(planned, item->lamp, item->part, lamp, sizeof lamp);
    print_reading(out, &utc);
    fputs("Z,", out);
    print_reading(out, &local);
    fprintf(out, "%c%02d:%02d", offset < 0 ? '-' : '+', size / 3600, size / 60 % 60);
    if (size % 60)
        fprintf(out, ":%02d", size % 60);
    fprintf(out, ",%s,%s,%s\n", lamp, played(planned, item), item->cause);
}

/* Names and causes have no comma and no quotes, so no field needs any. */
void when_csv(const Planned *planned, const Agenda *agenda, FILE *out) {
    fputs("utc,local,lamp,routine,cause\n", out);
    for (size_t i = 0; i < agenda->count; i++)
        if (agenda->items[i].kind != AGENDA_STANDS && agenda->items[i].kind != AGENDA_PASSED_OVER)
            csv_row(planned, &agenda->items[i], out);
}

/* -------- calendar -------- */

/* One content line, folded at 75 octets (section 3.1). The text is ASCII. */
static void calendar_line(FILE *out, const char *line) {
    size_t length = strlen(line), room = 75;
    while (length > room) {
        fprintf(out, "%.*s\r\n ", (int)room, line);
        line += room;
        length -= room;
        room = 74;
    }
    fprintf(out, "%s\r\n", line);
}

/* NAME:TEXT, with what TEXT has to escape (section 3.3.11). */
static void calendar_text(FILE *out, const char *name, const char *text) {
    char line[1024];
    size_t used = (size_t)snprintf(line, sizeof line, "%s:", name);
    for (; *text && used < sizeof line - 2; text++) {
        if (strchr("\\;,", *text))
            line[used++] = '\\';
        line[used++] = *text;
    }
    line[used] = '\0';
    calendar_line(out, line);
}

/* 20260331T014000Z */
static void calendar_instant(int64_t utc, char *text, size_t size) {
    Reading reading = reading_of(civil_floor_divide(utc, 1000000));
    snprintf(text, size, "%04d%02d%02dT%02d%02d%02dZ", (int)reading.date.year,
             (int)reading.date.month, (int)reading.date.day, reading.hour, reading.minute,
             reading.second);
}

static void calendar_time(FILE *out, const char *name, int64_t utc) {
    char line[64], instant[32];
    calendar_instant(utc, instant, sizeof instant);
    snprintf(line, sizeof line, "%s:%s", name, instant);
    calendar_line(out, line);
}

/* Light that begins: not that it goes out, and not a ceiling. */
static bool calendar_has(const AgendaItem *item) {
    return (item->kind == AGENDA_BEGINS || item->kind == AGENDA_FOLLOWS ||
            item->kind == AGENDA_ENDS) &&
           item->routine < ROUTINE_OFF;
}

static void calendar_event(const Planned *planned, const AgendaItem *item, FILE *out) {
    char lamp[160], text[400], instant[32];
    const char *routine = played(planned, item);
    planned_lamp(planned, item->lamp, item->part, lamp, sizeof lamp);
    int64_t ends = timetable_next(&planned->context, item->lamp, item->part, item->utc);
    calendar_line(out, "BEGIN:VEVENT");
    calendar_instant(item->utc, instant, sizeof instant);
    /* One thing begins on a lamp at an instant, so this is one event's, now and whenever it is
     * written again. */
    snprintf(text, sizeof text, "%s-%s-%s@gloam", instant, *lamp ? lamp : "lamp", routine);
    for (char *c = text; *c; c++)
        *c = *c == ' ' ? '-' : *c;
    calendar_text(out, "UID", text);
    calendar_time(out, "DTSTAMP", planned->now);
    calendar_time(out, "DTSTART", item->utc);
    if (ends != TIMETABLE_NEVER &&
        civil_floor_divide(ends, 1000000) > civil_floor_divide(item->utc, 1000000))
        calendar_time(out, "DTEND", ends);
    snprintf(text, sizeof text, "%s%s%s", routine, *lamp ? " on " : "", lamp);
    calendar_text(out, "SUMMARY", text);
    snprintf(text, sizeof text, "%s%s%s", item->cause, *item->notes ? "; " : "", item->notes);
    calendar_text(out, "DESCRIPTION", text);
    calendar_line(out, "TRANSP:TRANSPARENT");
    calendar_line(out, "END:VEVENT");
}

bool when_calendar(const Planned *planned, const Agenda *agenda, FILE *out) {
    bool any = false;
    for (size_t i = 0; i < agenda->count; i++) {
        if (!calendar_has(&agenda->items[i]))
            continue;
        if (!any) {
            calendar_line(out, "BEGIN:VCALENDAR");
            calendar_line(out, "VERSION:2.0");
            calendar_line(out, "PRODID:-//Gloam//gloam " GLOAM_VERSION "//EN");
            calendar_line(out, "CALSCALE:GREGORIAN");
        }
        any = true;
        calendar_event(planned, &agenda->items[i], out);
    }
    if (any)
        calendar_line(out, "END:VCALENDAR");
    return any;
}
