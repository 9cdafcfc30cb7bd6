/* The whole way from light to bytes: the order of the steps, and what holds at its end whatever
 * comes in. Single steps have tests of their own. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/core/memory.h"
#include "runtime/light/calibrate.h"
#include "runtime/light/dither.h"
#include "runtime/light/encode.h"
#include "runtime/light/guard.h"
#include "runtime/light/level.h"
#include "runtime/light/pipeline.h"
#include "runtime/light/quantise.h"
#include "runtime/light/white.h"
#include "tests/support/chance.h"

enum { MOST = 64 };

static Shape *ring(uint32_t pixels) {
    ShapeRequest request = {.form = FORM_RING, .pixels = pixels};
    Shape *shape = shape_create(&request);
    assert_non_null(shape);
    return shape;
}

static PipelineLamp plain(void) {
    return (PipelineLamp){.level = 1,
                          .gain = {1, 1, 1},
                          .guarded = true,
                          .supply = {.channel_ampere = 0.02, .idle_ampere = 0.001}};
}

/* What a frame becomes when the steps are called by hand, one after the other. */
static void by_hand(const PipelineLamp *lamp, const Shape *shape, double ceiling, float *light,
                    uint8_t *bytes) {
    uint32_t pixels = shape_pixels(shape), ranks[MOST];
    float factors[3], mix[3], calibrated[3 * MOST], split[4 * MOST];
    calibrate_factors(lamp->gain, lamp->white, factors);
    bool die = white_die(lamp->die, factors, mix);
    level_master(light, pixels, lamp->level);
    encode_gamut(light, pixels, light);
    level_ceiling(light, pixels, ceiling);
    calibrate(factors, light, pixels, calibrated);
    white_split(die, mix, calibrated, pixels, split);
    double shares = 0;
    for (uint32_t i = 0; i < 4 * pixels; i++)
        shares += (double)split[i];
    float factor = (float)supply_factor(&lamp->supply, pixels, 4, shares);
    if (factor < 1.0f)
        for (uint32_t i = 0; i < 3 * pixels; i++)
            light[i] *= factor;
    calibrate(factors, light, pixels, calibrated);
    white_split(die, mix, calibrated, pixels, split);
    assert_true(dither_ranks(shape, ranks));
    Quantiser quantiser = {.pixels = pixels, .channels = 4, .ranks = ranks};
    quantise(&quantiser, split, 0, bytes);
}

/* Frames brighter than the gamut, through level, ceiling, supply, calibration and white part. */
static void test_the_order_of_the_steps(void **state) {
    (void)state;
    PipelineLamp lamp = plain();
    lamp.level = 0.7;
    lamp.gain[1] = 0.8;
    lamp.white = 9000;
    lamp.has_white = true;
    lamp.die = 4000;
    lamp.dither = true;
    lamp.supply.limit_ampere = 0.25;
    Shape *shape = ring(16);
    Pipeline *pipeline = pipeline_create(&lamp, shape);
    assert_non_null(pipeline);
    assert_int_equal(pipeline_columns(pipeline), 4);
    chance_state = 1;
    for (int round = 0; round < 300; round++) {
        float light[3 * 16], same[3 * 16];
        uint8_t bytes[4 * 16], wanted[4 * 16];
        double ceiling = round % 3 == 0 ? LEVEL_NO_CEILING : chance_unit();
        for (int i = 0; i < 3 * 16; i++)
            light[i] = (float)(2.5 * chance_unit() - 0.5);
        memcpy(same, light, sizeof same);
        pipeline_show(pipeline, round * INT64_C(2000000), ceiling, light); /* no flash so slow */
        pipeline_bytes(pipeline, light, (uint64_t)round, false, bytes);
        by_hand(&lamp, shape, ceiling, same, wanted);
        assert_memory_equal(light, same, sizeof same);
        assert_memory_equal(bytes, wanted, sizeof wanted);
    }
    assert_true(pipeline_dimmed(pipeline) > 0 && pipeline_held(pipeline) == 0);
    pipeline_free(pipeline);
    shape_free(shape);
}

/* A ceiling glides down from full: at its first moment nothing jumps, though a pixel asks for more
 * than full. */
static void test_a_ceiling_of_full_changes_nothing(void **state) {
    (void)state;
    PipelineLamp lamp = plain();
    Shape *shape = ring(2);
    Pipeline *pipeline = pipeline_create(&lamp, shape);
    float without[6] = {2.0f, 1.0f, 0.0f, 0.25f, 0.125f, 0.5f}, with[6];
    memcpy(with, without, sizeof with);
    pipeline_show(pipeline, 0, LEVEL_NO_CEILING, without);
    pipeline_show(pipeline, 0, 1.0, with);
    assert_memory_equal(with, without, sizeof with);
    assert_true(with[3] == 0.25f);
    pipeline_free(pipeline);
    shape_free(shape);
}

static PipelineLamp any_lamp(uint32_t pixels) {
    PipelineLamp lamp = plain();
    lamp.level = 0.3 + 0.7 * chance_unit();
    for (int i = 0; i < 3; i++)
        lamp.gain[i] = 0.05 + 0.95 * chance_unit();
    lamp.white = chance_unit() < 0.5 ? 0 : 1000 + 24000 * chance_unit();
    lamp.has_white = chance_unit() < 0.5;
    lamp.die = chance_unit() < 0.3 ? 0 : 2000 + 8000 * chance_unit();
    lamp.has_level = !lamp.has_white && chance_unit() < 0.5;
    lamp.level_free = lamp.has_level && chance_unit() < 0.7;
    lamp.dither = chance_unit() < 0.8;
    lamp.frames = chance_unit() < 0.5 ? 0 : 1000 * chance_unit();
    lamp.guarded = chance_unit() < 0.7;
    double full = 0.064 * pixels;
    lamp.supply.limit_ampere = chance_unit() < 0.2 ? 0 : full * 0.6 * chance_unit();
    return lamp;
}

/* Light of any kind: also what no routine should give. */
static void any_frame(uint32_t pixels, float *light) {
    static const float ODD[] = {NAN, INFINITY, -INFINITY, 3e38f, -3e38f, 1e-40f, -0.0f};
    double kind = chance_unit(), size = 3 * chance_unit();
    for (uint32_t i = 0; i < 3 * pixels; i++) {
        light[i] = kind < 0.3 ? (float)size : (float)(size * chance_unit() - 0.3);
        if (kind > 0.9 && chance_unit() < 0.1)
            light[i] = ODD[(int)(chance_unit() * 7)];
    }
}

/* Any lamp, any frames: the current of the final bytes never is above what the supply gives, or,
 * where that is below what the dark lamp draws, the lamp is dark. What is shown lies in 0..1. */
static void test_the_supply_is_never_overdrawn(void **state) {
    (void)state;
    chance_state = 7;
    int dimmed = 0;
    for (int round = 0; round < 400; round++) {
        uint32_t pixels = 1 + (uint32_t)(chance_unit() * (MOST - 1));
        PipelineLamp lamp = any_lamp(pixels);
        Shape *shape = ring(pixels);
        Pipeline *pipeline = pipeline_create(&lamp, shape);
        assert_non_null(pipeline);
        for (int frame = 0; frame < 40; frame++) {
            float light[3 * MOST];
            uint8_t bytes[5 * MOST];
            any_frame(pixels, light);
            pipeline_show(pipeline, frame * INT64_C(16667), LEVEL_NO_CEILING, light);
            for (uint32_t i = 0; i < 3 * pixels; i++)
                if (!(light[i] >= 0.0f && light[i] <= 1.0f))
                    fail_msg("round %d: light %g is outside 0..1", round, (double)light[i]);
            pipeline_bytes(pipeline, light, (uint64_t)frame, false, bytes);
            double limit = lamp.supply.limit_ampere, drawn = pipeline_current(pipeline, bytes);
            double dark = lamp.supply.idle_ampere * pixels;
            if (limit > 0 && drawn > (limit > dark ? limit : dark) * (1 + 1e-12))
                fail_msg("round %d: %.6f A drawn of %.6f", round, drawn, limit);
        }
        dimmed += pipeline_dimmed(pipeline) > 0;
        pipeline_free(pipeline);
        shape_free(shape);
    }
    assert_in_range(dimmed, 100, 400);
}

/* The limit takes all channels down alike: their ratio stays. */
static void test_the_supply_keeps_the_hue(void **state) {
    (void)state;
    PipelineLamp lamp = plain();
    lamp.supply.limit_ampere = 0.1;
    Shape *shape = ring(12);
    Pipeline *pipeline = pipeline_create(&lamp, shape);
    float light[36];
    for (int i = 0; i < 36; i++)
        light[i] = i % 3 == 0 ? 1.0f : i % 3 == 1 ? 0.5f : 0.25f;
    pipeline_show(pipeline, 0, LEVEL_NO_CEILING, light);
    assert_true(light[0] < 0.4f);
    for (int i = 0; i < 36; i += 3) {
        assert_float_equal(light[i + 1] / light[i], 0.5f, 1e-6);
        assert_float_equal(light[i + 2] / light[i], 0.25f, 1e-6);
    }
    pipeline_free(pipeline);
    shape_free(shape);
}

/* A strobe of 10 Hz: the guard holds it back, unless the lamp takes it off. */
static void test_the_guard_is_on(void **state) {
    (void)state;
    for (int guarded = 0; guarded < 2; guarded++) {
        PipelineLamp lamp = plain();
        lamp.guarded = guarded;
        Shape *shape = ring(4);
        Pipeline *pipeline = pipeline_create(&lamp, shape);
        Flash *flash = flash_create(4);
        for (int frame = 0; frame < 120; frame++) {
            float light[12];
            for (int i = 0; i < 12; i++)
                light[i] = (float)(frame / 3 % 2);
            pipeline_show(pipeline, frame * INT64_C(16667), LEVEL_NO_CEILING, light);
            flash_frame(flash, frame * INT64_C(16667), light);
        }
        bool broken = flash_seen(flash)->most[FLASH_GENERAL] >= FLASH_TOO_MANY;
        assert_true(broken == !guarded);
        assert_true((pipeline_held(pipeline) > 0) == guarded);
        flash_free(flash);
        pipeline_free(pipeline);
        shape_free(shape);
    }
}

/* A plain lamp without dithering rounds to nearest, halves upward, and needs nothing else. */
static void test_a_plain_lamp_rounds(void **state) {
    (void)state;
    PipelineLamp lamp = plain();
    Shape *shape = ring(1);
    Pipeline *pipeline = pipeline_create(&lamp, shape);
    for (int code = 0; code < 256; code++) {
        uint8_t bytes[3];
        float light[3] = {(float)(code / 255.0), (float)((code + 0.4) / 255.0),
                          (float)((code - 0.4) / 255.0)};
        pipeline_restart(pipeline);
        pipeline_show(pipeline, 0, LEVEL_NO_CEILING, light);
        pipeline_bytes(pipeline, light, 0, true, bytes);
        /* Above 1 the pixel is scaled down: only its largest is full. */
        assert_int_equal(bytes[1], code);
        if (code < 255) {
            assert_int_equal(bytes[0], code);
            assert_int_equal(bytes[2], code);
        }
    }
    pipeline_free(pipeline);
    shape_free(shape);
}

static void test_nothing_is_allocated_afterwards(void **state) {
    (void)state;
    chance_state = 3;
    PipelineLamp lamp = any_lamp(16);
    lamp.guarded = lamp.dither = true;
    Shape *shape = ring(16);
    unsigned long live = memory_live();
    /* Every allocation can fail, and nothing is lost. */
    for (unsigned long n = 1;; n++) {
        memory_fail_at(n);
        Pipeline *pipeline = pipeline_create(&lamp, shape);
        memory_fail_at(0);
        if (pipeline) {
            unsigned long count = memory_count();
            float light[48] = {0};
            uint8_t bytes[5 * 16];
            pipeline_show(pipeline, 0, 0.5, light);
            pipeline_bytes(pipeline, light, 0, false, bytes);
            assert_int_equal(memory_count(), count);
            pipeline_free(pipeline);
            assert_in_range(n, 4, 20);
            break;
        }
        assert_int_equal(memory_live(), live);
    }
    assert_int_equal(memory_live(), live);
    shape_free(shape);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_the_order_of_the_steps),
        cmocka_unit_test(test_a_ceiling_of_full_changes_nothing),
        cmocka_unit_test(test_the_supply_is_never_overdrawn),
        cmocka_unit_test(test_the_supply_keeps_the_hue),
        cmocka_unit_test(test_the_guard_is_on),
        cmocka_unit_test(test_a_plain_lamp_rounds),
        cmocka_unit_test(test_nothing_is_allocated_afterwards),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
