/* Master level, ceilings, and how a ceiling glides: the curve against CSS Easing Functions. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/light/level.h"
#include "tests/support/chance.h"
#include "tests/support/table.h"

enum { PIXELS = 40, VALUES = 3 * PIXELS };

/* Some frames are far too bright, some have channels below 0: the gamut step comes later. */
static void draw_frame(float *light) {
    double scale = pow(2, 8 * chance_unit() - 6);
    for (int i = 0; i < VALUES; i++)
        light[i] = (float)(scale * (chance_unit() * 1.1 - 0.1));
}

static float brightest(const float *light) {
    float most = 0;
    for (int i = 0; i < VALUES; i++)
        most = fmaxf(most, light[i]);
    return most;
}

static void test_master(void **state) {
    (void)state;
    chance_state = 11;
    for (int round = 0; round < 200; round++) {
        float light[VALUES], before[VALUES];
        draw_frame(light);
        memcpy(before, light, sizeof light);
        level_master(light, PIXELS, 1);
        assert_memory_equal(light, before, sizeof light);
        double level = chance_unit();
        level_master(light, PIXELS, level);
        for (int i = 0; i < VALUES; i++)
            assert_true(fabs((double)light[i] - level * (double)before[i]) <=
                        1.2e-7 * fabs((double)before[i]));
        level_master(light, PIXELS, 0);
        for (int i = 0; i < VALUES; i++)
            assert_true(light[i] == 0);
    }
    float odd[3] = {NAN, -0.0f, 1e-40f}, same[3];
    memcpy(same, odd, sizeof odd);
    level_master(odd, 1, 1);
    assert_memory_equal(odd, same, sizeof odd);
}

/* Below it every bit stays; above, the brightest is the ceiling exactly and all keep their
 * proportion; a second time changes nothing. */
static void check_ceiling(float *light, double ceiling) {
    float before[VALUES], once[VALUES];
    memcpy(before, light, sizeof before);
    level_ceiling(light, PIXELS, ceiling);
    if (brightest(before) <= (float)ceiling) {
        assert_memory_equal(light, before, sizeof before);
        return;
    }
    assert_true(brightest(light) == (float)ceiling);
    double factor = ceiling / (double)brightest(before);
    for (int i = 0; i < VALUES; i++)
        assert_true(fabs((double)light[i] - factor * (double)before[i]) <=
                    1.3e-7 * fabs(factor * (double)before[i]));
    memcpy(once, light, sizeof once);
    level_ceiling(light, PIXELS, ceiling);
    assert_memory_equal(light, once, sizeof once);
}

static void test_ceiling(void **state) {
    (void)state;
    chance_state = 12;
    for (int round = 0; round < 2000; round++) {
        float light[VALUES];
        draw_frame(light);
        check_ceiling(light, chance_unit());
        draw_frame(light);
        check_ceiling(light, (double)brightest(light)); /* just at it */
        draw_frame(light);
        check_ceiling(light, nextafter((double)brightest(light), 0));
        draw_frame(light);
        check_ceiling(light, 1);
        draw_frame(light);
        check_ceiling(light, LEVEL_NO_CEILING);
    }
}

static void test_ceiling_edges(void **state) {
    (void)state;
    float light[VALUES], before[VALUES];
    draw_frame(light);
    level_ceiling(light, PIXELS, 0);
    for (int i = 0; i < VALUES; i++)
        assert_true(light[i] == 0);
    level_ceiling(light, PIXELS, 0.5); /* dark already */
    assert_true(brightest(light) == 0);
    draw_frame(light);
    memcpy(before, light, sizeof light);
    level_ceiling(light, PIXELS, LEVEL_NO_CEILING);
    assert_memory_equal(light, before, sizeof light);
    level_ceiling(light, 0, 0);
    assert_memory_equal(light, before, sizeof light);
    /* only the brightest counts, wherever it sits */
    float one[6] = {0.25f, 0, 0, 0, 0, 1};
    level_ceiling(one, 2, 0.125);
    assert_true(one[0] == 0.03125f && one[5] == 0.125f);
}

/* tests/data/light/easing_cubic_bezier.csv, ease-in-out of CSS, nine decimals. */
static void test_glide_table(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/easing_cubic_bezier.csv", 189);
    int checked = 0;
    for (size_t row = 0; row < table_rows(table); row++) {
        if (strcmp(table_text(table, row, "curve"), "ease-in-out") != 0)
            continue;
        double share = table_number(table, row, "exact");
        int64_t time = (int64_t)llround(table_number(table, row, "x") * 1e7);
        const double unders[] = {0, 0.1, 0.5, 1};
        for (int i = 0; i < 4; i++) {
            double wanted = 1 + (unders[i] - 1) * share;
            assert_true(fabs(level_glide(unders[i], time, INT64_MAX) - wanted) < 1e-9);
            assert_true(fabs(level_glide(unders[i], INT64_MAX, time) - wanted) < 1e-9);
            assert_true(fabs(level_glide(unders[i], time, time) - wanted) < 1e-9);
        }
        checked++;
    }
    assert_int_equal(checked, 21);
    table_free(table);
}

static void test_glide(void **state) {
    (void)state;
    const int64_t hour = INT64_C(3600000000);
    assert_true(level_glide(0.1, -1, hour) == LEVEL_NO_CEILING);
    assert_true(level_glide(0.1, hour, -1) == LEVEL_NO_CEILING);
    assert_true(level_glide(0.1, INT64_MIN, INT64_MIN) == LEVEL_NO_CEILING);
    assert_true(level_glide(0.1, 0, hour) == 1);
    assert_true(level_glide(0.1, hour, 0) == 1);
    assert_true(level_glide(0.1, LEVEL_GLIDE, hour) == 0.1);
    assert_true(level_glide(0.1, hour, LEVEL_GLIDE) == 0.1);
    assert_true(level_glide(0.1, INT64_MAX, INT64_MAX) == 0.1);
    double last = 1;
    for (int64_t time = 0; time <= LEVEL_GLIDE; time += 10000) {
        double in = level_glide(0.1, time, hour);
        assert_true(in <= last && last - in < 0.002); /* no jump: at most 1.7 times as fast */
        assert_true(in == level_glide(0.1, hour, time));
        last = in;
    }
    /* one shorter than both glides never comes down all the way */
    for (int64_t time = 0; time <= LEVEL_GLIDE; time += 100000)
        assert_true(level_glide(0, time, LEVEL_GLIDE - time) >= 0.5 - 1e-9);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_master),        cmocka_unit_test(test_ceiling),
        cmocka_unit_test(test_ceiling_edges), cmocka_unit_test(test_glide_table),
        cmocka_unit_test(test_glide),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
