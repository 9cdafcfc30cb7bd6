#include "runtime/library/nights.h"

#include "runtime/library/zone_file.h"
#include "runtime/light/level.h"
#include "runtime/time/timetable.h"

enum { DAYS = 7, TWO = 2 * 3600 };

/* Moments of entries, and ceilings, that may be looked at: one second's work at most. */
#define NIGHTS_WORK 500000

typedef struct Search {
    TimetableContext context;
    int64_t now;
    uint32_t lamps;
    Night *nights;
    int64_t each; /* what is looked at for one date */
    int64_t work; /* what is left */
} Search;

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

/* Whether an entry plays on that part by its name. */
static bool is_named(const Timetable *timetable, int32_t lamp, int32_t part) {
    for (uint32_t i = 0; i < timetable->entry_count; i++)
        if (timetable->entries[i].play.lamp == lamp && timetable->entries[i].play.part == part)
            return true;
    return false;
}

static void mark_part(Search *search, int32_t lamp, int32_t part) {
    const TimetableContext *context = &search->context;
    int32_t today = timetable_local_date(context, search->now);
    for (int32_t date = today; date < today + DAYS && search->work >= 0; date++) {
        int64_t at = timetable_local_instant(context, date, TWO);
        TimetableState state;
        timetable_state(context, lamp, part, at, &state);
        search->work -= search->each;
        if (state.plays && state.routine < context->program->routine_count)
            mark(&search->nights[state.routine * search->lamps + (uint32_t)lamp], at - state.since,
                 ceiling_at(context, lamp, part, at));
    }
}

static void mark_lamp(Search *search, const LampInfo *info, int32_t lamp) {
    mark_part(search, lamp, TIMETABLE_NOT_SAID);
    for (uint32_t part = 0; info && part < info->group_count; part++)
        if (is_named(search->context.timetable, lamp, (int32_t)part))
            mark_part(search, lamp, (int32_t)part);
}

bool nights_find(const Compilation *compilation, int64_t now, Night *nights, bool *cut) {
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
    Search search = {{timetable, program, zone}, now,        lamps, nights,
                     timetable->ceiling_count,   NIGHTS_WORK};
    for (uint32_t i = 0; i < timetable->entry_count; i++)
        search.each += timetable_moments(&timetable->entries[i]);
    for (uint32_t lamp = 0; lamp < lamps; lamp++) {
        mark_lamp(&search, count ? &infos[lamp] : NULL, (int32_t)lamp);
        if (timetable->until_clock < program->routine_count) {
            Night *night = &nights[timetable->until_clock * lamps + lamp];
            mark(night, 0, LEVEL_NO_CEILING);
            night->clockless = true;
        }
    }
    *cut = *cut || search.work < 0;
    zone_free(zone);
    return true;
}
