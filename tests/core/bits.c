/* Prints one hash of the bits of everything that the core computes, over special operands and
 * pseudo-random ones: slow_bits.sh builds it in many ways and compares. */
#include <float.h>
#include <stdio.h>
#include <string.h>

#include "runtime/core/colour.h"
#include "runtime/core/easing.h"
#include "runtime/core/operations.h"
#include "runtime/core/ramp.h"
#include "runtime/core/reference.h"

static uint64_t hash = 14695981039346656037u; /* FNV-1a, 64 bits */

static void add(const void *bytes, size_t count) {
    const unsigned char *at = bytes;
    for (size_t i = 0; i < count; i++)
        hash = (hash ^ at[i]) * 1099511628211u;
}

static void add_number(double x) {
    const uint64_t bits = number_bits(x);
    for (int shift = 0; shift < 64; shift += 8)
        add(&(unsigned char){(unsigned char)(bits >> shift)}, 1);
}

static void add_colour(Colour colour) {
    add_number((double)colour.r);
    add_number((double)colour.g);
    add_number((double)colour.b);
}

static uint64_t seed = 88172645463325252u; /* xorshift64*, Vigna 2016 */

static uint64_t next_bits(void) {
    seed ^= seed >> 12;
    seed ^= seed << 25;
    seed ^= seed >> 27;
    return seed * 2685821657736338717u;
}

static double number(void) {
    static const double specials[] = {0.0,   -0.0,   1.0,     -1.0,     0.5,   -0.5,   0.25,
                                      2.0,   5e-324, -5e-324, 1e17,     -1e17, 1e-300, 1e300,
                                      255.0, 0x1p53, DBL_MAX, -DBL_MAX, 1e-9,  3.0};
    const uint64_t kind = next_bits() % 8;
    if (kind == 0)
        return specials[next_bits() % (sizeof specials / sizeof specials[0])];
    if (kind == 1) {
        const double any = number_from_bits(next_bits());
        return number_finite(any);
    }
    const double unit = (double)(next_bits() >> 11) / 9007199254740992.0;
    return kind < 5 ? unit : (unit - 0.5) * (kind == 5 ? 4.0 : 1e4);
}

static Colour colour(void) {
    const Colour made = {light_finite((float)number()), light_finite((float)number()),
                         light_finite((float)number())};
    return made;
}

static void operations(void) {
    for (int i = 0; i < OPERATION_COUNT; i++) {
        const Operation operation = (Operation)i;
        if (operation_form(operation) == FORM_CONTEXT)
            continue;
        for (int round = 0; round < 3000; round++) {
            ReferenceOperand operands[4] = {{0}};
            double plain[4] = {0};
            for (unsigned k = 0; k < 4; k++) {
                if (operation_operand(operation, k) == 'c')
                    operands[k].colour = colour();
                else
                    operands[k].number = plain[k] = number();
            }
            const uint16_t k = (uint16_t)(round % BLEND_CODE_COUNT);
            if (operation_result(operation) == 'c')
                add_colour(reference_colour(operation, operands, k));
            else
                add_number(reference_number(operation, plain, k));
        }
    }
}

static void easings(void) {
    double points[] = {0.0, 0.1, 0.3, -0.5, 0.3, 2.0, 1.0, 1.0};
    for (int round = 0; round < 3000; round++) {
        const Easing some[] = {
            {.kind = EASING_BEZIER,
             .bezier = {number_unit(number()), number(), number_unit(number()), number()}},
            {.kind = EASING_STEPS, .jump = (Jump)(round % 4), .count = 2 + round % 7},
            {.kind = EASING_LINEAR, .count = 4, .points = points},
        };
        for (int i = 0; i < 3; i++)
            add_number(easing_at(&some[i], number()));
    }
}

static void ramps(void) {
    static RampStop stops[] = {{0, 0, EASING_NONE}, {1, 1, 0}, {2, 2, EASING_NONE}, {3, 3, 0}};
    const Easing easing = {.kind = EASING_BEZIER, .bezier = {0.25, 0.1, 0.25, 1.0}};
    const double places[] = {0.0, 0.3, 0.3, 1.0};
    for (int round = 0; round < 1000; round++) {
        Ramp ramp = {.colour = round & 1, .bars = round % 5 == 0, .count = 4, .stops = stops};
        ramp.blend = (uint16_t)(ramp.colour ? round % BLEND_CODE_COUNT : 0);
        RampStretch stretches[4];
        RampReady ready = {.stretches = stretches};
        const Colour colours[] = {colour(), colour(), colour(), colour()};
        ramp_ready(&ready, &ramp, &easing, places, colours);
        for (int i = 0; i < 10; i++)
            if (ramp.colour)
                add_colour(ramp_colour(&ready, number()));
            else
                add_number(ramp_number(&ready, number()));
    }
}

int main(void) {
    operations();
    easings();
    ramps();
    for (double kelvin = 1000.0; kelvin <= 25000.0; kelvin += 37.0) {
        Colour light = {0};
        if (colour_blackbody(kelvin, &light))
            add_colour(light);
    }
    printf("%016llx\n", (unsigned long long)hash);
    return 0;
}
