/* The white part: the sum stays the light that came in, the current never rises, and the colour is
 * that of the table of the black body. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/light/calibrate.h"
#include "runtime/light/white.h"
#include "tests/support/chance.h"
#include "tests/support/chromaticity.h"
#include "tests/support/table.h"

/* Rounding of singles: a division, a product, a difference, and 2^-21 that counts as nothing. */
#define TOLERANCE 7e-7

static const double no_gain[3] = {1, 1, 1};

typedef struct Lamp {
    float factors[3], mix[3];
    bool usable;
} Lamp;

static Lamp lamp_of(const double gain[3], double white, double die) {
    Lamp lamp;
    calibrate_factors(gain, white, lamp.factors);
    lamp.usable = white_die(die, lamp.factors, lamp.mix);
    return lamp;
}

static Lamp draw_lamp(void) {
    const double gain[3] = {1 - 0.5 * chance_unit(), 1 - 0.5 * chance_unit(),
                            1 - 0.5 * chance_unit()};
    double white = chance() % 2 ? 3000 + 9000 * chance_unit() : 0;
    return lamp_of(gain, white, 1000 + 9000 * chance_unit());
}

/* Calibrated light: at most the factors. */
static void draw_light(const Lamp *lamp, float light[3]) {
    double scale = chance() % 2 ? 1 : pow(2, -12 * chance_unit());
    for (int i = 0; i < 3; i++) {
        double value = chance() % 8 ? chance_unit() : (double)(chance() % 2);
        light[i] = (float)(scale * value) * lamp->factors[i];
    }
}

static double shares_of(const float *values, int count) {
    double sum = 0;
    for (int i = 0; i < count; i++)
        sum += (double)values[i];
    return sum;
}

static void check_split(const Lamp *lamp, const float light[3], const float out[4]) {
    bool bound = out[3] == 1;
    for (int i = 0; i < 4; i++)
        assert_true(out[i] >= 0 && out[i] <= 1);
    for (int i = 0; i < 3; i++) {
        double whole = (double)out[i] + (double)out[3] * (double)lamp->mix[i];
        assert_true(fabs(whole - (double)light[i]) <= TOLERANCE * (double)light[i]);
        bound = bound || (lamp->mix[i] > 0 && out[i] == 0);
    }
    assert_true(bound); /* as much as can be: full, or a channel of the mix is used up */
    assert_true(shares_of(out, 4) <= shares_of(light, 3) + TOLERANCE);
}

static void test_split(void **state) {
    (void)state;
    chance_state = 61;
    int usable = 0;
    for (int round = 0; round < 20000; round++) {
        Lamp lamp = draw_lamp();
        float light[3], out[4];
        draw_light(&lamp, light);
        white_split(lamp.usable, lamp.mix, light, 1, out);
        if (lamp.usable)
            check_split(&lamp, light, out);
        else
            assert_true(memcmp(out, light, sizeof light) == 0 && out[3] == 0);
        usable += lamp.usable;
    }
    assert_true(usable > 10000 && usable < 20000);
}

/* What the supply limit before the split relies on: dimmed or mixed light draws no more than its
 * share of the undimmed or unmixed. */
static void test_current(void **state) {
    (void)state;
    chance_state = 62;
    for (int round = 0; round < 20000; round++) {
        Lamp lamp = draw_lamp();
        float a[3], b[3], dimmed[3], mixed[3], out[4];
        draw_light(&lamp, a);
        draw_light(&lamp, b);
        double share = chance_unit();
        for (int i = 0; i < 3; i++) {
            dimmed[i] = (float)share * a[i];
            mixed[i] = (float)((1 - share) * (double)a[i] + share * (double)b[i]);
        }
        white_split(lamp.usable, lamp.mix, a, 1, out);
        double of_a = shares_of(out, 4);
        white_split(lamp.usable, lamp.mix, b, 1, out);
        double of_b = shares_of(out, 4);
        white_split(lamp.usable, lamp.mix, dimmed, 1, out);
        assert_true(shares_of(out, 4) <= share * of_a + 2 * TOLERANCE);
        white_split(lamp.usable, lamp.mix, mixed, 1, out);
        assert_true(shares_of(out, 4) <= (1 - share) * of_a + share * of_b + 2 * TOLERANCE);
    }
}

static void test_own_colour(void **state) {
    (void)state;
    chance_state = 63;
    int checked = 0;
    for (int round = 0; round < 5000; round++) {
        Lamp lamp = draw_lamp();
        if (!lamp.usable)
            continue;
        float level = (float)chance_unit(), light[3], out[4];
        for (int i = 0; i < 3; i++)
            light[i] = level * lamp.mix[i];
        white_split(true, lamp.mix, light, 1, out);
        assert_true(out[0] == 0 && out[1] == 0 && out[2] == 0);
        assert_true(fabs((double)out[3] - (double)level) <= TOLERANCE * (double)level);
        checked++;
    }
    assert_true(checked > 2500);
}

static void no_white(const Lamp *lamp, float r, float g, float b) {
    const float light[3] = {r, g, b};
    float out[4] = {9, 9, 9, 9};
    white_split(lamp->usable, lamp->mix, light, 1, out);
    assert_true(out[0] == r && out[1] == g && out[2] == b && out[3] == 0);
}

static void test_no_white_part(void **state) {
    (void)state;
    Lamp lamp = lamp_of(no_gain, 0, 4000);
    assert_true(lamp.usable);
    no_white(&lamp, 1, 0, 0);
    no_white(&lamp, 0, 1, 0.5f);
    no_white(&lamp, 0.5f, 0, 1);
    no_white(&lamp, 0, 0, 0);
    Lamp unsaid = lamp_of(no_gain, 0, 0);
    assert_false(unsaid.usable);
    no_white(&unsaid, 1, 1, 1);
    no_white(&unsaid, 0.25f, 0.5f, 1);
    /* a die of the colour of flames against a lamp that needs next to no red for it */
    assert_false(lamp_of(no_gain, 1000, 1000).usable);
    const double faint[3] = {0.3, 0.3, 0.3};
    assert_false(lamp_of(faint, 0, 4000).usable);
    /* several pixels, and nothing behind them */
    const float light[6] = {1, 1, 1, 0, 0.5f, 0};
    float out[9] = {0, 0, 0, 0, 0, 0, 0, 0, 9};
    white_split(true, lamp.mix, light, 2, out);
    assert_true(out[3] == 1 && out[0] == 0 && out[4] == 0 && out[5] == 0.5f && out[8] == 9);
    /* not a number is no light */
    const float odd[3] = {NAN, NAN, NAN};
    white_split(true, lamp.mix, odd, 1, out);
    for (int i = 0; i < 3; i++)
        assert_true(out[i] == 0);
}

static size_t row_of(const Table *table, double kelvin) {
    for (size_t row = 0; row < table_rows(table); row++)
        if (table_number(table, row, "T_K") == kelvin)
            return row;
    fail_msg("no row of %g K", kelvin);
    return 0;
}

static void light_of(const Table *table, double kelvin, double light[3]) {
    const size_t row = row_of(table, kelvin);
    light[0] = table_number(table, row, "lin_r");
    light[1] = table_number(table, row, "lin_g");
    light[2] = table_number(table, row, "lin_b");
}

/* The die as a lamp of its own: the chromaticity of its row, as bright as the mix. */
static void die_xyz(const Table *table, double die, double xyz[3]) {
    double mix[3];
    light_of(table, die, mix);
    chromaticity_xyz(mix, xyz);
    const double bright = xyz[1];
    const double x = table_number(table, row_of(table, die), "planck_x");
    const double y = table_number(table, row_of(table, die), "planck_y");
    xyz[0] = x / y * bright;
    xyz[2] = (1 - x - y) / y * bright;
}

/* A channel driven at d shines d / factor of its sRGB primary: that is what calibration is for. */
static void check_colour(const Table *table, double white, double kelvin, double die) {
    const Lamp lamp = lamp_of(no_gain, white, die);
    double wanted[3], channels[3], xyz[3], of_die[3], x, y;
    float light[3], out[4];
    assert_true(lamp.usable);
    light_of(table, kelvin, wanted);
    for (int i = 0; i < 3; i++)
        light[i] = lamp.factors[i] * (float)wanted[i];
    white_split(true, lamp.mix, light, 1, out);
    assert_true(out[3] > 0.09f);
    for (int i = 0; i < 3; i++)
        channels[i] = (double)out[i] / (double)lamp.factors[i];
    chromaticity_xyz(channels, xyz);
    die_xyz(table, die, of_die);
    for (int i = 0; i < 3; i++)
        xyz[i] += (double)out[3] * of_die[i];
    chromaticity_place(xyz, &x, &y);
    const double row_x = table_number(table, row_of(table, kelvin), "planck_x");
    const double row_y = table_number(table, row_of(table, kelvin), "planck_y");
    if (fabs(x - row_x) > 2e-4 || fabs(y - row_y) > 2e-4)
        fail_msg("%g K with a die of %g K: %.6f %.6f", kelvin, die, x, y);
}

/* tests/data/light/blackbody_locus.csv */
static void test_colour(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/blackbody_locus.csv", 64);
    const double whites[] = {0, 5000, 6504, 9000}, kelvins[] = {2700, 4000, 6500},
                 dies[] = {3000, 4000, 6500};
    for (int white = 0; white < 4; white++)
        for (int kelvin = 0; kelvin < 3; kelvin++)
            for (int die = 0; die < 3; die++)
                check_colour(table, whites[white], kelvins[kelvin], dies[die]);
    table_free(table);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_split),      cmocka_unit_test(test_current),
        cmocka_unit_test(test_own_colour), cmocka_unit_test(test_no_white_part),
        cmocka_unit_test(test_colour),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
