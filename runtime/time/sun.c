#include "runtime/time/sun.h"

#include "runtime/time/sky.h"

#define SUN_SECOND INT64_C(1000000)
#define SUN_DAY (86400 * SUN_SECOND)
#define SUN_STEP (600 * SUN_SECOND)
#define SUN_STEPS 72 /* half a day */

/* The instant at which the clock shows noon on a date. */
static int64_t sun_clock_noon(int32_t date, const Zone *zone) {
    int64_t noon;
    zone_to_utc(zone, (int64_t)date * 86400 + 43200, &noon);
    return noon * SUN_SECOND;
}

/* The noon of the sun that is near that of the clock. */
static int64_t sun_noon_near(int64_t noon, double longitude) {
    for (int i = 0; i < 2; i++) /* the second time for what the equation of time has changed */
        noon -= (int64_t)(sky_sun_past_noon(noon, longitude) * (double)SUN_DAY);
    return noon;
}

int64_t sun_noon(int32_t date, const Zone *zone, double longitude) {
    return sun_noon_near(sun_clock_noon(date, zone), longitude);
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

static bool sun_seek(SunEvent event, int64_t noon, double latitude, double longitude,
                     int64_t *utc) {
    double threshold = sun_threshold(event);
    int64_t step = sun_before_noon(event) ? -SUN_STEP : SUN_STEP;
    int64_t above = noon, below = above + step;
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

/* Times that were found, by all that they follow from, since entries ask for the same ones again
 * and again; a thread has its own. */
typedef struct SunFound {
    int64_t clock_noon, utc;
    double latitude, longitude;
    SunEvent event;
    bool known, comes;
} SunFound;
enum { SUN_FOUND = 2048 };
static _Thread_local SunFound sun_found[SUN_FOUND];

bool sun_time(SunEvent event, int32_t date, const Zone *zone, double latitude, double longitude,
              int64_t *utc) {
    int64_t clock_noon = sun_clock_noon(date, zone);
    uint32_t place = ((uint32_t)date * SUN_EVENT_COUNT + (uint32_t)event) % SUN_FOUND;
    SunFound *found = &sun_found[place];
    if (!found->known || found->clock_noon != clock_noon || found->event != event ||
        found->latitude != latitude || found->longitude != longitude) {
        *found = (SunFound){.clock_noon = clock_noon,
                            .latitude = latitude,
                            .longitude = longitude,
                            .event = event,
                            .known = true};
        int64_t noon = sun_noon_near(clock_noon, longitude);
        found->comes = sun_seek(event, noon, latitude, longitude, &found->utc);
    }
    *utc = found->utc;
    return found->comes;
}
