/* Easings, ramps and blends over a block of pixels against the same one at a time: bit for bit,
 * with the plain kernels and those for AVX2. */
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
#include "runtime/vm/kernels.h"

enum { STOPS = 5, BLOCKS = 40 };

static double points[] = {0.0, 0.0, 0.25, -0.5, 0.25, 2.0, 1.0, 1.0};
static const Easing easings[] = {
    {.kind = EASING_BEZIER, .bezier = {0.42, 0.0, 0.58, 1.0}},
    {.kind = EASING_BEZIER, .bezier = {0.3, -2.0, 0.1, 3.0}},
    {.kind = EASING_STEPS, .jump = JUMP_START, .count = 3},
    {.kind = EASING_STEPS, .jump = JUMP_BOTH, .count = 2},
    {.kind = EASING_LINEAR, .count = 4, .points = points},
};
enum { EASINGS = sizeof easings / sizeof easings[0] };

static const double places[STOPS] = {0.125, 0.25, 0.25, 0.75, 1.0};
static const Colour colours[STOPS] = {{0.0f, 0.0f, 0.0f},
                                      {1.0f, 0.25f, 0.01f},
                                      {0.5f, 0.5f, 0.5f},
                                      {-0.1f, 1.5f, 0.3f},
                                      {1.0f, 1.0f, 1.0f}};

static const Kernels *const all_kernels[] = {&kernels_baseline, &kernels_avx2};

static bool usable(const Kernels *kernels) {
    if (!kernels->name)
        return false;
#if defined(__x86_64__)
    if (kernels == &kernels_avx2)
        return __builtin_cpu_supports("avx2");
#endif
    return true;
}

static void lay_places(double *lanes, int block) {
    for (int i = 0; i < LANES; i++)
        lanes[i] = block == 0 ? places[i % STOPS] : -0.2 + 1.4 * (i + 0.37 * block) / LANES;
    lanes[0] = -0.0;
    lanes[1] = 1e300;
}

static bool same_number(double a, double b) {
    return memcmp(&a, &b, sizeof a) == 0;
}

static bool same_light(const float *lanes, int i, Colour light) {
    const Colour lane = {lanes[i], lanes[LANES + i], lanes[2 * LANES + i]};
    return memcmp(&lane, &light, sizeof light) == 0;
}

static void test_ease(void **state) {
    (void)state;
    _Alignas(64) double at[LANES], out[LANES];
    for (int k = 0; k < 2; k++)
        for (int e = 0; e < EASINGS && usable(all_kernels[k]); e++)
            for (int block = 0; block < BLOCKS; block++) {
                lay_places(at, block);
                all_kernels[k]->run[OP_EASE](out, at, &easings[e], NULL, NULL, 0);
                for (int i = 0; i < LANES; i++)
                    assert_true(same_number(out[i], easing_at(&easings[e], at[i])));
            }
}

/* Ramp `round`: every blend, bars now and then, easings mixed from stretch to stretch. */
static void make(RampReady *ready, Ramp *ramp, RampStop *stops, uint16_t round) {
    for (uint16_t i = 0; i < STOPS; i++) {
        const uint16_t easing = (uint16_t)((round + i * (round / 6)) % (EASINGS + 1));
        stops[i] = (RampStop){i, i, easing == EASINGS ? EASING_NONE : easing};
    }
    const bool colour = round % 3 != 0;
    const uint16_t blend = (uint16_t)(colour ? round % BLEND_CODE_COUNT : 0);
    *ramp = (Ramp){colour, round % 7 == 0, blend, STOPS, stops};
    ready->ramp = ramp;
    ramp_ready(ready, ramp, easings, places, colours);
}

static void check_ramp(const Kernels *kernels, const RampReady *ready) {
    _Alignas(64) double at[LANES], numbers[LANES];
    _Alignas(64) float light[3 * LANES];
    for (int block = 0; block < BLOCKS; block++) {
        lay_places(at, block);
        if (ready->ramp->colour)
            kernels->run[OP_RAMP_COLOUR](light, at, ready, NULL, NULL, 0);
        else
            kernels->run[OP_RAMP_NUMBER](numbers, at, ready, NULL, NULL, 0);
        for (int i = 0; i < LANES; i++) {
            if (ready->ramp->colour)
                assert_true(same_light(light, i, ramp_colour(ready, at[i])));
            else
                assert_true(same_number(numbers[i], ramp_number(ready, at[i])));
        }
    }
}

static void test_ramp(void **state) {
    (void)state;
    for (uint16_t round = 0; round < 144; round++) {
        Ramp ramp;
        RampStop stops[STOPS];
        RampStretch stretches[STOPS];
        memset(stretches, 0, sizeof stretches);
        RampReady ready = {.stretches = stretches};
        make(&ready, &ramp, stops, round);
        for (int k = 0; k < 2; k++)
            if (usable(all_kernels[k]))
                check_ramp(all_kernels[k], &ready);
    }
}

static void test_blend(void **state) {
    (void)state;
    _Alignas(64) float a[3 * LANES], b[3 * LANES], out[3 * LANES];
    _Alignas(64) double share[LANES];
    for (int i = 0; i < 3 * LANES; i++) {
        a[i] = i % 5 == 0 ? 0.0f : (float)(i % 17) / 16.0f;
        b[i] = i % 7 == 0 ? 1.0f : (float)(i % 23) / 11.0f - 0.5f;
    }
    for (int i = 0; i < LANES; i++)
        share[i] = i % 9 == 0 ? (double)(i % 2) : (double)i / 40.0 - 0.2;
    for (int k = 0; k < 2; k++)
        for (uint16_t code = 0; code < BLEND_CODE_COUNT && usable(all_kernels[k]); code++) {
            all_kernels[k]->run[OP_COLOUR_BLEND](out, a, b, share, NULL, code);
            for (int i = 0; i < LANES; i++) {
                const Colour first = {a[i], a[LANES + i], a[2 * LANES + i]};
                const Colour second = {b[i], b[LANES + i], b[2 * LANES + i]};
                assert_true(same_light(out, i, colour_blend(code, first, second, share[i])));
            }
        }
}

int main(void) {
    for (int k = 0; k < 2; k++)
        if (!usable(all_kernels[k]))
            printf("skipped: kernels %d: not for this processor\n", k);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_ease),
        cmocka_unit_test(test_ramp),
        cmocka_unit_test(test_blend),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
