/* When the sun rises and sets and twilight begins and ends, at sea level with a level horizon: the
 * height of sky.h is sought. Sunrise and sunset are where the centre is 50 minutes of arc below the
 * horizon (34 of refraction, 16 of radius), the twilights where it is 6, 12, 18 degrees below, as
 * the U.S. Naval Observatory defines them. The equations are NOAA's, stated for 1901 to 2099.
 *
 * A time belongs to the date on which its solar noon falls: dawn is the last before that noon, dusk
 * the first after it, within half a day of it. So each date has at most one of each, and a sunset
 * after midnight is that of the day before. */
#ifndef GLOAM_TIME_SUN_H
#define GLOAM_TIME_SUN_H

#include <stdbool.h>
#include <stdint.h>

#include "runtime/core/timetable.h"
#include "runtime/time/zone.h"

/* Dates are days since 1970-01-01, within SUN_DATES of it; degrees north and east positive;
 * instants microseconds UTC. The zone says which noon is that of the date. */
#define SUN_DATES 100000000

int64_t sun_noon(int32_t date, const Zone *zone, double longitude);

/* False where it does not happen on that date. *utc is then where it comes nearest to happening, to
 * which its times tend as the season comes near: noon where the sun stays below, half a day from
 * noon where it stays above. */
bool sun_time(SunEvent event, int32_t date, const Zone *zone, double latitude, double longitude,
              int64_t *utc_microseconds);

#endif
