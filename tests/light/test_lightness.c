/* CIE lightness against tables made with the formulas of CIE 15; luminance against WCAG 2.2. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/light/lightness.h"
#include "tests/support/chance.h"
#include "tests/support/table.h"

static void near(const char *what, double at, double got, double wanted, double tolerance) {
    if (!(fabs(got - wanted) <= tolerance))
        fail_msg("%s of %g: %.12g, but %.12g", what, at, got, wanted);
}

/* tests/data/light/lstar_inverse.csv; tolerances from its ten decimals. */
static void test_inverse_table(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/lstar_inverse.csv", 25);
    for (size_t row = 0; row < 25; row++) {
        double lightness = table_number(table, row, "L_star");
        double light = table_number(table, row, "Y_rel");
        double got = lightness_light(lightness);
        near("light", lightness, got, light, 0.5e-10 + 1e-15);
        near("lightness", light, lightness_of(light), lightness, 0.5e-10 * 904 + 1e-12);
        near("8 bits", lightness, floor(255 * got + 0.5), table_number(table, row, "lin8"), 0);
        near("16 bits", lightness, floor(65535 * got + 0.5), table_number(table, row, "lin16"), 0);
    }
    table_free(table);
}

/* tests/data/light/pwm8_lstar_steps.csv; four decimals. */
static void test_steps_table(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/pwm8_lstar_steps.csv", 45);
    int steps = 0;
    for (size_t row = 0; row < 45; row++) {
        double code = table_number(table, row, "k");
        double got = lightness_of(code / 255);
        near("lightness of code", code, got, table_number(table, row, "L_star"), 0.5e-4 + 1e-9);
        double step = table_number(table, row, "step_to_next");
        if (isnan(step))
            continue;
        near("step from code", code, lightness_of((code + 1) / 255) - got, step, 0.5e-4 + 1e-9);
        steps++;
    }
    assert_int_equal(steps, 44);
    table_free(table);
}

/* Check values of the CIE formulas, four decimals. */
static void test_check_values(void **state) {
    (void)state;
    const double pairs[][2] = {
        {0.001, 0.9033}, {0.01, 8.9914}, {0.1, 37.8424}, {0.18, 49.4961}, {0.5, 76.0693}};
    for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++)
        near("lightness", pairs[i][0], lightness_of(pairs[i][0]), pairs[i][1], 0.5e-4 + 1e-9);
}

/* With libm's cbrt instead of our own. */
static void test_formula(void **state) {
    (void)state;
    for (int i = 0; i <= 100000; i++) {
        double light = i / 1e5 * 1.5;
        double wanted = light > 216.0 / 24389.0 ? 116 * cbrt(light) - 16 : 24389.0 / 27.0 * light;
        near("lightness", light, lightness_of(light), wanted, 1e-12);
    }
}

static void test_there_and_back(void **state) {
    (void)state;
    double last_light = -1, last_lightness = -1;
    for (int i = 0; i <= 100000; i++) {
        double light = lightness_light(i / 1e3);
        double lightness = lightness_of(i / 1e5);
        assert_true(light > last_light && lightness > last_lightness);
        near("there and back", i / 1e3, lightness_of(light), i / 1e3, 1e-12);
        last_light = light;
        last_lightness = lightness;
    }
    assert_true(lightness_of(1) == 100 && lightness_light(100) == 1);
    assert_true(lightness_of(0) == 0 && lightness_light(0) == 0);
    /* around the joint, where the two halves meet */
    double edge = 216.0 / 24389.0;
    assert_true(lightness_of(nextafter(edge, 0)) <= lightness_of(edge));
    assert_true(lightness_of(edge) <= lightness_of(nextafter(edge, 1)) + 1e-14);
    assert_true(lightness_light(nextafter(8, 0)) <= lightness_light(8));
    assert_true(lightness_light(8) <= lightness_light(nextafter(8, 9)) + 1e-17);
}

static void test_edges(void **state) {
    (void)state;
    const double nothing[] = {-0.0, -1e-300, -5, -INFINITY, NAN, -NAN};
    for (size_t i = 0; i < sizeof nothing / sizeof nothing[0]; i++) {
        assert_true(lightness_of(nothing[i]) == 0);
        assert_true(lightness_light(nothing[i]) == 0);
    }
    near("lightness", 8, lightness_of(8), 216, 1e-12); /* above 1 it goes on: 116 * 2 - 16 */
    near("light", 216, lightness_light(216), 8, 1e-13);
    assert_true(isfinite(lightness_light(1e300)) && isfinite(lightness_of(1e300)));
    assert_true(lightness_of(5e-324) >= 0 && lightness_light(5e-324) >= 0);
}

/* WCAG 2.2, relative luminance: 0.2126 R + 0.7152 G + 0.0722 B. */
static void test_luminance(void **state) {
    (void)state;
    const float each[4][3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}, {1, 1, 1}};
    const double wanted[4] = {0.2126, 0.7152, 0.0722, 1};
    for (int i = 0; i < 4; i++)
        near("luminance", i, lightness_luminance(each[i]), wanted[i], 1e-15);
    chance_state = 7;
    for (int i = 0; i < 1000; i++) {
        float a[3], half[3];
        for (int c = 0; c < 3; c++) {
            a[c] = (float)chance_unit();
            half[c] = a[c] / 2;
        }
        assert_true(lightness_luminance(half) * 2 == lightness_luminance(a));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_inverse_table),  cmocka_unit_test(test_steps_table),
        cmocka_unit_test(test_check_values),   cmocka_unit_test(test_formula),
        cmocka_unit_test(test_there_and_back), cmocka_unit_test(test_edges),
        cmocka_unit_test(test_luminance),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
