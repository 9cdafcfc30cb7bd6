#include "runtime/command/cuts.h"

#include <string.h>

#include "runtime/command/planned.h"
#include "runtime/core/memory.h"
#include "runtime/library/safety.h"
#include "runtime/light/encode.h"
#include "runtime/light/level.h"
#include "runtime/player/performance.h"

enum { MOMENTS = 16, STRETCHES = 2000 /* of a lamp in a week, at most */ };
#define WEEK (INT64_C(7) * 86400 * 1000000)
/* In pixel instructions, about nanoseconds: all, and for looking at what begins. */
#define WORK 2e8
#define WORK_MOMENT 1e3
#define WORK_CEILING 1e4

typedef struct Cuts {
    Planned planned;
    World world;
    double work; /* that is left */
    double step; /* what one change of the timetable takes */
    /* Of the lamp that is looked at: */
    int32_t lamp;
    const LampInfo *info;
    Lamp made;
    double level;
    Performance *performance;
    float *light;
} Cuts;

/* Pixels that a ceiling holds. */
static bool is_held(const Cuts *cuts, int32_t part, uint32_t pixel) {
    if (part == TIMETABLE_NOT_SAID)
        return true;
    const LampGroup *group = &cuts->info->groups[part];
    for (uint32_t i = 0; i < group->run_count; i++)
        if (pixel >= group->runs[i][0] && pixel <= group->runs[i][1])
            return true;
    return false;
}

/* The brightest channel that the ceiling meets, as it leaves the master level. -1: no memory. */
static double brightest(Cuts *cuts, int32_t part, int64_t from, int64_t until) {
    double most = 0;
    uint32_t pixels = cuts->made.scene.pixels;
    for (int i = 0; i < MOMENTS; i++) {
        int64_t utc = from + (int64_t)((double)(until - from) * ((i + 0.5) / MOMENTS));
        if (!performance_light(cuts->performance, utc, cuts->light))
            return -1;
        level_master(cuts->light, pixels, cuts->level);
        encode_gamut(cuts->light, pixels, cuts->light);
        for (uint32_t value = 0; value < 3 * pixels; value++)
            if (cuts->light[value] > most && is_held(cuts, part, value / 3))
                most = cuts->light[value];
    }
    return most;
}

/* The item of the text that became entry `index`. */
static const Node *item_of(const Compilation *compilation, uint32_t index) {
    const Node *item = lang_main_tree(compilation)->items;
    for (; item; item = item->next)
        if ((item->kind == NODE_ENTRY || item->kind == NODE_WHEN) && index-- == 0)
            return item;
    return NULL;
}

static void say(const Cuts *cuts, const TimetableState *state, const TimetableCeiling *ceiling,
                double most) {
    const Node *item = item_of(cuts->planned.compilation, state->entry);
    char reached[SAFETY_PERCENT], kept[SAFETY_PERCENT];
    safety_percent(most, reached);
    safety_percent(ceiling->level, kept);
    if (item)
        diagnostics_report(lang_diagnostics(cuts->planned.compilation), SEVERITY_NOTE,
                           "ceiling-cuts", item->d->a->span, SPAN_NONE, NULL,
                           "`%s` reaches %s of full light while the ceiling of line %u keeps it "
                           "under %s",
                           agenda_routine(cuts->planned.context.program, state->routine), reached,
                           ceiling->line, kept);
}

static bool is_said(const Cuts *cuts, const TimetableState *state) {
    const Node *item = item_of(cuts->planned.compilation, state->entry);
    return !item || diagnostics_reported(lang_diagnostics(cuts->planned.compilation),
                                         "ceiling-cuts", item->d->a->span);
}

/* False where all work is used up. */
static bool afford(Cuts *cuts, uint16_t routine) {
    const Code *code = &cuts->planned.context.program->routines[routine].code;
    double instructions = 8;
    for (int section = 0; section < SECTION_COUNT; section++)
        instructions += code->lengths[section];
    cuts->work -= instructions * MOMENTS * (cuts->made.scene.pixels + 64.0);
    return cuts->work >= 0;
}

/* What plays from..until without a change, against the last run of one ceiling in it. */
static bool stretch_against(Cuts *cuts, const TimetableState *state, uint32_t index, int32_t part,
                            int64_t from, int64_t until) {
    const TimetableContext *context = &cuts->planned.context;
    const TimetableCeiling *ceiling = &context->timetable->ceilings[index];
    int64_t since, end;
    if (!timetable_ceiling_covers(context, index, cuts->lamp, part) ||
        !timetable_ceiling(context, index, until - 1, &since, &end) || end <= from ||
        is_said(cuts, state) || !afford(cuts, state->routine))
        return true;
    double most =
        brightest(cuts, ceiling->part, since > from ? since : from, end < until ? end : until);
    if (most > ceiling->level * 1.001)
        say(cuts, state, ceiling, most);
    return most >= 0;
}

/* `part`: a line of its own, as in the timetable. */
static bool look_at_track(Cuts *cuts, int32_t part) {
    const TimetableContext *context = &cuts->planned.context;
    int64_t utc = cuts->planned.now, last = utc + WEEK;
    bool named = part == TIMETABLE_NOT_SAID;
    for (uint32_t i = 0; !named && i < context->timetable->entry_count; i++)
        named = context->timetable->entries[i].play.part == part &&
                context->timetable->entries[i].play.lamp == cuts->lamp;
    if (!named)
        return true;
    for (int i = 0; i < STRETCHES && utc < last && cuts->work >= 0; i++) {
        TimetableState state;
        timetable_state(context, cuts->lamp, part, utc, &state);
        int64_t next = timetable_next(context, cuts->lamp, part, utc);
        next = next < last ? next : last;
        bool lit = state.plays && state.routine < context->program->routine_count;
        for (uint32_t ceiling = 0; lit && ceiling < context->timetable->ceiling_count; ceiling++)
            if (!stretch_against(cuts, &state, ceiling, part, utc, next))
                return false;
        utc = next;
        cuts->work -= cuts->step;
    }
    return true;
}

static bool look_at_lamp(Cuts *cuts) {
    bool fine = lamp_make_declared(&cuts->made, cuts->planned.context.program, cuts->info);
    if (!fine)
        return false;
    Now now = {.utc = cuts->planned.now, .trusted = true, .boot = "check"};
    PerformanceRequest asks = {&cuts->world, cuts->info ? cuts->lamp : TIMETABLE_NOT_SAID,
                               cuts->info, &cuts->made.scene};
    cuts->level = lamp_light(cuts->info, 0).level;
    cuts->light = memory_allocate(cuts->made.scene.pixels, 3 * sizeof *cuts->light);
    cuts->performance = performance_create(&asks, NULL, &now);
    fine = cuts->light && cuts->performance;
    int32_t parts = cuts->info ? (int32_t)cuts->info->group_count : 0;
    for (int32_t part = TIMETABLE_NOT_SAID; fine && part < parts; part++)
        fine = look_at_track(cuts, part);
    return fine;
}

static void lamp_done(Cuts *cuts) {
    performance_free(cuts->performance);
    memory_release(cuts->light);
    lamp_free(&cuts->made);
    cuts->performance = NULL;
    cuts->light = NULL;
    cuts->made = (Lamp){0};
}

bool cuts_find(const Loaded *loaded, const Options *options) {
    const Timetable *timetable = lang_timetable(loaded->compilation);
    Cuts cuts = {.work = WORK};
    if (!timetable || timetable->ceiling_count == 0)
        return true;
    if (planned_open(&cuts.planned, loaded, options, false) != EXIT_DONE)
        return false;
    for (uint32_t i = 0; i < timetable->entry_count; i++)
        cuts.step += WORK_MOMENT * timetable_moments(&timetable->entries[i]);
    cuts.step += WORK_CEILING * timetable->ceiling_count;
    cuts.world = (World){.context = cuts.planned.context};
    bool fine = true;
    uint32_t count = cuts.planned.lamp_count;
    for (uint32_t i = 0; fine && i < (count ? count : 1); i++) {
        cuts.lamp = (int32_t)i;
        cuts.info = count ? &cuts.planned.lamps[i] : NULL;
        fine = look_at_lamp(&cuts);
        lamp_done(&cuts);
    }
    planned_close(&cuts.planned);
    return fine;
}
