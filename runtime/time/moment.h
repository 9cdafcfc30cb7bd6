/* Moments of a timetable as instants: a time of day or of the sun on a date, held in by bounds, and
 * the next end after it. Instants are microseconds UTC, dates days since 1970-01-01. */
#ifndef GLOAM_TIME_MOMENT_H
#define GLOAM_TIME_MOMENT_H

#include "runtime/core/timetable.h"
#include "runtime/time/zone.h"

typedef struct MomentPlace {
    const Zone *zone; /* NULL: UTC */
    double latitude, longitude;
} MomentPlace;

/* A start. Which end follows it is told by nominal times, which do not move with the seasons: see
 * moment_end. Microseconds on the local clock, as if it were in UTC. */
typedef struct MomentStart {
    int64_t utc;
    bool sun;
    int64_t wall;  /* the time of day; of the sun the noon (dusk) or midnight (dawn) before it */
    int64_t order; /* the time of day; of the sun 4:30 to 7:30 and 18:00 to 19:30 by its event */
} MomentStart;

/* The instant of a reading of the local clock, seconds, by RFC 5545 section 3.3.5. */
int64_t moment_of_clock(const MomentPlace *place, int64_t wall_seconds);

/* The local date at an instant. */
int32_t moment_date(const MomentPlace *place, int64_t utc);

/* No bounds: nothing is said. */
extern const TimetableBounds moment_unbound;

/* False where the sun's time does not come on that date and nothing is said instead. A time that is
 * said instead (`else`) is taken as it is written; the bounds hold all others. */
bool moment_start(const MomentPlace *place, const TimetableMoment *moment,
                  const TimetableBounds *bounds, int32_t date, MomentStart *start);

/* A start at an instant, as a time of day. */
void moment_start_on_clock(const Zone *zone, int64_t utc, MomentStart *start);

/* The same start, `lead` microseconds earlier. */
void moment_lead(MomentStart *start, int64_t lead);

/* The end of what began at `start`: the next such moment after it, but no later than the order of a
 * day has it; where that is already over at the start, the instant of the start. So `at sunset ...
 * until 21:00` has no length on evenings on which the sun sets later (it does not go on until the
 * next evening), while `at 22:00 ... until 06:30` ends on the next day. The order of a day: times
 * of day as the clock has them; dawn before 12:00, dusk after 12:00; of two times of the sun the
 * order of a day in spring. A time of the sun that does not come ends where it would come nearest
 * to happening (sun.h): `until sunset` at midnight where the sun does not set. */
int64_t moment_end(const MomentPlace *place, const TimetableMoment *until,
                   const MomentStart *start);

#endif
