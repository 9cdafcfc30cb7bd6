#include "runtime/time/moment.h"

#include "runtime/core/civil.h"
#include "runtime/time/sun.h"

#define MOMENT_SECOND INT64_C(1000000)
#define MOMENT_MINUTE (60 * MOMENT_SECOND)
#define MOMENT_DAY (86400 * MOMENT_SECOND)

const TimetableBounds moment_unbound = {TIMETABLE_NOT_SAID, TIMETABLE_NOT_SAID, TIMETABLE_NOT_SAID};

int64_t moment_of_clock(const MomentPlace *place, int64_t wall_seconds) {
    int64_t utc;
    zone_to_utc(place->zone, wall_seconds, &utc);
    return utc * MOMENT_SECOND;
}

static int64_t moment_clock(const MomentPlace *place, int32_t date, int32_t clock) {
    return moment_of_clock(place, (int64_t)date * 86400 + clock);
}

int32_t moment_date(const MomentPlace *place, int64_t utc) {
    int64_t seconds = civil_floor_divide(utc, MOMENT_SECOND);
    seconds += zone_offset(place->zone, seconds).offset;
    return (int32_t)civil_floor_divide(seconds, 86400);
}

/* False where it does not come; *utc is then the nearest it comes to that. */
static bool moment_of_sun(const MomentPlace *place, const TimetableMoment *moment, int32_t date,
                          int64_t *utc) {
    bool comes = sun_time(moment->event, date, place->zone, place->latitude, place->longitude, utc);
    *utc += moment->offset;
    return comes;
}

static bool moment_is_dusk(SunEvent event) {
    return event == SUN_SUNSET || event == SUN_CIVIL_DUSK || event == SUN_NAUTICAL_DUSK ||
           event == SUN_ASTRONOMICAL_DUSK;
}

/* Of a day in spring, in minutes. */
static int64_t moment_in_spring(SunEvent event) {
    switch (event) {
    case SUN_ASTRONOMICAL_DAWN:
        return 270;
    case SUN_NAUTICAL_DAWN:
        return 300;
    case SUN_CIVIL_DAWN:
        return 330;
    case SUN_SUNRISE:
        return 360;
    case SUN_SUNSET:
        return 1080;
    case SUN_CIVIL_DUSK:
        return 1110;
    case SUN_NAUTICAL_DUSK:
        return 1140;
    default:
        return 1170;
    }
}

static void moment_start_at(const MomentPlace *place, int32_t date, int32_t clock,
                            MomentStart *start) {
    start->sun = false;
    start->utc = moment_clock(place, date, clock);
    start->wall = start->order = date * MOMENT_DAY + clock * MOMENT_SECOND;
}

static void moment_hold(const MomentPlace *place, const TimetableBounds *bounds, int32_t date,
                        MomentStart *start) {
    if (bounds->not_before != TIMETABLE_NOT_SAID) {
        int64_t least = moment_clock(place, date, bounds->not_before);
        start->utc = start->utc < least ? least : start->utc;
    }
    if (bounds->not_after != TIMETABLE_NOT_SAID) {
        int64_t most = moment_clock(place, date, bounds->not_after);
        start->utc = start->utc > most ? most : start->utc;
    }
}

bool moment_start(const MomentPlace *place, const TimetableMoment *moment,
                  const TimetableBounds *bounds, int32_t date, MomentStart *start) {
    if (!moment->sun) {
        int32_t clock = moment->clock;
        if (bounds->not_before != TIMETABLE_NOT_SAID && clock < bounds->not_before)
            clock = bounds->not_before;
        if (bounds->not_after != TIMETABLE_NOT_SAID && clock > bounds->not_after)
            clock = bounds->not_after;
        moment_start_at(place, date, clock, start);
        return true;
    }
    start->sun = true;
    if (moment_of_sun(place, moment, date, &start->utc)) {
        int64_t noon = moment_is_dusk(moment->event) ? MOMENT_DAY / 2 : 0;
        int64_t spring = moment_in_spring(moment->event) * MOMENT_MINUTE;
        start->wall = date * MOMENT_DAY + noon + moment->offset;
        start->order = date * MOMENT_DAY + spring + moment->offset;
        moment_hold(place, bounds, date, start);
        return true;
    }
    if (bounds->otherwise == TIMETABLE_NOT_SAID)
        return false;
    moment_start_at(place, date, bounds->otherwise, start);
    return true;
}

void moment_start_on_clock(const Zone *zone, int64_t utc, MomentStart *start) {
    int64_t offset = zone_offset(zone, civil_floor_divide(utc, MOMENT_SECOND)).offset;
    start->sun = false;
    start->utc = utc;
    start->wall = start->order = utc + offset * MOMENT_SECOND;
}

void moment_lead(MomentStart *start, int64_t lead) {
    start->utc -= lead;
    start->wall -= lead;
    start->order -= lead;
}

/* -------- ends -------- */

/* The last date on which the end may be: the first whose nominal time is after that of the start.
 */
static int32_t moment_end_date(const TimetableMoment *until, const MomentStart *start) {
    int64_t after = start->wall, time = until->clock * MOMENT_SECOND;
    if (until->sun && start->sun) {
        after = start->order;
        time = moment_in_spring(until->event) * MOMENT_MINUTE + until->offset;
    } else if (until->sun) {
        time = moment_is_dusk(until->event) ? MOMENT_DAY : MOMENT_DAY / 2;
    }
    return (int32_t)civil_floor_divide(after - time, MOMENT_DAY) + 1;
}

int64_t moment_end(const MomentPlace *place, const TimetableMoment *until,
                   const MomentStart *start) {
    int32_t last = moment_end_date(until, start);
    for (int32_t date = last - 2; date <= last; date++) {
        int64_t end;
        if (until->sun)
            (void)moment_of_sun(place, until, date, &end);
        else
            end = moment_clock(place, date, until->clock);
        if (end > start->utc)
            return end;
    }
    return start->utc;
}
