/* The white part of pixels that have one. */
#ifndef GLOAM_LIGHT_WHITE_H
#define GLOAM_LIGHT_WHITE_H

#include <stdbool.h>
#include <stddef.h>

/* The white die at full, as a mix of this lamp's channels that looks the same and is as bright:
 * factors[i] * B_i(die), B the black body at full level. False where the die is of no use: its
 * temperature is not said (0), or the mix it would replace draws no more than the die itself (its
 * channels do not sum up to more than 1); then the white part stays dark. */
bool white_die(double die, const float factors[3], float mix[3]);

/* From 3 calibrated floats a pixel, each 0..1, to 4: as much as can be goes to white,
 * w = min(1, light_i / mix_i over the channels of the mix that are not 0), and is taken from the
 * channels, so that channels + w * mix is the light that came in. `usable` false: w is 0. */
void white_split(bool usable, const float mix[3], const float *light, size_t pixels, float *into);

#endif
