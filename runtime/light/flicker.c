#include "runtime/light/flicker.h"

#include <stdbool.h>

#include "runtime/core/number.h"

/* The lines begin to climb steeper at 90 Hz, and end at all light at 1250 Hz. One quotient each, so
 * that a modulation that lies on a line in the numbers of the page lies on it here too. */
double flicker_low_risk(double hertz) {
    if (!(hertz > 0.0))
        return 0.0;
    const double line = hertz < 90.0 ? hertz / 4000.0 : hertz / 1250.0;
    return number_smaller(line, 1.0);
}

static bool flicker_unseen(unsigned code, double hertz) {
    return hertz >= 90.0 && 1.0 / (2.0 * code + 1.0) <= flicker_low_risk(hertz);
}

void flicker_bits(double frames, uint8_t bits[256]) {
    const double rate = number_larger(number_finite(frames), 0.0);
    for (unsigned code = 0; code < 256; code++) {
        unsigned most = 0;
        while (most < FLICKER_BITS && flicker_unseen(code, rate / (double)(2u << most)))
            most++;
        bits[code] = (uint8_t)most;
    }
}

double flicker_one_wire_rate(uint32_t pixels, uint32_t channels) {
    return 1e6 / (1.25 * 8.0 * channels * pixels + 300.0);
}

double flicker_clocked_rate(uint32_t pixels, double hertz) {
    return hertz / (64.0 + 32.0 * pixels + 8.0 * ((pixels + 15u) / 16u));
}
