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

/* What is asked about: a lamp or a part of one, with what was changed. */
typedef struct Query {
    const TimetableContext *context;
    const TimetableChanges *changes;
    int32_t lamp, part;
} Query;

static const TimetableChanges timetable_unchanged;

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

/* -------- instances that are skipped, moved, held -------- */

static bool change_matches(const Query *query, const TimetableChange *change,
                           TimetableChangeKind kind) {
    return change->kind == kind &&
           (change->lamp == TIMETABLE_NOT_SAID || change->lamp == query->lamp);
}

/* Nothing begins there. */
static bool change_skips(const Query *query, int64_t start) {
    for (uint32_t i = 0; i < query->changes->count; i++) {
        const TimetableChange *change = &query->changes->list[i];
        if (change_matches(query, change, TIMETABLE_SKIPPED) && change->start == start)
            return true;
    }
    return false;
}

/* Where the instance that starts there was moved to, by the last that moves it; NULL. */
static const TimetableChange *change_moves(const Query *query, uint32_t entry, int64_t start) {
    for (uint32_t i = query->changes->count; i-- > 0;) {
        const TimetableChange *change = &query->changes->list[i];
        if (change_matches(query, change, TIMETABLE_MOVED) && change->entry == entry &&
            change->start == start)
            return change;
    }
    return NULL;
}

static bool change_suppresses(const Query *query, uint32_t entry, int64_t start) {
    return change_skips(query, start) || change_moves(query, entry, start);
}

/* The start that an instance was moved to, skipped or not; false where that is none of this
 * entry's.
 */
static bool change_start(const Query *query, uint32_t index, const TimetableChange *change,
                         MomentStart *start) {
    if (!change_matches(query, change, TIMETABLE_MOVED) || change->entry != index ||
        change_moves(query, index, change->start) != change)
        return false;
    const TimetableEntry *entry = &query->context->timetable->entries[index];
    moment_start_on_clock(query->context->zone, change->moment, start);
    if (entry->kind == TIMETABLE_BY)
        moment_lead(start, timetable_lasts(query->context->program, entry->play.routine));
    return true;
}

typedef struct Hold {
    int64_t late;    /* how much of its time it has stood still */
    int64_t longer;  /* how much it will have in the end */
    int64_t goes_on; /* until when it stands still now; at or before utc: it does not */
    int64_t edge;    /* the next instant at which it begins or ceases to; TIMETABLE_NEVER */
} Hold;

static Hold change_hold(const Query *query, uint32_t entry, int64_t start, int64_t utc) {
    Hold hold = {0, 0, TIMETABLE_EVER, TIMETABLE_NEVER};
    for (uint32_t i = 0; i < query->changes->count; i++) {
        const TimetableChange *change = &query->changes->list[i];
        if (!change_matches(query, change, TIMETABLE_HELD) || change->entry != entry ||
            change->start != start)
            continue;
        int64_t end = change->from + change->length;
        hold.longer += change->length;
        if (utc >= end)
            hold.late += change->length;
        else if (utc >= change->from)
            hold.late += utc - change->from;
        int64_t edge = change->from > utc ? change->from : end;
        if (edge > utc && edge < hold.edge)
            hold.edge = edge;
        if (utc >= change->from && end > hold.goes_on)
            hold.goes_on = end;
    }
    return hold;
}

static int64_t instance_end(const Query *query, uint32_t index, const MomentStart *start) {
    const TimetableEntry *entry = &query->context->timetable->entries[index];
    int64_t ends = entry_end(query->context, entry, start);
    if (ends == TIMETABLE_NEVER || entry->play.end == TIMETABLE_UNTIL)
        return ends;
    return ends + change_hold(query, index, start->utc, start->utc).longer;
}

/* -------- which instance -------- */

/* The last start of a moment at or before `utc` that was neither skipped nor moved. */
static bool moment_last(const Query *query, uint32_t index, const Recurring *what, int64_t utc,
                        MomentStart *start) {
    for (uint32_t tries = 0; tries <= query->changes->count; tries++) {
        if (!recurring_last(what, utc, start))
            return false;
        if (!change_suppresses(query, index, start->utc))
            return true;
        utc = start->utc - 1;
    }
    return false;
}

static void running_take(const Query *query, uint32_t index, const MomentStart *start, int64_t utc,
                         bool *found, Stretch *running) {
    if (start->utc > utc || (*found && start->utc < running->began))
        return;
    int64_t ends = instance_end(query, index, start);
    if (ends > utc) {
        *running = (Stretch){start->utc, ends};
        *found = true;
    }
}

/* What of the entry runs at `utc`; the ends of one moment are in the order of its starts, so only
 * the last start of each counts. */
static bool entry_running(const Query *query, uint32_t index, int64_t utc, Stretch *running) {
    const TimetableEntry *entry = &query->context->timetable->entries[index];
    bool found = false;
    uint32_t count = entry_moments(entry);
    MomentStart start;
    for (uint32_t i = 0; i < count; i++) {
        TimetableMoment moment = entry_moment(entry, i);
        Recurring what = entry_recurring(query->context, entry, &moment);
        if (moment_last(query, index, &what, utc, &start))
            running_take(query, index, &start, utc, &found, running);
    }
    for (uint32_t i = 0; i < query->changes->count; i++)
        if (change_start(query, index, &query->changes->list[i], &start) &&
            !change_skips(query, start.utc))
            running_take(query, index, &start, utc, &found, running);
    return found;
}

/* The first start of a moment after `utc` and before `least` that has a length, else `least`. */
static int64_t moment_next(const Query *query, uint32_t index, const Recurring *what, int64_t utc,
                           int64_t least) {
    MomentStart start;
    int32_t date = recurring_first_date(what, utc);
    for (int tries = 0; tries < TIMETABLE_TRIES; tries++) {
        if (!recurring_next(what, utc, &date, &start) || start.utc >= least)
            return least;
        if (!change_suppresses(query, index, start.utc) &&
            instance_end(query, index, &start) > start.utc)
            return start.utc;
    }
    return least;
}

/* The first start after `utc` that has a length; *moved: what moved it there, or NULL. */
static int64_t entry_next(const Query *query, uint32_t index, int64_t utc,
                          const TimetableChange **moved) {
    const TimetableEntry *entry = &query->context->timetable->entries[index];
    int64_t next = TIMETABLE_NEVER;
    *moved = NULL;
    uint32_t count = entry_moments(entry);
    for (uint32_t i = 0; i < count; i++) {
        TimetableMoment moment = entry_moment(entry, i);
        Recurring what = entry_recurring(query->context, entry, &moment);
        next = moment_next(query, index, &what, utc, next);
    }
    for (uint32_t i = 0; i < query->changes->count; i++) {
        const TimetableChange *change = &query->changes->list[i];
        MomentStart start;
        if (change_start(query, index, change, &start) && !change_skips(query, start.utc) &&
            start.utc > utc && start.utc < next && instance_end(query, index, &start) > start.utc) {
            next = start.utc;
            *moved = change;
        }
    }
    return next;
}

/* -------- routines that follow one another -------- */

int64_t timetable_follows(const Program *program, uint16_t routine, int64_t since) {
    int64_t lasts = timetable_lasts(program, routine);
    if (lasts <= 0 || program->routines[routine].then == ROUTINE_NONE)
        return TIMETABLE_NEVER;
    return since + lasts;
}

/* No chain comes back to a routine in it (the compiler refuses those), so it has no more steps than
 * there are routines. */
void timetable_follow(const Program *program, int64_t utc, uint16_t *routine, int64_t *since) {
    for (uint32_t steps = 0; steps < program->routine_count; steps++) {
        int64_t over = timetable_follows(program, *routine, *since);
        if (over > utc)
            return;
        *since = over;
        *routine = program->routines[*routine].then;
    }
}

/* -------- what plays -------- */

static void query_state(const Query *query, int64_t utc, TimetableState *state) {
    const Timetable *timetable = query->context->timetable;
    *state = (TimetableState){.began = TIMETABLE_EVER,
                              .ends = TIMETABLE_NEVER,
                              .routine = ROUTINE_OFF,
                              .since = TIMETABLE_EVER,
                              .goes_on = TIMETABLE_EVER};
    for (uint32_t i = 0; i < timetable->entry_count; i++) {
        Stretch running = {0, 0};
        if (!entry_covers(&timetable->entries[i], query->lamp, query->part) ||
            !entry_running(query, i, utc, &running) ||
            (state->plays && running.began < state->began))
            continue;
        state->plays = true;
        state->entry = i;
        state->began = state->since = running.began;
        state->ends = running.ends;
        state->routine = timetable->entries[i].play.routine;
    }
    if (!state->plays)
        return;
    Hold hold = change_hold(query, state->entry, state->began, utc);
    timetable_follow(query->context->program, utc - hold.late, &state->routine, &state->since);
    state->since += hold.late;
    state->goes_on = hold.goes_on;
}

void timetable_state(const TimetableContext *context, int32_t lamp, int32_t part, int64_t utc,
                     TimetableState *state) {
    timetable_changed_state(context, &timetable_unchanged, lamp, part, utc, state);
}

void timetable_changed_state(const TimetableContext *context, const TimetableChanges *changes,
                             int32_t lamp, int32_t part, int64_t utc, TimetableState *state) {
    Query query = {context, changes, lamp, part};
    query_state(&query, timetable_held(utc), state);
}

int64_t timetable_next(const TimetableContext *context, int32_t lamp, int32_t part, int64_t utc) {
    return timetable_changed_next(context, &timetable_unchanged, lamp, part, utc);
}

int64_t timetable_changed_next(const TimetableContext *context, const TimetableChanges *changes,
                               int32_t lamp, int32_t part, int64_t utc) {
    Query query = {context, changes, lamp, part};
    utc = timetable_held(utc);
    TimetableState state;
    query_state(&query, utc, &state);
    int64_t next = state.ends;
    if (state.plays) {
        Hold hold = change_hold(&query, state.entry, state.began, utc);
        next = hold.edge < next ? hold.edge : next;
        int64_t over = timetable_follows(context->program, state.routine, state.since);
        if (hold.goes_on <= utc && over < next)
            next = over;
    }
    for (uint32_t i = 0; i < context->timetable->entry_count; i++) {
        const TimetableChange *moved;
        if (!entry_covers(&context->timetable->entries[i], lamp, part))
            continue;
        int64_t begins = entry_next(&query, i, utc, &moved);
        next = begins < next ? begins : next;
    }
    return next;
}

/* -------- instances -------- */

/* Whether the entry plays on the lamp or on a part of it. */
static bool entry_reaches(const TimetableEntry *entry, int32_t lamp) {
    return (entry->kind == TIMETABLE_AT || entry->kind == TIMETABLE_BY) &&
           (entry->play.lamp == TIMETABLE_NOT_SAID || entry->play.lamp == lamp);
}

bool timetable_begin(const TimetableContext *context, const TimetableChanges *changes, int32_t lamp,
                     int64_t utc, int64_t past, TimetableBegin *begin) {
    Query query = {context, changes, lamp, TIMETABLE_NOT_SAID};
    bool found = false;
    utc = timetable_held(utc);
    for (uint32_t i = 0; i < context->timetable->entry_count; i++) {
        const TimetableEntry *entry = &context->timetable->entries[i];
        if (!entry_reaches(entry, lamp))
            continue;
        int64_t lead = entry->kind == TIMETABLE_BY
                           ? timetable_lasts(context->program, entry->play.routine)
                           : 0;
        int64_t after = past != TIMETABLE_EVER && past - lead > utc ? past - lead : utc;
        const TimetableChange *moved;
        int64_t start = entry_next(&query, i, after, &moved);
        int64_t key = past == TIMETABLE_EVER ? start : start + lead;
        if (start == TIMETABLE_NEVER ||
            (found && key > (past == TIMETABLE_EVER ? begin->start : begin->moment)))
            continue;
        found = true;
        *begin = (TimetableBegin){i, start, start + lead, moved ? moved->start : start};
    }
    return found;
}

bool timetable_instance(const TimetableContext *context, const TimetableChanges *changes,
                        int32_t lamp, uint32_t index, int64_t start, int64_t *ends) {
    Query query = {context, changes, lamp, TIMETABLE_NOT_SAID};
    const TimetableEntry *entry = &context->timetable->entries[index];
    if (entry->kind != TIMETABLE_AT && entry->kind != TIMETABLE_BY)
        return false;
    MomentStart found;
    uint32_t count = entry_moments(entry);
    for (uint32_t i = 0; i < count; i++) {
        TimetableMoment moment = entry_moment(entry, i);
        Recurring what = entry_recurring(context, entry, &moment);
        if (recurring_last(&what, start, &found) && found.utc == start) {
            *ends = instance_end(&query, index, &found);
            return true;
        }
    }
    for (uint32_t i = 0; i < changes->count; i++)
        if (change_start(&query, index, &changes->list[i], &found) && found.utc == start) {
            *ends = instance_end(&query, index, &found);
            return true;
        }
    return false;
}

bool timetable_covered(const TimetableContext *context, const TimetableChanges *changes,
                       int32_t lamp, int32_t part, int64_t start, int64_t utc) {
    Query query = {context, changes, lamp, part};
    for (uint32_t i = 0; i < context->timetable->entry_count; i++) {
        const TimetableEntry *entry = &context->timetable->entries[i];
        Stretch running;
        if (entry_covers(entry, lamp, part) &&
            entry_running(&query, i, timetable_held(utc), &running) &&
            running.ends == TIMETABLE_NEVER && running.began > start)
            return true;
    }
    return false;
}

/* -------- one moment on one date -------- */

uint32_t timetable_moments(const TimetableEntry *entry) {
    return entry_moments(entry);
}

TimetableMoment timetable_moment(const TimetableEntry *entry, uint32_t index) {
    return entry_moment(entry, index);
}

int64_t timetable_lead(const TimetableContext *context, uint32_t index) {
    const TimetableEntry *entry = &context->timetable->entries[index];
    return entry_recurring(context, entry, NULL).lead;
}

bool timetable_on_date(const TimetableContext *context, uint32_t index, uint32_t moment_index,
                       int32_t date, int64_t *start, int64_t *ends) {
    const TimetableEntry *entry = &context->timetable->entries[index];
    TimetableMoment moment = entry_moment(entry, moment_index);
    Recurring what = entry_recurring(context, entry, &moment);
    MomentStart begins;
    int32_t found;
    if (!days_next(&entry->days, date, &found) || found != date ||
        !recurring_start(&what, date, &begins))
        return false;
    *start = begins.utc;
    *ends = entry_end(context, entry, &begins);
    return true;
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

int64_t timetable_end(const TimetableContext *context, const TimetableMoment *until, int64_t utc) {
    MomentPlace place = timetable_place(context);
    MomentStart start;
    moment_start_on_clock(context->zone, timetable_held(utc), &start);
    return moment_end(&place, until, &start);
}
