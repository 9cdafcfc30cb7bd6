#include "runtime/player/inputs.h"

#include "runtime/core/civil.h"
#include "runtime/time/sky.h"

#define INPUTS_SECOND INT64_C(1000000)
#define INPUTS_HOUR (3600 * INPUTS_SECOND)
#define INPUTS_DAY (24 * INPUTS_HOUR)

double inputs_hour(const Zone *zone, int64_t utc) {
    ZoneOffset offset = zone_offset(zone, civil_floor_divide(utc, INPUTS_SECOND));
    int64_t wall = utc + offset.offset * INPUTS_SECOND;
    int64_t within = wall - civil_floor_divide(wall, INPUTS_DAY) * INPUTS_DAY;
    return (double)within / (double)INPUTS_HOUR;
}

void inputs_at(const Zone *zone, const TimetablePlace *place, int64_t utc, Moment *moment) {
    *moment = (Moment){{0}};
    moment->input[INPUT_HOUR] = inputs_hour(zone, utc);
    moment->input[INPUT_MOONLIT] = sky_moonlit(utc);
    moment->input[INPUT_MOONAGE] = sky_moonage(utc);
    if (place && place->said)
        moment->input[INPUT_SUNHEIGHT] = sky_sun_height(utc, place->latitude, place->longitude);
}
