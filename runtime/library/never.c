#include "runtime/library/never.h"

#include <stdio.h>
#include <string.h>

#include "runtime/core/civil.h"
#include "runtime/time/days.h"
#include "runtime/time/sun.h"
#include "runtime/time/timetable.h"

enum { DATES = 400 }; /* of an entry, on which the sun is looked for */

/* -------- days -------- */

enum { BY_WEEKDAYS = 1, BY_MONTHS = 2, BY_DATES = 4, BY_ROTA = 8, BY_EXCEPT = 16 };

static const struct {
    int one;
    const char *words;
} CONDITIONS[] = {{BY_ROTA, "`days ... of`"},
                  {BY_WEEKDAYS, "its weekdays"},
                  {BY_MONTHS, "its months"},
                  {BY_DATES, "`from ... until`"},
                  {BY_EXCEPT, "`except`"}};
enum { CONDITION_COUNT = sizeof CONDITIONS / sizeof *CONDITIONS };

static int said(const TimetableDays *days) {
    return (days->weekdays != TIMETABLE_ALL_WEEKDAYS ? BY_WEEKDAYS : 0) |
           (days->months != TIMETABLE_ALL_MONTHS ? BY_MONTHS : 0) |
           (days->until != INT32_MAX ? BY_DATES : 0) | (days->rota_length ? BY_ROTA : 0) |
           (days->except_count || days->except_weekdays ? BY_EXCEPT : 0);
}

/* Whether any date fulfils those conditions alone. */
static bool possible(const TimetableDays *all, int conditions) {
    TimetableDays days = *all;
    int32_t found;
    if (!(conditions & BY_WEEKDAYS))
        days.weekdays = TIMETABLE_ALL_WEEKDAYS;
    if (!(conditions & BY_MONTHS))
        days.months = TIMETABLE_ALL_MONTHS;
    if (!(conditions & BY_DATES))
        days.until = INT32_MAX;
    if (!(conditions & BY_ROTA))
        days.rota_length = 0;
    if (!(conditions & BY_EXCEPT))
        days.except_count = days.except_weekdays = 0;
    return days_next(&days, DAYS_FIRST, &found);
}

/* The fewest conditions that no date fulfils together: each is left out where that can be done. */
static int conflict(const TimetableDays *days) {
    int left = said(days);
    for (int i = CONDITION_COUNT - 1; i >= 0; i--)
        if ((left & CONDITIONS[i].one) && !possible(days, left & ~CONDITIONS[i].one))
            left &= ~CONDITIONS[i].one;
    return left;
}

/* "its weekdays, its months and `except`" */
static void list(int conditions, char *text, size_t size) {
    text[0] = '\0';
    for (int i = 0, rest = conditions; i < CONDITION_COUNT; i++) {
        if (!(rest & CONDITIONS[i].one))
            continue;
        rest &= ~CONDITIONS[i].one;
        size_t used = strlen(text);
        snprintf(text + used, size - used, "%s%s",
                 used == 0 ? ""
                 : rest    ? ", "
                           : " and ",
                 CONDITIONS[i].words);
    }
}

/* Where the clauses of days stand: from the first to the last. */
static Span clauses(const Node *item) {
    Span span = item->c ? item->c->span : item->span;
    for (const Node *clause = item->c; clause; clause = clause->next)
        if (clause->span.end > span.end)
            span.end = clause->span.end;
    return span;
}

static bool days_are_possible(Compilation *compilation, const TimetableDays *days,
                              const Node *item) {
    int32_t found;
    char text[160];
    if (days_next(days, DAYS_FIRST, &found))
        return true;
    list(conflict(days), text, sizeof text);
    diagnostics_report(lang_diagnostics(compilation), SEVERITY_ERROR, "never-comes", clauses(item),
                       SPAN_NONE, NULL, "this never comes: no date fulfils %s%s", text,
                       strstr(text, " and ") ? " together" : "");
    return false;
}

/* -------- the sun -------- */

/* Without the zone, which is not read here, a date's noon may be that of a date beside it. */
static bool sun_comes(const TimetablePlace *place, SunEvent event, int32_t date) {
    int64_t utc;
    for (int32_t near = date - 1; near <= date + 1; near++)
        if (sun_time(event, near, NULL, place->latitude, place->longitude, &utc))
            return true;
    return false;
}

static bool moment_comes(const TimetablePlace *place, const TimetableDays *days,
                         const TimetableMoment *moment) {
    /* The sun's year is much the same in all years; of entries without `from` that of 2026 on. */
    int32_t date = days->from > DAYS_FIRST ? days->from : days_from_civil((CivilDate){2026, 1, 1});
    if (!moment->sun)
        return true;
    for (int i = 0; i < DATES && days_next(days, date, &date); i++, date++)
        if (sun_comes(place, moment->event, date))
            return true;
    return false;
}

static void say_no_sun(Compilation *compilation, const Node *moment, const char *hint) {
    diagnostics_report(lang_diagnostics(compilation), SEVERITY_ERROR, "never-comes", moment->span,
                       SPAN_NONE, hint,
                       "this never comes: the sun has no such time at the place on any of its "
                       "dates");
}

/* -------- all -------- */

static void entry_check(Compilation *compilation, const TimetablePlace *place,
                        const TimetableEntry *entry, const Node *item) {
    if (item->kind != NODE_ENTRY || !days_are_possible(compilation, &entry->days, item) ||
        entry->bounds.otherwise != TIMETABLE_NOT_SAID || entry->moment_count == 0)
        return;
    for (uint32_t i = 0; i < entry->moment_count; i++)
        if (moment_comes(place, &entry->days, &entry->moments[i]))
            return;
    say_no_sun(compilation, item->a, "else 07:00");
}

static void ceiling_check(Compilation *compilation, const TimetablePlace *place,
                          const TimetableCeiling *ceiling, const Node *item) {
    if (days_are_possible(compilation, &ceiling->days, item) &&
        !moment_comes(place, &ceiling->days, &ceiling->from))
        say_no_sun(compilation, item->a, NULL);
}

void never_find(Compilation *compilation) {
    const Timetable *timetable = lang_timetable(compilation);
    const SourceTree *tree = lang_main_tree(compilation);
    uint32_t entry = 0, ceiling = 0;
    if (!timetable)
        return;
    for (const Node *item = tree->items; item; item = item->next)
        if (item->kind == NODE_ENTRY || item->kind == NODE_WHEN)
            entry_check(compilation, &timetable->place, &timetable->entries[entry++], item);
        else if (item->kind == NODE_BETWEEN)
            ceiling_check(compilation, &timetable->place, &timetable->ceilings[ceiling++], item);
}
