#include "runtime/light/order.h"

#include <string.h>

void order_channels(const char *order, const uint8_t *bytes, size_t pixels, uint8_t *into) {
    static const char columns[] = "rgbw";
    const size_t channels = strlen(order);
    for (size_t channel = 0; channel < channels; channel++) {
        const size_t from = (size_t)(strchr(columns, order[channel]) - columns);
        for (size_t i = 0; i < pixels; i++)
            into[i * channels + channel] = bytes[i * channels + from];
    }
}
