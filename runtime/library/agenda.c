#include "runtime/library/agenda.h"

#include <stdlib.h>
#include <string.h>

#include "runtime/core/civil.h"
#include "runtime/core/memory.h"
#include "runtime/library/agenda_inside.h"
#include "runtime/time/days.h"
#include "runtime/time/sky.h"
#include "runtime/time/sun.h"

enum { AROUND = 4 }; /* an entry begins at most so many days before or behind its date */

typedef struct Maker {
    const TimetableContext *context;
    int64_t from, until;
    double work; /* that is left */
    double step; /* what asking for one change takes */
    Agenda *agenda;
    size_t room;
    bool no_memory;
} Maker;

/* A line of its own: a lamp, or a part. */
typedef struct Track {
    int32_t lamp, part;
} Track;

/* A new item, all 0 but where it is; NULL where there is no room. */
static AgendaItem *maker_add(Maker *maker, const Track *track, AgendaKind kind, int64_t utc) {
    Agenda *agenda = maker->agenda;
    if (agenda->count == maker->room) {
        size_t room = maker->room ? 2 * maker->room : 64;
        AgendaItem *items = memory_resize(agenda->items, room, sizeof *items);
        if (!items) {
            maker->no_memory = true;
            return NULL;
        }
        agenda->items = items;
        maker->room = room;
    }
    AgendaItem *item = &agenda->items[agenda->count++];
    *item = (AgendaItem){.kind = kind,
                         .utc = utc,
                         .ends = TIMETABLE_NEVER,
                         .lamp = track->lamp,
                         .part = track->part,
                         .routine = ROUTINE_NONE};
    return item;
}

/* False where nothing more may be looked for: the list is whole up to `utc` only. */
static bool maker_may(Maker *maker, double work, int64_t utc) {
    maker->work -= work;
    if (!maker->no_memory && maker->work >= 0 && maker->agenda->count < AGENDA_ITEMS)
        return true;
    if (utc < maker->agenda->whole)
        maker->agenda->whole = utc;
    return false;
}

/* -------- what begins -------- */

/* The moment and the date that make an entry begin at an instant. */
static bool origin_find(const TimetableContext *context, uint32_t index, int64_t began,
                        uint32_t *moment, int32_t *date) {
    const TimetableEntry *entry = &context->timetable->entries[index];
    int64_t at = began + timetable_lead(context, index);
    int32_t around = timetable_local_date(context, at);
    uint32_t count = timetable_moments(entry);
    for (*moment = 0; *moment < count; ++*moment) {
        bool near = !timetable_moment(entry, *moment).sun;
        for (*date = around - (near ? 2 : AROUND); *date <= around + AROUND; ++*date) {
            int64_t start, ends;
            if (timetable_on_date(context, index, *moment, *date, &start, &ends) && start == began)
                return true;
        }
    }
    return false;
}

void agenda_why(const TimetableContext *context, uint32_t entry, int64_t began, char *text,
                size_t size) {
    uint32_t moment;
    int32_t date;
    if (!origin_find(context, entry, began, &moment, &date))
        moment = 0;
    agenda_cause_entry(&context->timetable->entries[entry], moment, text, size);
}

static void item_begins(const TimetableContext *context, AgendaItem *item,
                        const TimetableState *state) {
    const TimetableEntry *entry = &context->timetable->entries[state->entry];
    uint32_t moment = 0;
    int32_t date;
    item->ends = state->ends;
    if (origin_find(context, state->entry, state->began, &moment, &date)) {
        int64_t over = state->began + timetable_lead(context, state->entry);
        agenda_note_moment(context, entry, moment, date, item->notes);
        if (over > state->began &&
            timetable_local_date(context, over) != timetable_local_date(context, state->began))
            agenda_note_end(context, "over at", state->began, over, item->notes);
    } else {
        moment = 0;
    }
    agenda_cause_entry(entry, moment, item->cause, sizeof item->cause);
    if (state->ends != TIMETABLE_NEVER && !item->repeated)
        agenda_note_end(context, "until", state->began, state->ends, item->notes);
}

/* From one state to the next, at `utc`. */
static void track_change(Maker *maker, const Track *track, int64_t utc,
                         const TimetableState *before, const TimetableState *after) {
    const TimetableContext *context = maker->context;
    const Program *program = context->program;
    bool begins = after->plays && after->began == utc;
    bool same = before->plays == after->plays && before->entry == after->entry &&
                before->began == after->began;
    if (!begins && same && before->routine == after->routine)
        return;
    AgendaKind kind = begins ? AGENDA_BEGINS : same ? AGENDA_FOLLOWS : AGENDA_ENDS;
    AgendaItem *item = maker_add(maker, track, kind, utc);
    if (!item)
        return;
    item->routine = after->plays ? after->routine : ROUTINE_NONE;
    item->index = begins ? after->entry : before->entry;
    const TimetableEntry *entry = &context->timetable->entries[item->index];
    item->repeated = entry->every > 0;
    if (begins) {
        item_begins(context, item, after);
        return;
    }
    if (same) {
        TimetablePlay play = {.routine = before->routine, .end = TIMETABLE_GOES_ON};
        agenda_cause_end(&play, program, item->cause, sizeof item->cause);
        return;
    }
    agenda_cause_end(&entry->play, program, item->cause, sizeof item->cause);
    if (entry->play.end == TIMETABLE_UNTIL && !entry->play.until.sun)
        agenda_note_clock(context, timetable_local_date(context, utc), entry->play.until.clock,
                          item->notes);
}

static void track_stands(Maker *maker, const Track *track, const TimetableState *state) {
    AgendaItem *item = maker_add(maker, track, AGENDA_STANDS, state->plays ? state->since : 0);
    if (!item)
        return;
    item->utc = state->plays ? state->since : TIMETABLE_EVER;
    item->ends = state->ends;
    item->routine = state->plays ? state->routine : ROUTINE_NONE;
    item->index = state->entry;
    item->repeated = state->plays && maker->context->timetable->entries[state->entry].every > 0;
}

static void track_plays(Maker *maker, const Track *track) {
    const TimetableContext *context = maker->context;
    TimetableState before, after;
    int64_t utc = maker->from - 1;
    timetable_state(context, track->lamp, track->part, utc, &before);
    int64_t next = timetable_next(context, track->lamp, track->part, utc);
    if (next > maker->from)
        track_stands(maker, track, &before);
    for (; next < maker->until; next = timetable_next(context, track->lamp, track->part, next)) {
        if (!maker_may(maker, maker->step, next))
            return;
        timetable_state(context, track->lamp, track->part, next, &after);
        track_change(maker, track, next, &before, &after);
        before = after;
    }
}

/* -------- ceilings -------- */

static bool ceiling_is_on(const TimetableCeiling *ceiling, const Track *track) {
    return ceiling->part == track->part &&
           (ceiling->lamp == TIMETABLE_NOT_SAID || ceiling->lamp == track->lamp);
}

static void ceiling_change(Maker *maker, const Track *track, uint32_t index, int64_t utc) {
    const TimetableContext *context = maker->context;
    const TimetableCeiling *ceiling = &context->timetable->ceilings[index];
    int64_t since, until;
    bool lowered = timetable_ceiling(context, index, utc, &since, &until) && since == utc;
    AgendaItem *item = maker_add(maker, track, lowered ? AGENDA_LOWERED : AGENDA_RAISED, utc);
    if (!item)
        return;
    TimetableState state;
    timetable_state(context, track->lamp, track->part, utc, &state);
    item->index = index;
    item->routine = state.plays ? state.routine : ROUTINE_NONE;
    agenda_cause_ceiling(ceiling, !lowered, item->cause, sizeof item->cause);
    const TimetableMoment *moment = lowered ? &ceiling->from : &ceiling->to;
    if (!moment->sun)
        agenda_note_clock(context, timetable_local_date(context, utc), moment->clock, item->notes);
    if (lowered && ceiling->to.sun)
        agenda_note_end(context, "until", since, until, item->notes);
}

static void track_ceilings(Maker *maker, const Track *track) {
    const Timetable *timetable = maker->context->timetable;
    for (uint32_t i = 0; i < timetable->ceiling_count; i++) {
        if (!ceiling_is_on(&timetable->ceilings[i], track))
            continue;
        int64_t next = timetable_ceiling_next(maker->context, i, maker->from - 1);
        for (; next < maker->until; next = timetable_ceiling_next(maker->context, i, next)) {
            if (!maker_may(maker, maker->step, next))
                return;
            ceiling_change(maker, track, i, next);
        }
    }
}

/* -------- moments of which nothing comes -------- */

static bool entry_is_on(const TimetableEntry *entry, const Track *track) {
    const TimetablePlay *play = &entry->play;
    return (entry->kind == TIMETABLE_AT || entry->kind == TIMETABLE_BY) && entry->every == 0 &&
           play->part == track->part &&
           (play->lamp == TIMETABLE_NOT_SAID || play->lamp == track->lamp);
}

/* Why nothing comes of a moment on a date of its entry, or NULL; *utc is where its line stands. */
static const char *passed_over(const TimetableContext *context, const Track *track, uint32_t index,
                               uint32_t moment, int32_t date, int64_t *utc) {
    int64_t start, ends;
    if (!timetable_on_date(context, index, moment, date, &start, &ends)) {
        *utc = timetable_local_instant(context, date, 0);
        return "";
    }
    *utc = start;
    if (ends <= start)
        return "has no length: its end is over when it begins";
    TimetableState state;
    timetable_state(context, track->lamp, track->part, start, &state);
    if (state.plays && state.began == start && state.entry != index)
        return "what stands later in the file begins at the same moment";
    return NULL;
}

static void entry_passed_over(Maker *maker, const Track *track, uint32_t index, int32_t date) {
    const TimetableContext *context = maker->context;
    const TimetableEntry *entry = &context->timetable->entries[index];
    uint32_t count = timetable_moments(entry);
    for (uint32_t moment = 0; moment < count; moment++) {
        int64_t utc;
        const char *why = passed_over(context, track, index, moment, date, &utc);
        if (!why || utc < maker->from || utc >= maker->until)
            continue;
        AgendaItem *item = maker_add(maker, track, AGENDA_PASSED_OVER, utc);
        if (!item)
            return;
        item->routine = entry->play.routine;
        item->index = index;
        agenda_cause_entry(entry, moment, item->cause, sizeof item->cause);
        agenda_note_moment(context, entry, moment, date, item->notes);
        agenda_note(item->notes, why);
    }
}

static void track_passed_over(Maker *maker, const Track *track) {
    const Timetable *timetable = maker->context->timetable;
    int32_t first = timetable_local_date(maker->context, maker->from) - AROUND;
    int32_t last = timetable_local_date(maker->context, maker->until) + AROUND;
    for (uint32_t i = 0; i < timetable->entry_count; i++) {
        const TimetableEntry *entry = &timetable->entries[i];
        if (!entry_is_on(entry, track))
            continue;
        int32_t date = first;
        for (; days_next(&entry->days, date, &date) && date <= last; date++) {
            if (!maker_may(maker, 2 + maker->step / 4,
                           timetable_local_instant(maker->context, date, 0)))
                return;
            entry_passed_over(maker, track, i, date);
        }
    }
}

/* -------- all -------- */

static bool part_is_named(const Timetable *timetable, int32_t lamp, int32_t part) {
    for (uint32_t i = 0; i < timetable->entry_count; i++)
        if (timetable->entries[i].play.lamp == lamp && timetable->entries[i].play.part == part)
            return true;
    for (uint32_t i = 0; i < timetable->ceiling_count; i++)
        if (timetable->ceilings[i].lamp == lamp && timetable->ceilings[i].part == part)
            return true;
    return false;
}

static int item_rank(const AgendaItem *item) {
    return item->kind == AGENDA_STANDS ? 0 : item->kind == AGENDA_PASSED_OVER ? 1 : 2;
}

static int item_compare(const void *one, const void *other) {
    const AgendaItem *a = one, *b = other;
    bool stands_a = a->kind == AGENDA_STANDS, stands_b = b->kind == AGENDA_STANDS;
    if (stands_a != stands_b)
        return stands_a ? -1 : 1;
    if (!stands_a && a->utc != b->utc)
        return a->utc < b->utc ? -1 : 1;
    if (item_rank(a) != item_rank(b))
        return item_rank(a) - item_rank(b);
    if (a->lamp != b->lamp)
        return a->lamp < b->lamp ? -1 : 1;
    if (a->part != b->part)
        return a->part < b->part ? -1 : 1;
    if (a->kind != b->kind)
        return a->kind < b->kind ? -1 : 1;
    if (a->index != b->index)
        return a->index < b->index ? -1 : 1;
    return strcmp(a->cause, b->cause);
}

/* What lies behind the instant up to which the list is whole is left out. */
static void agenda_cut(Agenda *agenda) {
    size_t kept = 0;
    for (size_t i = 0; i < agenda->count; i++)
        if (agenda->items[i].utc < agenda->whole)
            agenda->items[kept++] = agenda->items[i];
    agenda->count = kept;
}

bool agenda_make(const TimetableContext *context, const LampInfo *lamps, uint32_t count,
                 int32_t only, int64_t from, int64_t until, Agenda *agenda) {
    return agenda_make_within(context, lamps, count, only, from, until, AGENDA_WORK, agenda);
}

bool agenda_make_within(const TimetableContext *context, const LampInfo *lamps, uint32_t count,
                        int32_t only, int64_t from, int64_t until, double work, Agenda *agenda) {
    const Timetable *timetable = context->timetable;
    *agenda = (Agenda){.whole = until};
    Maker maker = {
        .context = context, .from = from, .until = until, .agenda = agenda, .work = work};
    maker.step = 3;
    for (uint32_t i = 0; i < timetable->entry_count; i++)
        maker.step += 3.0 * timetable_moments(&timetable->entries[i]);
    for (int32_t lamp = 0; lamp < (count ? (int32_t)count : 1); lamp++) {
        int32_t parts = count ? (int32_t)lamps[lamp].group_count : 0;
        if (only != TIMETABLE_NOT_SAID && only != lamp)
            continue;
        for (int32_t part = TIMETABLE_NOT_SAID; part < parts; part++) {
            Track track = {lamp, part};
            if (part != TIMETABLE_NOT_SAID && !part_is_named(timetable, lamp, part))
                continue;
            track_plays(&maker, &track);
            track_ceilings(&maker, &track);
            track_passed_over(&maker, &track);
        }
    }
    if (agenda->count)
        qsort(agenda->items, agenda->count, sizeof *agenda->items, item_compare);
    if (agenda->whole < until)
        agenda_cut(agenda);
    return !maker.no_memory;
}

void agenda_free(Agenda *agenda) {
    memory_release(agenda->items);
    *agenda = (Agenda){0};
}

/* -------- days -------- */

bool agenda_change(const TimetableContext *context, int32_t date, AgendaChange *change) {
    enum { MICROSECONDS = 1000000 };
    int64_t first = timetable_local_instant(context, date, 0) / MICROSECONDS - 1;
    int64_t last = timetable_local_instant(context, date + 1, 0) / MICROSECONDS - 1, at;
    if (!zone_change(context->zone, first, last, &at))
        return false;
    int64_t wall = at - (int64_t)date * 86400;
    *change = (AgendaChange){at * MICROSECONDS,
                             (int32_t)(wall + zone_offset(context->zone, first).offset),
                             (int32_t)(wall + zone_offset(context->zone, last).offset)};
    return true;
}

AgendaSun agenda_sun(const TimetableContext *context, int32_t date, int64_t *rises, int64_t *sets) {
    const TimetablePlace *place = &context->timetable->place;
    bool up = sun_time(SUN_SUNRISE, date, context->zone, place->latitude, place->longitude, rises);
    bool down = sun_time(SUN_SUNSET, date, context->zone, place->latitude, place->longitude, sets);
    if (!up)
        *rises = TIMETABLE_NEVER;
    if (!down)
        *sets = TIMETABLE_NEVER;
    if (up || down)
        return AGENDA_SUN_RISES;
    int64_t noon = sun_noon(date, context->zone, place->longitude);
    double height = sky_sun_height(noon, place->latitude, place->longitude);
    return height > -50.0 / 60.0 / 360.0 ? AGENDA_SUN_STAYS_UP : AGENDA_SUN_STAYS_DOWN;
}
