#include "runtime/library/nights.h"

#include "runtime/library/zone_file.h"
#include "runtime/light/level.h"
#include "runtime/time/timetable.h"

enum { DAYS = 7, TWO = 2 * 3600 };

/* The lowest ceiling at an instant. */
static double ceiling_at(const TimetableContext *context, int32_t lamp, int32_t part, int64_t at) {
    double lowest = LEVEL_NO_CEILING;
    for (uint32_t i = 0; i < context->timetable->ceiling_count; i++) {
        int64_t since, until;
        double level = context->timetable->ceilings[i].level;
        if (timetable_ceiling_covers(context, i, lamp, part) &&
            timetable_ceiling(context, i, at, &since, &until) && until > at && level < lowest)
            lowest = level;
    }
    return lowest;
}

/* Played once more, for so long already, under `ceiling`: the highest and the earliest count. */
static void mark(Night *night, int64_t start, double ceiling) {
    if (!night->plays || ceiling > night->ceiling)
        night->ceiling = ceiling;
    if (!night->plays || start < night->start)
        night->start = start;
    night->plays = true;
}

static void mark_lamp(const TimetableContext *context, const LampInfo *info, int32_t lamp,
                      int64_t now, uint32_t lamps, Night *nights) {
    int32_t today = timetable_local_date(context, now);
    int32_t parts = info ? (int32_t)info->group_count : 0;
    for (int32_t date = today; date < today + DAYS; date++) {
        int64_t at = timetable_local_instant(context, date, TWO);
        for (int32_t part = TIMETABLE_NOT_SAID; part < parts; part++) {
            TimetableState state;
            timetable_state(context, lamp, part, at, &state);
            if (state.plays && state.routine < context->program->routine_count)
                mark(&nights[state.routine * lamps + (uint32_t)lamp], at - state.since,
                     ceiling_at(context, lamp, part, at));
        }
    }
}

bool nights_find(const Compilation *compilation, int64_t now, Night *nights) {
    const Timetable *timetable = lang_timetable(compilation);
    const Program *program = lang_program(compilation);
    uint32_t count;
    const LampInfo *infos = lang_lamps(compilation, &count);
    uint32_t lamps = count ? count : 1;
    Zone *zone = NULL;
    if (!timetable)
        return true;
    /* A zone that is not here is warned of elsewhere; UTC stands in. */
    if (zone_file_read(timetable->place.zone, &zone) == ZONE_FILE_NO_MEMORY)
        return false;
    TimetableContext context = {timetable, program, zone};
    for (uint32_t lamp = 0; lamp < lamps; lamp++) {
        mark_lamp(&context, count ? &infos[lamp] : NULL, (int32_t)lamp, now, lamps, nights);
        if (timetable->until_clock < program->routine_count)
            mark(&nights[timetable->until_clock * lamps + lamp], 0, LEVEL_NO_CEILING);
    }
    zone_free(zone);
    return true;
}
