/* The sky at an instant: how far the moon's month and the sun's height are. Pure functions of UTC
 * microseconds since 1970 and a place, made of runtime/core/number.h only: the same bits
 * everywhere. Universal time is used for dynamical time (a difference of 69 s: 0.01 degrees of the
 * moon, less of the sun). */
#ifndef GLOAM_TIME_SKY_H
#define GLOAM_TIME_SKY_H

#include <stdint.h>

/* Where the moon is in its month: 0 new, 1/4 first quarter, 1/2 full, 3/4 last quarter; at least
 * 0, below 1. From the low-accuracy phase angle of Meeus, Astronomical Algorithms, (48.4). */
double sky_moonage(int64_t microseconds);

/* The share of the moon's disc that is lit: 0 new, 1 full. */
double sky_moonlit(int64_t microseconds);

/* The height of the sun's centre above the horizon in turns, without refraction: NOAA's solar
 * equations. Degrees, north and east positive. A program without a place has 0 instead. */
double sky_sun_height(int64_t microseconds, double latitude, double longitude);

/* How far the sun is past its highest, the hour angle: -1/2 to 1/2 turn, negative in the morning.
 */
double sky_sun_past_noon(int64_t microseconds, double longitude);

#endif
