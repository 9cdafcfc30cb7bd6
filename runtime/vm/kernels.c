#include "runtime/vm/kernels.h"

#if defined(KERNELS_AVX2) && !defined(__AVX2__)

/* Built for another kind of processor: the table says so. */
const Kernels kernels_avx2 = {0};

#else

#include <string.h>

#include "runtime/core/colour.h"
#include "runtime/core/easing.h"
#include "runtime/core/hash.h"
#include "runtime/core/light.h"
#include "runtime/core/number.h"
#include "runtime/core/ramp.h"

#define ALIGNED(type, pointer) ((type *)__builtin_assume_aligned(pointer, 64))
#define KERNEL(name)                                                                               \
    static void kernel_##name(void *restrict out, const void *a, const void *b, const void *c,     \
                              const void *d, unsigned k)

/* -------- the forms of the list -------- */

#define KERNEL_OF_NUMBER(name, kinds, expression)                                                  \
    static inline void lanes_##name(double *restrict out, const double *a_lanes,                   \
                                    const double *b_lanes, const double *c_lanes,                  \
                                    const double *d_lanes, uint16_t k) {                           \
        (void)k;                                                                                   \
        for (int i = 0; i < LANES; i++) {                                                          \
            const double a = a_lanes[i], b = b_lanes[i], c = c_lanes[i], d = d_lanes[i];           \
            (void)a, (void)b, (void)c, (void)d;                                                    \
            out[i] = expression;                                                                   \
        }                                                                                          \
    }                                                                                              \
    KERNEL(name) {                                                                                 \
        lanes_##name(ALIGNED(double, out), ALIGNED(const double, a), ALIGNED(const double, b),     \
                     ALIGNED(const double, c), ALIGNED(const double, d), (uint16_t)k);             \
    }

/* Operand `index` of a channel: a colour's; a number in single precision, but a number in front
 * is a truth. */
#define CHANNEL_OPERAND(kinds, index, pointer)                                                     \
    (sizeof(kinds) > 3 + (index) && (kinds)[2 + (index)] == 'c'                                    \
         ? ALIGNED(const float, pointer)[channel * LANES + i]                                      \
     : (index) == 0 ? (ALIGNED(const double, pointer)[i] != 0.0 ? 1.0f : 0.0f)                     \
                    : (float)ALIGNED(const double, pointer)[i])

#define KERNEL_OF_CHANNEL(name, kinds, expression)                                                 \
    static inline void lanes_##name(float *restrict out, const void *a_lanes, const void *b_lanes, \
                                    const void *c_lanes) {                                         \
        for (int channel = 0; channel < 3; channel++)                                              \
            for (int i = 0; i < LANES; i++) {                                                      \
                const float a = CHANNEL_OPERAND(kinds, 0, a_lanes);                                \
                const float b = CHANNEL_OPERAND(kinds, 1, b_lanes);                                \
                const float c = CHANNEL_OPERAND(kinds, 2, c_lanes);                                \
                (void)c;                                                                           \
                out[channel * LANES + i] = expression;                                             \
            }                                                                                      \
    }                                                                                              \
    KERNEL(name) {                                                                                 \
        (void)d, (void)k;                                                                          \
        lanes_##name(ALIGNED(float, out), a, b, c);                                                \
    }

/* Whole-colour operations take numbers; COLOUR_BLEND, which takes two colours, has a kernel of its
 * own further down. */
static inline void light_into(float *lanes, int i, Colour light) {
    lanes[i] = light.r;
    lanes[LANES + i] = light.g;
    lanes[2 * LANES + i] = light.b;
}

static inline Colour light_from(const float *lanes, int i) {
    return (Colour){lanes[i], lanes[LANES + i], lanes[2 * LANES + i]};
}

#define KERNEL_OF_COLOUR(name, kinds, expression) KERNEL_OF_##name(name, expression)
#define KERNEL_OF_NUMBERS(name, expression)                                                        \
    static inline void lanes_##name(float *restrict out, const double *a_lanes,                    \
                                    const double *b_lanes, const double *c_lanes) {                \
        for (int i = 0; i < LANES; i++) {                                                          \
            const double a = a_lanes[i], b = b_lanes[i], c = c_lanes[i];                           \
            light_into(out, i, expression);                                                        \
        }                                                                                          \
    }                                                                                              \
    KERNEL(name) {                                                                                 \
        (void)d, (void)k;                                                                          \
        lanes_##name(ALIGNED(float, out), ALIGNED(const double, a), ALIGNED(const double, b),      \
                     ALIGNED(const double, c));                                                    \
    }
#define KERNEL_OF_COLOUR_RGB KERNEL_OF_NUMBERS
#define KERNEL_OF_COLOUR_HSL KERNEL_OF_NUMBERS
#define KERNEL_OF_COLOUR_HWB KERNEL_OF_NUMBERS
#define KERNEL_OF_COLOUR_OKLAB KERNEL_OF_NUMBERS
#define KERNEL_OF_COLOUR_OKLCH KERNEL_OF_NUMBERS
#define KERNEL_OF_COLOUR_BLEND(name, expression)

#define KERNEL_OF_CONTEXT(name, kinds, expression)

#define OP(name, kinds, form, expression, cost, text) KERNEL_OF_##form(name, kinds, expression)
#include "runtime/core/operations.def"
#undef OP

/* -------- operations of form CONTEXT -------- */

#define UNUSED (void)a, (void)b, (void)c, (void)d, (void)k

KERNEL(NOTHING) {
    (void)out;
    UNUSED;
}

/* A register, a field or a column of numbers. */
KERNEL(COPY) {
    UNUSED;
    memcpy(ALIGNED(char, out), ALIGNED(const char, a), LANES * sizeof(double));
}

KERNEL(COPY_LIGHT) {
    UNUSED;
    memcpy(ALIGNED(char, out), ALIGNED(const char, a), 3 * LANES * sizeof(float));
}

/* a: truths as bytes. */
KERNEL(WITHIN) {
    UNUSED;
    double *lanes = ALIGNED(double, out);
    const unsigned char *truths = a;
    for (int i = 0; i < LANES; i++)
        lanes[i] = truths[i];
}

/* a: one number of the frame. */
KERNEL(SPREAD) {
    UNUSED;
    double *lanes = ALIGNED(double, out);
    const double number = *(const double *)a;
    for (int i = 0; i < LANES; i++)
        lanes[i] = number;
}

/* a: one Colour of the frame. */
KERNEL(SPREAD_LIGHT) {
    UNUSED;
    float *lanes = ALIGNED(float, out);
    const Colour light = *(const Colour *)a;
    for (int i = 0; i < LANES; i++) {
        lanes[i] = light.r;
        lanes[LANES + i] = light.g;
        lanes[2 * LANES + i] = light.b;
    }
}

/* -------- blends, easings and ramps -------- */

/* One loop for each space, so that none has a branch inside; the hue path is asked for in OKLCH
 * only. */
#define BLEND_LOOP(code)                                                                           \
    for (int i = 0; i < LANES; i++)                                                                \
    light_into(out, i, colour_blend(code, light_from(a, i), light_from(b, i), share[i]))

static inline void blend_lanes(float *restrict out, const float *a, const float *b,
                               const double *share, uint16_t k) {
    switch ((BlendSpace)(k & 3)) {
    case SPACE_OKLAB:
        BLEND_LOOP(SPACE_OKLAB);
        break;
    case SPACE_SRGB_LINEAR:
        BLEND_LOOP(SPACE_SRGB_LINEAR);
        break;
    case SPACE_SRGB:
        BLEND_LOOP(SPACE_SRGB);
        break;
    case SPACE_OKLCH:
        BLEND_LOOP((uint16_t)(SPACE_OKLCH | (k & 12)));
        break;
    }
}

KERNEL(COLOUR_BLEND) {
    (void)d;
    blend_lanes(ALIGNED(float, out), ALIGNED(const float, a), ALIGNED(const float, b),
                ALIGNED(const double, c), (uint16_t)k);
}

static inline void ease_lanes(double *restrict out, const double *at, const Easing *easing) {
    if (easing->kind == EASING_BEZIER)
        for (int i = 0; i < LANES; i++)
            out[i] = easing_bezier(easing->bezier, at[i]);
    else
        for (int i = 0; i < LANES; i++)
            out[i] = easing_at(easing, at[i]);
}

/* b: the Easing. */
KERNEL(EASE) {
    UNUSED;
    ease_lanes(ALIGNED(double, out), ALIGNED(const double, a), b);
}

/* Where the lanes lie in a ramp: the stretch of each, and the eased share of its way. */
typedef struct Found {
    const RampStretch *stretch[LANES];
    _Alignas(64) double share[LANES];
} Found;

/* Easing after easing over all lanes, kept where the stretch has it. */
static void found_ease(Found *found, const RampReady *ready) {
    _Alignas(64) double straight[LANES], eased[LANES];
    memcpy(straight, found->share, sizeof straight);
    const Easing *last = NULL;
    for (uint32_t s = 0; s + 1 < ready->ramp->count; s++) {
        const Easing *easing = ready->stretches[s].easing;
        if (!easing || easing == last)
            continue;
        last = easing;
        ease_lanes(eased, straight, easing);
        for (int i = 0; i < LANES; i++)
            if (found->stretch[i]->easing == easing && straight[i] != 0.0)
                found->share[i] = eased[i];
    }
}

static void found_at(Found *found, const RampReady *ready, const double *places) {
    for (int i = 0; i < LANES; i++)
        found->stretch[i] = ramp_find(ready, places[i], &found->share[i]);
    found_ease(found, ready);
}

/* b: the RampReady. */
KERNEL(RAMP_NUMBER) {
    UNUSED;
    double *lanes = ALIGNED(double, out);
    Found found;
    found_at(&found, b, ALIGNED(const double, a));
    for (int i = 0; i < LANES; i++) {
        const RampStretch *stretch = found.stretch[i];
        lanes[i] = found.share[i] == 0.0
                       ? stretch->number
                       : number_lerp(stretch->number, stretch[1].number, found.share[i]);
    }
}

/* The ends of the stretches, lane beside lane. */
typedef struct Ends {
    _Alignas(64) double from[3][LANES];
    double to[3][LANES];
    float first[3 * LANES], second[3 * LANES];
} Ends;

static inline void between_lanes(float *restrict out, const Ends *ends, const double *share,
                                 const uint16_t code) {
    for (int i = 0; i < LANES; i++) {
        const Coordinates from = {ends->from[0][i], ends->from[1][i], ends->from[2][i]};
        const Coordinates to = {ends->to[0][i], ends->to[1][i], ends->to[2][i]};
        light_into(out, i,
                   colour_ends(light_from(ends->first, i), light_from(ends->second, i),
                               colour_between(code, &from, &to, share[i]), share[i]));
    }
}

static void ramp_lanes(float *restrict out, const Ends *ends, const double *share,
                       BlendSpace space) {
    switch (space) {
    case SPACE_OKLAB:
        between_lanes(out, ends, share, SPACE_OKLAB);
        break;
    case SPACE_SRGB_LINEAR:
        between_lanes(out, ends, share, SPACE_SRGB_LINEAR);
        break;
    case SPACE_SRGB:
        between_lanes(out, ends, share, SPACE_SRGB);
        break;
    case SPACE_OKLCH:
        between_lanes(out, ends, share, SPACE_OKLCH);
        break;
    }
}

KERNEL(RAMP_COLOUR) {
    UNUSED;
    const RampReady *ready = b;
    Found found;
    Ends ends;
    found_at(&found, ready, ALIGNED(const double, a));
    for (int i = 0; i < LANES; i++) {
        const RampStretch *stretch = found.stretch[i];
        const RampStretch *next = found.share[i] == 0.0 ? stretch : stretch + 1;
        ends.from[0][i] = stretch->from.x, ends.to[0][i] = stretch->to.x;
        ends.from[1][i] = stretch->from.y, ends.to[1][i] = stretch->to.y;
        ends.from[2][i] = stretch->from.z, ends.to[2][i] = stretch->to.z;
        light_into(ends.first, i, stretch->light);
        light_into(ends.second, i, next->light);
    }
    ramp_lanes(ALIGNED(float, out), &ends, found.share, (BlendSpace)(ready->ramp->blend & 3));
}

#define kernel_KEEP kernel_COPY
#define kernel_KEEP_LIGHT kernel_COPY_LIGHT
#define kernel_KEPT kernel_COPY
#define kernel_KEPT_LIGHT kernel_COPY_LIGHT
#define kernel_FIELD kernel_COPY
/* Scalar sections only. */
#define kernel_RAMP_READY kernel_NOTHING
#define kernel_INPUT kernel_NOTHING
#define kernel_DIAL kernel_NOTHING
#define kernel_DIAL_LIGHT kernel_NOTHING

#ifdef KERNELS_AVX2
const Kernels kernels_avx2 = {"avx2",
#else
const Kernels kernels_baseline = {"baseline",
#endif
                              {
#define OP(name, kinds, form, expression, cost, text) kernel_##name,
#include "runtime/core/operations.def"
#undef OP
                              }};

#endif
