/* Easings against tables worked from CSS Easing Functions Level 2 and by npm bezier-easing; the
 * source of each is in the head of its file in tests/data/light. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/core/easing.h"
#include "tests/support/table.h"

static void near(const char *what, double x, double got, double wanted, double tolerance) {
    if (fabs(got - wanted) <= tolerance)
        return;
    print_error("%s at %.17g: %.12g is not %.12g\n", what, x, got, wanted);
    fail();
}

static Easing bezier(double x1, double y1, double x2, double y2) {
    const Easing easing = {.kind = EASING_BEZIER, .bezier = {x1, y1, x2, y2}};
    return easing;
}

/* Keywords as CSS Easing 2, section 2.2, defines them; cb(...) is cubic-bezier(...). */
static Easing curve_of(const char *name) {
    if (strcmp(name, "linear") == 0)
        return bezier(0.0, 0.0, 1.0, 1.0);
    if (strcmp(name, "ease") == 0)
        return bezier(0.25, 0.1, 0.25, 1.0);
    if (strcmp(name, "ease-in") == 0)
        return bezier(0.42, 0.0, 1.0, 1.0);
    if (strcmp(name, "ease-out") == 0)
        return bezier(0.0, 0.0, 0.58, 1.0);
    if (strcmp(name, "ease-in-out") == 0)
        return bezier(0.42, 0.0, 0.58, 1.0);
    double p[4];
    assert_int_equal(sscanf(name, "cb(%lf,%lf,%lf,%lf)", p, p + 1, p + 2, p + 3), 4);
    return bezier(p[0], p[1], p[2], p[3]);
}

static void test_bezier(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/easing_cubic_bezier.csv", 189);
    for (size_t row = 0; row < 189; row++) {
        const char *name = table_text(table, row, "curve");
        const Easing easing =
            bezier(table_number(table, row, "x1"), table_number(table, row, "y1"),
                   table_number(table, row, "x2"), table_number(table, row, "y2"));
        const double x = table_number(table, row, "x");
        /* cubic-bezier(1, 0, 0, 1) is infinitely steep in the middle */
        const double tolerance = strcmp(name, "cb(1,0,0,1)") == 0 && x == 0.5 ? 1e-5 : 6e-10;
        near(name, x, easing_at(&easing, x), table_number(table, row, "exact"), tolerance);
    }
    table_free(table);
}

static void test_outside(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/easing_bezier_outside.csv", 44);
    for (size_t row = 0; row < 44; row++) {
        const char *name = table_text(table, row, "curve");
        const Easing easing = curve_of(name);
        const double x = table_number(table, row, "x");
        near(name, x, easing_at(&easing, x), table_number(table, row, "y"), 6e-10);
    }
    table_free(table);
}

static Jump jump_of(const char *name) {
    static const char *const names[] = {"jump-start", "jump-end", "jump-none", "jump-both"};
    for (int i = 0; i < 4; i++)
        if (strcmp(name, names[i]) == 0)
            return (Jump)i;
    fail();
    return JUMP_END;
}

static void test_steps(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/easing_steps.csv", 361);
    int passed_over = 0;
    for (size_t row = 0; row < 361; row++) {
        if (table_number(table, row, "before_flag") != 0.0) {
            passed_over++;
            continue;
        }
        const char *position = table_text(table, row, "position");
        const Easing easing = {.kind = EASING_STEPS,
                               .jump = jump_of(position),
                               .count = (uint32_t)table_number(table, row, "steps")};
        const double x = table_number(table, row, "x");
        near(position, x, easing_at(&easing, x), table_number(table, row, "y"), 6e-10);
    }
    printf("skipped %d of 361 rows: with the before flag set, which the language never does\n",
           passed_over);
    assert_int_equal(passed_over, 76);
    table_free(table);
}

static void test_linear(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/easing_linear_fn.csv", 156);
    for (size_t row = 0; row < 156; row++) {
        double points[64];
        uint32_t count = 0;
        for (const char *at = table_text(table, row, "points"); *at; at += strspn(at, " ")) {
            char *end;
            points[2 * count] = strtod(at, &end);
            points[2 * count + 1] = strtod(end + 1, &end); /* behind the colon */
            at = end;
            assert_true(++count < 32);
        }
        const Easing easing = {.kind = EASING_LINEAR, .count = count, .points = points};
        const double x = table_number(table, row, "x");
        near(table_text(table, row, "function"), x, easing_at(&easing, x),
             table_number(table, row, "y"), 6e-10);
    }
    table_free(table);
}

static long double coordinate(double first, double second, long double t) {
    const long double u = 1.0L - t;
    return 3.0L * u * u * t * first + 3.0L * u * t * t * second + t * t * t;
}

/* The curve at x by 100 halvings in the widest floating point there is. */
static double by_halving(const Easing *easing, double x) {
    long double low = 0.0L, high = 1.0L;
    for (int i = 0; i < 100; i++) {
        const long double middle = 0.5L * (low + high);
        if (coordinate(easing->bezier[0], easing->bezier[2], middle) < (long double)x)
            low = middle;
        else
            high = middle;
    }
    return (double)coordinate(easing->bezier[1], easing->bezier[3], 0.5L * (low + high));
}

/* Every curve on a grid of control points: right within 1e-12 for an x within 1e-13 (where a curve
 * is steep, the last place of x alone moves it). */
static void test_solver(void **state) {
    (void)state;
    for (int i = 0; i <= 10; i++)
        for (int j = 0; j <= 10; j++)
            for (int k = 0; k <= 200; k++) {
                const Easing easing = bezier(i / 10.0, -0.5, j / 10.0, 1.25);
                const double x = k == 200 ? 1.0 - 1e-9 : (k ? k / 200.0 : 1e-9);
                const double a = by_halving(&easing, x - 1e-13), b = by_halving(&easing, x + 1e-13);
                const double got = easing_at(&easing, x);
                if (got < fmin(a, b) - 1e-12 || got > fmax(a, b) + 1e-12) {
                    print_error("cubic-bezier(%g, -0.5, %g, 1.25) at %g: %.17g, not %.17g..%.17g\n",
                                i / 10.0, j / 10.0, x, got, a, b);
                    fail();
                }
            }
}

/* Ends exactly; whatever goes in, a finite number comes out. */
static void test_edges(void **state) {
    (void)state;
    double points[] = {0.0, 0.0, 0.5, 0.25, 0.5, 0.75, 1.0, 1.0};
    const Easing some[] = {
        bezier(0.25, 0.1, 0.25, 1.0),
        bezier(0.0, 0.0, 0.0, 0.0),
        bezier(1.0, 1.0, 1.0, 1.0),
        bezier(1.0, 0.0, 0.0, 1.0),
        bezier(0.0, 1e300, 1.0, -1e300),
        {.kind = EASING_STEPS, .jump = JUMP_END, .count = 3},
        {.kind = EASING_STEPS, .jump = JUMP_NONE, .count = 2},
        {.kind = EASING_LINEAR, .count = 4, .points = points},
    };
    const double odd[] = {0.0,     -0.0, 1.0,   0.5,      -1e300,    1e300,
                          -5e-324, NAN,  -1e-9, INFINITY, -INFINITY, 1.0 + 1e-9};
    for (size_t i = 0; i < sizeof some / sizeof some[0]; i++) {
        for (size_t j = 0; j < sizeof odd / sizeof odd[0]; j++)
            assert_true(isfinite(easing_at(&some[i], odd[j])));
        assert_true(easing_at(&some[i], 0.0) == 0.0 && easing_at(&some[i], 1.0) == 1.0);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bezier), cmocka_unit_test(test_outside), cmocka_unit_test(test_steps),
        cmocka_unit_test(test_linear), cmocka_unit_test(test_solver),  cmocka_unit_test(test_edges),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
