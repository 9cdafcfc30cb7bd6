#include "runtime/time/timetable.h"

#include "runtime/core/civil.h"
#include "runtime/time/days.h"
#include "runtime/time/moment.h"

#define TIMETABLE_DAY_SECONDS 86400
#define TIMETABLE_SECOND INT64_C(1000000)
#define TIMETABLE_TRIES 400 /* dates on which a time of the sun may fail to come */

/* What begins: one moment of an entry, or a ceiling, on one date after the other. */
typedef struct Recurring {
    MomentPlace place;
    const TimetableDays *days;
    const TimetableBounds *bounds;
    const TimetableMoment *moment;
    int64_t lead; /* begins that much before its moment */
} Recurring;

typedef struct Stretch {
    int64_t began, ends;
} Stretch;

static MomentPlace timetable_place(const TimetableContext *context) {
    const TimetablePlace *place = &context->timetable->place;
    return (MomentPlace){context->zone, place->latitude, place->longitude};
}

/* Within the years 0 to 9999. */
static int64_t timetable_held(int64_t utc) {
    int64_t day = TIMETABLE_DAY_SECONDS * TIMETABLE_SECOND;
    int64_t least = DAYS_FIRST * day, most = (DAYS_LAST + 1) * day;
    if (utc < least)
        return least;
    return utc > most ? most : utc;
}

/* -------- one moment on its dates -------- */

static bool recurring_start(const Recurring *what, int32_t date, MomentStart *start) {
    if (!moment_start(&what->place, what->moment, what->bounds, date, start))
        return false;
    moment_lead(start, what->lead);
    return true;
}

/* An instant lies at most so many days before or behind its date: the sun's day may begin half a
 * day before the date, and an offset is less than a day. */
static int32_t recurring_around(const Recurring *what) {
    int64_t half = TIMETABLE_DAY_SECONDS / 2 * TIMETABLE_SECOND;
    bool far = what->moment->sun && (what->moment->offset < -half || what->moment->offset > half);
    return far ? 3 : 2;
}

/* The last start at or before `utc`. */
static bool recurring_last(const Recurring *what, int64_t utc, MomentStart *start) {
    int32_t date = moment_date(&what->place, utc + what->lead) + recurring_around(what);
    for (int i = 0; i < TIMETABLE_TRIES && days_last(what->days, date, &date); i++, date--)
        if (recurring_start(what, date, start) && start->utc <= utc)
            return true;
    return false;
}

/* The first start after `utc` on `*date` or later, which becomes the date behind it. */
static bool recurring_next(const Recurring *what, int64_t utc, int32_t *date, MomentStart *start) {
    for (int i = 0; i < TIMETABLE_TRIES && days_next(what->days, *date, date); i++, ++*date)
        if (recurring_start(what, *date, start) && start->utc > utc) {
            ++*date;
            return true;
        }
    return false;
}

static int32_t recurring_first_date(const Recurring *what, int64_t utc) {
    return moment_date(&what->place, utc + what->lead) - recurring_around(what);
}

/* -------- entries -------- */

static int64_t timetable_lasts(const Program *program, uint16_t routine) {
    return routine < program->routine_count ? (int64_t)program->routines[routine].lasts : 0;
}

static bool timetable_repeats(const TimetableEntry *entry) {
    return entry->every > 0;
}

/* Where the start of an entry is. */
static Recurring entry_recurring(const TimetableContext *context, const TimetableEntry *entry,
                                 const TimetableMoment *moment) {
    int64_t lead =
        entry->kind == TIMETABLE_BY ? timetable_lasts(context->program, entry->play.routine) : 0;
    return (Recurring){timetable_place(context), &entry->days, &entry->bounds, moment, lead};
}

static int64_t entry_end(const TimetableContext *context, const TimetableEntry *entry,
                         const MomentStart *start) {
    const TimetablePlay *play = &entry->play;
    MomentPlace place = timetable_place(context);
    if (play->end == TIMETABLE_FOR)
        return start->utc + play->stays;
    if (play->end == TIMETABLE_UNTIL)
        return moment_end(&place, &play->until, start);
    if (timetable_repeats(entry))
        return start->utc + timetable_lasts(context->program, play->routine);
    return TIMETABLE_NEVER;
}

/* How many times of day a repeated entry has. */
static uint32_t entry_times(const TimetableEntry *entry) {
    int64_t way = entry->last - entry->first;
    return (uint32_t)((way < 0 ? way + TIMETABLE_DAY_SECONDS : way) / entry->every) + 1;
}

/* The moments of an entry: those of its list, or each time of day of a repeated one. */
static uint32_t entry_moments(const TimetableEntry *entry) {
    return timetable_repeats(entry) ? entry_times(entry) : entry->moment_count;
}

static TimetableMoment entry_moment(const TimetableEntry *entry, uint32_t index) {
    if (!timetable_repeats(entry))
        return entry->moments[index];
    int64_t clock = (entry->first + index * entry->every) % TIMETABLE_DAY_SECONDS;
    return (TimetableMoment){.sun = false, .clock = (int32_t)clock};
}

static bool entry_covers(const TimetableEntry *entry, int32_t lamp, int32_t part) {
    if (entry->kind != TIMETABLE_AT && entry->kind != TIMETABLE_BY)
        return false;
    bool whole = entry->play.part == TIMETABLE_NOT_SAID;
    if (part != TIMETABLE_NOT_SAID)
        return entry->play.lamp == lamp && entry->play.part == part;
    return whole && (entry->play.lamp == TIMETABLE_NOT_SAID || entry->play.lamp == lamp);
}

/* What of the entry runs at `utc`; the ends of one moment are in the order of its starts, so only
 * the last start of each counts. */
static bool entry_running(const TimetableContext *context, const TimetableEntry *entry, int64_t utc,
                          Stretch *running) {
    bool found = false;
    uint32_t count = entry_moments(entry);
    for (uint32_t i = 0; i < count; i++) {
        TimetableMoment moment = entry_moment(entry, i);
        Recurring what = entry_recurring(context, entry, &moment);
        MomentStart start;
        if (!recurring_last(&what, utc, &start) || (found && start.utc < running->began))
            continue;
        int64_t ends = entry_end(context, entry, &start);
        if (ends > utc) {
            *running = (Stretch){start.utc, ends};
            found = true;
        }
    }
    return found;
}

/* The first start after `utc` that has a length. */
static int64_t entry_next(const TimetableContext *context, const TimetableEntry *entry,
                          int64_t utc) {
    int64_t next = TIMETABLE_NEVER;
    uint32_t count = entry_moments(entry);
    for (uint32_t i = 0; i < count; i++) {
        TimetableMoment moment = entry_moment(entry, i);
        Recurring what = entry_recurring(context, entry, &moment);
        MomentStart start;
        int32_t date = recurring_first_date(&what, utc);
        for (int tries = 0; tries < TIMETABLE_TRIES; tries++) {
            if (!recurring_next(&what, utc, &date, &start) || start.utc >= next)
                break;
            if (entry_end(context, entry, &start) > start.utc) {
                next = start.utc;
                break;
            }
        }
    }
    return next;
}

/* -------- routines that follow one another -------- */

/* True where another routine follows this one, at *over. */
static bool chain_follows(const Program *program, const TimetableState *state, int64_t *over) {
    int64_t lasts = timetable_lasts(program, state->routine);
    if (lasts <= 0 || program->routines[state->routine].then == ROUTINE_NONE)
        return false;
    *over = state->since + lasts;
    return true;
}

/* From the entry's routine on to the one that plays now. No chain comes back to a routine in it
 * (the compiler refuses those), so it has no more steps than there are routines. */
static void chain_walk(const Program *program, int64_t utc, TimetableState *state) {
    int64_t over;
    for (uint32_t steps = 0; steps < program->routine_count; steps++) {
        if (!chain_follows(program, state, &over) || over > utc)
            return;
        state->since = over;
        state->routine = program->routines[state->routine].then;
    }
}

/* -------- what plays -------- */

void timetable_state(const TimetableContext *context, int32_t lamp, int32_t part, int64_t utc,
                     TimetableState *state) {
    const Timetable *timetable = context->timetable;
    utc = timetable_held(utc);
    *state = (TimetableState){.began = TIMETABLE_EVER,
                              .ends = TIMETABLE_NEVER,
                              .routine = ROUTINE_OFF,
                              .since = TIMETABLE_EVER};
    for (uint32_t i = 0; i < timetable->entry_count; i++) {
        const TimetableEntry *entry = &timetable->entries[i];
        Stretch running = {0, 0};
        if (!entry_covers(entry, lamp, part) || !entry_running(context, entry, utc, &running) ||
            (state->plays && running.began < state->began))
            continue;
        *state = (TimetableState){true,         i, running.began, running.ends, entry->play.routine,
                                  running.began};
    }
    if (state->plays)
        chain_walk(context->program, utc, state);
}

int64_t timetable_next(const TimetableContext *context, int32_t lamp, int32_t part, int64_t utc) {
    const Timetable *timetable = context->timetable;
    utc = timetable_held(utc);
    TimetableState state;
    timetable_state(context, lamp, part, utc, &state);
    int64_t next = state.ends, over;
    if (state.plays && chain_follows(context->program, &state, &over) && over < next)
        next = over;
    for (uint32_t i = 0; i < timetable->entry_count; i++) {
        const TimetableEntry *entry = &timetable->entries[i];
        if (!entry_covers(entry, lamp, part))
            continue;
        int64_t begins = entry_next(context, entry, utc);
        next = begins < next ? begins : next;
    }
    return next;
}

/* -------- ceilings -------- */

static Recurring ceiling_recurring(const TimetableContext *context,
                                   const TimetableCeiling *ceiling) {
    return (Recurring){timetable_place(context), &ceiling->days, &moment_unbound, &ceiling->from,
                       0};
}

bool timetable_ceiling_covers(const TimetableContext *context, uint32_t index, int32_t lamp,
                              int32_t part) {
    const TimetableCeiling *ceiling = &context->timetable->ceilings[index];
    return (ceiling->lamp == TIMETABLE_NOT_SAID || ceiling->lamp == lamp) &&
           (ceiling->part == TIMETABLE_NOT_SAID || ceiling->part == part);
}

bool timetable_ceiling(const TimetableContext *context, uint32_t index, int64_t utc, int64_t *since,
                       int64_t *until) {
    const TimetableCeiling *ceiling = &context->timetable->ceilings[index];
    Recurring what = ceiling_recurring(context, ceiling);
    MomentStart start;
    if (!recurring_last(&what, timetable_held(utc), &start))
        return false;
    *since = start.utc;
    *until = moment_end(&what.place, &ceiling->to, &start);
    return *until > *since;
}

int64_t timetable_ceiling_next(const TimetableContext *context, uint32_t index, int64_t utc) {
    const TimetableCeiling *ceiling = &context->timetable->ceilings[index];
    Recurring what = ceiling_recurring(context, ceiling);
    utc = timetable_held(utc);
    int64_t since, until, next = TIMETABLE_NEVER;
    if (timetable_ceiling(context, index, utc, &since, &until) && until > utc)
        next = until;
    int32_t date = recurring_first_date(&what, utc);
    MomentStart start;
    for (int tries = 0; tries < TIMETABLE_TRIES; tries++) {
        if (!recurring_next(&what, utc, &date, &start) || start.utc >= next)
            return next;
        if (moment_end(&what.place, &ceiling->to, &start) > start.utc)
            return start.utc;
    }
    return next;
}

/* -------- local time -------- */

int32_t timetable_local_date(const TimetableContext *context, int64_t utc) {
    MomentPlace place = timetable_place(context);
    return moment_date(&place, timetable_held(utc));
}

int64_t timetable_local_instant(const TimetableContext *context, int32_t date, int32_t clock) {
    MomentPlace place = timetable_place(context);
    return moment_of_clock(&place, (int64_t)date * TIMETABLE_DAY_SECONDS + clock);
}
