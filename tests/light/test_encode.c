/* The gamut step by hand; sRGB against the tables of CSS Color 4's formulas. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "runtime/light/encode.h"
#include "tests/support/table.h"

static void gamut(float r, float g, float b, float wr, float wg, float wb) {
    float light[3] = {r, g, b};
    encode_gamut(light, 1, light);
    assert_true(light[0] == wr && light[1] == wg && light[2] == wb);
}

/* Rule C6: below 0 becomes 0; a pixel above 1 is divided by its largest channel. */
static void test_gamut(void **state) {
    (void)state;
    gamut(0.25f, 0.5f, 1.0f, 0.25f, 0.5f, 1.0f);
    gamut(-0.25f, 0.5f, -0.0f, 0.0f, 0.5f, 0.0f);
    gamut(2.0f, 1.0f, 0.5f, 1.0f, 0.5f, 0.25f);
    gamut(-1.0f, 4.0f, 1.0f, 0.0f, 1.0f, 0.25f);
    gamut(NAN, 0.5f, 0.5f, 0.0f, 0.5f, 0.5f);
    gamut(INFINITY, 0.0f, -INFINITY, 1.0f, 0.0f, 0.0f);
    const float two[6] = {4.0f, 2.0f, 0.0f, 0.5f, 0.25f, 0.125f};
    float into[6];
    encode_gamut(two, 2, into); /* each pixel has its own factor */
    const float wanted[6] = {1.0f, 0.5f, 0.0f, 0.5f, 0.25f, 0.125f};
    for (int i = 0; i < 6; i++)
        assert_true(into[i] == wanted[i]);
}

static ScreenTable screen;

static int screen_of(double value) {
    const float light[3] = {0.0f, (float)value, 0.0f};
    uint8_t bytes[3];
    encode_screen(&screen, light, 1, bytes);
    assert_int_equal(bytes[0], 0);
    return bytes[1];
}

/* tests/data/light/srgb_eotf_256.csv: every code comes back from its own light. */
static void test_screen_codes(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/srgb_eotf_256.csv", 256);
    for (size_t row = 0; row < 256; row++)
        assert_int_equal(screen_of(table_number(table, row, "linear")), row);
    table_free(table);
}

/* tests/data/light/srgb_oetf_samples.csv */
static void test_screen_samples(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/srgb_oetf_samples.csv", 29);
    for (size_t row = 0; row < table_rows(table); row++) {
        double encoded = 255.0 * table_number(table, row, "srgb");
        int wanted = (int)table_number(table, row, "srgb8_round_half_up");
        int got = screen_of(table_number(table, row, "linear"));
        /* One sample is within single precision of a half. */
        bool tie = fabs(encoded - floor(encoded) - 0.5) < 1e-4;
        assert_true(got == wanted || (tie && got == wanted + 1));
    }
    table_free(table);
}

/* Along all of 0..1, against the formula of CSS Color 4 with libm's pow. */
static void test_screen_everywhere(void **state) {
    (void)state;
    for (int i = 0; i <= 1000000; i++) {
        double light = (double)(float)(i / 1e6);
        double encoded = light > 0.0031308 ? 1.055 * pow(light, 1 / 2.4) - 0.055 : 12.92 * light;
        double wanted = 255.0 * encoded;
        if (fabs(screen_of(light) - wanted) > 0.5 + 2e-5)
            fail_msg("%.9g: %d, but %.6f", light, screen_of(light), wanted);
    }
}

int main(void) {
    encode_screen_table(&screen);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_gamut),
        cmocka_unit_test(test_screen_codes),
        cmocka_unit_test(test_screen_samples),
        cmocka_unit_test(test_screen_everywhere),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
