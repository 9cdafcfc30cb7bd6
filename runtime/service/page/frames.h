/* A routine on a lamp as pictures for a screen: what `preview` would show, before anything plays.
 * sRGB, three bytes a pixel, of a lamp with more than FEED_PIXELS every k-th. */
#ifndef GLOAM_SERVICE_PAGE_FRAMES_H
#define GLOAM_SERVICE_PAGE_FRAMES_H

#include "runtime/service/page/page.h"

typedef struct Frames Frames;

/* `lamp` as page_lamp counts; where none is declared a ring of 16. Dials are at their defaults, but
 * for those that the state `told` (or NULL) has otherwise. `utc` (microseconds) is the moment of
 * the routine's start. The score outlives it. NULL: out of memory. */
Frames *frames_open(const Score *score, int lamp, uint16_t routine, const json_t *told,
                    int64_t utc);
void frames_free(Frames *frames); /* NULL is fine */

uint32_t frames_pixels(const Frames *frames); /* that are shown */
/* At `position` microseconds since the start. `shown` is when it is seen, for the flash guard;
 * times never fall; -1: by itself, as one picture of many. `rgb`: 3 bytes a shown pixel. */
void frames_at(Frames *frames, int64_t position, int64_t shown, uint8_t *rgb);

/* Seconds; 0: it goes on. Whether nothing in it moves. */
double frames_lasts(const Frames *frames);
bool frames_still(const Frames *frames);

/* The routine of that name, or of those of the main file the first where `name` is NULL.
 * ROUTINE_NONE: there is none. */
uint16_t frames_routine(const Score *score, const char *name);

/* Rough nanoseconds that one frame takes: to be looked at before frames_open, which takes as long.
 */
double frames_cost(const Score *score, int lamp, uint16_t routine);

#endif
