#include "backends/clocked.h"

#include <string.h>

#include "runtime/light/order.h"

enum { START = 4, PIXEL = 4, TAKE_OVER = 4 };

static uint64_t clocked_end(uint64_t pixels) {
    return TAKE_OVER + (pixels + 15) / 16;
}

uint64_t clocked_length(uint64_t pixels) {
    return START + PIXEL * pixels + clocked_end(pixels);
}

void clocked_frame(const char *order, const uint8_t *bytes, bool level, size_t pixels,
                   uint8_t *into) {
    memset(into, 0, START);
    into += START;
    for (size_t i = 0; i < pixels; i++) {
        uint8_t share = level && bytes[3] < CLOCKED_LEVEL_MOST ? bytes[3] : CLOCKED_LEVEL_MOST;
        into[0] = (uint8_t)(0xE0 | share);
        order_channels(order, bytes, 1, into + 1);
        bytes += level ? 4 : 3;
        into += PIXEL;
    }
    memset(into, 0, (size_t)clocked_end(pixels));
}
