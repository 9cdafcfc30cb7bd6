#include "runtime/vm/kernels.h"

#if defined(KERNELS_AVX2) && !defined(__AVX2__)

/* Built for another kind of processor: the table says so. */
const Kernels kernels_avx2 = {0};

#else

#include <string.h>

#include "runtime/core/easing.h"
#include "runtime/core/hash.h"
#include "runtime/core/light.h"
#include "runtime/core/number.h"
#include "runtime/core/ramp.h"
#include "runtime/core/reference.h"

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

static inline ReferenceOperand colour_operand(char kind, const void *lanes, int i) {
    ReferenceOperand operand = {0};
    if (kind == 'c') {
        const float *light = lanes;
        operand.colour = (Colour){light[i], light[LANES + i], light[2 * LANES + i]};
    } else {
        operand.number = ((const double *)lanes)[i];
    }
    return operand;
}

#define KERNEL_OF_COLOUR(name, kinds, expression)                                                  \
    KERNEL(name) {                                                                                 \
        float *restrict lanes = out;                                                               \
        (void)d;                                                                                   \
        for (int i = 0; i < LANES; i++) {                                                          \
            const ReferenceOperand operands[4] = {colour_operand((kinds)[2], a, i),                \
                                                  colour_operand((kinds)[3], b, i),                \
                                                  colour_operand((kinds)[4], c, i)};               \
            const Colour light = reference_colour(OP_##name, operands, (uint16_t)k);               \
            lanes[i] = light.r;                                                                    \
            lanes[LANES + i] = light.g;                                                            \
            lanes[2 * LANES + i] = light.b;                                                        \
        }                                                                                          \
    }

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

/* b: the Easing. */
KERNEL(EASE) {
    UNUSED;
    double *lanes = ALIGNED(double, out);
    for (int i = 0; i < LANES; i++)
        lanes[i] = easing_at(b, ((const double *)a)[i]);
}

/* b: the RampReady. */
KERNEL(RAMP_NUMBER) {
    UNUSED;
    double *lanes = ALIGNED(double, out);
    for (int i = 0; i < LANES; i++)
        lanes[i] = ramp_number(b, ((const double *)a)[i]);
}

KERNEL(RAMP_COLOUR) {
    UNUSED;
    float *lanes = ALIGNED(float, out);
    for (int i = 0; i < LANES; i++) {
        const Colour light = ramp_colour(b, ((const double *)a)[i]);
        lanes[i] = light.r;
        lanes[LANES + i] = light.g;
        lanes[2 * LANES + i] = light.b;
    }
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
