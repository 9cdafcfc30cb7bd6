/* The order in which the pixels of a lamp take a step of light: spatial dithering. A fraction of a
 * code is shown by that share of the pixels, spread evenly over the lamp and constant in time, so
 * it cannot flicker; a shade mixes it. */
#ifndef GLOAM_LIGHT_DITHER_H
#define GLOAM_LIGHT_DITHER_H

#include <stdbool.h>
#include <stdint.h>

#include "runtime/light/shape.h"

/* ranks[i], 0 .. pixels - 1, each once: the r-th pixel to step up. Any first part of the order is
 * spread evenly over the lamp: along the wire of a strip or ring, over the places of other shapes.
 * False: out of memory. */
bool dither_ranks(const Shape *shape, uint32_t *ranks);

/* The threshold of a pixel, inside 0..1: the earlier its turn the higher. All channels of a pixel
 * have the same one, so that of two channels the smaller never steps before the larger: grey is
 * grey in every pixel, and no pixel shows a hue that the light has not. */
static inline double dither_threshold(uint32_t rank, uint32_t pixels) {
    return ((double)(pixels - 1 - rank) + 0.5) / pixels;
}

#endif
