#include "runtime/time/act.h"

#include <string.h>

#define ACT_DAY (86400 * INT64_C(1000000))
#define ACT_EARLIER_MOST (ACT_DAY / 2)

static const char *const ACT_FULL = "too many overrides are in force: clear one first";
static const char *const ACT_NO_CLOCK =
    "the clock is not set yet, so which moment comes next is not known";

/* -------- the list -------- */

static void drop(Overrides *overrides, uint32_t index) {
    overrides->count--;
    memmove(&overrides->list[index], &overrides->list[index + 1],
            (overrides->count - index) * sizeof overrides->list[0]);
}

/* Room for so many more; what was cleared gives way, the oldest first. */
static bool make_room(Overrides *overrides, uint32_t more) {
    for (uint32_t i = 0; i < overrides->count && overrides->count + more > LIMIT_OVERRIDES;)
        if (overrides->list[i].cleared)
            drop(overrides, i);
        else
            i++;
    return overrides->count + more <= LIMIT_OVERRIDES;
}

static UndoAct *remember(Overrides *overrides, UndoKind kind, uint64_t number) {
    if (overrides->undo_count == LIMIT_UNDO) {
        overrides->undo_count--;
        memmove(&overrides->undo[0], &overrides->undo[1],
                overrides->undo_count * sizeof overrides->undo[0]);
    }
    UndoAct *act = &overrides->undo[overrides->undo_count++];
    *act = (UndoAct){.kind = kind, .number = number};
    return act;
}

static Override *add(Overrides *overrides, OverrideKind kind, int32_t lamp, const Now *now,
                     int64_t after) {
    Override *one = &overrides->list[overrides->count++];
    *one = (Override){.kind = kind,
                      .number = overrides->last_number,
                      .lamp = lamp,
                      .begun = begun_in(now, after),
                      .seen = now->utc,
                      .routine = ROUTINE_OFF};
    return one;
}

/* A new number, for overrides that the caller adds. */
static void begin_adding(Overrides *overrides) {
    remember(overrides, UNDO_ADDED, ++overrides->last_number);
}

/* -------- play and level -------- */

static const char *end_trouble(const Overrides *overrides, const World *world, const Now *now,
                               const OverrideEnd *end, int32_t lamp) {
    int64_t most = LIMIT_OVERRIDE_DAYS * ACT_DAY;
    if (end->kind == OVERRIDE_FOR && (end->length <= 0 || end->length > most))
        return "it may be given more than 0s and at most 366 days";
    if (end->kind == OVERRIDE_UNTIL &&
        (end->until.sun || end->until.clock < 0 || end->until.clock >= 86400))
        return "its end is no time of day";
    if (end->kind == OVERRIDE_AT && (end->instant <= now->utc || end->instant > now->utc + most))
        return "its end has to lie ahead, at most 366 days";
    if (end->kind != OVERRIDE_NEXT_ENTRY)
        return NULL;
    TimetableChange list[LIMIT_OVERRIDES];
    TimetableChanges changes = overrides_changes(overrides, now, list);
    TimetableBegin begin;
    for (uint32_t i = 0; i < world_lamps(world, lamp); i++)
        if (!timetable_begin(&world->context, &changes, world_lamp(lamp, world, i), now->utc,
                             TIMETABLE_EVER, &begin))
            return "no entry of the timetable would end it: say for how long, or until when";
    return NULL;
}

static const char *settings_trouble(const World *world, const Act *act) {
    if (act->setting_count > LIMIT_OVERRIDE_DIALS)
        return "one play by hand may set at most 16 dials";
    for (uint32_t i = 0; i < act->setting_count; i++)
        if (act->settings[i].dial >= world->context.program->dial_count)
            return "there is no such dial";
    return NULL;
}

static const char *act_play(Overrides *overrides, const World *world, const Now *now,
                            const Act *act) {
    if (act->routine != ROUTINE_OFF && act->routine >= world->context.program->routine_count)
        return "there is no such routine";
    const char *trouble = settings_trouble(world, act);
    if (!trouble)
        trouble = end_trouble(overrides, world, now, &act->end, act->lamp);
    if (trouble)
        return trouble;
    if (!make_room(overrides, 1))
        return ACT_FULL;
    begin_adding(overrides);
    Override *one = add(overrides, OVERRIDE_PLAY, act->lamp, now, 0);
    one->routine = act->routine;
    one->end = act->end;
    one->setting_count = act->setting_count;
    for (uint32_t i = 0; i < act->setting_count; i++)
        one->settings[i] = act->settings[i];
    return NULL;
}

static const char *act_level(Overrides *overrides, const World *world, const Now *now,
                             const Act *act) {
    if (!(act->lightness >= 0.0 && act->lightness <= 100.0))
        return "a level is a lightness from 0 to 100";
    const char *trouble = end_trouble(overrides, world, now, &act->end, act->lamp);
    if (trouble)
        return trouble;
    if (!make_room(overrides, 1))
        return ACT_FULL;
    begin_adding(overrides);
    Override *one = add(overrides, OVERRIDE_LEVEL, act->lamp, now, 0);
    one->lightness = act->lightness;
    one->end = act->end;
    return NULL;
}

/* -------- skip and earlier -------- */

/* What begins (or, with `past`, whose moment comes) first on any of the lamps. */
static bool first_begin(const Overrides *overrides, const World *world, const Now *now,
                        int32_t lamp, int64_t past, TimetableBegin *first) {
    TimetableChange list[LIMIT_OVERRIDES];
    TimetableChanges changes = overrides_changes(overrides, now, list);
    bool found = false;
    for (uint32_t i = 0; i < world_lamps(world, lamp); i++) {
        TimetableBegin begin;
        if (!timetable_begin(&world->context, &changes, world_lamp(lamp, world, i), now->utc, past,
                             &begin))
            continue;
        bool sooner =
            past == TIMETABLE_EVER ? begin.start < first->start : begin.moment < first->moment;
        if (!found || sooner)
            *first = begin;
        found = true;
    }
    return found;
}

static const char *act_skip(Overrides *overrides, const World *world, const Now *now,
                            const Act *act) {
    TimetableBegin begin = {0};
    if (!now->trusted)
        return ACT_NO_CLOCK;
    if (!first_begin(overrides, world, now, act->lamp, TIMETABLE_EVER, &begin))
        return "nothing in the timetable comes that could be skipped";
    if (!make_room(overrides, 1))
        return ACT_FULL;
    begin_adding(overrides);
    Override *one = add(overrides, OVERRIDE_SKIP, act->lamp, now, 0);
    one->target = (OverrideTarget){TARGET_ENTRY, begin.entry, begin.start, 0};
    return NULL;
}

static const char *act_earlier(Overrides *overrides, const World *world, const Now *now,
                               const Act *act) {
    TimetableBegin begin = {0};
    if (!now->trusted)
        return ACT_NO_CLOCK;
    if (act->clock < 0 || act->clock >= 86400)
        return "that is no time of day";
    TimetableMoment clock = {.sun = false, .clock = act->clock};
    int64_t moment = timetable_end(&world->context, &clock, now->utc);
    if (!first_begin(overrides, world, now, act->lamp, moment, &begin) ||
        begin.moment - moment > ACT_EARLIER_MOST)
        return "nothing in the timetable comes within 12 hours after that time";
    if (moment - (begin.moment - begin.start) <= now->utc)
        return "too late for that: the routine would have begun already; play it by hand";
    if (!make_room(overrides, 1))
        return ACT_FULL;
    begin_adding(overrides);
    Override *one = add(overrides, OVERRIDE_EARLIER, act->lamp, now, 0);
    one->target = (OverrideTarget){TARGET_ENTRY, begin.entry, begin.origin, 0};
    one->moment = moment;
    return NULL;
}

/* -------- more -------- */

typedef struct Targets {
    uint32_t count;
    OverrideTarget list[LIMIT_OVERRIDES];
    int64_t after[LIMIT_OVERRIDES]; /* it already stands still for so long */
    bool full;
} Targets;

static bool target_of(const Playing *playing, OverrideTarget *target) {
    *target = (OverrideTarget){.number = playing->number};
    switch (playing->cause) {
    case PLAYING_ENTRY:
        *target = (OverrideTarget){TARGET_ENTRY, playing->entry, playing->began, 0};
        return true;
    case PLAYING_HAND:
        target->kind = TARGET_HAND;
        return true;
    case PLAYING_WHEN:
        target->kind = TARGET_WHEN;
        return true;
    default:
        return false;
    }
}

static void take_target(Targets *targets, const Playing *playing, const Now *now) {
    OverrideTarget target;
    if (!target_of(playing, &target))
        return;
    for (uint32_t i = 0; i < targets->count; i++) {
        const OverrideTarget *one = &targets->list[i];
        if (one->kind == target.kind && one->entry == target.entry && one->start == target.start &&
            one->number == target.number)
            return;
    }
    targets->full = targets->count == LIMIT_OVERRIDES;
    if (targets->full)
        return;
    targets->after[targets->count] = playing->held ? playing->goes_on - now->utc : 0;
    targets->list[targets->count++] = target;
}

/* The lamp as a whole, and each part that entries name. */
static void take_lamp(const Overrides *overrides, const World *world, const Now *now, int32_t lamp,
                      Targets *targets) {
    const Timetable *timetable = world->context.timetable;
    Playing playing;
    playing_now(overrides, world, now, lamp, TIMETABLE_NOT_SAID, &playing);
    take_target(targets, &playing, now);
    for (uint32_t i = 0; i < timetable->entry_count && !targets->full; i++) {
        const TimetablePlay *play = &timetable->entries[i].play;
        if (play->lamp != lamp || play->part == TIMETABLE_NOT_SAID)
            continue;
        playing_now(overrides, world, now, lamp, play->part, &playing);
        take_target(targets, &playing, now);
    }
}

static const char *act_more(Overrides *overrides, const World *world, const Now *now,
                            const Act *act) {
    if (act->length <= 0 || act->length > ACT_DAY)
        return "it may be more than 0s and at most 24 hours";
    Targets targets = {0};
    for (uint32_t i = 0; i < world_lamps(world, act->lamp); i++)
        take_lamp(overrides, world, now, world_lamp(act->lamp, world, i), &targets);
    if (targets.count == 0)
        return "nothing plays that could go on for longer";
    if (targets.full || !make_room(overrides, targets.count))
        return ACT_FULL;
    begin_adding(overrides);
    for (uint32_t i = 0; i < targets.count; i++) {
        Override *one = add(overrides, OVERRIDE_MORE, act->lamp, now, targets.after[i]);
        one->target = targets.list[i];
        one->length = act->length;
    }
    return NULL;
}

/* -------- dials, clear, undo -------- */

static const char *act_set(Overrides *overrides, const World *world, const Now *now,
                           const Act *act) {
    uint16_t dial = act->setting.dial;
    if (dial >= world->context.program->dial_count)
        return "there is no such dial";
    DialSet *set = (DialSet *)overrides_dial(overrides, dial);
    if (!set && overrides->dial_count == LIMIT_DIALS)
        return "too many dials are set";
    UndoAct *undo = remember(overrides, UNDO_DIAL, ++overrides->last_number);
    undo->was_set = set != NULL;
    undo->before.setting.dial = dial;
    if (set)
        undo->before = *set;
    else
        set = &overrides->dials[overrides->dial_count++];
    *set = (DialSet){overrides->last_number, begun_in(now, 0), act->setting};
    return NULL;
}

static const char *act_clear(Overrides *overrides, const Act *act) {
    uint64_t number = overrides->last_number + 1;
    bool found = false;
    for (uint32_t i = 0; i < overrides->count; i++) {
        Override *one = &overrides->list[i];
        if (one->cleared || (act->number && one->number != act->number))
            continue;
        one->cleared = number;
        found = true;
    }
    for (uint32_t i = 0; i < overrides->running_count; i++) {
        RunningWhen *one = &overrides->running[i];
        if (one->cleared || one->number != act->number)
            continue;
        one->cleared = number;
        found = true;
    }
    if (!found)
        return act->number ? "there is no override of that number" : "nothing is overridden";
    overrides->last_number = number;
    remember(overrides, UNDO_CLEARED, number);
    return NULL;
}

static void undo_added(Overrides *overrides, uint64_t number) {
    for (uint32_t i = 0; i < overrides->count;)
        if (overrides->list[i].number == number)
            drop(overrides, i);
        else
            i++;
}

static void undo_cleared(Overrides *overrides, uint64_t number) {
    for (uint32_t i = 0; i < overrides->count; i++)
        if (overrides->list[i].cleared == number)
            overrides->list[i].cleared = 0;
    for (uint32_t i = 0; i < overrides->running_count; i++)
        if (overrides->running[i].cleared == number)
            overrides->running[i].cleared = 0;
}

static void undo_dial(Overrides *overrides, const UndoAct *act) {
    DialSet *set = (DialSet *)overrides_dial(overrides, act->before.setting.dial);
    if (set && act->was_set)
        *set = act->before;
    else if (set)
        *set = overrides->dials[--overrides->dial_count];
}

static const char *act_undo(Overrides *overrides, const World *world, const Now *now) {
    overrides_prune(overrides, world, now);
    if (overrides->undo_count == 0)
        return "nothing was done by hand that could be taken back";
    UndoAct act = overrides->undo[--overrides->undo_count];
    if (act.kind == UNDO_ADDED)
        undo_added(overrides, act.number);
    else if (act.kind == UNDO_CLEARED)
        undo_cleared(overrides, act.number);
    else
        undo_dial(overrides, &act);
    return NULL;
}

/* -------- events and truths -------- */

static RunningWhen *running_of(Overrides *overrides, uint32_t entry) {
    for (uint32_t i = 0; i < overrides->running_count; i++)
        if (overrides->running[i].entry == entry)
            return &overrides->running[i];
    return NULL;
}

/* In the place of one that runs of the same entry: it would never be seen again. */
static void fire(Overrides *overrides, const Now *now, uint32_t entry) {
    RunningWhen *old = running_of(overrides, entry);
    if (old) {
        uint32_t index = (uint32_t)(old - overrides->running);
        overrides->running_count--;
        memmove(old, old + 1, (overrides->running_count - index) * sizeof *old);
    }
    Begun begun = begun_in(now, 0);
    overrides->running[overrides->running_count++] =
        (RunningWhen){++overrides->last_number, 0, entry, begun, begun};
}

static const char *act_report(Overrides *overrides, const World *world, const Now *now,
                              const Act *act) {
    const Timetable *timetable = world->context.timetable;
    if (act->event >= world->context.program->event_count)
        return "there is no such event";
    uint32_t place = 0;
    while (place < overrides->report_count && overrides->reports[place].event != act->event)
        place++;
    if (place == LIMIT_EVENTS)
        return "too many events were told";
    if (place == overrides->report_count)
        overrides->report_count++;
    overrides->reports[place] = (EventReport){act->event, begun_in(now, 0)};
    for (uint32_t i = 0; i < timetable->entry_count; i++)
        if (timetable->entries[i].kind == TIMETABLE_EVENT &&
            timetable->entries[i].event == act->event)
            fire(overrides, now, i);
    return NULL;
}

bool overrides_truths(Overrides *overrides, const World *world, const Now *now,
                      const bool *truths) {
    const Timetable *timetable = world->context.timetable;
    bool changed = false;
    for (uint32_t i = 0; i < timetable->entry_count; i++) {
        const TimetableEntry *entry = &timetable->entries[i];
        if (entry->kind != TIMETABLE_TRUTH)
            continue;
        bool now_true = truths[entry->condition];
        bool turned = now_true && overrides->truths[i] == TRUTH_FALSE;
        overrides->truths[i] = now_true ? TRUTH_TRUE : TRUTH_FALSE;
        RunningWhen *running = running_of(overrides, i);
        int64_t ends;
        if (!turned)
            continue;
        changed = true;
        if (running && running_holds(overrides, world, now, running, &ends))
            running->renewed = begun_in(now, 0);
        else
            fire(overrides, now, i);
    }
    return changed;
}

/* -------- all of them -------- */

const char *overrides_act(Overrides *overrides, const World *world, const Now *now,
                          const Act *act) {
    if (act->lamp != TIMETABLE_NOT_SAID &&
        (act->lamp < 0 || (uint32_t)act->lamp >= world->lamp_count))
        return "there is no such lamp";
    switch (act->kind) {
    case ACT_PLAY:
        return act_play(overrides, world, now, act);
    case ACT_LEVEL:
        return act_level(overrides, world, now, act);
    case ACT_SKIP:
        return act_skip(overrides, world, now, act);
    case ACT_MORE:
        return act_more(overrides, world, now, act);
    case ACT_EARLIER:
        return act_earlier(overrides, world, now, act);
    case ACT_SET:
        return act_set(overrides, world, now, act);
    case ACT_CLEAR:
        return act_clear(overrides, act);
    case ACT_UNDO:
        return act_undo(overrides, world, now);
    case ACT_REPORT:
        return act_report(overrides, world, now, act);
    }
    return "there is no such act";
}
