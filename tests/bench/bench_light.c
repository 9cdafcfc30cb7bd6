/* From light to bytes, step by step: nanoseconds a pixel, and the ratio to two plain peers over the
 * same frame in the same run: its copy (memcpy of 12 bytes a pixel) and rounding to bytes through a
 * table of 4,096 entries, which is not exact. Steps that change the light in place have a copy of
 * the frame before them, whose time is taken off. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include "runtime/light/calibrate.h"
#include "runtime/light/dither.h"
#include "runtime/light/encode.h"
#include "runtime/light/flicker.h"
#include "runtime/light/guard.h"
#include "runtime/light/level.h"
#include "runtime/light/lightness.h"
#include "runtime/light/pipeline.h"
#include "runtime/light/quantise.h"
#include "runtime/light/supply.h"
#include "runtime/light/white.h"

static double now(void) {
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

/* -------- what the steps work on -------- */

typedef struct Bench {
    uint32_t pixels;
    float *source, *light, *split; /* a frame; its copy; four channels a pixel */
    uint8_t *bytes, table[4097];
    uint32_t *ranks;
    uint8_t bits[256];
    float factors[3], mix[3];
    Guard *guard;
    Pipeline *pipeline, *limited;
    uint64_t frame;
} Bench;

typedef void Step(Bench *it);

static void step_copy(Bench *it) {
    memcpy(it->light, it->source, 3 * (size_t)it->pixels * sizeof *it->light);
}

static void step_table(Bench *it) {
    for (size_t i = 0; i < 3 * (size_t)it->pixels; i++)
        it->bytes[i] = it->table[(int)(it->source[i] * 4096.0f)];
}

static void step_quantise(Bench *it, Quantiser quantiser) {
    quantiser.pixels = it->pixels;
    quantiser.channels = 3;
    quantise(&quantiser, it->source, it->frame++, it->bytes);
}

static void step_nearest(Bench *it) {
    step_quantise(it, (Quantiser){.ranks = NULL});
}
static void step_dithered(Bench *it) {
    step_quantise(it, (Quantiser){.ranks = it->ranks});
}
static void step_level_full(Bench *it) {
    step_quantise(it, (Quantiser){.ranks = it->ranks, .level = true});
}
static void step_level_free(Bench *it) {
    step_quantise(it, (Quantiser){.ranks = it->ranks, .level = true, .level_free = true});
}
static void step_time(Bench *it) {
    step_quantise(it, (Quantiser){.ranks = it->ranks, .bits = it->bits});
}

/* -------- the steps before -------- */

static void step_master(Bench *it) {
    step_copy(it);
    level_master(it->light, it->pixels, 0.7);
}
static void step_ceiling(Bench *it) {
    step_copy(it);
    level_ceiling(it->light, it->pixels, 0.4);
}
static void step_gamut(Bench *it) {
    encode_gamut(it->source, it->pixels, it->light);
}
static void step_calibrate(Bench *it) {
    calibrate(it->factors, it->source, it->pixels, it->light);
}
static void step_white(Bench *it) {
    white_split(true, it->mix, it->source, it->pixels, it->split);
}
static void step_shares(Bench *it) {
    volatile double shares = supply_shares(it->bytes, it->pixels, 3, false);
    (void)shares;
}
static void step_guard(Bench *it) {
    step_copy(it);
    guard_frame(it->guard, (int64_t)(it->frame++ * 16667), it->light);
}

static void whole(Bench *it, Pipeline *pipeline) {
    step_copy(it);
    pipeline_show(pipeline, (int64_t)(it->frame * 16667), LEVEL_NO_CEILING, it->light);
    pipeline_bytes(pipeline, it->light, it->frame++, false, it->bytes);
}
static void step_pipeline(Bench *it) {
    whole(it, it->pipeline);
}
static void step_limited(Bench *it) {
    whole(it, it->limited);
}

static void step_ranks(Bench *it) {
    ShapeRequest request = {.form = FORM_GRID, .across = it->pixels, .up = 1};
    Shape *shape = shape_create(&request);
    assert_true(shape && dither_ranks(shape, it->ranks));
    shape_free(shape);
}

static const struct {
    const char *name;
    Step *run;
    bool copies; /* and the copy is taken off */
} STEPS[] = {{"copy of the frame (peer)", step_copy, false},
             {"bytes by table (peer)", step_table, false},
             {"quantise, to nearest", step_nearest, false},
             {"quantise, dithered", step_dithered, false},
             {"quantise, level 31", step_level_full, false},
             {"quantise, level free", step_level_free, false},
             {"quantise, in time", step_time, false},
             {"level_master", step_master, true},
             {"level_ceiling", step_ceiling, true},
             {"encode_gamut", step_gamut, false},
             {"supply_shares", step_shares, false},
             {"guard_frame", step_guard, true},
             {"calibrate", step_calibrate, false},
             {"white_split", step_white, false},
             {"pipeline, show and bytes", step_pipeline, true},
             {"... with limit, white, guard", step_limited, true},
             {"once: shape and dither_ranks", step_ranks, false}};

enum { STEP_COUNT = sizeof STEPS / sizeof *STEPS, COPY = 0, TABLE = 1 };

/* -------- measuring -------- */

static double time_step(Bench *it, Step *run) {
    double best = 1e30;
    size_t rounds = 1;
    for (int runs = 0; runs < 5;) {
        double start = now();
        for (size_t i = 0; i < rounds; i++)
            run(it);
        double spent = now() - start;
        if (spent < 0.004) {
            rounds *= 2;
            continue;
        }
        best = fmin(best, spent * 1e9 / (double)rounds / it->pixels);
        runs++;
    }
    return best;
}

/* A low, slowly turning gradient: a shop window at night. */
static void fill(Bench *it) {
    for (uint32_t i = 0; i < it->pixels; i++)
        for (uint32_t channel = 0; channel < 3; channel++) {
            double turn = (double)i / it->pixels + channel / 3.0;
            it->source[3 * i + channel] = (float)(0.1 + 0.1 * sin(6.283185307179586 * turn));
        }
    for (int i = 0; i <= 4096; i++)
        it->table[i] = (uint8_t)(i * 255.0 / 4096.0 + 0.5);
    flicker_bits(800.0, it->bits);
    const double gain[3] = {1.0, 0.8, 0.7};
    calibrate_factors(gain, 0.0, it->factors);
    assert_true(white_die(3000.0, it->factors, it->mix));
}

static void bench_begin(Bench *it, uint32_t pixels) {
    memset(it, 0, sizeof *it);
    it->pixels = pixels;
    size_t count = 4 * (size_t)pixels;
    it->source = calloc(count, sizeof *it->source);
    it->light = calloc(count, sizeof *it->light);
    it->split = calloc(count, sizeof *it->split);
    it->bytes = calloc(count, 2);
    it->ranks = calloc(pixels, sizeof *it->ranks);
    it->guard = guard_create(pixels);
    assert_true(it->source && it->light && it->split && it->bytes && it->ranks && it->guard);
    fill(it);
    ShapeRequest request = {.form = FORM_STRIP, .pixels = pixels};
    Shape *shape = shape_create(&request);
    assert_true(shape && dither_ranks(shape, it->ranks));
    PipelineLamp lamp = {.level = 0.8, .gain = {1.0, 0.8, 0.7}, .dither = true};
    it->pipeline = pipeline_create(&lamp, shape);
    lamp.has_white = lamp.guarded = true;
    lamp.die = 3000.0;
    lamp.supply = (Supply){.channel_ampere = 0.02, .idle_ampere = 0.001};
    lamp.supply.limit_ampere = 0.01 * pixels; /* it dims */
    it->limited = pipeline_create(&lamp, shape);
    assert_true(it->pipeline && it->limited);
    shape_free(shape);
}

static void bench_end(Bench *it) {
    free(it->source);
    free(it->light);
    free(it->split);
    free(it->bytes);
    free(it->ranks);
    guard_free(it->guard);
    pipeline_free(it->pipeline);
    pipeline_free(it->limited);
}

static void bench(void **state) {
    (void)state;
    static const uint32_t sizes[] = {16, 60, 300, 100000};
    for (size_t size = 0; size < sizeof sizes / sizeof *sizes; size++) {
        Bench it;
        bench_begin(&it, sizes[size]);
        double spent[STEP_COUNT];
        printf("\n%u pixels %24s %10s %10s %10s\n", it.pixels, "ns a pixel", "of copy", "of table",
               "us a frame");
        for (int step = 0; step < STEP_COUNT; step++) {
            spent[step] = time_step(&it, STEPS[step].run);
            if (STEPS[step].copies)
                spent[step] = fmax(spent[step] - spent[COPY], 0.0);
            printf("%-32s %8.3f %10.2f %10.2f %10.2f\n", STEPS[step].name, spent[step],
                   spent[step] / spent[COPY], spent[step] / spent[TABLE],
                   spent[step] * it.pixels / 1000.0);
        }
        bench_end(&it);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(bench)};
    return cmocka_run_group_tests_name("bench_light", tests, NULL, NULL);
}
