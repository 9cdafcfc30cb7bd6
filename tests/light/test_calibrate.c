/* Calibration: what a lamp looks like before and after, by the table of the black body. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/light/calibrate.h"
#include "tests/support/chance.h"
#include "tests/support/chromaticity.h"
#include "tests/support/table.h"

static const double no_gain[3] = {1, 1, 1};

static void check_range(const float factors[3]) {
    for (int i = 0; i < 3; i++)
        assert_true(factors[i] > 0 && factors[i] <= 1);
}

static void test_nothing(void **state) {
    (void)state;
    float factors[3];
    calibrate_factors(no_gain, 0, factors);
    assert_true(factors[0] == 1 && factors[1] == 1 && factors[2] == 1);
    const double gain[3] = {1, 0.85, 0.7};
    calibrate_factors(gain, 0, factors);
    assert_true(factors[0] == 1 && factors[1] == 0.85f && factors[2] == 0.7f);
    calibrate_factors(no_gain, 6504, factors);
    for (int i = 0; i < 3; i++)
        assert_true(fabs((double)factors[i] - 1) < 1e-6);
    calibrate_factors(gain, 6504, factors);
    for (int i = 0; i < 3; i++)
        assert_true(fabs((double)factors[i] - gain[i]) < 1e-6);
}

/* The hotter, the more blue is taken back; the colder, the more red. */
static void test_direction(void **state) {
    (void)state;
    float factors[3], last_red = 0, last_blue = 1.0001f;
    calibrate_factors(no_gain, 9000, factors);
    assert_true(factors[0] == 1 && factors[2] < factors[1] && factors[1] < 1);
    calibrate_factors(no_gain, 4000, factors);
    assert_true(factors[2] == 1 && factors[0] < factors[1] && factors[1] < 1);
    for (double white = 2000; white <= 25000; white += 50) {
        calibrate_factors(no_gain, white, factors);
        check_range(factors);
        assert_true(factors[0] >= last_red && factors[2] <= last_blue);
        assert_true(factors[0] == 1 || factors[1] == 1 || factors[2] == 1);
        last_red = factors[0], last_blue = factors[2];
    }
    assert_true(last_red == 1 && last_blue < 0.6f);
}

/* tests/data/light/blackbody_locus.csv: a lamp whose three channels at full look like the row,
 * their shares being the row's own, looks like the 6504 K between two other rows once it is
 * calibrated. */
static void test_looks(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/blackbody_locus.csv", 64);
    double wanted_x = NAN, wanted_y = NAN;
    for (size_t row = 0; row < 64; row++)
        if (table_number(table, row, "T_K") == 6504) {
            wanted_x = table_number(table, row, "planck_x");
            wanted_y = table_number(table, row, "planck_y");
        }
    int checked = 0;
    for (size_t row = 0; row < 64; row++) {
        double kelvin = table_number(table, row, "T_K");
        const double full[3] = {table_number(table, row, "lin_r"),
                                table_number(table, row, "lin_g"),
                                table_number(table, row, "lin_b")};
        float factors[3];
        calibrate_factors(no_gain, kelvin, factors);
        check_range(factors);
        if (kelvin < 1901) { /* no blue to lift */
            assert_true(factors[2] == 1);
            continue;
        }
        double shown[3], xyz[3], x, y;
        for (int i = 0; i < 3; i++)
            shown[i] = (double)factors[i] * full[i];
        chromaticity_xyz(shown, xyz);
        chromaticity_place(xyz, &x, &y);
        /* the bound of the black body (spec/numbers.md): blue is small near 1900 K */
        if (fabs(x - wanted_x) > 2e-4 || fabs(y - wanted_y) > 2e-4)
            fail_msg("%g K: %.6f %.6f", kelvin, x, y);
        checked++;
    }
    assert_in_range(checked, 50, 63);
    table_free(table);
}

static void test_any(void **state) {
    (void)state;
    chance_state = 51;
    for (int round = 0; round < 5000; round++) {
        const double gain[3] = {1 - chance_unit(), 1 - chance_unit(), 1 - chance_unit()};
        double white = chance() % 4 ? 1000 + 24000 * chance_unit() : 0;
        float factors[3];
        calibrate_factors(gain, white, factors);
        check_range(factors);
        for (int i = 0; i < 3; i++)
            assert_true((double)factors[i] <= gain[i] * (1 + 1e-7));
    }
    const double ends[] = {1000, 25000, 1900.4, 1901};
    for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
        float factors[3];
        calibrate_factors(no_gain, ends[i], factors);
        check_range(factors);
    }
    const double least[3] = {1e-300, 1, 1e-45};
    float factors[3];
    calibrate_factors(least, 6504, factors);
    check_range(factors);
}

static void test_light(void **state) {
    (void)state;
    const float factors[3] = {1, 0.5f, 0.25f};
    const float light[6] = {1, 1, 1, 0.5f, 0, 0.125f};
    const float wanted[6] = {1, 0.5f, 0.25f, 0.5f, 0, 0.03125f};
    float into[7] = {9, 9, 9, 9, 9, 9, 9};
    calibrate(factors, light, 2, into);
    assert_memory_equal(into, wanted, sizeof wanted);
    assert_true(into[6] == 9);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_nothing), cmocka_unit_test(test_direction),
        cmocka_unit_test(test_looks),   cmocka_unit_test(test_any),
        cmocka_unit_test(test_light),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
