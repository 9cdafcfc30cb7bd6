#include "runtime/light/supply.h"

#include "runtime/core/number.h"

/* The code in hand of each channel, and a little for the rounding of the steps in between. */
#define SUPPLY_HAND (1.001 / 255.0)

double supply_current(const Supply *supply, uint32_t pixels, double shares) {
    return supply->idle_ampere * pixels + supply->channel_ampere * shares;
}

double supply_factor(const Supply *supply, uint32_t pixels, uint32_t channels, double shares) {
    const double full = (double)pixels * channels;
    const double hand = full * SUPPLY_HAND;
    const double limit = supply->limit_ampere;
    if (!(limit > 0.0))
        return 1.0;
    if (supply_current(supply, pixels, 0.0) > limit)
        return 0.0;
    const double most = number_smaller(shares > 0.0 ? shares + hand : 0.0, full);
    if (supply_current(supply, pixels, most) <= limit)
        return 1.0;
    const double room = (limit - supply->idle_ampere * pixels) / supply->channel_ampere;
    return number_unit(number_divide(room - hand, shares));
}

static uint64_t supply_sum(const uint8_t *codes, uint32_t count) {
    uint64_t sum = 0;
    for (uint32_t i = 0; i < count; i++)
        sum += codes[i];
    return sum;
}

double supply_shares(const uint8_t *bytes, uint32_t pixels, uint32_t channels, bool level) {
    const size_t columns = (size_t)channels + (level ? 1 : 0);
    uint64_t sum = 0;
    for (size_t i = 0; i < pixels; i++) {
        const uint8_t *pixel = bytes + i * columns;
        sum += supply_sum(pixel, channels) * (level ? pixel[channels] : 1);
    }
    return (double)sum / (level ? 255.0 * 31.0 : 255.0);
}
