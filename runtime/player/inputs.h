/* What a frame reads of the clock and the sky at an instant (microseconds UTC). A routine's own
 * time is not among it. Pure: the same bits everywhere. */
#ifndef GLOAM_PLAYER_INPUTS_H
#define GLOAM_PLAYER_INPUTS_H

#include "runtime/core/scene.h"
#include "runtime/core/timetable.h"
#include "runtime/time/zone.h"

/* Hours of the clock on the wall, 0..24, with fraction; a zone that is NULL is UTC. */
double inputs_hour(const Zone *zone, int64_t utc);

/* All but INPUT_T and INPUT_PIXELS, which become 0. A place that is not said (or NULL) has the sun
 * at height 0. */
void inputs_at(const Zone *zone, const TimetablePlace *place, int64_t utc, Moment *moment);

#endif
