/* The melanopic estimate against a table made from the bins of data sheets with the action spectrum
 * of CIE S 026:2018. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/light/night.h"
#include "tests/support/chance.h"
#include "tests/support/table.h"

/* tests/data/light/melanopic_rgb_examples.csv. Its five decimals are those of the weights too, each
 * of which may be half a unit off. */
static void test_table(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/melanopic_rgb_examples.csv", 13);
    for (size_t row = 0; row < 13; row++) {
        const double r = table_number(table, row, "lin_r"), g = table_number(table, row, "lin_g"),
                     b = table_number(table, row, "lin_b");
        const float light[3] = {(float)r, (float)g, (float)b};
        double wanted = table_number(table, row, "mel_rel_mid");
        double tolerance = 0.5e-5 * (1 + r + g + b) + 1e-7;
        double got = night_melanopic(light, 1);
        if (!(fabs(got - wanted) <= tolerance))
            fail_msg("%s: %.7f is not %.5f", table_text(table, row, "name"), got, wanted);
    }
    table_free(table);
}

static double ratio_of(const Table *table, const char *spectrum) {
    for (size_t row = 0; row < table_rows(table); row++)
        if (strcmp(table_text(table, row, "spectrum"), spectrum) == 0)
            return table_number(table, row, "melanopic_DER");
    fail_msg("no row %s", spectrum);
    return NAN;
}

/* tests/data/light/melanopic_der.csv with the middle intensities of the WS2812B data sheets (625,
 * 1250 and 300 mcd): the middle of green's bin, 522.5 nm, lies between two rows. */
static void test_weights(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/melanopic_der.csv", 42);
    double red = 625 * ratio_of(table, "model LED R 625 nm");
    double blue = 300 * ratio_of(table, "model LED B 470 nm");
    double most = 1250 * ratio_of(table, "model LED G 520 nm");
    double least = 1250 * ratio_of(table, "model LED G 525 nm");
    const float r[3] = {1, 0, 0}, g[3] = {0, 1, 0}, b[3] = {0, 0, 1};
    assert_true(night_melanopic(g, 1) < most / (red + most + blue));
    assert_true(night_melanopic(g, 1) > least / (red + least + blue));
    assert_true(night_melanopic(b, 1) > blue / (red + most + blue));
    assert_true(night_melanopic(b, 1) < blue / (red + least + blue));
    double half_a_unit = 625 * 0.00005; /* of a ratio with four decimals */
    assert_true(night_melanopic(r, 1) > (red - half_a_unit) / (red + most + blue));
    assert_true(night_melanopic(r, 1) < (red + half_a_unit) / (red + least + blue));
    table_free(table);
}

static void test_scale(void **state) {
    (void)state;
    float light[3 * 16];
    for (int percent = 0; percent <= 100; percent++) {
        for (int i = 0; i < 48; i++)
            light[i] = (float)(percent / 100.0);
        assert_true(fabs(night_melanopic(light, 16) - percent / 100.0) < 1e-7);
    }
    for (int i = 24; i < 48; i++) /* half of a ring of white */
        light[i] = 0;
    assert_true(fabs(night_melanopic(light, 16) - 0.5) < 1e-12);
    assert_true(night_melanopic(light, 0) == 0);
}

static void test_bounds(void **state) {
    (void)state;
    chance_state = 41;
    for (int round = 0; round < 2000; round++) {
        float light[30];
        for (int i = 0; i < 30; i++)
            light[i] = (float)(3 * chance_unit() - 1);
        double before = night_melanopic(light, 10);
        assert_true(before >= 0 && before <= 1);
        int place = (int)(chance() % 30);
        float was = light[place];
        light[place] += (float)chance_unit();
        double after = night_melanopic(light, 10);
        assert_true(after >= before && after <= 1);
        if (was >= 0 && was < 0.9f && light[place] > was + 0.01f)
            assert_true(after > before);
    }
    const float odd[6] = {NAN, INFINITY, -INFINITY, NAN, NAN, 2};
    assert_true(fabs(night_melanopic(odd, 2) - (0.32857 + 0.67088) / 2) < 1e-12);
    const float full[3] = {1, 1, 1};
    assert_true(night_melanopic(full, 1) == 1);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_table),
        cmocka_unit_test(test_weights),
        cmocka_unit_test(test_scale),
        cmocka_unit_test(test_bounds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
