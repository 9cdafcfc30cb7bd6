#include "runtime/library/calendar.h"

#include <string.h>

#include "runtime/core/civil.h"
#include "runtime/library/gloam.h"

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
    int64_t seconds = civil_floor_divide(utc, 1000000), days = civil_floor_divide(seconds, 86400);
    CivilDate date = civil_from_days((int32_t)days);
    int rest = (int)(seconds - 86400 * days);
    snprintf(text, size, "%04d%02d%02dT%02d%02d%02dZ", (int)date.year, (int)date.month,
             (int)date.day, rest / 3600, rest / 60 % 60, rest % 60);
}

static void calendar_time(FILE *out, const char *name, int64_t utc) {
    char line[64], instant[48];
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

static void calendar_event(const CalendarRequest *request, const AgendaItem *item, FILE *out) {
    char lamp[160], text[400], instant[48];
    const char *routine = agenda_routine(request->context->program, item->routine);
    agenda_lamp(request->lamps, request->lamp_count, item->lamp, item->part, lamp, sizeof lamp);
    int64_t ends = timetable_next(request->context, item->lamp, item->part, item->utc);
    calendar_line(out, "BEGIN:VEVENT");
    calendar_instant(item->utc, instant, sizeof instant);
    /* One thing begins on a lamp at an instant, so this is one event's, now and whenever it is
     * written again. */
    snprintf(text, sizeof text, "%s-%s-%s@gloam", instant, *lamp ? lamp : "lamp", routine);
    for (char *c = text; *c; c++)
        *c = *c == ' ' ? '-' : *c;
    calendar_text(out, "UID", text);
    calendar_time(out, "DTSTAMP", request->now);
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

bool calendar_write(const CalendarRequest *request, const Agenda *agenda, FILE *out) {
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
        calendar_event(request, &agenda->items[i], out);
    }
    if (any)
        calendar_line(out, "END:VCALENDAR");
    return any;
}
