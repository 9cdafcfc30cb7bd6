/* Light to bytes: what is promised of every code, with generated light. The bounds follow from the
 * rule (spec/dithering.md); what is only measured is printed. Counts of levels are compared with
 * tests/data/light/quantisation_levels.csv. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/light/dither.h"
#include "runtime/light/encode.h"
#include "runtime/light/flicker.h"
#include "runtime/light/quantise.h"
#include "tests/support/chance.h"
#include "tests/support/table.h"

enum { MOST = 300, UNITS = 255 * 31 };

static uint32_t ranks_of[MOST + 1][MOST];
static uint8_t bits_at[5][256]; /* at 200, 480, 800, 1600 and 20000 frames a second */

static void make_ranks(void) {
    const double rates[5] = {200, 480, 800, 1600, 20000};
    for (int i = 0; i < 5; i++)
        flicker_bits(rates[i], bits_at[i]);
    for (uint32_t pixels = 1; pixels <= MOST; pixels++) {
        ShapeRequest ring = {.form = FORM_RING, .pixels = pixels};
        Shape *shape = shape_create(&ring);
        if (!shape || !dither_ranks(shape, ranks_of[pixels]))
            exit(1);
        shape_free(shape);
    }
}

static Quantiser quantiser(uint32_t pixels, uint32_t channels) {
    return (Quantiser){.pixels = pixels, .channels = channels, .ranks = ranks_of[pixels]};
}

/* A quantiser of any kind. */
static Quantiser any(void) {
    Quantiser it = quantiser(1 + (uint32_t)(chance() % 40), 3 + (uint32_t)(chance() % 2));
    if (chance() % 4 == 0)
        it.ranks = NULL;
    it.level = chance() % 2;
    it.level_free = chance() % 2;
    if (!it.level && chance() % 2)
        it.bits = bits_at[chance() % 5];
    return it;
}

/* Values of every kind: anywhere, low, on a code, beside one, outside. */
static float any_value(void) {
    switch (chance() % 8) {
    case 0:
        return (float)(chance() % 256) / 255.0f;
    case 1:
        return nextafterf((float)(chance() % 256) / 255.0f, chance() % 2 ? 2.0f : -1.0f);
    case 2:
        return (float)(chance_unit() * 0.02);
    case 3:
        return (float)((double)(chance() % 32) / 31.0 + (chance_unit() - 0.2) * 2e-3);
    case 4:
        return chance() % 2 ? -0.0f : 1.0f;
    default:
        return (float)chance_unit();
    }
}

static double held(float value) {
    return value > 0.0f ? fmin((double)value, 1.0) : 0.0;
}

/* -------- every kind -------- */

/* Without `bits`: above the value by no more than the threshold's share of a step, below it by no
 * more than the rest. Below the gap between two levels the step is of the upper one. */
static void check_step(const Quantiser *it, uint32_t pixel, double own, int code, int level) {
    double threshold = it->ranks ? dither_threshold(it->ranks[pixel], it->pixels) : 0.5;
    double gap = it->level_free && code == 255 && level < 31 ? (level + 1.0) / level : 1.0;
    assert_true(it->bits || code - own <= threshold + 1e-9);
    assert_true(it->bits || own - code <= (1.0 - threshold) * gap + 1e-9);
}

static void test_floor_or_ceiling(void **state) {
    (void)state;
    chance_state = 51;
    for (int run = 0; run < 40000; run++) {
        Quantiser it = any();
        float light[160];
        uint8_t bytes[200];
        for (uint32_t i = 0; i < it.pixels * it.channels; i++)
            light[i] = any_value();
        quantise(&it, light, chance(), bytes);
        uint32_t columns = quantise_columns(&it);
        assert_int_equal(columns, it.channels + (it.level ? 1 : 0));
        for (uint32_t pixel = 0; pixel < it.pixels; pixel++) {
            int level = it.level ? bytes[pixel * columns + it.channels] : 31;
            assert_true(level >= 1 && level <= 31);
            assert_true(!it.level || it.level_free || level == 31);
            for (uint32_t channel = 0; channel < it.channels; channel++) {
                int code = bytes[pixel * columns + channel];
                double own = UNITS * held(light[pixel * it.channels + channel]) / level;
                if (code != floor(own) && code != ceil(own) &&
                    !(code == 255 && own > 255.0 && own < 256.0))
                    fail_msg("%g of level %d became %d", own, level, code);
                check_step(&it, pixel, own, code, level);
            }
        }
    }
}

/* 0 is 0 and 1 is 255 wherever they stand; halves go up where nothing is dithered. */
static void test_ends_and_nearest(void **state) {
    (void)state;
    for (uint32_t pixels = 1; pixels <= MOST; pixels++)
        for (int full = 0; full < 2; full++) {
            Quantiser it = quantiser(pixels, 3);
            float light[3 * MOST];
            uint8_t bytes[4 * MOST];
            for (uint32_t i = 0; i < 3 * pixels; i++)
                light[i] = (float)full;
            for (int kind = 0; kind < 4; kind++) {
                it.level = kind >= 2;
                it.level_free = kind == 3;
                it.bits = kind == 1 ? bits_at[4] : NULL;
                for (uint64_t frame = 0; frame < 16; frame++) {
                    quantise(&it, light, frame, bytes);
                    for (uint32_t i = 0; i < quantise_columns(&it) * pixels; i++) {
                        bool is_level = it.level && i % 4 == 3;
                        int level = it.level_free && !full ? 1 : 31;
                        assert_int_equal(bytes[i], is_level ? level : 255 * full);
                    }
                }
            }
        }
    chance_state = 52;
    Quantiser plain = {.pixels = 60, .channels = 3};
    for (int run = 0; run < 2000; run++) {
        float light[180];
        uint8_t bytes[180], wanted[180];
        for (int i = 0; i < 180; i++)
            light[i] = fminf(any_value(), 1.0f);
        quantise(&plain, light, 0, bytes);
        for (int i = 0; i < 180; i++)
            wanted[i] = (uint8_t)floor(255.0 * held(light[i]) + 0.5);
        assert_memory_equal(bytes, wanted, 180);
    }
}

/* The same value in the same place gives the same bytes, whatever stands beside it, and without
 * `bits` whatever the frame. */
static void test_value_and_place_only(void **state) {
    (void)state;
    chance_state = 53;
    for (int run = 0; run < 20000; run++) {
        Quantiser it = any();
        float light[160];
        uint8_t once[200], again[200];
        for (uint32_t i = 0; i < it.pixels * it.channels; i++)
            light[i] = any_value();
        uint64_t frame = chance();
        quantise(&it, light, frame, once);
        quantise(&it, light, it.bits ? frame : chance(), again);
        uint32_t columns = quantise_columns(&it);
        assert_memory_equal(once, again, it.pixels * columns);
        uint32_t pixel = (uint32_t)(chance() % it.pixels);
        for (uint32_t i = 0; i < it.pixels * it.channels; i++)
            if (i / it.channels != pixel)
                light[i] = any_value();
        quantise(&it, light, frame, again);
        assert_memory_equal(once + pixel * columns, again + pixel * columns, columns);
    }
}

/* Of two channels of a pixel the smaller never has the larger code: no hue that the light has not.
 */
static void test_order_of_channels(void **state) {
    (void)state;
    chance_state = 62;
    for (int run = 0; run < 40000; run++) {
        Quantiser it = any();
        it.bits = NULL;
        float light[160];
        uint8_t bytes[200];
        float near = any_value();
        for (uint32_t i = 0; i < it.pixels * it.channels; i++)
            light[i] = chance() % 2 ? near * (float)(1.0 - 0.001 * chance_unit()) : any_value();
        quantise(&it, light, 0, bytes);
        for (uint32_t pixel = 0; pixel < it.pixels; pixel++)
            for (uint32_t a = 0; a < it.channels; a++)
                for (uint32_t b = 0; b < it.channels; b++) {
                    const float *value = light + pixel * it.channels;
                    const uint8_t *code = bytes + pixel * quantise_columns(&it);
                    assert_true(value[a] > value[b] || code[a] <= code[b]);
                }
    }
}

static void test_nonsense(void **state) {
    (void)state;
    static const float odd[] = {NAN, -NAN, INFINITY, -INFINITY, -1.0f, 1e38f, -1e-45f, 1e-45f};
    chance_state = 54;
    for (int run = 0; run < 20000; run++) {
        Quantiser it = any();
        float light[160], meant[160];
        uint8_t bytes[200], wanted[200];
        for (uint32_t i = 0; i < it.pixels * it.channels; i++) {
            light[i] = chance() % 2 ? odd[chance() % 8] : any_value();
            meant[i] = (float)held(light[i]);
        }
        uint64_t frame = chance();
        quantise(&it, light, frame, bytes);
        quantise(&it, meant, frame, wanted);
        assert_memory_equal(bytes, wanted, it.pixels * quantise_columns(&it));
    }
}

/* -------- a rising value -------- */

/* The light of a code: code * level, of UNITS. */
static int shown(const Quantiser *it, const uint8_t *bytes, uint32_t pixel, uint32_t channel) {
    const uint8_t *at = bytes + pixel * quantise_columns(it);
    return at[channel] * (it->level ? at[it->channels] : 31);
}

/* A channel that rises while the others rest shows no less. */
static void test_rising_channel(void **state) {
    (void)state;
    chance_state = 55;
    for (int run = 0; run < 400; run++) {
        Quantiser it = any();
        float light[160];
        uint8_t bytes[200];
        for (uint32_t i = 0; i < it.pixels * it.channels; i++)
            light[i] = any_value();
        uint32_t pixel = (uint32_t)(chance() % it.pixels);
        uint32_t channel = (uint32_t)(chance() % it.channels);
        uint64_t frame = chance();
        float *value = light + pixel * it.channels + channel;
        double step = exp2(-4.0 - 12.0 * chance_unit());
        int before = 0;
        for (double at = chance_unit(); at < 1.1; at += step * chance_unit()) {
            *value = (float)at;
            quantise(&it, light, frame, bytes);
            int now = shown(&it, bytes, pixel, channel);
            if (now < before)
                fail_msg("%g: %d after %d (level %d %d)", at, now, before, it.level, it.level_free);
            before = now;
        }
    }
}

/* A colour that rises: no channel of a fixed level falls, and neither does the largest where the
 * level is free. The others may, where the level changes, by less than one step of the new level,
 * since a code of level g with threshold h is within h g above its value and (1 - h) g below. */
static void test_rising_colour(void **state) {
    (void)state;
    chance_state = 56;
    int worst = 0;
    for (int run = 0; run < 300; run++) {
        Quantiser it = any();
        float light[160];
        uint8_t bytes[200];
        int before[160] = {0}, largest_before[40] = {0};
        float colour[4];
        for (uint32_t i = 0; i < 4; i++)
            colour[i] = any_value();
        uint64_t frame = chance();
        double step = exp2(-4.0 - 11.0 * chance_unit());
        for (double at = 0.0; at < 1.1; at += step * chance_unit()) {
            for (uint32_t i = 0; i < it.pixels * it.channels; i++)
                light[i] = (float)at * colour[i % it.channels];
            quantise(&it, light, frame, bytes);
            for (uint32_t pixel = 0; pixel < it.pixels; pixel++) {
                int largest = 0;
                for (uint32_t channel = 0; channel < it.channels; channel++) {
                    int now = shown(&it, bytes, pixel, channel);
                    int fall = before[pixel * it.channels + channel] - now;
                    bool change = it.level && it.level_free;
                    assert_true(change ? fall < bytes[pixel * quantise_columns(&it) + it.channels]
                                       : fall <= 0);
                    worst = fall > worst ? fall : worst;
                    before[pixel * it.channels + channel] = now;
                    largest = now > largest ? now : largest;
                }
                assert_true(largest >= largest_before[pixel]);
                largest_before[pixel] = largest;
            }
        }
    }
    printf("measured free level: a channel that is not the largest fell by at most %d of %d where "
           "the level changes\n",
           worst, UNITS);
}

/* -------- the mean over the lamp -------- */

/* A frame of one colour: each channel's mean is its value to half a code over the pixels. */
static void test_mean_of_one_colour(void **state) {
    (void)state;
    chance_state = 57;
    for (uint32_t pixels = 1; pixels <= MOST; pixels++)
        for (int run = 0; run < 200; run++) {
            Quantiser it = quantiser(pixels, 4);
            it.level = run % 2;
            float light[4 * MOST], colour[4];
            uint8_t bytes[5 * MOST];
            for (int i = 0; i < 4; i++)
                colour[i] = any_value();
            for (uint32_t i = 0; i < 4 * pixels; i++)
                light[i] = colour[i % 4];
            quantise(&it, light, 0, bytes);
            for (uint32_t channel = 0; channel < 4; channel++) {
                double sum = 0.0;
                for (uint32_t pixel = 0; pixel < pixels; pixel++)
                    sum += shown(&it, bytes, pixel, channel) / 31.0;
                double error = sum / pixels - 255.0 * held(colour[channel]);
                if (fabs(error) > 0.5 / pixels + 1e-9)
                    fail_msg("%u pixels, %.9g: mean error %g", pixels, (double)colour[channel],
                             error);
            }
        }
}

/* Whether a value lies between the top of a level and the first code above it of the next. */
static bool between_levels(double value) {
    for (int level = 2; level <= 31; level++) {
        int first = (255 * (level - 1) + level - 1) / level; /* 255 (level - 1) / level, upward */
        if (value > 255.0 * (level - 1) && value < (double)first * level)
            return true;
    }
    return false;
}

/* With a free level: the largest channel to half of its own step over the pixels, everywhere; the
 * others too unless the largest lies between two levels, so that pixels differ in theirs: then to
 * half a code, as of any frame. */
static void test_mean_of_one_colour_free(void **state) {
    (void)state;
    chance_state = 58;
    double worst = 0.0;
    for (uint32_t pixels = 1; pixels <= MOST; pixels++)
        for (int run = 0; run < 200; run++) {
            Quantiser it = quantiser(pixels, 3);
            it.level = it.level_free = true;
            float light[3 * MOST], colour[3];
            uint8_t bytes[4 * MOST];
            for (int i = 0; i < 3; i++)
                colour[i] = any_value() * (run % 2 ? 0.2f : 1.0f);
            for (uint32_t i = 0; i < 3 * pixels; i++)
                light[i] = colour[i % 3];
            quantise(&it, light, 0, bytes);
            int low = 31, high = 1;
            for (uint32_t pixel = 0; pixel < pixels; pixel++) {
                low = bytes[4 * pixel + 3] < low ? bytes[4 * pixel + 3] : low;
                high = bytes[4 * pixel + 3] > high ? bytes[4 * pixel + 3] : high;
            }
            double largest = fmax(held(colour[0]), fmax(held(colour[1]), held(colour[2])));
            bool between = between_levels(UNITS * largest);
            assert_true(high == low || (between && high == low + 1));
            for (uint32_t channel = 0; channel < 3; channel++) {
                double sum = 0.0, value = UNITS * held(colour[channel]);
                for (uint32_t pixel = 0; pixel < pixels; pixel++)
                    sum += shown(&it, bytes, pixel, channel);
                double error = fabs(sum / pixels - value) / high;
                bool exact = !between || held(colour[channel]) == largest;
                if (error > (exact ? 0.5 / pixels + 1e-9 : 0.5))
                    fail_msg("%u pixels, level %d, %.9g: mean error %g of a code", pixels, high,
                             (double)colour[channel], error);
                worst = pixels >= 16 ? fmax(worst, error) : worst;
            }
        }
    printf("measured free level, one colour on 16 to %d pixels: worst mean error of a channel that "
           "is not the largest %.3f of a code of the level\n",
           MOST, worst);
}

/* Frames that are not of one colour. A code with threshold h is above its value by at most h, below
 * it by less than 1 - h, and thresholds have the mean 1/2: so at most half a code, as with rounding
 * to nearest. Usual frames come far closer. */
static void test_mean_of_other_frames(void **state) {
    (void)state;
    static const char *const kinds[] = {"steep gradient", "shallow gradient", "random",
                                        "against the order"};
    chance_state = 59;
    for (int kind = 0; kind < 4; kind++) {
        const uint32_t sizes[] = {16, 60, 300};
        printf("measured worst mean error of a channel, in codes, %s:", kinds[kind]);
        for (int size = 0; size < 3; size++) {
            Quantiser it = quantiser(sizes[size], 3);
            double worst = 0.0;
            for (int run = 0; run < 2000; run++) {
                float light[3 * MOST];
                uint8_t bytes[3 * MOST];
                double from = chance_unit() * 0.5, rise = chance_unit() * (kind == 1 ? 0.02 : 0.5);
                double sum = 0.0;
                for (uint32_t i = 0; i < it.pixels; i++) {
                    double value = from + rise * i / it.pixels;
                    if (kind == 2)
                        value = chance_unit();
                    if (kind == 3) /* just above where it steps up */
                        value = (floor(255 * from) + 1.00001 -
                                 dither_threshold(it.ranks[i], it.pixels)) /
                                255.0;
                    for (int channel = 0; channel < 3; channel++)
                        light[3 * i + channel] = (float)value;
                    sum -= 255.0 * (double)(float)value;
                }
                quantise(&it, light, 0, bytes);
                for (uint32_t i = 0; i < it.pixels; i++)
                    sum += bytes[3 * i];
                worst = fmax(worst, fabs(sum) / it.pixels);
            }
            assert_true(worst <= 0.5 + 1e-9);
            printf(" %.3f on %u", worst, sizes[size]);
        }
        printf("\n");
    }
}

/* -------- in time -------- */

/* Over 2^b frames a pixel shows its value rounded by its threshold to a multiple of 2^-b; the mean
 * of a rising value never falls, also where b changes. */
static void test_time_mean(void **state) {
    (void)state;
    chance_state = 60;
    for (int run = 0; run < 4000; run++) {
        Quantiser it = quantiser(1 + (uint32_t)(chance() % 40), 3);
        it.bits = bits_at[chance() % 5];
        if (run % 5 == 0)
            it.ranks = NULL;
        float light[120];
        double mean_before[120] = {0};
        uint64_t begin = (chance() >> 8) * 16;
        double at = chance_unit() * 255.0;
        for (int rise = 0; rise < 40; rise++) {
            at += run % 2 ? 0.02 * chance_unit() : chance_unit();
            double sum[120] = {0};
            for (uint32_t i = 0; i < 3 * it.pixels; i++)
                light[i] = (float)(at / 255.0);
            double value = 255.0 * held(light[0]);
            unsigned b = it.bits[(int)value], period = 1u << b;
            for (uint64_t frame = 0; frame < period; frame++) {
                uint8_t bytes[120];
                quantise(&it, light, begin + frame, bytes);
                for (uint32_t i = 0; i < 3 * it.pixels; i++)
                    sum[i] += bytes[i];
            }
            for (uint32_t i = 0; i < 3 * it.pixels; i++) {
                double mean = sum[i] / period,
                       threshold = it.ranks ? dither_threshold(it.ranks[i / 3], it.pixels) : 0.5;
                assert_true(mean == floor(value * period + threshold) / period);
                assert_true(mean >= mean_before[i]);
                mean_before[i] = mean;
            }
        }
    }
}

/* Pixels do not toggle together: in every single frame the sum of a frame of one colour is that of
 * its value to less than 4 codes of one pixel, whatever their number. (Groups of one phase differ
 * by a pixel; bit-reversed phases of any run of up to 16 turns are within 1 + 4 / 3 of their share,
 * the discrepancy of van der Corput's sequence; one more for the pixels between two shares.) */
static void test_time_is_even(void **state) {
    (void)state;
    chance_state = 61;
    double worst = 0.0;
    for (uint32_t pixels = 1; pixels <= MOST; pixels++)
        for (int run = 0; run < 30; run++) {
            Quantiser it = quantiser(pixels, 3);
            it.bits = bits_at[run % 5];
            float light[3 * MOST], value = any_value();
            for (uint32_t i = 0; i < 3 * pixels; i++)
                light[i] = value;
            for (uint64_t frame = 0; frame < 16; frame++) {
                uint8_t bytes[3 * MOST];
                quantise(&it, light, frame, bytes);
                double sum = -255.0 * held(value) * pixels;
                for (uint32_t i = 0; i < pixels; i++)
                    sum += bytes[3 * i];
                worst = fmax(worst, fabs(sum));
            }
        }
    printf("measured in time, one colour on 1 to %d pixels: the sum of any frame within %.2f codes "
           "of one pixel\n",
           MOST, worst);
    assert_true(worst < 4.0);
}

/* -------- the ladder of levels -------- */

/* Every rung that the largest channel reaches, from below: found by a fine ramp. */
static int rungs_to(double fraction, int *longest) {
    Quantiser it = {.pixels = 1, .channels = 3, .level = true, .level_free = true};
    int count = 0, before = 0;
    for (int i = 0; i <= 4 * UNITS * fraction; i++) {
        float light[3] = {(float)(i / (4.0 * UNITS)), 0.0f, 0.0f};
        uint8_t bytes[4];
        quantise(&it, light, 0, bytes);
        int now = shown(&it, bytes, 0, 0);
        assert_true(now >= before && now - before <= bytes[3]); /* one step of its level at most */
        if (now > before && now <= UNITS * fraction)
            count++;
        *longest = now - before > *longest ? now - before : *longest;
        before = now;
    }
    return count;
}

/* tests/data/light/quantisation_levels.csv: how many lights 8 + 5 bits have; the ladder has those
 * of the lowest level that reaches each, all of them at or below 1 %. */
static void test_ladder(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/quantisation_levels.csv", 11);
    for (size_t row = 0; row < table_rows(table); row++) {
        double fraction = table_number(table, row, "fraction");
        int products = (int)table_number(table, row, "linear13_apa102_8plus5_max");
        int plain = (int)table_number(table, row, "linear8_nonzero"), longest = 0;
        int rungs = rungs_to(fraction, &longest);
        printf("measured free level: %d lights of the largest channel at or below %g of full (%d "
               "with level 31, %d products), longest step %d of %d\n",
               rungs, fraction, plain, products, longest, UNITS);
        assert_true(rungs <= products && rungs > plain);
        if (fraction <= 255.0 / UNITS)
            assert_int_equal(rungs, products);
    }
    table_free(table);
}

/* The lights of the ladder by hand: code 255 of a level, then the first code of the next that is
 * not darker. */
static void test_joints(void **state) {
    (void)state;
    Quantiser it = {.pixels = 1, .channels = 3, .level = true, .level_free = true};
    for (int level = 1; level < 31; level++) {
        int first = (255 * level + level) / (level + 1); /* 255 level / (level + 1), upward */
        double top = 255.0 * level, next = first * (level + 1.0);
        if (next == top)
            continue;
        for (int share = 1; share < 8; share++) {
            float light[3] = {(float)((top + (next - top) * share / 8.0) / UNITS)};
            uint8_t bytes[4];
            quantise(&it, light, 0, bytes);
            double exact = UNITS * (double)light[0];
            bool upper = (exact - top) / (next - top) >= 0.5;
            assert_int_equal(bytes[0], upper ? first : 255);
            assert_int_equal(bytes[3], upper ? level + 1 : level);
        }
    }
}

int main(void) {
    make_ranks();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_floor_or_ceiling),
        cmocka_unit_test(test_ends_and_nearest),
        cmocka_unit_test(test_value_and_place_only),
        cmocka_unit_test(test_order_of_channels),
        cmocka_unit_test(test_nonsense),
        cmocka_unit_test(test_rising_channel),
        cmocka_unit_test(test_rising_colour),
        cmocka_unit_test(test_mean_of_one_colour),
        cmocka_unit_test(test_mean_of_one_colour_free),
        cmocka_unit_test(test_mean_of_other_frames),
        cmocka_unit_test(test_time_mean),
        cmocka_unit_test(test_time_is_even),
        cmocka_unit_test(test_ladder),
        cmocka_unit_test(test_joints),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
