/* Chance: bit for bit against a table made by another program (tests/reference/hash_values.mjs),
 * the mixer against published outputs of SplitMix64, and how random it looks. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/core/hash.h"
#include "tests/support/table.h"

enum { ROWS = 176, BEATS = 10000, PIXELS = 60, COLOURS = 5, CLASSES = 16 };

/* First outputs of SplitMix64 from the seed 1234567 (from memory of Rosetta Code, "Pseudo-random
 * numbers/Splitmix64"): its state grows by 0x9E3779B97F4A7C15, each output is mixed by its
 * finaliser. */
static void test_mixer(void **state) {
    (void)state;
    static const uint64_t wanted[] = {6457827717110365317u, 3203168211198807973u,
                                      9817491932198370423u, 4593380528125082431u,
                                      16408922859458223821u};
    uint64_t counter = 1234567;
    for (int i = 0; i < 5; i++)
        assert_true(hash_mix(counter += 0x9E3779B97F4A7C15u) == wanted[i]);
}

static double hash_of(uint16_t salt, const double *x, int count) {
    switch (count) {
    case 1:
        return hash_1(salt, x[0]);
    case 2:
        return hash_2(salt, x[0], x[1]);
    case 3:
        return hash_3(salt, x[0], x[1], x[2]);
    default:
        return hash_4(salt, x[0], x[1], x[2], x[3]);
    }
}

static double noise_of(const double *x, int count) {
    switch (count) {
    case 1:
        return noise_1(x[0]);
    case 2:
        return noise_2(x[0], x[1]);
    default:
        return noise_3(x[0], x[1], x[2]);
    }
}

static void check_row(const Table *table, size_t row) {
    static const char *const columns[] = {"a", "b", "c", "d"};
    double x[4];
    int count = 0;
    while (count < 4 && *table_text(table, row, columns[count])) {
        x[count] = table_number(table, row, columns[count]);
        count++;
    }
    const char *salt = table_text(table, row, "salt");
    const double value = table_number(table, row, "value");
    if (strcmp(salt, "noise") == 0) {
        assert_true(fabs(noise_of(x, count) - value) <= 4e-15);
        return;
    }
    const uint16_t number = (uint16_t)atoi(salt);
    uint64_t bits = number;
    for (int i = 0; i < count; i++)
        bits = hash_step(bits, x[i]);
    assert_true(bits == strtoull(table_text(table, row, "bits"), NULL, 10));
    assert_true(hash_of(number, x, count) == value);
}

static void test_table(void **state) {
    (void)state;
    Table *table = table_read("tests/data/chance/hash_values.csv", ROWS);
    for (size_t row = 0; row < ROWS; row++)
        check_row(table, row);
    table_free(table);
}

/* At whole numbers noise is the corner itself; it is level there and never jumps. */
static void test_noise(void **state) {
    (void)state;
    for (double i = -20.0; i < 20.0; i++)
        for (double j = -3.0; j < 3.0; j++) {
            assert_true(noise_1(i) == hash_1(SALT_NOISE, i));
            assert_true(noise_2(i, j) == hash_2(SALT_NOISE, i, j));
            assert_true(noise_3(i, j, 2.0 * i) == hash_3(SALT_NOISE, i, j, 2.0 * i));
            assert_true(fabs(noise_2(i - 1e-4, j) - noise_2(i + 1e-4, j)) < 1e-10);
        }
    double last = noise_3(0.0, 0.0, 0.0);
    for (double x = 0.0; x < 50.0; x += 1.0 / 256.0) {
        const double next = noise_3(x, 0.3 * x, -0.7 * x);
        assert_true(next >= 0.0 && next < 1.0);
        assert_true(fabs(next - last) < 0.02); /* the steepest slope of the fade is 15/8 */
        last = next;
    }
}

/* The chi-square value that is exceeded once in a thousand: E. B. Wilson and M. M. Hilferty, The
 * distribution of chi-square, PNAS 17 (1931) 684-688, with the normal quantile 3.0902. For 99
 * degrees printed tables have 148.23. */
static double critical(double degrees) {
    const double share = 2.0 / (9.0 * degrees);
    return degrees * pow(1.0 - share + 3.0902 * sqrt(share), 3.0);
}

static double chi_square(const int *counts, int cells, double total) {
    const double expected = total / cells;
    double sum = 0.0;
    for (int i = 0; i < cells; i++)
        sum += (counts[i] - expected) * (counts[i] - expected) / expected;
    return sum;
}

static void check_uniform(const char *what, const int *counts, int cells, double total) {
    const double sum = chi_square(counts, cells, total);
    printf("%-24s chi-square %.1f, below %.1f\n", what, sum, critical(cells - 1));
    assert_true(sum < critical(cells - 1));
}

static void test_uniform(void **state) {
    (void)state;
    assert_true(fabs(critical(99.0) - 148.23) < 0.1);
    static const char *const names[] = {"", "random", "draw", "corners of noise"};
    for (uint16_t salt = SALT_RANDOM; salt <= SALT_NOISE; salt++) {
        int counts[100] = {0}, pixels[100] = {0}, pairs[100] = {0};
        for (int beat = 0; beat < BEATS; beat++) {
            counts[(int)(100.0 * hash_1(salt, beat))]++;
            pixels[(int)(100.0 * hash_2(salt, beat % 100, beat / 100))]++;
            /* a number and the next one: 10 x 10 classes */
            pairs[10 * (int)(10.0 * hash_1(salt, beat)) + (int)(10.0 * hash_1(salt, beat + 1))]++;
        }
        check_uniform(names[salt], counts, 100, BEATS);
        check_uniform(" .. of two numbers", pixels, 100, BEATS);
        check_uniform(" .. and the next", pairs, 100, BEATS);
    }
}

/* Rule N7: random, draw and noise of one beat have nothing to do with each other. */
static void test_independent(void **state) {
    (void)state;
    for (uint16_t first = SALT_RANDOM; first < SALT_NOISE; first++)
        for (uint16_t second = (uint16_t)(first + 1); second <= SALT_NOISE; second++) {
            int counts[CLASSES * CLASSES] = {0};
            double product = 0.0;
            for (int beat = 0; beat < BEATS; beat++) {
                const double a = hash_1(first, beat), b = hash_1(second, beat);
                counts[CLASSES * (int)(CLASSES * a) + (int)(CLASSES * b)]++;
                product += (a - 0.5) * (b - 0.5) * 12.0 / BEATS; /* variance of each: 1/12 */
            }
            check_uniform("two kinds together", counts, CLASSES * CLASSES, BEATS);
            assert_true(fabs(product) < 3.29 / sqrt(BEATS)); /* correlation, once in a thousand */
        }
}

/* draw(beat, five colours) where pixel == floor(random(beat) * pixels): over 10,000 beats every
 * colour comes on every pixel. */
static void test_every_colour(void **state) {
    (void)state;
    int counts[PIXELS * COLOURS] = {0};
    for (int beat = 0; beat < BEATS; beat++) {
        const int pixel = (int)number_floor(hash_1(SALT_RANDOM, beat) * PIXELS);
        const int colour = (int)number_floor(hash_1(SALT_DRAW, beat) * COLOURS);
        assert_true(pixel < PIXELS && colour < COLOURS);
        counts[pixel * COLOURS + colour]++;
    }
    for (int i = 0; i < PIXELS * COLOURS; i++)
        assert_true(counts[i] > 0);
    check_uniform("colours on pixels", counts, PIXELS * COLOURS, BEATS);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_mixer),       cmocka_unit_test(test_table),
        cmocka_unit_test(test_noise),       cmocka_unit_test(test_uniform),
        cmocka_unit_test(test_independent), cmocka_unit_test(test_every_colour),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
