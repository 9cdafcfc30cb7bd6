/* How bright: the master level and the timetable's ceilings. All are factors of physical light;
 * lightness.h turns what a hand sets into them. Arrays hold 3 floats a pixel. */
#ifndef GLOAM_LIGHT_LEVEL_H
#define GLOAM_LIGHT_LEVEL_H

#include <stddef.h>
#include <stdint.h>

/* A ceiling that is none. */
#define LEVEL_NO_CEILING 1e30

/* How long a ceiling takes to come and to go, in microseconds (rule Z10). */
#define LEVEL_GLIDE 10000000

/* Every channel times `level`; 1 leaves every bit as it is. */
void level_master(float *light, size_t pixels, double level);

/* Where the brightest channel of the frame is above `ceiling` (0..1, or LEVEL_NO_CEILING), the
 * whole frame is scaled so that it is the ceiling; a darker frame is left alone, bit for bit. */
void level_ceiling(float *light, size_t pixels, double ceiling);

/* The ceiling `under` at so many microseconds since it began and until it ends (negative: before,
 * after): from none to all of it, ease-in-out, within LEVEL_GLIDE of each end. What glides is the
 * ceiling itself, between 1 and `under`; LEVEL_NO_CEILING outside. Of several the lowest counts. */
double level_glide(double under, int64_t since_begin, int64_t until_end);

#endif
