/* The order of the channels on a wire. */
#ifndef GLOAM_LIGHT_ORDER_H
#define GLOAM_LIGHT_ORDER_H

#include <stddef.h>
#include <stdint.h>

/* From bytes in the order red, green, blue[, white] to `order`, a permutation of "rgb" or "rgbw"
 * that names as many channels as a pixel has. `into` is another array. */
void order_channels(const char *order, const uint8_t *bytes, size_t pixels, uint8_t *into);

#endif
