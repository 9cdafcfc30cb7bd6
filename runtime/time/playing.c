#include "runtime/time/playing.h"

static int64_t least(int64_t a, int64_t b) {
    return a < b ? a : b;
}

static void playing_clear(Playing *playing) {
    *playing = (Playing){.cause = PLAYING_NOTHING,
                         .routine = ROUTINE_OFF,
                         .began = TIMETABLE_EVER,
                         .since = TIMETABLE_EVER,
                         .goes_on = TIMETABLE_EVER,
                         .until = TIMETABLE_NEVER,
                         .changes = TIMETABLE_NEVER,
                         .fading = TIMETABLE_NOT_SAID};
}

/* The routine that plays now of what began by hand or by `when`, with what was held. */
static void playing_walk(const Overrides *overrides, const World *world, const Now *now,
                         const Begun *begun, OverrideTargetKind kind, int32_t lamp,
                         Playing *playing) {
    const Program *program = world->context.program;
    int64_t late = overrides_late(overrides, now, kind, playing->number, lamp, &playing->goes_on);
    playing->began = now->utc - begun_ago(begun, now);
    playing->since = playing->began;
    timetable_follow(program, now->utc - late, &playing->routine, &playing->since);
    playing->since += late;
    playing->held = playing->goes_on > now->utc;
    int64_t over = timetable_follows(program, playing->routine, playing->since);
    playing->changes = least(playing->until, playing->held ? playing->goes_on : over);
}

static void playing_take_play(const TimetablePlay *play, Playing *playing) {
    playing->routine = play->routine;
    playing->setting_count = play->setting_count;
    playing->settings = play->settings;
    playing->fading = play->fading;
}

/* -------- by hand -------- */

static const Override *hand_top(const Overrides *overrides, const World *world, const Now *now,
                                OverrideKind kind, int32_t lamp, int64_t *ends) {
    for (uint32_t i = overrides->count; i-- > 0;) {
        const Override *one = &overrides->list[i];
        if (one->kind == kind && override_holds(overrides, world, now, one, lamp, ends))
            return one;
    }
    return NULL;
}

static bool playing_hand(const Overrides *overrides, const World *world, const Now *now,
                         int32_t lamp, Playing *playing) {
    int64_t ends;
    const Override *top = hand_top(overrides, world, now, OVERRIDE_PLAY, lamp, &ends);
    if (!top)
        return false;
    playing->until = ends;
    playing->cause = PLAYING_HAND;
    playing->number = top->number;
    playing->routine = top->routine;
    playing->setting_count = top->setting_count;
    playing->settings = top->settings;
    playing_walk(overrides, world, now, &top->begun, TARGET_HAND, lamp, playing);
    return true;
}

/* -------- plays of `when` -------- */

/* The latest that runs on the lamp as a whole or, of a part, also on it. */
static const RunningWhen *when_top(const Overrides *overrides, const World *world, const Now *now,
                                   int32_t lamp, int32_t part, int64_t *ends) {
    for (uint32_t i = overrides->running_count; i-- > 0;) {
        const RunningWhen *one = &overrides->running[i];
        const TimetablePlay *play = &world->context.timetable->entries[one->entry].play;
        bool on_lamp = play->lamp == TIMETABLE_NOT_SAID || play->lamp == lamp;
        if (on_lamp && (play->part == TIMETABLE_NOT_SAID || play->part == part) &&
            running_holds(overrides, world, now, one, ends))
            return one;
    }
    return NULL;
}

static void playing_when(const Overrides *overrides, const World *world, const Now *now,
                         const RunningWhen *top, int32_t lamp, Playing *playing) {
    playing->cause = PLAYING_WHEN;
    playing->entry = top->entry;
    playing->number = top->number;
    playing_take_play(&world->context.timetable->entries[top->entry].play, playing);
    playing_walk(overrides, world, now, &top->begun, TARGET_WHEN, lamp, playing);
}

/* -------- the timetable -------- */

static void playing_until_clock(const World *world, const Now *now, Playing *playing) {
    const Timetable *timetable = world->context.timetable;
    playing->cause = PLAYING_UNTIL_CLOCK;
    playing->routine =
        timetable->until_clock == ROUTINE_NONE ? ROUTINE_OFF : timetable->until_clock;
    playing->began = playing->since = now->utc - now->boottime;
    timetable_follow(world->context.program, now->utc, &playing->routine, &playing->since);
    playing->changes = timetable_follows(world->context.program, playing->routine, playing->since);
}

static void playing_entry(const Overrides *overrides, const World *world, const Now *now,
                          int32_t lamp, int32_t part, Playing *playing) {
    TimetableChange list[LIMIT_OVERRIDES];
    TimetableChanges changes = overrides_changes(overrides, now, list);
    TimetableState state;
    timetable_changed_state(&world->context, &changes, lamp, part, now->utc, &state);
    playing->changes = timetable_changed_next(&world->context, &changes, lamp, part, now->utc);
    if (!state.plays)
        return;
    playing->cause = PLAYING_ENTRY;
    playing->entry = state.entry;
    playing_take_play(&world->context.timetable->entries[state.entry].play, playing);
    playing->routine = state.routine;
    playing->began = state.began;
    playing->since = state.since;
    playing->until = state.ends;
    playing->goes_on = state.goes_on;
    playing->held = state.goes_on > now->utc;
}

/* -------- all of it -------- */

/* On top of a part lies all that lies on its lamp as a whole; then the part itself is not asked,
 * but it may come to be when that ends. */
void playing_now(const Overrides *overrides, const World *world, const Now *now, int32_t lamp,
                 int32_t part, Playing *playing) {
    bool whole = part == TIMETABLE_NOT_SAID;
    int64_t ends = TIMETABLE_NEVER;
    playing_clear(playing);
    if (playing_hand(overrides, world, now, lamp, playing)) {
        int64_t until = playing->until;
        if (!whole) {
            playing_clear(playing);
            playing->changes = until;
        }
        return;
    }
    const RunningWhen *top = when_top(overrides, world, now, lamp, part, &ends);
    if (top) {
        const TimetablePlay *play = &world->context.timetable->entries[top->entry].play;
        playing->until = playing->changes = ends;
        if (whole || play->part == part)
            playing_when(overrides, world, now, top, lamp, playing);
        else
            playing->until = TIMETABLE_NEVER;
        return;
    }
    if (now->trusted)
        playing_entry(overrides, world, now, lamp, part, playing);
    else if (whole)
        playing_until_clock(world, now, playing);
}

bool playing_next(const Overrides *overrides, const World *world, const Now *now, int32_t lamp,
                  TimetableBegin *begin) {
    TimetableChange list[LIMIT_OVERRIDES];
    TimetableChanges changes = overrides_changes(overrides, now, list);
    return now->trusted &&
           timetable_begin(&world->context, &changes, lamp, now->utc, TIMETABLE_EVER, begin);
}

PlayingLevel playing_level(const Overrides *overrides, const World *world, const Now *now,
                           int32_t lamp) {
    int64_t ends;
    const Override *top = hand_top(overrides, world, now, OVERRIDE_LEVEL, lamp, &ends);
    if (!top)
        return (PlayingLevel){100.0, 0, TIMETABLE_NEVER};
    return (PlayingLevel){top->lightness, top->number, ends};
}

/* -------- dials -------- */

static bool set_since(const DialSet *set, const Playing *playing, const Now *now) {
    if (playing->cause == PLAYING_ENTRY)
        return begun_utc(&set->begun, now) >= playing->began;
    return set->number > playing->number;
}

TimetableSetting playing_dial(const Overrides *overrides, const World *world, const Now *now,
                              const Playing *playing, uint16_t dial) {
    const DialInfo *info = &world->context.program->dials[dial];
    const DialSet *set = overrides_dial(overrides, dial);
    for (uint32_t i = 0; i < playing->setting_count; i++)
        if (playing->settings[i].dial == dial && !(set && set_since(set, playing, now)))
            return playing->settings[i];
    if (set)
        return set->setting;
    return (TimetableSetting){dial, info->number, info->colour};
}
