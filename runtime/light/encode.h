/* Light to what a screen can show: the gamut step, which lamps share, and sRGB. Small pure
 * functions over arrays of pixels, three channels each. */
#ifndef GLOAM_LIGHT_ENCODE_H
#define GLOAM_LIGHT_ENCODE_H

#include <stddef.h>
#include <stdint.h>

/* The gamut step (rule C6): a channel below 0 becomes 0; a pixel above 1 is divided by its largest
 * channel, which keeps its hue. `into` may be `light`. */
void encode_gamut(const float *light, size_t pixels, float *into);

/* Where the codes of a screen change. Filled once by its owner, then read only. */
typedef struct ScreenTable {
    float from[257];     /* code k begins at from[k]; from[256] is never reached */
    uint8_t start[4097]; /* a code at or below that of i / 4096 */
} ScreenTable;

void encode_screen_table(ScreenTable *table);

/* sRGB bytes for a screen, to nearest, after the gamut step. */
void encode_screen(const ScreenTable *table, const float *light, size_t pixels, uint8_t *bytes);

#endif
