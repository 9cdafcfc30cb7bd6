#include "runtime/player/performance.h"

#include <string.h>

#include "runtime/core/easing.h"
#include "runtime/core/memory.h"
#include "runtime/light/level.h"
#include "runtime/light/lightness.h"
#include "runtime/light/mix.h"
#include "runtime/player/cast.h"
#include "runtime/player/ceilings.h"
#include "runtime/player/inputs.h"
#include "runtime/player/region.h"

/* The master level set by hand, in lightness: on its way from one to another since `at`. */
typedef struct Level {
    double from, to;
    int64_t at, until;
} Level;

struct Performance {
    PerformanceRequest request;
    Now now;          /* as it was told */
    Overrides *told;  /* as they were told */
    Overrides *other; /* room for the next */
    int64_t longest;  /* of the cross-fades */

    uint32_t region_count; /* at least 1: the lamp, then its parts in the order of the text */
    Region *regions;
    Plan *plans;
    Cast cast;
    Ceilings ceilings;
    PipelinePart *limits; /* room for the ceilings on parts */
    Level level, later;   /* as it was told, and what came of that up to an instant */

    float *layer, *below; /* room for a frame each */
    float *frozen;        /* what the light fades from, */
    int64_t frozen_at;    /* since then; TIMETABLE_EVER: it does not */
    Moment moment;        /* the inputs of the instant `moment_at`, where moment_known */
    int64_t moment_at;
    bool moment_known;
};

/* -------- what plays -------- */

static int64_t least(int64_t a, int64_t b) {
    return a < b ? a : b;
}

/* When the next play by hand or by `when` begins: before that it does not hold. */
static int64_t performance_begins(const Performance *performance, int64_t utc) {
    const Overrides *told = performance->told;
    int64_t next = TIMETABLE_NEVER;
    for (uint32_t i = 0; i < told->count; i++) {
        int64_t begun = begun_utc(&told->list[i].begun, &performance->now);
        next = begun > utc ? least(next, begun) : next;
    }
    for (uint32_t i = 0; i < told->running_count; i++) {
        int64_t begun = begun_utc(&told->running[i].begun, &performance->now);
        next = begun > utc ? least(next, begun) : next;
    }
    return next;
}

static int64_t performance_fading(const Timetable *timetable, const Playing *playing) {
    if (playing->fading != TIMETABLE_NOT_SAID)
        return playing->fading;
    bool sharp = playing->cause == PLAYING_WHEN ||
                 (playing->cause == PLAYING_ENTRY && timetable->entries[playing->entry].every > 0);
    return sharp ? 0 : PLAN_FADING;
}

typedef struct PerformanceLook {
    const Performance *performance;
    int32_t part;
} PerformanceLook;

static int64_t performance_look(const void *context, int64_t utc, PlanPlay *play) {
    const PerformanceLook *look = context;
    const Performance *performance = look->performance;
    const World *world = performance->request.world;
    Now now = now_later(&performance->now, utc - performance->now.utc);
    Playing playing;
    playing_now(performance->told, world, &now, performance->request.lamp, look->part, &playing);
    *play = (PlanPlay){.cause = playing.cause,
                       .routine = playing.routine,
                       .entry = playing.entry,
                       .number = playing.number,
                       .began = playing.began,
                       .since = playing.since,
                       .stands = TIMETABLE_EVER,
                       .fading = performance_fading(world->context.timetable, &playing),
                       .setting_count = playing.setting_count,
                       .settings = playing.settings};
    if (playing.held) {
        play->stands = playing.goes_on;
        play->since = playing.goes_on - (utc - playing.since);
    }
    return least(playing.changes, performance_begins(performance, utc));
}

/* -------- being made -------- */

static bool performance_part_named(const PerformanceRequest *request, int32_t part) {
    const Timetable *timetable = request->world->context.timetable;
    for (uint32_t i = 0; i < timetable->entry_count; i++)
        if (timetable->entries[i].play.lamp == request->lamp &&
            timetable->entries[i].play.part == part)
            return true;
    for (uint32_t i = 0; i < timetable->ceiling_count; i++)
        if (timetable->ceilings[i].lamp == request->lamp && timetable->ceilings[i].part == part)
            return true;
    return false;
}

static bool performance_regions(Performance *performance) {
    const PerformanceRequest *request = &performance->request;
    int32_t groups = request->info ? (int32_t)request->info->group_count : 0;
    size_t most = (size_t)groups + 1;
    performance->regions = memory_allocate(most, sizeof *performance->regions);
    performance->plans = memory_allocate(most, sizeof *performance->plans);
    performance->limits = memory_allocate(most, sizeof *performance->limits);
    if (!performance->regions || !performance->plans || !performance->limits)
        return false;
    region_lamp(&performance->regions[performance->region_count++], request->scene);
    for (int32_t part = 0; part < groups; part++)
        if (request->info->groups[part].is_part && performance_part_named(request, part) &&
            !region_part(&performance->regions[performance->region_count++], request->scene,
                         request->info, part))
            return false;
    return true;
}

static bool performance_ceilings(Performance *performance) {
    const PerformanceRequest *request = &performance->request;
    int32_t *parts = memory_allocate(performance->region_count, sizeof *parts);
    for (uint32_t i = 0; parts && i < performance->region_count; i++)
        parts[i] = performance->regions[i].part;
    bool made = parts && ceilings_start(&performance->ceilings, &request->world->context,
                                        request->lamp, parts, performance->region_count);
    memory_release(parts);
    return made;
}

static int64_t performance_longest(const Timetable *timetable) {
    int64_t longest = PLAN_FADING;
    for (uint32_t i = 0; i < timetable->entry_count; i++)
        if (timetable->entries[i].play.fading > longest)
            longest = timetable->entries[i].play.fading;
    return longest;
}

static bool performance_rooms(Performance *performance) {
    size_t values = 3 * (size_t)performance->request.scene->pixels;
    performance->told = memory_allocate(1, sizeof *performance->told);
    performance->other = memory_allocate(1, sizeof *performance->other);
    performance->layer = memory_allocate(values, sizeof *performance->layer);
    performance->below = memory_allocate(values, sizeof *performance->below);
    performance->frozen = memory_allocate(values, sizeof *performance->frozen);
    return performance->told && performance->other && performance->layer && performance->below &&
           performance->frozen;
}

/* Of what was told: plans and ceilings are to be found anew. */
static void performance_forget(Performance *performance) {
    for (uint32_t i = 0; i < performance->region_count; i++)
        performance->plans[i].from = performance->plans[i].until = 0;
    ceilings_forget(&performance->ceilings);
    performance->moment_known = false;
}

static PlayingLevel performance_hand_level(const Performance *performance, int64_t utc) {
    Now now = now_later(&performance->now, utc - performance->now.utc);
    return playing_level(performance->told, performance->request.world, &now,
                         performance->request.lamp);
}

Performance *performance_create(const PerformanceRequest *request, const Overrides *overrides,
                                const Now *now) {
    Performance *performance = memory_allocate(1, sizeof *performance);
    if (!performance)
        return NULL;
    performance->request = *request;
    performance->now = *now;
    performance->frozen_at = TIMETABLE_EVER;
    performance->longest = performance_longest(request->world->context.timetable);
    if (!performance_rooms(performance) || !performance_regions(performance) ||
        !performance_ceilings(performance) || !cast_start(&performance->cast, request->world)) {
        performance_free(performance);
        return NULL;
    }
    if (overrides)
        *performance->told = *overrides;
    PlayingLevel level = performance_hand_level(performance, now->utc);
    performance->level = (Level){level.lightness, level.lightness, TIMETABLE_EVER, level.until};
    performance->later = performance->level;
    return performance;
}

void performance_free(Performance *performance) {
    if (!performance)
        return;
    for (uint32_t i = 0; i < performance->region_count; i++) {
        region_free(&performance->regions[i]);
        plan_free(&performance->plans[i]);
    }
    cast_free(&performance->cast);
    memory_release(performance->regions);
    memory_release(performance->plans);
    ceilings_free(&performance->ceilings);
    memory_release(performance->limits);
    memory_release(performance->told);
    memory_release(performance->other);
    memory_release(performance->layer);
    memory_release(performance->below);
    memory_release(performance->frozen);
    memory_release(performance);
}

/* -------- being made ready -------- */

static bool performance_plan(Performance *performance, uint32_t region, int64_t from, int64_t to) {
    PerformanceLook look = {performance, performance->regions[region].part};
    PlanSource source = {&look, performance_look, performance->longest};
    return plan_make(&performance->plans[region], &source, from, to);
}

/* Machines for all that the plans hold, and no others. */
static bool performance_cast(Performance *performance) {
    Cast *cast = &performance->cast;
    bool made = true;
    cast_begin(cast);
    for (uint32_t r = 0; r < performance->region_count; r++)
        for (uint32_t i = 0; i < performance->plans[r].count; i++)
            cast_keep(cast, r, &performance->plans[r].stretches[i].play);
    for (uint32_t r = 0; r < performance->region_count; r++)
        for (uint32_t i = 0; made && i < performance->plans[r].count; i++)
            made = cast_want(cast, r, &performance->regions[r].scene,
                             &performance->plans[r].stretches[i].play, performance->told,
                             &performance->now);
    cast_end(cast);
    return made;
}

bool performance_prepare(Performance *performance, int64_t from, int64_t to) {
    bool made = true, fresh = false;
    for (uint32_t r = 0; made && r < performance->region_count; r++) {
        const Plan *plan = &performance->plans[r];
        if (plan_answers(plan, from) && plan_answers(plan, to))
            continue;
        made = performance_plan(performance, r, from, to);
        fresh = true;
    }
    if (made && fresh)
        made = performance_cast(performance);
    if (!made)
        performance_forget(performance);
    return made;
}

/* -------- light -------- */

static const Moment *performance_moment(Performance *performance, int64_t utc) {
    const TimetableContext *context = &performance->request.world->context;
    if (!performance->moment_known || performance->moment_at != utc)
        inputs_at(context->zone, &context->timetable->place, utc, &performance->moment);
    performance->moment_known = true;
    performance->moment_at = utc;
    return &performance->moment;
}

/* One play by itself, in the room of its region; `below` is the lamp's light there. */
static void performance_play(Performance *performance, uint32_t region, const PlanPlay *play,
                             int64_t utc, const float *below, float *into) {
    const Region *where = &performance->regions[region];
    size_t bytes = 3 * (size_t)where->pixels * sizeof *into;
    CastMember *member = cast_find(&performance->cast, region, play);
    if (play->cause == PLAYING_NOTHING && below) {
        memcpy(into, below, bytes);
        return;
    }
    if (!member) {
        memset(into, 0, bytes);
        return;
    }
    Moment moment = {{0}};
    if (member->code->reads_clock)
        moment = *performance_moment(performance, utc);
    moment.input[INPUT_T] = number_smaller((double)plan_time(play, utc), LIMIT_MICROSECONDS);
    cast_set_dials(&performance->cast, member, utc);
    vm_render(member->machine, &moment, into);
}

/* All that is mixed on a region; `below` NULL: it is the lamp. */
static void performance_mix(Performance *performance, uint32_t region, int64_t utc,
                            const float *below, float *into) {
    PlanLayer layers[PLAN_DEPTH + 1];
    uint32_t count = plan_layers(&performance->plans[region], utc, layers);
    size_t values = 3 * (size_t)performance->regions[region].pixels;
    performance_play(performance, region, layers[0].play, utc, below, into);
    for (uint32_t i = 1; i < count; i++) {
        performance_play(performance, region, layers[i].play, utc, below, performance->layer);
        light_mix_frames(into, performance->layer, layers[i].share, values, into);
    }
}

static bool performance_fades(const Performance *performance, int64_t utc) {
    return performance->frozen_at != TIMETABLE_EVER && utc >= performance->frozen_at &&
           utc - performance->frozen_at < PLAN_FADING;
}

bool performance_light(Performance *performance, int64_t utc, float *light) {
    if (!performance_prepare(performance, utc, utc))
        return false;
    performance_mix(performance, 0, utc, NULL, light);
    size_t values = 3 * (size_t)performance->regions[0].pixels;
    for (uint32_t r = 1; r < performance->region_count; r++) {
        const Region *part = &performance->regions[r];
        float *there = light + 3 * (size_t)part->first;
        memcpy(performance->below, there, 3 * (size_t)part->pixels * sizeof *there);
        performance_mix(performance, r, utc, performance->below, there);
    }
    if (performance_fades(performance, utc)) {
        double way = (double)(utc - performance->frozen_at) / (double)PLAN_FADING;
        light_mix_frames(performance->frozen, light, easing_in_out(way), values, light);
    }
    return true;
}

static void performance_fade_from(Performance *performance, const float *frame, int64_t utc) {
    memcpy(performance->frozen, frame, 3 * (size_t)performance->regions[0].pixels * sizeof *frame);
    performance->frozen_at = utc;
}

/* -------- levels and ceilings -------- */

double performance_ceiling(Performance *performance, int64_t utc) {
    return ceilings_at(&performance->ceilings, 0, utc);
}

/* The level at an instant: what was told, and then what each end uncovers. */
static const Level *performance_level_at(Performance *performance, int64_t utc) {
    Level *later = &performance->later;
    if (utc < performance->level.until)
        return &performance->level;
    if (utc < later->at)
        *later = performance->level;
    while (utc >= later->until) {
        PlayingLevel next = performance_hand_level(performance, later->until);
        *later = (Level){later->to, next.lightness, later->until, next.until};
    }
    return later;
}

static bool level_glides(const Level *level, int64_t utc) {
    return level->at != TIMETABLE_EVER && level->from != level->to && utc >= level->at &&
           utc - level->at < PLAN_FADING;
}

static double level_lightness(const Level *level, int64_t utc) {
    if (!level_glides(level, utc))
        return level->to;
    double way = (double)(utc - level->at) / (double)PLAN_FADING;
    return number_lerp(level->from, level->to, easing_in_out(way));
}

double performance_level(Performance *performance, int64_t utc) {
    double lightness = level_lightness(performance_level_at(performance, utc), utc);
    return lightness >= 100.0 ? 1.0 : lightness_light(lightness);
}

void performance_show(Performance *performance, int64_t utc, Pipeline *pipeline, int64_t shown,
                      float *light) {
    uint32_t count = 0;
    for (uint32_t r = 1; r < performance->region_count; r++) {
        const Region *part = &performance->regions[r];
        double ceiling = ceilings_at(&performance->ceilings, r, utc);
        if (ceiling < LEVEL_NO_CEILING)
            performance->limits[count++] = (PipelinePart){part->first, part->pixels, ceiling};
    }
    level_master(light, performance->regions[0].pixels, performance_level(performance, utc));
    pipeline_show_parts(pipeline, shown, performance_ceiling(performance, utc), performance->limits,
                        count, light);
}

/* -------- what rests -------- */

/* When what is shown of a region can differ next. */
static int64_t region_changes(Performance *performance, uint32_t region, int64_t utc) {
    const Plan *plan = &performance->plans[region];
    PlanLayer layers[PLAN_DEPTH + 1];
    int64_t next = plan_next(plan, utc);
    if (plan_layers(plan, utc, layers) > 1)
        return utc;
    const PlanPlay *play = layers[0].play;
    CastMember *member = cast_find(&performance->cast, region, play);
    if (!member)
        return next;
    bool glides = cast_set_dials(&performance->cast, member, utc);
    double still = vm_still_from(member->machine);
    if (glides)
        return utc;
    if ((double)plan_time(play, utc) >= still)
        return next;
    return utc < play->stands && !member->code->reads_clock ? least(next, play->stands) : utc;
}

int64_t performance_changes(Performance *performance, int64_t utc) {
    const Level *level = performance_level_at(performance, utc);
    if (!performance_prepare(performance, utc, utc) || performance_fades(performance, utc) ||
        level_glides(level, utc))
        return utc;
    int64_t next = level->until;
    for (uint32_t r = 0; r < performance->region_count && next > utc; r++)
        next = least(next, region_changes(performance, r, utc));
    return next > utc ? least(next, ceilings_changes(&performance->ceilings, utc)) : utc;
}

uint32_t performance_machines(const Performance *performance) {
    return performance->cast.count;
}

/* -------- what was done by hand -------- */

/* The instant on the old clock that is now. */
static int64_t performance_was(const Performance *performance, const Now *now) {
    return performance->now.utc + (now->boottime - performance->now.boottime);
}

static void performance_shift(Performance *performance, int64_t by) {
    cast_shift(&performance->cast, by);
    if (performance->frozen_at != TIMETABLE_EVER)
        performance->frozen_at += by;
    if (performance->ceilings.changed != TIMETABLE_EVER)
        performance->ceilings.changed += by;
}

/* All that was told but the dials. */
static void performance_take(Performance *performance, const Overrides *overrides, const Now *now) {
    Overrides *old = performance->told, *next = performance->other;
    *next = *overrides;
    next->dial_count = old->dial_count;
    memcpy(next->dials, old->dials, sizeof next->dials);
    performance->told = next;
    performance->other = old;
    performance->now = *now;
    performance_forget(performance);
}

/* From where the level was, `old`, to where it is now. */
static void performance_take_level(Performance *performance, const Level *old, int64_t was,
                                   int64_t utc) {
    PlayingLevel next = performance_hand_level(performance, utc);
    Level level = *old;
    if (level.at != TIMETABLE_EVER)
        level.at += utc - was;
    if (next.lightness != level.to)
        level = (Level){level_lightness(old, was), next.lightness, utc, next.until};
    level.until = next.until;
    performance->level = performance->later = level;
}

/* Back to what was told before. */
static void performance_take_back(Performance *performance, const Now *before, int64_t by) {
    Overrides *next = performance->told;
    performance->told = performance->other;
    performance->other = next;
    performance->now = *before;
    performance_shift(performance, -by);
    performance_forget(performance);
}

/* Of each region into `into`. */
static void performance_all_ceilings(Performance *performance, int64_t utc, double *into) {
    for (uint32_t r = 0; r < performance->region_count; r++)
        into[r] = ceilings_at(&performance->ceilings, r, utc);
}

/* What is shown before and after. */
typedef struct PerformanceTurn {
    float *frame, *old, *new; /* at the instant, and a microsecond before it by the old and new */
    double *ceilings, *others;
} PerformanceTurn;

static bool performance_turn_start(const Performance *performance, PerformanceTurn *turn) {
    size_t values = 3 * (size_t)performance->regions[0].pixels;
    turn->frame = memory_allocate(3 * values, sizeof *turn->frame);
    turn->ceilings = memory_allocate(2 * (size_t)performance->region_count, sizeof *turn->ceilings);
    if (!turn->frame || !turn->ceilings)
        return false;
    turn->old = turn->frame + values;
    turn->new = turn->old + values;
    turn->others = turn->ceilings + performance->region_count;
    return true;
}

static void performance_turn_end(PerformanceTurn *turn) {
    memory_release(turn->frame);
    memory_release(turn->ceilings);
}

/* Fades from what was to what is. Whether anything but what begins now makes another light is seen
 * a microsecond before. */
static void performance_turn_over(Performance *performance, const PerformanceTurn *turn, bool jumps,
                                  int64_t utc) {
    size_t values = 3 * (size_t)performance->regions[0].pixels;
    size_t regions = performance->region_count;
    if (jumps || memcmp(turn->old, turn->new, values * sizeof *turn->old) != 0)
        performance_fade_from(performance, turn->frame, utc);
    performance_all_ceilings(performance, utc, turn->others);
    if (memcmp(turn->ceilings, turn->others, regions * sizeof *turn->ceilings) != 0)
        ceilings_fade_from(&performance->ceilings, turn->ceilings, utc);
}

static bool performance_retell(Performance *performance, const Overrides *overrides, const Now *now,
                               const PerformanceTurn *turn) {
    int64_t was = performance_was(performance, now);
    if (!performance_light(performance, was - 1, turn->old) ||
        !performance_light(performance, was, turn->frame))
        return false;
    performance_all_ceilings(performance, was, turn->ceilings);
    Level level = *performance_level_at(performance, was);
    Now before = performance->now;
    performance_take(performance, overrides, now);
    performance_shift(performance, now->utc - was);
    if (!performance_light(performance, now->utc - 1, turn->new) ||
        !performance_prepare(performance, now->utc, now->utc)) {
        performance_take_back(performance, &before, now->utc - was);
        return false;
    }
    performance->told->dial_count = overrides->dial_count;
    memcpy(performance->told->dials, overrides->dials, sizeof overrides->dials);
    bool jumps = cast_tell(&performance->cast, performance->told, now);
    performance_take_level(performance, &level, was, now->utc);
    performance_turn_over(performance, turn, jumps, now->utc);
    return true;
}

bool performance_tell(Performance *performance, const Overrides *overrides, const Now *now) {
    PerformanceTurn turn = {0};
    bool told = performance_turn_start(performance, &turn) &&
                performance_retell(performance, overrides, now, &turn);
    performance_turn_end(&turn);
    return told;
}

bool performance_follow(Performance *performance, Performance *old, int64_t utc) {
    uint32_t pixels = performance->regions[0].pixels;
    if (old->regions[0].pixels != pixels || !performance_light(old, utc, performance->frozen))
        return false;
    performance->frozen_at = utc;
    Level from = *performance_level_at(old, utc), to = *performance_level_at(performance, utc);
    performance->level = performance->later =
        (Level){level_lightness(&from, utc), to.to, utc, to.until};
    double *ceilings = performance->ceilings.before;
    for (uint32_t r = 0; r < performance->region_count; r++)
        ceilings[r] = r == 0 ? ceilings_at(&old->ceilings, 0, utc) : LEVEL_NO_CEILING;
    performance->ceilings.changed = utc;
    return true;
}
