/* Ramps: the formulas of spec/meaning.md, section 5, by hand, and the same bits as the operations
 * that stand for a ramp where its stops differ from pixel to pixel. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/core/easing.h"
#include "runtime/core/ramp.h"
#include "runtime/core/reference.h"

enum { MOST = 8 };

typedef struct Fixture {
    Ramp ramp;
    RampStop stops[MOST];
    RampStretch stretches[MOST];
    RampReady ready;
} Fixture;

/* Stop i: place and value in register i. */
static void fixture(Fixture *it, bool colour, bool bars, uint16_t blend, const double *places,
                    uint16_t count, uint16_t easing, const double *values, const Colour *colours) {
    static double numbers[2 * MOST];
    static const Easing easings[] = {{.kind = EASING_BEZIER, .bezier = {0.42, 0.0, 0.58, 1.0}},
                                     {.kind = EASING_STEPS, .jump = JUMP_START, .count = 2}};
    memset(it, 0, sizeof *it);
    for (uint16_t i = 0; i < count; i++) {
        numbers[i] = places[i];
        numbers[MOST + i] = values ? values[i] : 0.0;
        it->stops[i].place = i;
        it->stops[i].value = colour ? i : (uint16_t)(MOST + i);
        it->stops[i].easing = easing;
    }
    it->ramp = (Ramp){colour, bars, blend, count, it->stops};
    it->ready.stretches = it->stretches;
    ramp_ready(&it->ready, &it->ramp, easings, numbers, colours);
}

static void test_fade(void **state) {
    (void)state;
    Fixture it;
    const double places[] = {0.25, 0.5, 0.5, 1.0}, values[] = {10.0, 20.0, 30.0, 40.0};
    fixture(&it, false, false, 0, places, 4, EASING_NONE, values, NULL);
    static const double wanted[][2] = {
        {-1.0, 10.0},   {0.0, 10.0}, {0.25, 10.0}, {0.375, 15.0},
        {0.4375, 17.5}, {0.5, 30.0}, /* two stops at one place: the later wins there */
        {0.75, 35.0},   {1.0, 40.0}, {7.0, 40.0},
    };
    for (size_t i = 0; i < sizeof wanted / sizeof wanted[0]; i++)
        assert_true(ramp_number(&it.ready, wanted[i][0]) == wanted[i][1]);
    assert_true(ramp_number(&it.ready, nextafter(0.5, 0.0)) > 19.999);
}

static void test_bars(void **state) {
    (void)state;
    Fixture it;
    const double places[] = {0.25, 0.5, 0.5, 0.75}, values[] = {1.0, 2.0, 3.0, 4.0};
    fixture(&it, false, true, 0, places, 4, EASING_NONE, values, NULL);
    static const double wanted[][2] = {{0.0, 1.0},  {0.25, 1.0}, {0.49, 1.0}, {0.5, 3.0},
                                       {0.74, 3.0}, {0.75, 4.0}, {1.0, 4.0}};
    for (size_t i = 0; i < sizeof wanted / sizeof wanted[0]; i++)
        assert_true(ramp_number(&it.ready, wanted[i][0]) == wanted[i][1]);
}

/* A stop is met at its place exactly, whatever the easing gives at 0: rule R5. */
static void test_eased(void **state) {
    (void)state;
    Fixture it;
    const double places[] = {0.0, 1.0}, values[] = {0.0, 8.0};
    fixture(&it, false, false, 0, places, 2, 1, values, NULL);
    assert_true(ramp_number(&it.ready, 0.0) == 0.0);
    assert_true(ramp_number(&it.ready, 0.25) == 4.0);
    assert_true(ramp_number(&it.ready, 0.5) == 8.0);
    fixture(&it, false, false, 0, places, 2, 0, values, NULL);
    assert_true(fabs(ramp_number(&it.ready, 0.5) - 4.0) < 1e-12); /* ease-in-out is symmetric */
    fixture(&it, false, false, 0, places, 1, EASING_NONE, values, NULL);
    assert_true(ramp_number(&it.ready, 0.5) == 0.0);
}

static bool same(Colour a, Colour b) {
    return memcmp(&a, &b, sizeof a) == 0;
}

/* The chain that stands for a fading ramp: the last stop at or before the place, and from it
 * COLOUR_BLEND at the eased share of the stretch. */
static Colour chain(const double *places, const Colour *colours, uint16_t count,
                    const Easing *easing, uint16_t blend, double place) {
    uint16_t k = 0;
    while (k + 1 < count && places[k + 1] <= place)
        k++;
    if (place <= places[k] || k + 1 == count)
        return colours[k];
    const double share[] = {place - places[k], places[k + 1] - places[k]};
    const double straight = reference_number(OP_DIVIDE, share, 0);
    const ReferenceOperand operands[] = {
        {.colour = colours[k]},
        {.colour = colours[k + 1]},
        {.number = easing ? easing_at(easing, straight) : straight}};
    return reference_colour(OP_COLOUR_BLEND, operands, blend);
}

static void test_same_bits(void **state) {
    (void)state;
    const Easing ease = {.kind = EASING_BEZIER, .bezier = {0.42, 0.0, 0.58, 1.0}};
    const double places[] = {0.0, 0.2, 0.2, 0.7, 1.0};
    const Colour colours[] = {{0.0f, 0.0f, 0.0f},
                              {1.0f, 0.25f, 0.01f},
                              {0.5f, 0.5f, 0.5f},
                              {-0.1f, 1.5f, 0.3f},
                              {1.0f, 1.0f, 1.0f}};
    for (uint16_t blend = 0; blend < BLEND_CODE_COUNT; blend++)
        for (uint16_t easing = 0; easing < 2; easing++) {
            Fixture it;
            fixture(&it, true, false, blend, places, 5, easing ? 0 : EASING_NONE, NULL, colours);
            for (double place = -0.1; place < 1.1; place += 1.0 / 512.0)
                assert_true(same(ramp_colour(&it.ready, place),
                                 chain(places, colours, 5, easing ? &ease : NULL, blend, place)));
            for (int i = 0; i < 5; i++)
                if (i != 1)
                    assert_true(same(ramp_colour(&it.ready, places[i]), colours[i]));
        }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_fade),
        cmocka_unit_test(test_bars),
        cmocka_unit_test(test_eased),
        cmocka_unit_test(test_same_bits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
