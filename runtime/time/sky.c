#include "runtime/time/sky.h"

#include "runtime/core/number.h"

#define SKY_DAY 86400000000.0              /* microseconds */
#define SKY_EPOCH 10957.5                  /* days from 1970-01-01 00:00 to J2000 */
#define SKY_CENTURY 36525.0                /* days */
#define SKY_RADIAN 57.29577951308232087679 /* degrees */

static double sky_sine(double degrees) {
    return number_sine(degrees / 360.0);
}
static double sky_cosine(double degrees) {
    return number_cosine(degrees / 360.0);
}

/* Centuries since J2000. */
static double sky_centuries(int64_t microseconds) {
    return ((double)microseconds / SKY_DAY - SKY_EPOCH) / SKY_CENTURY;
}

/* 180 degrees less the moon's phase angle, growing through the month. */
static double sky_moon_degrees(int64_t microseconds) {
    double t = sky_centuries(microseconds);
    double elongation = 297.8501921 + 445267.1114034 * t;
    double sun = 357.5291092 + 35999.0502909 * t;
    double moon = 134.9633964 + 477198.8675055 * t;
    return elongation + 6.289 * sky_sine(moon) - 2.100 * sky_sine(sun) +
           1.274 * sky_sine(2.0 * elongation - moon) + 0.658 * sky_sine(2.0 * elongation) +
           0.214 * sky_sine(2.0 * moon) + 0.110 * sky_sine(elongation);
}

double sky_moonage(int64_t microseconds) {
    return number_modulo(sky_moon_degrees(microseconds) / 360.0, 1.0);
}

double sky_moonlit(int64_t microseconds) {
    return (1.0 - sky_cosine(sky_moon_degrees(microseconds))) / 2.0;
}

typedef struct Sun {
    double sine, cosine; /* of the declination */
    double equation;     /* the equation of time, in turns */
} Sun;

/* Mean longitude, anomaly, eccentricity, equation of the centre, apparent longitude, obliquity and
 * the equation of time as in NOAA's solar calculator; degrees. */
static Sun sky_sun(int64_t microseconds) {
    double t = sky_centuries(microseconds);
    double longitude = 280.46646 + t * (36000.76983 + 0.0003032 * t);
    double anomaly = 357.52911 + t * (35999.05029 - 0.0001537 * t);
    double eccentricity = 0.016708634 - t * (0.000042037 + 0.0000001267 * t);
    double centre = sky_sine(anomaly) * (1.914602 - t * (0.004817 + 0.000014 * t)) +
                    sky_sine(2.0 * anomaly) * (0.019993 - 0.000101 * t) +
                    0.000289 * sky_sine(3.0 * anomaly);
    double node = 125.04 - 1934.136 * t;
    double apparent = longitude + centre - 0.00569 - 0.00478 * sky_sine(node);
    double seconds = 21.448 - t * (46.815 + t * (0.00059 - 0.001813 * t));
    double obliquity = 23.0 + (26.0 + seconds / 60.0) / 60.0 + 0.00256 * sky_cosine(node);
    double tangent = number_tangent(obliquity / 720.0);
    double y = tangent * tangent;
    double equation = y * sky_sine(2.0 * longitude) - 2.0 * eccentricity * sky_sine(anomaly) +
                      4.0 * eccentricity * y * sky_sine(anomaly) * sky_cosine(2.0 * longitude) -
                      y * y / 2.0 * sky_sine(4.0 * longitude) -
                      5.0 / 4.0 * eccentricity * eccentricity * sky_sine(2.0 * anomaly);
    double sine = sky_sine(obliquity) * sky_sine(apparent);
    double cosine = number_square_root(1.0 - sine * sine);
    return (Sun){sine, cosine, equation * SKY_RADIAN / 360.0};
}

/* How far the sun is past noon, in turns; whole turns are any. */
static double sky_hour(const Sun *sun, int64_t microseconds, double longitude) {
    double day = number_modulo((double)microseconds / SKY_DAY, 1.0);
    return day + sun->equation + longitude / 360.0 - 0.5;
}

double sky_sun_height(int64_t microseconds, double latitude, double longitude) {
    Sun sun = sky_sun(microseconds);
    double hour = sky_hour(&sun, microseconds, longitude);
    double sine =
        sky_sine(latitude) * sun.sine + sky_cosine(latitude) * sun.cosine * number_cosine(hour);
    return number_arc_tangent(sine, number_square_root(1.0 - sine * sine));
}

double sky_sun_past_noon(int64_t microseconds, double longitude) {
    Sun sun = sky_sun(microseconds);
    double hour = sky_hour(&sun, microseconds, longitude);
    return hour - number_nearest(hour);
}
