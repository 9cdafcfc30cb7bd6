#include "runtime/time/sun.h"

#include "runtime/time/sky.h"

#define SUN_SECOND INT64_C(1000000)
#define SUN_DAY (86400 * SUN_SECOND)
#define SUN_STEP (600 * SUN_SECOND)
#define SUN_STEPS 72 /* half a day */

int64_t sun_noon(int32_t date, const Zone *zone, double longitude) {
    int64_t noon;
    zone_to_utc(zone, (int64_t)date * 86400 + 43200, &noon);
    noon *= SUN_SECOND;
    for (int i = 0; i < 2; i++) /* the second time for what the equation of time has changed */
        noon -= (int64_t)(sky_sun_past_noon(noon, longitude) * (double)SUN_DAY);
    return noon;
}

/* In turns. */
static double sun_threshold(SunEvent event) {
    switch (event) {
    case SUN_CIVIL_DAWN:
    case SUN_CIVIL_DUSK:
        return -6.0 / 360.0;
    case SUN_NAUTICAL_DAWN:
    case SUN_NAUTICAL_DUSK:
        return -12.0 / 360.0;
    case SUN_ASTRONOMICAL_DAWN:
    case SUN_ASTRONOMICAL_DUSK:
        return -18.0 / 360.0;
    default:
        return -50.0 / 60.0 / 360.0;
    }
}

static bool sun_before_noon(SunEvent event) {
    return event == SUN_SUNRISE || event == SUN_CIVIL_DAWN || event == SUN_NAUTICAL_DAWN ||
           event == SUN_ASTRONOMICAL_DAWN;
}

bool sun_time(SunEvent event, int32_t date, const Zone *zone, double latitude, double longitude,
              int64_t *utc) {
    double threshold = sun_threshold(event);
    int64_t step = sun_before_noon(event) ? -SUN_STEP : SUN_STEP;
    int64_t above = sun_noon(date, zone, longitude), below = above + step;
    *utc = above;
    if (sky_sun_height(above, latitude, longitude) < threshold)
        return false;
    for (int i = 1; sky_sun_height(below, latitude, longitude) >= threshold; i++) {
        *utc = above = below;
        if (i == SUN_STEPS)
            return false;
        below += step;
    }
    while (below - above > 1 || above - below > 1) {
        int64_t middle = above + (below - above) / 2;
        if (sky_sun_height(middle, latitude, longitude) < threshold)
            below = middle;
        else
            above = middle;
    }
    *utc = above;
    return true;
}
