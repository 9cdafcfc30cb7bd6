#include "runtime/light/quantise.h"

#include "runtime/core/number.h"
#include "runtime/light/dither.h"

enum { CODES = 255, LEVELS = 31 };

static double quantise_held(float light) {
    return number_unit((double)light);
}

/* The threshold inside 0..1 keeps a whole value as it is. */
static uint8_t quantise_code(double value, double threshold) {
    const int code = (int)(value + threshold);
    return (uint8_t)(code < CODES ? code : CODES);
}

static double quantise_threshold(const Quantiser *quantiser, uint32_t pixel) {
    return quantiser->ranks ? dither_threshold(quantiser->ranks[pixel], quantiser->pixels) : 0.5;
}

/* -------- one level -------- */

static void quantise_plain(const Quantiser *quantiser, const float *light, uint8_t *bytes) {
    const uint32_t channels = quantiser->channels;
    for (uint32_t pixel = 0; pixel < quantiser->pixels; pixel++) {
        const double threshold = quantise_threshold(quantiser, pixel);
        for (uint32_t channel = 0; channel < channels; channel++)
            *bytes++ = quantise_code(255.0 * quantise_held(*light++), threshold);
        if (quantiser->level)
            *bytes++ = LEVELS;
    }
}

/* -------- the level of each pixel -------- */

/* Whether a value between the top of the level before and the first code of this one that is not
 * darker shows as the latter. */
static bool quantise_over(int level, double value, double threshold) {
    const int below = CODES * (level - 1), above = (below + level - 1) / level * level;
    return value >= above || (value - below) / (above - below) + threshold >= 1.0;
}

static void quantise_pixel(const float *light, uint32_t channels, double threshold,
                           uint8_t *bytes) {
    double largest = 0.0;
    for (uint32_t channel = 0; channel < channels; channel++)
        largest = number_larger(largest, 255.0 * LEVELS * quantise_held(light[channel]));
    int level = (int)(largest / CODES);
    level += level == 0 || (double)(CODES * level) < largest;
    level -= quantise_over(level, largest, threshold) ? 0 : 1;
    for (uint32_t channel = 0; channel < channels; channel++)
        bytes[channel] =
            quantise_code(255.0 * LEVELS * quantise_held(light[channel]) / level, threshold);
    bytes[channels] = (uint8_t)level;
}

static void quantise_free(const Quantiser *quantiser, const float *light, uint8_t *bytes) {
    const uint32_t channels = quantiser->channels;
    for (uint32_t pixel = 0; pixel < quantiser->pixels; pixel++) {
        quantise_pixel(light, channels, quantise_threshold(quantiser, pixel), bytes);
        light += channels;
        bytes += channels + 1;
    }
}

/* -------- time -------- */

/* The lowest `bits` bits of a number, in reverse. */
static uint32_t quantise_reversed(uint64_t number, unsigned bits) {
    uint32_t reversed = 0;
    for (unsigned bit = 0; bit < bits; bit++)
        reversed = reversed << 1 | (uint32_t)(number >> bit & 1);
    return reversed;
}

static void quantise_timed(const Quantiser *quantiser, const float *light, uint64_t frame,
                           uint8_t *bytes) {
    for (uint32_t pixel = 0; pixel < quantiser->pixels; pixel++) {
        const double threshold = quantise_threshold(quantiser, pixel);
        const uint64_t turn = frame + (quantiser->ranks ? quantiser->ranks[pixel] : pixel);
        for (uint32_t channel = 0; channel < quantiser->channels; channel++) {
            const double value = 255.0 * quantise_held(*light++);
            const unsigned bits = quantiser->bits[(int)value];
            const uint32_t steps = (uint32_t)(value * (double)(1u << bits) + threshold);
            const uint32_t share = steps & ((1u << bits) - 1u);
            const uint32_t code = (steps >> bits) + (quantise_reversed(turn, bits) < share);
            *bytes++ = (uint8_t)code;
        }
    }
}

void quantise(const Quantiser *quantiser, const float *light, uint64_t frame, uint8_t *bytes) {
    if (quantiser->level && quantiser->level_free)
        quantise_free(quantiser, light, bytes);
    else if (quantiser->bits && !quantiser->level)
        quantise_timed(quantiser, light, frame, bytes);
    else
        quantise_plain(quantiser, light, bytes);
}
