#include "runtime/player/plan.h"

#include <string.h>

#include "runtime/core/easing.h"
#include "runtime/core/memory.h"

enum {
    PLAN_TIDY = 64, /* stretches before the window, from which on the old ones go */
    PLAN_FEW = 4    /* changes before the window that are looked at one by one */
};

void plan_free(Plan *plan) {
    memory_release(plan->stretches);
    *plan = (Plan){0};
}

/* What the change from one play to another takes: that of the play which begins or goes on to
 * another routine; else that of the play which ended and uncovers what was below. */
static int64_t plan_fading(const PlanPlay *old, const PlanPlay *play, int64_t at) {
    bool follows = old->cause == play->cause && old->entry == play->entry &&
                   old->number == play->number && old->began == play->began;
    bool begins = play->cause != PLAYING_NOTHING && play->began == at;
    return begins || follows || old->cause == PLAYING_NOTHING ? play->fading : old->fading;
}

static bool plan_add(Plan *plan, const PlanStretch *stretch) {
    if (plan->count == plan->capacity) {
        uint32_t capacity = plan->capacity ? 2 * plan->capacity : 16;
        PlanStretch *larger = memory_resize(plan->stretches, capacity, sizeof *plan->stretches);
        if (!larger)
            return false;
        plan->stretches = larger;
        plan->capacity = capacity;
    }
    plan->stretches[plan->count++] = *stretch;
    return true;
}

/* Leaves out what stands before the stretch `first`. */
static void plan_forget(Plan *plan, uint32_t first) {
    memmove(plan->stretches, plan->stretches + first,
            (plan->count - first) * sizeof *plan->stretches);
    plan->count -= first;
    for (uint32_t i = 0; i < plan->count; i++) {
        uint32_t *before = &plan->stretches[i].before;
        *before = *before == PLAN_NONE || *before < first ? PLAN_NONE : *before - first;
    }
}

/* The stretch `changes` changes before that one. */
static uint32_t plan_back(const Plan *plan, uint32_t index, uint32_t changes) {
    while (changes-- > 0 && plan->stretches[index].before != PLAN_NONE)
        index = plan->stretches[index].before;
    return index;
}

/* What comes at the end of the last stretch; nothing is added where it goes on as it was. */
static bool plan_go_on(Plan *plan, int64_t at, const PlanPlay *play) {
    const PlanStretch *last = &plan->stretches[plan->count - 1];
    PlanStretch stretch = {at, *play, last->changed, last->fading, last->before};
    if (!plan_same(&last->play, play)) {
        stretch.changed = at;
        stretch.fading = plan_fading(&last->play, play, at);
        stretch.before = plan->count - 1;
    } else if (last->play.since == play->since) {
        return true;
    }
    return plan_add(plan, &stretch);
}

static uint32_t plan_find(const Plan *plan, int64_t utc) {
    uint32_t low = 0, high = plan->count;
    while (high - low > 1) {
        uint32_t middle = low + (high - low) / 2;
        if (plan->stretches[middle].from <= utc)
            low = middle;
        else
            high = middle;
    }
    return low;
}

typedef enum PlanFilled { PLAN_FILLED, PLAN_MANY, PLAN_NO_MEMORY } PlanFilled;

/* From `start`, before the window, on; PLAN_MANY: more than `most` changes before the window. */
static PlanFilled plan_fill(Plan *plan, const PlanSource *source, int64_t start, int64_t to,
                            uint32_t most) {
    PlanStretch first = {.from = start, .changed = start, .before = PLAN_NONE};
    int64_t at = source->look(source->context, start, &first.play);
    plan->count = 0;
    if (!plan_add(plan, &first))
        return PLAN_NO_MEMORY;
    for (; at <= to; at = plan->until) {
        PlanPlay play;
        if (at <= plan->from && most-- == 0)
            return PLAN_MANY;
        plan->until = source->look(source->context, at, &play);
        if (!plan_go_on(plan, at, &play))
            return PLAN_NO_MEMORY;
        if (at <= plan->from && plan->count >= PLAN_TIDY)
            plan_forget(plan, plan_back(plan, plan->count - 1, PLAN_DEPTH + 1));
    }
    plan->until = at;
    return PLAN_FILLED;
}

/* Whether the changes that can still fade at the window's beginning are all there: one that is over
 * hides all before it. */
static bool plan_reaches(const Plan *plan) {
    uint32_t index = plan_find(plan, plan->from);
    for (uint32_t depth = 0; depth < PLAN_DEPTH; depth++) {
        const PlanStretch *stretch = &plan->stretches[index];
        if (stretch->before == PLAN_NONE)
            return false;
        if (plan->from >= stretch->changed + stretch->fading)
            return true;
        index = stretch->before;
    }
    return true;
}

/* The earliest stretch that is still seen at the window's beginning. */
static uint32_t plan_oldest(const Plan *plan) {
    uint32_t index = plan_find(plan, plan->from);
    for (int depth = 0; depth < PLAN_DEPTH; depth++) {
        const PlanStretch *stretch = &plan->stretches[index];
        if (stretch->before == PLAN_NONE || plan->from >= stretch->changed + stretch->fading)
            break;
        index = stretch->before;
    }
    return index;
}

/* Fades that began longer ago than the longest takes are over: the look back ends there. Where that
 * is many changes ago, the last ones are looked for in steps. */
static PlanFilled plan_search(Plan *plan, const PlanSource *source, int64_t from, int64_t to) {
    PlanFilled filled = plan_fill(plan, source, from - source->longest, to, PLAN_FEW);
    for (int64_t back = PLAN_FADING; filled == PLAN_MANY; back *= 4) {
        bool all = back >= source->longest;
        filled = plan_fill(plan, source, from - (all ? source->longest : back), to, UINT32_MAX);
        if (filled == PLAN_FILLED && !all && !plan_reaches(plan))
            filled = PLAN_MANY;
    }
    return filled;
}

bool plan_make(Plan *plan, const PlanSource *source, int64_t from, int64_t to) {
    plan->from = from;
    if (plan_search(plan, source, from, to) == PLAN_FILLED) {
        plan_forget(plan, plan_oldest(plan));
        return true;
    }
    plan->from = plan->until = 0;
    return false;
}

static double plan_share(int64_t since, int64_t fading) {
    return since >= fading ? 1.0 : easing_in_out((double)since / (double)fading);
}

uint32_t plan_layers(const Plan *plan, int64_t utc, PlanLayer layers[PLAN_DEPTH + 1]) {
    PlanLayer found[PLAN_DEPTH + 1];
    uint32_t index = plan_find(plan, utc), count = 0;
    for (;;) {
        const PlanStretch *stretch = &plan->stretches[index];
        double share = plan_share(utc - stretch->changed, stretch->fading);
        bool last = share >= 1.0 || stretch->before == PLAN_NONE || count == PLAN_DEPTH;
        found[count++] = (PlanLayer){&stretch->play, last ? 1.0 : share};
        if (last)
            break;
        index = stretch->before;
    }
    for (uint32_t i = 0; i < count; i++)
        layers[i] = found[count - 1 - i];
    return count;
}

int64_t plan_next(const Plan *plan, int64_t utc) {
    uint32_t next = plan_find(plan, utc) + 1;
    return next < plan->count ? plan->stretches[next].from : plan->until;
}
