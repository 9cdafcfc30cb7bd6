/* The black body against the table of A. R. Robertson (1968) and against Planck's law summed over
 * the CIE 1931 observer; sources in the heads of the files in tests/data/light. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>

#include <cmocka.h>

#include "runtime/core/colour.h"
#include "tests/support/chromaticity.h"
#include "tests/support/table.h"

static void near(const char *what, double kelvin, double got, double wanted, double tolerance) {
    if (fabs(got - wanted) <= tolerance)
        return;
    print_error("%s at %g K: %.8f is not %.8f\n", what, kelvin, got, wanted);
    fail();
}

static Colour black_body(double kelvin) {
    Colour light;
    assert_true(colour_blackbody(kelvin, &light));
    assert_true(fmaxf(light.r, fmaxf(light.g, light.b)) == 1.0f);
    assert_true(fminf(light.r, fminf(light.g, light.b)) >= 0.0f);
    return light;
}

static void chromaticity(Colour light, double *x, double *y) {
    const double channels[3] = {(double)light.r, (double)light.g, (double)light.b};
    double xyz[3];
    chromaticity_xyz(channels, xyz);
    chromaticity_place(xyz, x, y);
}

/* Below 1900.4 K blue is held at 0 and the chromaticity is another. */
static void check_place(double kelvin, double wanted_x, double wanted_y) {
    double x, y;
    chromaticity(black_body(kelvin), &x, &y);
    near("x", kelvin, x, wanted_x, 2e-4);
    near("y", kelvin, y, wanted_y, 2e-4);
}

static void test_robertson(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/blackbody_robertson1968.csv", 31);
    int checked = 0;
    for (size_t row = 0; row < 31; row++) {
        const double kelvin = 1e6 / table_number(table, row, "mired");
        if (!(kelvin >= 1901.0 && kelvin <= 25000.0))
            continue;
        check_place(kelvin, table_number(table, row, "x"), table_number(table, row, "y"));
        checked++;
    }
    printf("skipped %d of 31 rows: hotter than 25000 K, or outside the sRGB gamut\n", 31 - checked);
    assert_int_equal(checked, 24);
    table_free(table);
}

/* The series in the code are a fit to these points, so this tells of the fit and of the way from
 * x, y to light; Robertson's table above has nothing to do with it. */
static void test_planck(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/blackbody_locus.csv", 64);
    for (size_t row = 0; row < 64; row++) {
        const double kelvin = table_number(table, row, "T_K");
        const Colour light = black_body(kelvin);
        /* negative blue is set to 0 before scaling; red is the largest there already */
        near("red", kelvin, (double)light.r, table_number(table, row, "lin_r"), 2e-5);
        near("green", kelvin, (double)light.g, table_number(table, row, "lin_g"), 2e-5);
        near("blue", kelvin, (double)light.b, fmax(table_number(table, row, "lin_b"), 0.0), 2e-5);
        if (kelvin > 1901.0)
            check_place(kelvin, table_number(table, row, "planck_x"),
                        table_number(table, row, "planck_y"));
    }
    table_free(table);
}

/* Between the rows it runs smoothly: blue and green rise with the temperature, red falls in the
 * end, and no step of 10 K is a jump. */
static void test_smooth(void **state) {
    (void)state;
    Colour last = black_body(1000.0);
    for (double kelvin = 1010.0; kelvin <= 25000.0; kelvin += 10.0) {
        const Colour next = black_body(kelvin);
        assert_true(next.b >= last.b && next.r <= last.r);
        assert_true(next.g - last.g < 0.003f && next.b - last.b < 0.003f);
        assert_true(last.r - next.r < 0.003f && last.g - next.g < 0.003f);
        last = next;
    }
}

static void test_range(void **state) {
    (void)state;
    Colour light = {0.5f, 0.25f, 0.125f};
    const double outside[] = {999.999, 25000.001, 0.0, -1000.0, NAN, INFINITY, -INFINITY};
    for (size_t i = 0; i < sizeof outside / sizeof outside[0]; i++)
        assert_false(colour_blackbody(outside[i], &light));
    assert_true(light.r == 0.5f && light.g == 0.25f && light.b == 0.125f);
    assert_true(colour_blackbody(1000.0, &light) && colour_blackbody(25000.0, &light));
    assert_true(black_body(1900.0).b == 0.0f && black_body(1905.0).b > 0.0f);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_robertson),
        cmocka_unit_test(test_planck),
        cmocka_unit_test(test_smooth),
        cmocka_unit_test(test_range),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
