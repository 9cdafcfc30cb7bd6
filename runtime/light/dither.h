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

/* The threshold of a pixel's channel, inside 0..1: (k + 1/2) / pixels with
 * k = (rank + channel * pixels / channels) mod pixels, so that the channels of one pixel do not
 * step together. */
static inline double dither_threshold(uint32_t rank, uint32_t channel, uint32_t channels,
                                      uint32_t pixels) {
    uint64_t k = ((uint64_t)rank + (uint64_t)channel * pixels / channels) % pixels;
    return ((double)k + 0.5) / pixels;
}

#endif
