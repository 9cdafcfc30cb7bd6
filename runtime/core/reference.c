#include "runtime/core/reference.h"

#include <string.h>

#include "runtime/core/colour.h"
#include "runtime/core/hash.h"
#include "runtime/core/light.h"
#include "runtime/core/number.h"
#include "runtime/core/operations.h"

/* Whole-colour operations take numbers, but for those named here: their first two are colours. */
#define COLOURS_FIRST_COLOUR_BLEND ~,
#define SECOND_OF(first, second, ...) second
#define SECOND(...) SECOND_OF(__VA_ARGS__)
#define FIRST_TYPE(name) SECOND(COLOURS_FIRST_##name Colour, double, )

/* Each operation is a small function of its own; operands that it does not have are 0. */
#define FUNCTION_NUMBER(name, expression)                                                          \
    static double number_of_##name(double a, double b, double c, double d, uint16_t k) {           \
        (void)a, (void)b, (void)c, (void)d, (void)k;                                               \
        return expression;                                                                         \
    }
#define FUNCTION_CHANNEL(name, expression)                                                         \
    static float channel_of_##name(float a, float b, float c) {                                    \
        (void)a, (void)b, (void)c;                                                                 \
        return expression;                                                                         \
    }
#define FUNCTION_COLOUR(name, expression)                                                          \
    static Colour colour_of_##name(const ReferenceOperand *operands, uint16_t k) {                 \
        FIRST_TYPE(name) a, b;                                                                     \
        memcpy(&a, &operands[0], sizeof a);                                                        \
        memcpy(&b, &operands[1], sizeof b);                                                        \
        const double c = operands[2].number;                                                       \
        (void)k;                                                                                   \
        return expression;                                                                         \
    }
#define FUNCTION_CONTEXT(name, expression)

#define OP(name, kinds, form, expression, cost, text) FUNCTION_##form(name, expression)
#include "runtime/core/operations.def"
#undef OP

double reference_number(Operation operation, const double *operands, uint16_t k) {
    double o[4] = {0.0, 0.0, 0.0, 0.0};
    for (unsigned i = 0; i < 4 && operation_operand(operation, i); i++)
        o[i] = operands[i];
    switch (operation) {
#define CASE_NUMBER(name)                                                                          \
    case OP_##name:                                                                                \
        return number_of_##name(o[0], o[1], o[2], o[3], k);
#define CASE_CHANNEL(name)
#define CASE_COLOUR(name)
#define CASE_CONTEXT(name)
#define OP(name, kinds, form, expression, cost, text) CASE_##form(name)
#include "runtime/core/operations.def"
#undef OP
#undef CASE_NUMBER
#undef CASE_CHANNEL
    default:
        return 0.0;
    }
}

/* An operand as a channel operation sees it. Numbers meet light in single precision; a number in
 * front is a truth, for which that rounding must not make a small one 0. */
static float channel(char kind, unsigned index, const ReferenceOperand *operand, unsigned which) {
    if (kind == 'c') {
        const float channels[3] = {operand->colour.r, operand->colour.g, operand->colour.b};
        return channels[which];
    }
    if (index == 0)
        return operand->number != 0.0 ? 1.0f : 0.0f;
    return (float)operand->number;
}

static float reference_channel(Operation operation, const float *o) {
    switch (operation) {
#define CASE_NUMBER(name)
#define CASE_CHANNEL(name)                                                                         \
    case OP_##name:                                                                                \
        return channel_of_##name(o[0], o[1], o[2]);
#define OP(name, kinds, form, expression, cost, text) CASE_##form(name)
#include "runtime/core/operations.def"
#undef OP
#undef CASE_CHANNEL
#undef CASE_COLOUR
    default:
        return 0.0f;
    }
}

static Colour reference_channels(Operation operation, const ReferenceOperand *operands) {
    float result[3];
    for (unsigned which = 0; which < 3; which++) {
        float o[3] = {0.0f, 0.0f, 0.0f};
        for (unsigned i = 0; i < 3; i++) {
            const char kind = operation_operand(operation, i);
            if (kind)
                o[i] = channel(kind, i, &operands[i], which);
        }
        result[which] = reference_channel(operation, o);
    }
    const Colour colour = {result[0], result[1], result[2]};
    return colour;
}

Colour reference_colour(Operation operation, const ReferenceOperand *operands, uint16_t k) {
    const Colour black = {0.0f, 0.0f, 0.0f};
    if (operation_form(operation) == FORM_CHANNEL)
        return reference_channels(operation, operands);
    switch (operation) {
#define CASE_CHANNEL(name)
#define CASE_COLOUR(name)                                                                          \
    case OP_##name:                                                                                \
        return colour_of_##name(operands, k);
#define OP(name, kinds, form, expression, cost, text) CASE_##form(name)
#include "runtime/core/operations.def"
#undef OP
    default:
        return black;
    }
}
