/* From calibrated light to bytes: the last step, and the one that decides whether a dawn clicks.
 *
 * Every code is the floor or the ceiling of its own value. It depends on the value and the place
 * only (with `bits`, on the number of the frame too), and a rising value never lowers it. */
#ifndef GLOAM_LIGHT_QUANTISE_H
#define GLOAM_LIGHT_QUANTISE_H

#include <stdbool.h>
#include <stdint.h>

typedef struct Quantiser {
    uint32_t pixels, channels; /* 3, or 4 with white */
    const uint32_t *ranks;     /* dither_ranks; NULL: each code to nearest, halves upward */
    bool level;                /* bytes have a column more: the global level of the pixel */
    bool level_free;           /* that level may be chosen, 1..31; else it is 31 always */
    const uint8_t *bits;       /* flicker_bits: dithering in time; NULL: none. Not with `level` */
} Quantiser;

/* light: `channels` floats a pixel, held within 0..1 here. bytes: red, green, blue[, white][,
 * level] of each pixel. `frame` counts the frames on the wire; without `bits` it does not matter.
 *
 * With a free level g the light of a code is code * g / (255 * 31). g is the smallest that reaches
 * the pixel's largest channel; between the top of one level and the first code above it in the next
 * lies one step, so that the largest channel never falls while it rises. The others may where the
 * level changes, by less than a step of the new one. spec/dithering.md has the formulas. */
void quantise(const Quantiser *quantiser, const float *light, uint64_t frame, uint8_t *bytes);

/* Bytes a pixel. */
static inline uint32_t quantise_columns(const Quantiser *quantiser) {
    return quantiser->channels + (quantiser->level ? 1 : 0);
}

#endif
