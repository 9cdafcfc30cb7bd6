/* What `when` writes for other programs: CSV (RFC 4180) and a calendar (RFC 5545). */
#include "runtime/command/planned.h"
#include "runtime/core/civil.h"
#include "runtime/library/calendar.h"

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

bool when_calendar(const Planned *planned, const Agenda *agenda, FILE *out) {
    CalendarRequest request = {&planned->context, planned->lamps, planned->lamp_count,
                               planned->now};
    return calendar_write(&request, agenda, out);
}
