#include "runtime/light/calibrate.h"

#include "runtime/core/colour.h"

/* What each channel must be multiplied by, the largest 1; false where no temperature is said. */
static bool calibrate_quotients(double white, double quotients[3]) {
    Colour meant, seen;
    if (!colour_blackbody(6504.0, &meant) || !colour_blackbody(white, &seen))
        return false;
    const double over[3] = {(double)meant.r, (double)meant.g, (double)meant.b};
    const double under[3] = {(double)seen.r, (double)seen.g, (double)seen.b};
    double largest = 0.0;
    for (int i = 0; i < 3; i++) {
        quotients[i] = number_divide(over[i], under[i]);
        largest = number_larger(quotients[i], largest);
    }
    for (int i = 0; i < 3; i++)
        quotients[i] = under[i] > 0.0 ? quotients[i] / largest : 1.0;
    return true;
}

void calibrate_factors(const double gain[3], double white, float factors[3]) {
    double quotients[3] = {1.0, 1.0, 1.0};
    (void)calibrate_quotients(white, quotients);
    for (int i = 0; i < 3; i++)
        factors[i] = (float)number_larger(gain[i] * quotients[i], (double)FLT_MIN);
}

void calibrate(const float factors[3], const float *light, size_t pixels, float *into) {
    for (size_t i = 0; i < pixels; i++)
        for (int channel = 0; channel < 3; channel++)
            into[3 * i + channel] = factors[channel] * light[3 * i + channel];
}
