/* The functions of one channel of light: single precision, the same bits on every machine.
 * Finite operands give a finite result. No branch, no libm. */
#ifndef GLOAM_CORE_LIGHT_H
#define GLOAM_CORE_LIGHT_H

#include <float.h>

static inline float light_finite(float x) {
    return ((x <= FLT_MAX) & (x >= -FLT_MAX)) ? x : 0.0f;
}

static inline float light_divide(float a, float b) {
    return light_finite(a / b);
}

static inline float light_minimum(float a, float b) {
    return b < a ? b : a;
}

static inline float light_maximum(float a, float b) {
    return b > a ? b : a;
}

static inline float light_unit(float x) {
    const float above = x > 0.0f ? x : 0.0f;
    return above < 1.0f ? above : 1.0f;
}

/* a where c is 0, b where c is 1, both exactly; else the line through them. */
static inline float light_mix(float a, float b, float c) {
    const float between = light_finite(a + c * (b - a));
    const float end = c == 1.0f ? b : between;
    return c == 0.0f ? a : end;
}

static inline float light_screen(float a, float b) {
    const float below = light_unit(a);
    const float layer = light_unit(b);
    return below + layer - below * layer;
}

#endif
