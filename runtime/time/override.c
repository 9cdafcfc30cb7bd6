#include "runtime/time/override.h"

#include <string.h>

uint32_t world_lamps(const World *world, int32_t lamp) {
    return lamp == TIMETABLE_NOT_SAID && world->lamp_count > 0 ? world->lamp_count : 1;
}

int32_t world_lamp(int32_t lamp, const World *world, uint32_t place) {
    return lamp == TIMETABLE_NOT_SAID && world->lamp_count > 0 ? (int32_t)place : lamp;
}

_Static_assert(LIMIT_LAMPS <= 64, "Override.over has a bit for each lamp");

static bool reaches(int32_t which, int32_t lamp) {
    return which == TIMETABLE_NOT_SAID || which == lamp;
}

/* -------- settling -------- */

void overrides_settle(Overrides *overrides, const Now *now) {
    bool restarted = strcmp(overrides->boot, now->boot) != 0;
    memcpy(overrides->boot, now->boot, sizeof overrides->boot);
    for (uint32_t i = 0; i < overrides->count; i++) {
        Override *one = &overrides->list[i];
        bool known = one->begun.trusted;
        begun_settle(&one->begun, now, restarted);
        if (!known || one->seen < one->begun.utc)
            one->seen = one->begun.utc;
    }
    for (uint32_t i = 0; i < overrides->running_count; i++) {
        begun_settle(&overrides->running[i].begun, now, restarted);
        begun_settle(&overrides->running[i].renewed, now, restarted);
    }
    for (uint32_t i = 0; i < overrides->dial_count; i++)
        begun_settle(&overrides->dials[i].begun, now, restarted);
    for (uint32_t i = 0; i < overrides->report_count; i++)
        begun_settle(&overrides->reports[i].begun, now, restarted);
    for (uint32_t i = 0; i < overrides->undo_count; i++)
        begun_settle(&overrides->undo[i].before.begun, now, restarted);
}

/* -------- holds -------- */

static bool more_of(const Override *one, OverrideTargetKind kind, uint64_t number) {
    return one->kind == OVERRIDE_MORE && !one->cleared && one->target.kind == kind &&
           one->target.number == number;
}

int64_t overrides_late(const Overrides *overrides, const Now *now, OverrideTargetKind kind,
                       uint64_t number, int32_t lamp, int64_t *goes_on) {
    int64_t late = 0;
    *goes_on = TIMETABLE_EVER;
    for (uint32_t i = 0; i < overrides->count; i++) {
        const Override *one = &overrides->list[i];
        if (!more_of(one, kind, number) || !reaches(one->lamp, lamp))
            continue;
        int64_t ago = begun_ago(&one->begun, now), end = now->utc + one->length - ago;
        if (ago > 0)
            late += ago < one->length ? ago : one->length;
        if (ago >= 0 && end > *goes_on)
            *goes_on = end;
    }
    return late;
}

/* How much later its end comes on a lamp. */
static int64_t longer(const Overrides *overrides, OverrideTargetKind kind, uint64_t number,
                      int32_t lamp) {
    int64_t sum = 0;
    for (uint32_t i = 0; i < overrides->count; i++)
        if (more_of(&overrides->list[i], kind, number) && reaches(overrides->list[i].lamp, lamp))
            sum += overrides->list[i].length;
    return sum;
}

/* `cleared`: with what was cleared and may come back. */
static TimetableChanges changes_of(const Overrides *overrides, const Now *now, bool cleared,
                                   TimetableChange *list) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < overrides->count; i++) {
        const Override *one = &overrides->list[i];
        const OverrideTarget *target = &one->target;
        bool entry = target->kind == TARGET_ENTRY && (cleared || !one->cleared);
        TimetableChange change = {
            .lamp = one->lamp, .entry = target->entry, .start = target->start};
        if (entry && one->kind == OVERRIDE_SKIP) {
            change.kind = TIMETABLE_SKIPPED;
        } else if (entry && one->kind == OVERRIDE_EARLIER) {
            change.kind = TIMETABLE_MOVED;
            change.moment = one->moment;
        } else if (entry && one->kind == OVERRIDE_MORE) {
            change.kind = TIMETABLE_HELD;
            change.from = now->utc - begun_ago(&one->begun, now);
            change.length = one->length;
        } else {
            continue;
        }
        list[count++] = change;
    }
    return (TimetableChanges){count, list};
}

TimetableChanges overrides_changes(const Overrides *overrides, const Now *now,
                                   TimetableChange *list) {
    return changes_of(overrides, now, false, list);
}

/* -------- ends -------- */

static bool next_entry_holds(const Overrides *overrides, const World *world, const Now *now,
                             const Override *one, int32_t lamp, int64_t *ends) {
    *ends = TIMETABLE_NEVER;
    if (!now->trusted)
        return true;
    TimetableChange list[LIMIT_OVERRIDES];
    TimetableChanges changes = overrides_changes(overrides, now, list);
    TimetableBegin begin;
    int64_t seen = begun_utc(&one->begun, now);
    seen = one->seen > seen ? one->seen : seen;
    if (timetable_begin(&world->context, &changes, lamp, seen, TIMETABLE_EVER, &begin))
        *ends = begin.start;
    return *ends > now->utc;
}

bool override_holds(const Overrides *overrides, const World *world, const Now *now,
                    const Override *one, int32_t lamp, int64_t *ends) {
    if (one->cleared || !reaches(one->lamp, lamp) || begun_ago(&one->begun, now) < 0 ||
        (lamp >= 0 && (one->over >> lamp & 1)))
        return false;
    switch (one->end.kind) {
    case OVERRIDE_FOR:
        *ends = now->utc + one->end.length - begun_ago(&one->begun, now) +
                longer(overrides, TARGET_HAND, one->number, lamp);
        break;
    case OVERRIDE_UNTIL:
        *ends = timetable_end(&world->context, &one->end.until, begun_utc(&one->begun, now));
        break;
    case OVERRIDE_AT:
        *ends = one->end.instant;
        break;
    default:
        return next_entry_holds(overrides, world, now, one, lamp, ends);
    }
    return *ends > now->utc;
}

bool running_holds(const Overrides *overrides, const World *world, const Now *now,
                   const RunningWhen *one, int64_t *ends) {
    if (one->cleared || begun_ago(&one->begun, now) < 0)
        return false;
    const TimetablePlay *play = &world->context.timetable->entries[one->entry].play;
    const Program *program = world->context.program;
    if (play->end == TIMETABLE_UNTIL) {
        *ends = timetable_end(&world->context, &play->until, begun_utc(&one->renewed, now));
        return *ends > now->utc;
    }
    int64_t length = play->stays;
    if (play->end != TIMETABLE_FOR)
        length = play->routine < program->routine_count
                     ? (int64_t)program->routines[play->routine].lasts
                     : 0;
    *ends = now->utc + length - begun_ago(&one->renewed, now) +
            longer(overrides, TARGET_WHEN, one->number, play->lamp);
    return *ends > now->utc;
}

/* -------- instances that cannot be seen any more -------- */

static bool instance_over_on(const World *world, const TimetableChanges *changes, uint32_t entry,
                             int64_t start, int32_t lamp, const Now *now) {
    int64_t ends;
    const TimetablePlay *play = &world->context.timetable->entries[entry].play;
    if (!reaches(play->lamp, lamp) ||
        !timetable_instance(&world->context, changes, lamp, entry, start, &ends))
        return true;
    if (start > now->utc)
        return false;
    return ends <= now->utc ||
           timetable_covered(&world->context, changes, lamp, play->part, start, now->utc);
}

static bool instance_over(const World *world, const TimetableChanges *changes, uint32_t entry,
                          int64_t start, int32_t which, const Now *now) {
    for (uint32_t i = 0; i < world_lamps(world, which); i++)
        if (!instance_over_on(world, changes, entry, start, world_lamp(which, world, i), now))
            return false;
    return true;
}

/* Whatever starts there: a skip is about all of it. */
static bool skip_over(const World *world, const TimetableChanges *changes, const Override *one,
                      const Now *now) {
    if (!instance_over(world, changes, one->target.entry, one->target.start, one->lamp, now))
        return false;
    for (uint32_t i = 0; i < world->context.timetable->entry_count; i++)
        if (!instance_over(world, changes, i, one->target.start, one->lamp, now))
            return false;
    return true;
}

static int64_t earlier_start(const World *world, const Override *one) {
    const TimetableEntry *entry = &world->context.timetable->entries[one->target.entry];
    const Program *program = world->context.program;
    bool lead = entry->kind == TIMETABLE_BY && entry->play.routine < program->routine_count;
    return one->moment - (lead ? (int64_t)program->routines[entry->play.routine].lasts : 0);
}

static bool running_in_list(const Overrides *overrides, uint64_t number) {
    for (uint32_t i = 0; i < overrides->running_count; i++)
        if (overrides->running[i].number == number)
            return true;
    return false;
}

static bool target_gone(const Overrides *overrides, const World *world,
                        const TimetableChanges *changes, const Override *one, const Now *now) {
    const OverrideTarget *target = &one->target;
    if (target->kind == TARGET_HAND)
        return overrides_find(overrides, OVERRIDE_PLAY, target->number) < 0;
    if (target->kind == TARGET_WHEN)
        return !running_in_list(overrides, target->number);
    /* What is yet to begin may be moved away from there, and back again. */
    if (!now->trusted || target->start > now->utc)
        return false;
    if (one->kind == OVERRIDE_SKIP)
        return skip_over(world, changes, one, now);
    if (one->kind == OVERRIDE_EARLIER &&
        !instance_over(world, changes, target->entry, earlier_start(world, one), one->lamp, now))
        return false;
    return instance_over(world, changes, target->entry, target->start, one->lamp, now);
}

/* Marks the lamps on which a play or a level has ended; true where that is all of them. */
static bool ended_on_all(const Overrides *overrides, const World *world, const Now *now,
                         Override *one) {
    Override standing = *one;
    standing.cleared = 0;
    bool all = true;
    int64_t ends;
    for (uint32_t i = 0; i < world_lamps(world, one->lamp); i++) {
        int32_t lamp = world_lamp(one->lamp, world, i);
        if (override_holds(overrides, world, now, &standing, lamp, &ends))
            all = false;
        else if (lamp >= 0)
            one->over |= UINT64_C(1) << lamp;
    }
    return all;
}

/* -------- pruning -------- */

static bool undo_has_effect(const Overrides *overrides, const UndoAct *act) {
    bool found = act->kind == UNDO_DIAL;
    for (uint32_t i = 0; i < overrides->count; i++) {
        const Override *one = &overrides->list[i];
        found = found || (act->kind == UNDO_ADDED && one->number == act->number) ||
                (act->kind == UNDO_CLEARED && one->cleared == act->number);
    }
    for (uint32_t i = 0; i < overrides->running_count; i++)
        found =
            found || (act->kind == UNDO_CLEARED && overrides->running[i].cleared == act->number);
    return found;
}

static bool can_come_back(const Overrides *overrides, uint64_t cleared) {
    for (uint32_t i = 0; i < overrides->undo_count; i++)
        if (overrides->undo[i].kind == UNDO_CLEARED && overrides->undo[i].number == cleared)
            return true;
    return false;
}

/* What was cleared for good, and acts that have nothing left to take back. */
static bool prune_undo(Overrides *overrides) {
    uint32_t before = overrides->undo_count, acts = 0;
    for (uint32_t i = 0; i < before; i++)
        if (undo_has_effect(overrides, &overrides->undo[i]))
            overrides->undo[acts++] = overrides->undo[i];
    overrides->undo_count = acts;
    return acts != before;
}

/* What hangs on something that was cleared stays as long as that may come back. */
static bool gone_either_way(const Overrides *overrides, const World *world, const Override *one,
                            const Now *now) {
    TimetableChange list[LIMIT_OVERRIDES];
    for (int cleared = 0; cleared < 2; cleared++) {
        TimetableChanges changes = changes_of(overrides, now, cleared, list);
        if (!target_gone(overrides, world, &changes, one, now))
            return false;
    }
    return true;
}

/* Says of each override whether it is over before any is dropped: they hang on one another. */
static bool prune_list(Overrides *overrides, const World *world, const Now *now) {
    bool over[LIMIT_OVERRIDES], marked = false;
    uint32_t before = overrides->count, kept = 0;
    for (uint32_t i = 0; i < overrides->count; i++) {
        Override *one = &overrides->list[i];
        uint64_t marks = one->over;
        bool stays = one->kind == OVERRIDE_PLAY || one->kind == OVERRIDE_LEVEL;
        over[i] = (one->cleared && !can_come_back(overrides, one->cleared)) ||
                  (stays ? ended_on_all(overrides, world, now, one)
                         : gone_either_way(overrides, world, one, now));
        marked = marked || one->over != marks;
    }
    for (uint32_t i = 0; i < before; i++) {
        Override *one = &overrides->list[i];
        if (over[i])
            continue;
        if (now->trusted && one->seen < now->utc)
            one->seen = now->utc;
        overrides->list[kept++] = *one;
    }
    overrides->count = kept;
    return kept != before || marked;
}

static bool prune_running(Overrides *overrides, const World *world, const Now *now) {
    uint32_t before = overrides->running_count, kept = 0;
    for (uint32_t i = 0; i < before; i++) {
        const RunningWhen *one = &overrides->running[i];
        RunningWhen standing = *one;
        standing.cleared = 0;
        int64_t ends;
        if (running_holds(overrides, world, now, &standing, &ends) &&
            (!one->cleared || can_come_back(overrides, one->cleared)))
            overrides->running[kept++] = *one;
    }
    overrides->running_count = kept;
    return kept != before;
}

bool overrides_prune(Overrides *overrides, const World *world, const Now *now) {
    bool pruned = false, again = true;
    while (again) {
        again = prune_running(overrides, world, now);
        again = prune_list(overrides, world, now) || again;
        again = prune_undo(overrides) || again;
        pruned = pruned || again;
    }
    return pruned;
}

int64_t overrides_next_end(const Overrides *overrides, const World *world, const Now *now) {
    int64_t next = TIMETABLE_NEVER, ends;
    for (uint32_t i = 0; i < overrides->count; i++) {
        const Override *one = &overrides->list[i];
        if (one->kind != OVERRIDE_PLAY && one->kind != OVERRIDE_LEVEL)
            continue;
        for (uint32_t place = 0; place < world_lamps(world, one->lamp); place++)
            if (override_holds(overrides, world, now, one, world_lamp(one->lamp, world, place),
                               &ends) &&
                ends < next)
                next = ends;
    }
    for (uint32_t i = 0; i < overrides->running_count; i++)
        if (running_holds(overrides, world, now, &overrides->running[i], &ends) && ends < next)
            next = ends;
    return next;
}

/* -------- looking up -------- */

const DialSet *overrides_dial(const Overrides *overrides, uint16_t dial) {
    for (uint32_t i = 0; i < overrides->dial_count; i++)
        if (overrides->dials[i].setting.dial == dial)
            return &overrides->dials[i];
    return NULL;
}

int64_t overrides_find(const Overrides *overrides, OverrideKind kind, uint64_t number) {
    for (uint32_t i = 0; i < overrides->count; i++)
        if (overrides->list[i].kind == kind && overrides->list[i].number == number)
            return i;
    return -1;
}
