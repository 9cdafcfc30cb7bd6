/* Shapes against spec/meaning.md section 10 written out by hand, against libm and against the
 * tables of geodesic spheres. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/core/program.h"
#include "runtime/light/shape.h"
#include "tests/support/table.h"

#define TURN 6.283185307179586476925

static double field(const Shape *shape, Field which, uint32_t pixel) {
    return shape_fields(shape)[which][pixel];
}

static void near(double got, double wanted, double tolerance) {
    if (!(fabs(got - wanted) <= tolerance))
        fail_msg("%.17g is not within %g of %.17g", got, tolerance, wanted);
}

/* Within 2e-15: the radians given to libm are themselves within 9e-16. */
static void at(const Shape *shape, uint32_t pixel, double x, double y, double z) {
    near(field(shape, FIELD_X, pixel), x, 2e-15);
    near(field(shape, FIELD_Y, pixel), y, 2e-15);
    near(field(shape, FIELD_Z, pixel), z, 2e-15);
}

/* What holds for every shape: pixel, pos, radius, angle. */
static void general(const Shape *shape) {
    uint32_t pixels = shape_pixels(shape);
    for (uint32_t i = 0; i < pixels; i++) {
        double x = field(shape, FIELD_X, i), y = field(shape, FIELD_Y, i);
        double angle = field(shape, FIELD_ANGLE, i);
        assert_true(field(shape, FIELD_PIXEL, i) == i);
        near(field(shape, FIELD_POS, i), (i + 0.5) / pixels, 0.0);
        near(field(shape, FIELD_RADIUS, i), hypot(x, y), 4e-16);
        assert_true(angle >= 0.0 && angle < 1.0);
        double wanted = atan2(x, y) / TURN;
        double apart = fabs(angle - wanted);
        near(fmin(apart, fabs(apart - 1.0)), 0.0, 4e-16);
    }
}

static void test_strip(void **state) {
    (void)state;
    Shape *shape = shape_create(&(ShapeRequest){.form = FORM_STRIP, .pixels = 4});
    assert_int_equal(shape_pixels(shape), 4);
    at(shape, 0, -0.75, 0, 0);
    at(shape, 1, -0.25, 0, 0);
    at(shape, 3, 0.75, 0, 0);
    assert_true(field(shape, FIELD_ANGLE, 0) == 0.75);
    assert_true(field(shape, FIELD_ANGLE, 3) == 0.25);
    general(shape);
    shape_free(shape);
    shape = shape_create(&(ShapeRequest){.form = FORM_STRIP, .pixels = 1});
    at(shape, 0, 0, 0, 0);
    assert_true(field(shape, FIELD_ANGLE, 0) == 0.0 && field(shape, FIELD_RADIUS, 0) == 0.0);
    shape_free(shape);
}

static void test_ring(void **state) {
    (void)state;
    for (uint32_t pixels = 1; pixels < 100; pixels++) {
        Shape *shape = shape_create(&(ShapeRequest){.form = FORM_RING, .pixels = pixels});
        for (uint32_t i = 0; i < pixels; i++) {
            at(shape, i, sin(TURN * i / pixels), cos(TURN * i / pixels), 0);
            assert_true(field(shape, FIELD_ANGLE, i) == (double)i / pixels);
            assert_true(field(shape, FIELD_RADIUS, i) == 1.0);
        }
        general(shape);
        shape_free(shape);
    }
}

/* The four corners of the lantern are where they are to the last bit: no edge of light may run
 * between them by rounding. */
static void test_ring_quarters(void **state) {
    (void)state;
    Shape *shape = shape_create(&(ShapeRequest){.form = FORM_RING, .pixels = 16});
    const double wanted[4][2] = {{0, 1}, {1, 0}, {0, -1}, {-1, 0}};
    for (uint32_t i = 0; i < 4; i++) {
        assert_true(field(shape, FIELD_X, 4 * i) == wanted[i][0]);
        assert_true(field(shape, FIELD_Y, 4 * i) == wanted[i][1]);
    }
    shape_free(shape);
}

static void test_grid(void **state) {
    (void)state;
    /* 3 by 2: s = 3; columns at -2/3, 0, 2/3; rows at -1/3 and 1/3 */
    ShapeRequest request = {.form = FORM_GRID, .across = 3, .up = 2};
    Shape *shape = shape_create(&request);
    assert_int_equal(shape_pixels(shape), 6);
    assert_int_equal(shape_across(shape), 3);
    at(shape, 0, -2.0 / 3, -1.0 / 3, 0);
    at(shape, 2, 2.0 / 3, -1.0 / 3, 0);
    at(shape, 3, -2.0 / 3, 1.0 / 3, 0);
    at(shape, 5, 2.0 / 3, 1.0 / 3, 0);
    general(shape);
    shape_free(shape);
    request.zigzag = true;
    shape = shape_create(&request);
    at(shape, 2, 2.0 / 3, -1.0 / 3, 0);
    at(shape, 3, 2.0 / 3, 1.0 / 3, 0);
    at(shape, 4, 0, 1.0 / 3, 0);
    at(shape, 5, -2.0 / 3, 1.0 / 3, 0);
    shape_free(shape);
}

static void test_turned(void **state) {
    (void)state;
    ShapeRequest request = {.form = FORM_STRIP, .pixels = 4, .turned = 0.25};
    Shape *shape = shape_create(&request); /* the right end goes down */
    at(shape, 3, 0, -0.75, 0);
    assert_true(field(shape, FIELD_X, 3) == 0.0);
    assert_true(field(shape, FIELD_ANGLE, 3) == 0.5);
    general(shape);
    shape_free(shape);
    request.mirrored = true; /* first pixel on the right, then down */
    shape = shape_create(&request);
    at(shape, 0, 0, -0.75, 0);
    shape_free(shape);
    request = (ShapeRequest){.form = FORM_RING, .pixels = 16, .turned = 0.25};
    shape = shape_create(&request); /* pixel 0 comes to the right, 4 to the bottom */
    at(shape, 0, 1, 0, 0);
    at(shape, 4, 0, -1, 0);
    general(shape);
    shape_free(shape);
    request.mirrored = true; /* counter-clockwise from the right: 4 is at the top */
    shape = shape_create(&request);
    at(shape, 0, 1, 0, 0);
    at(shape, 4, 0, 1, 0);
    general(shape);
    shape_free(shape);
    request = (ShapeRequest){.form = FORM_RING, .pixels = 16, .turned = -0.125};
    shape = shape_create(&request);
    at(shape, 2, 0, 1, 0);
    assert_true(field(shape, FIELD_ANGLE, 2) == 0.0);
    general(shape);
    shape_free(shape);
}

static void test_points(void **state) {
    (void)state;
    const ShapePoint points[] = {{10, 0, 1}, {14, 2, 1}, {12, 1, 1}};
    ShapeRequest request = {.form = FORM_POINTS, .point_count = 3, .points = points};
    Shape *shape = shape_create(&request);
    at(shape, 0, -1, -0.5, 0);
    at(shape, 1, 1, 0.5, 0);
    at(shape, 2, 0, 0, 0);
    general(shape);
    shape_free(shape);
    const ShapePoint one[] = {{3, 4, 5}};
    request = (ShapeRequest){.form = FORM_POINTS, .point_count = 1, .points = one};
    shape = shape_create(&request);
    at(shape, 0, 0, 0, 0);
    shape_free(shape);
    const ShapePoint wide[] = {{-1.7e308, 0, 0}, {1.7e308, 0, 0}};
    request = (ShapeRequest){.form = FORM_POINTS, .point_count = 2, .points = wide};
    shape = shape_create(&request);
    at(shape, 0, -1, 0, 0);
    at(shape, 1, 1, 0, 0);
    shape_free(shape);
}

static double distance(const Shape *shape, uint32_t i, uint32_t j) {
    double x = field(shape, FIELD_X, i) - field(shape, FIELD_X, j);
    double y = field(shape, FIELD_Y, i) - field(shape, FIELD_Y, j);
    double z = field(shape, FIELD_Z, i) - field(shape, FIELD_Z, j);
    return sqrt(x * x + y * y + z * z);
}

static Shape *ball(uint32_t frequency, bool faces) {
    ShapeRequest request = {.form = FORM_BALL, .frequency = frequency, .faces = faces};
    return shape_create(&request);
}

/* tests/data/light/geodesic_counts.csv */
static void test_ball_counts(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/geodesic_counts.csv", 8);
    for (size_t row = 0; row < table_rows(table); row++) {
        uint32_t frequency = (uint32_t)table_number(table, row, "frequency");
        Shape *corners = ball(frequency, false), *faces = ball(frequency, true);
        assert_int_equal(shape_pixels(corners), (int)table_number(table, row, "vertices"));
        assert_int_equal(shape_pixels(faces), (int)table_number(table, row, "faces"));
        general(corners);
        general(faces);
        shape_free(corners);
        shape_free(faces);
    }
    table_free(table);
}

/* Every strut of the table is there as often as it says, and nothing between the struts. */
static void ball_struts(const Table *table, size_t first, size_t count, const Shape *shape) {
    double longest = 0.0;
    size_t found[32] = {0}, others = 0;
    for (size_t i = 0; i < count; i++)
        longest = fmax(longest, table_number(table, first + i, "chord_factor"));
    for (uint32_t i = 0; i < shape_pixels(shape); i++)
        for (uint32_t j = 0; j < i; j++) {
            double far = distance(shape, i, j);
            size_t best = 0;
            for (size_t k = 1; k < count; k++)
                if (fabs(table_number(table, first + k, "chord_factor") - far) <
                    fabs(table_number(table, first + best, "chord_factor") - far))
                    best = k;
            if (fabs(table_number(table, first + best, "chord_factor") - far) < 6e-6)
                found[best]++;
            else if (far < 1.05 * longest)
                others++;
        }
    for (size_t i = 0; i < count; i++)
        assert_int_equal(found[i], (int)table_number(table, first + i, "count_in_sphere"));
    assert_int_equal(others, 0);
}

/* tests/data/light/geodesic_chord_factors.csv */
static void test_ball_struts(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/geodesic_chord_factors.csv", 66);
    for (size_t row = 0, next; row < table_rows(table); row = next) {
        double frequency = table_number(table, row, "frequency");
        for (next = row; next < table_rows(table); next++)
            if (table_number(table, next, "frequency") != frequency)
                break;
        Shape *shape = ball((uint32_t)frequency, false);
        ball_struts(table, row, next - row, shape);
        shape_free(shape);
    }
    table_free(table);
}

static double way_round(const Shape *shape, uint32_t pixel) {
    double x = field(shape, FIELD_X, pixel), z = field(shape, FIELD_Z, pixel);
    double way = atan2(-x, z) / TURN; /* clockwise seen from above, from the front */
    return way < -1e-12 ? way + 1.0 : way;
}

/* From the top down, each level clockwise seen from above, from the front on. */
static void ball_order(const Shape *shape) {
    uint32_t pixels = shape_pixels(shape), level = 1;
    for (uint32_t i = 0; i < pixels; i++) {
        double x = field(shape, FIELD_X, i), y = field(shape, FIELD_Y, i);
        double z = field(shape, FIELD_Z, i);
        near(x * x + y * y + z * z, 1.0, 1e-12);
        if (i == 0)
            continue;
        double above = field(shape, FIELD_Y, i - 1);
        assert_true(y <= above);
        if (y == above) {
            level++;
            assert_true(way_round(shape, i) > way_round(shape, i - 1));
        } else {
            assert_true(above - y > 1e-9);
            assert_true(level % 5 == 0 || fabs(above) == 1.0);
            level = 1;
        }
    }
}

static void test_ball_order(void **state) {
    (void)state;
    const uint32_t frequencies[] = {1, 2, 3, 4, 5, 7, 8, 16, 40, 69, 70};
    for (size_t i = 0; i < sizeof frequencies / sizeof *frequencies; i++)
        for (int faces = 0; faces < 2; faces++) {
            Shape *shape = ball(frequencies[i], faces);
            ball_order(shape);
            shape_free(shape);
        }
    Shape *shape = ball(99, false);
    ball_order(shape);
    shape_free(shape);
    shape = ball(2, false);
    at(shape, 0, 0, 1, 0);
    assert_true(field(shape, FIELD_X, 1) == 0.0 && field(shape, FIELD_Z, 1) > 0.0);
    at(shape, 41, 0, -1, 0);
    shape_free(shape);
}

/* The twenty centres of an icosahedron are the corners of a dodecahedron, whose edge is
 * 4 / (sqrt 3 + sqrt 15) of the radius: Euclid, Elements XIII 17. */
static void test_ball_dodecahedron(void **state) {
    (void)state;
    Shape *shape = ball(1, true);
    double edge = 4.0 / (sqrt(3.0) + sqrt(15.0));
    for (uint32_t i = 0; i < 20; i++) {
        int near_ones = 0;
        for (uint32_t j = 0; j < 20; j++)
            if (j != i) {
                assert_true(distance(shape, i, j) > edge - 1e-12);
                near_ones += distance(shape, i, j) < edge + 1e-12;
            }
        assert_int_equal(near_ones, 3);
    }
    shape_free(shape);
}

/* Each centre of a triangle is the middle of the three corners next to it, pushed out. */
static void test_ball_centres(void **state) {
    (void)state;
    Shape *corners = ball(4, false), *faces = ball(4, true);
    const double *const *c = shape_fields(corners);
    for (uint32_t i = 0; i < shape_pixels(faces); i++) {
        double x = field(faces, FIELD_X, i), y = field(faces, FIELD_Y, i);
        double z = field(faces, FIELD_Z, i), sum[3] = {0, 0, 0};
        uint32_t taken[3] = {UINT32_MAX, UINT32_MAX, UINT32_MAX};
        for (int k = 0; k < 3; k++) {
            double best = -2.0;
            for (uint32_t j = 0; j < shape_pixels(corners); j++) {
                double cosine = x * c[FIELD_X][j] + y * c[FIELD_Y][j] + z * c[FIELD_Z][j];
                if (cosine > best && j != taken[0] && j != taken[1]) {
                    best = cosine;
                    taken[k] = j;
                }
            }
            sum[0] += c[FIELD_X][taken[k]];
            sum[1] += c[FIELD_Y][taken[k]];
            sum[2] += c[FIELD_Z][taken[k]];
        }
        double far = sqrt(sum[0] * sum[0] + sum[1] * sum[1] + sum[2] * sum[2]);
        near(x, sum[0] / far, 1e-12);
        near(y, sum[1] / far, 1e-12);
        near(z, sum[2] / far, 1e-12);
    }
    shape_free(corners);
    shape_free(faces);
}

static void test_limits(void **state) {
    (void)state;
    assert_int_equal(shape_count(&(ShapeRequest){.form = FORM_STRIP}), 0);
    assert_null(shape_create(&(ShapeRequest){.form = FORM_STRIP}));
    ShapeRequest request = {.form = FORM_RING, .pixels = LIMIT_PIXELS};
    assert_int_equal(shape_count(&request), LIMIT_PIXELS);
    request.pixels++;
    assert_int_equal(shape_count(&request), 0);
    request = (ShapeRequest){.form = FORM_GRID, .across = UINT32_MAX, .up = UINT32_MAX};
    assert_int_equal(shape_count(&request), 0);
    request = (ShapeRequest){.form = FORM_BALL, .frequency = 99};
    assert_int_equal(shape_count(&request), 98012);
    request.frequency = 100; /* 100002 */
    assert_int_equal(shape_count(&request), 0);
    request.frequency = UINT32_MAX;
    assert_int_equal(shape_count(&request), 0);
    assert_int_equal(shape_count(&(ShapeRequest){.form = FORM_BALL}), 0);
}

static void test_no_memory(void **state) {
    (void)state;
    unsigned long live = memory_live();
    for (unsigned long n = 1; n <= 4; n++) {
        memory_fail_at(n);
        assert_null(ball(3, false));
        assert_int_equal(memory_live(), live);
    }
    memory_fail_at(5);
    Shape *shape = ball(3, false);
    assert_non_null(shape);
    memory_fail_at(0);
    shape_free(shape);
    assert_int_equal(memory_live(), live);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_strip),         cmocka_unit_test(test_ring),
        cmocka_unit_test(test_ring_quarters), cmocka_unit_test(test_grid),
        cmocka_unit_test(test_turned),        cmocka_unit_test(test_points),
        cmocka_unit_test(test_ball_counts),   cmocka_unit_test(test_ball_struts),
        cmocka_unit_test(test_ball_order),    cmocka_unit_test(test_ball_dodecahedron),
        cmocka_unit_test(test_ball_centres),  cmocka_unit_test(test_limits),
        cmocka_unit_test(test_no_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
