/* Chance: a hash of numbers, and smooth noise made of it. Bit for bit as spec/meaning.md says. */
#ifndef GLOAM_CORE_HASH_H
#define GLOAM_CORE_HASH_H

#include "runtime/core/number.h"
#include "runtime/core/program.h"

/* The finaliser of SplitMix64 (Steele, Lea and Flood, OOPSLA 2014). */
static inline uint64_t hash_mix(uint64_t z) {
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

static inline uint64_t hash_step(uint64_t hash, double x) {
    const uint64_t bits = !NUMBER_SOFT                    ? number_bits(x + 0.0) /* +0 for -0 */
                          : number_bits(x) != NUMBER_SIGN ? number_bits(x)
                                                          : 0;
    return hash_mix((hash ^ bits) + 0x9E3779B97F4A7C15u);
}

/* As hash_number, by shifts. */
static inline double hash_number_soft(uint64_t hash) {
    const uint32_t whole = (uint32_t)(hash >> 40);
    if (whole == 0)
        return 0.0;
    const int top = 31 - __builtin_clz(whole);
    return number_from_bits(((uint64_t)(1023 - 24 + top) << 52) +
                            ((uint64_t)(whole ^ (1u << top)) << (52 - top)));
}

/* The upper 24 bits over 2^24: below 1 also in single precision. */
static inline double hash_number(uint64_t hash) {
    if (NUMBER_SOFT)
        return hash_number_soft(hash);
    const double whole = number_from_bits((hash >> 40) | 0x4330000000000000u) - NUMBER_WHOLE;
    return whole * (1.0 / 16777216.0);
}

static inline double hash_1(uint16_t salt, double a) {
    return hash_number(hash_step(salt, a));
}

static inline double hash_2(uint16_t salt, double a, double b) {
    return hash_number(hash_step(hash_step(salt, a), b));
}

static inline double hash_3(uint16_t salt, double a, double b, double c) {
    return hash_number(hash_step(hash_step(hash_step(salt, a), b), c));
}

static inline double hash_4(uint16_t salt, double a, double b, double c, double d) {
    return hash_number(hash_step(hash_step(hash_step(hash_step(salt, a), b), c), d));
}

static inline double noise_fade(double f) {
    return f * f * f * (f * (f * 6.0 - 15.0) + 10.0);
}

static inline double noise_blend(double p, double q, double w) {
    return p + w * (q - p);
}

static inline double noise_1(double a) {
    const double i = number_floor(a);
    const double w = noise_fade(number_finite(a - i));
    return noise_blend(hash_1(SALT_NOISE, i), hash_1(SALT_NOISE, i + 1.0), w);
}

static inline double noise_2(double a, double b) {
    const double i = number_floor(a);
    const double j = number_floor(b);
    const double w = noise_fade(number_finite(a - i));
    const double below = noise_blend(hash_2(SALT_NOISE, i, j), hash_2(SALT_NOISE, i + 1.0, j), w);
    const double above =
        noise_blend(hash_2(SALT_NOISE, i, j + 1.0), hash_2(SALT_NOISE, i + 1.0, j + 1.0), w);
    return noise_blend(below, above, noise_fade(number_finite(b - j)));
}

/* The same over two numbers at a whole third one. */
static inline double noise_sheet(double i, double j, double k, double v, double w) {
    const double below =
        noise_blend(hash_3(SALT_NOISE, i, j, k), hash_3(SALT_NOISE, i + 1.0, j, k), v);
    const double above =
        noise_blend(hash_3(SALT_NOISE, i, j + 1.0, k), hash_3(SALT_NOISE, i + 1.0, j + 1.0, k), v);
    return noise_blend(below, above, w);
}

static inline double noise_3(double a, double b, double c) {
    const double i = number_floor(a);
    const double j = number_floor(b);
    const double k = number_floor(c);
    const double v = noise_fade(number_finite(a - i));
    const double w = noise_fade(number_finite(b - j));
    const double near = noise_sheet(i, j, k, v, w);
    const double far = noise_sheet(i, j, k + 1.0, v, w);
    return noise_blend(near, far, noise_fade(number_finite(c - k)));
}

#endif
