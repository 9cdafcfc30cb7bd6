#include "runtime/player/ceilings.h"

#include <string.h>

#include "runtime/core/easing.h"
#include "runtime/core/memory.h"
#include "runtime/light/level.h"
#include "runtime/player/plan.h"

/* regions: none of them. */
static uint32_t ceilings_region(const TimetableCeiling *one, int32_t lamp, const int32_t *parts,
                                uint32_t regions) {
    if (one->lamp != TIMETABLE_NOT_SAID && one->lamp != lamp)
        return regions;
    if (one->part == TIMETABLE_NOT_SAID)
        return 0;
    uint32_t region = 1;
    while (region < regions && parts[region] != one->part)
        region++;
    return region;
}

bool ceilings_start(Ceilings *ceilings, const TimetableContext *context, int32_t lamp,
                    const int32_t *parts, uint32_t regions) {
    const Timetable *timetable = context->timetable;
    *ceilings = (Ceilings){.context = context, .region_count = regions, .changed = TIMETABLE_EVER};
    ceilings->all = memory_allocate(timetable->ceiling_count, sizeof *ceilings->all);
    ceilings->before = memory_allocate(regions, sizeof *ceilings->before);
    if (!ceilings->all || !ceilings->before)
        return false;
    for (uint32_t i = 0; i < timetable->ceiling_count; i++) {
        const TimetableCeiling *one = &timetable->ceilings[i];
        uint32_t region = ceilings_region(one, lamp, parts, regions);
        if (region < regions)
            ceilings->all[ceilings->count++] =
                (Ceiling){.index = i, .region = region, .level = one->level};
    }
    return true;
}

void ceilings_free(Ceilings *ceilings) {
    memory_release(ceilings->all);
    memory_release(ceilings->before);
    *ceilings = (Ceilings){0};
}

void ceilings_forget(Ceilings *ceilings) {
    for (uint32_t i = 0; i < ceilings->count; i++)
        ceilings->all[i].from = ceilings->all[i].next = 0;
}

static const Ceiling *ceilings_run(Ceilings *ceilings, uint32_t which, int64_t utc) {
    Ceiling *ceiling = &ceilings->all[which];
    if (utc < ceiling->from || utc >= ceiling->next) {
        ceiling->runs = timetable_ceiling(ceilings->context, ceiling->index, utc, &ceiling->since,
                                          &ceiling->until);
        ceiling->from = utc;
        ceiling->next = timetable_ceiling_next(ceilings->context, ceiling->index, utc);
    }
    return ceiling;
}

static double ceilings_lowest(Ceilings *ceilings, uint32_t region, int64_t utc) {
    double lowest = LEVEL_NO_CEILING;
    for (uint32_t i = 0; i < ceilings->count; i++) {
        if (ceilings->all[i].region != region)
            continue;
        const Ceiling *one = ceilings_run(ceilings, i, utc);
        if (one->runs)
            lowest =
                number_smaller(lowest, level_glide(one->level, utc - one->since, one->until - utc));
    }
    return lowest;
}

static bool ceilings_fade(const Ceilings *ceilings, int64_t utc) {
    return ceilings->changed != TIMETABLE_EVER && utc >= ceilings->changed &&
           utc - ceilings->changed < PLAN_FADING;
}

double ceilings_at(Ceilings *ceilings, uint32_t region, int64_t utc) {
    double now = ceilings_lowest(ceilings, region, utc), before = ceilings->before[region];
    if (!ceilings_fade(ceilings, utc) || now == before)
        return now;
    double way = (double)(utc - ceilings->changed) / (double)PLAN_FADING;
    return number_lerp(number_smaller(before, 1.0), number_smaller(now, 1.0), easing_in_out(way));
}

void ceilings_fade_from(Ceilings *ceilings, const double *before, int64_t utc) {
    memcpy(ceilings->before, before, ceilings->region_count * sizeof *before);
    ceilings->changed = utc;
}

static int64_t ceiling_changes(const Ceiling *one, int64_t utc) {
    if (!one->runs || utc >= one->until)
        return one->next;
    int64_t since = utc - one->since, left = one->until - utc;
    if (since < LEVEL_GLIDE || left <= LEVEL_GLIDE)
        return utc;
    int64_t glides = one->until - LEVEL_GLIDE;
    return glides < one->next ? glides : one->next;
}

int64_t ceilings_changes(Ceilings *ceilings, int64_t utc) {
    int64_t next = ceilings_fade(ceilings, utc) ? utc : TIMETABLE_NEVER;
    for (uint32_t i = 0; i < ceilings->count && next > utc; i++) {
        int64_t changes = ceiling_changes(ceilings_run(ceilings, i, utc), utc);
        next = changes < next ? changes : next;
    }
    return next;
}
