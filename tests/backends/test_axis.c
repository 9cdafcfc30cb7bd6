/* Steps and labels of axes, by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "backends/axis.h"

#define SECOND INT64_C(1000000)
#define MINUTE (60 * SECOND)
#define HOUR (60 * MINUTE)

static void test_time_step(void **state) {
    (void)state;
    assert_int_equal(axis_time_step(30 * MINUTE, 13), 5 * MINUTE);
    assert_int_equal(axis_time_step(10 * SECOND, 13), SECOND);
    assert_int_equal(axis_time_step(24 * HOUR, 13), 2 * HOUR);
    assert_int_equal(axis_time_step(24 * HOUR, 4), 6 * HOUR);
    assert_int_equal(axis_time_step(350000, 4), 100000);
    assert_int_equal(axis_time_step(1, 13), 1);
    assert_int_equal(axis_time_step(0, 13), 1);
    assert_int_equal(axis_time_step(72 * HOUR, 3), 24 * HOUR);
    assert_int_equal(axis_time_step(365 * 24 * HOUR, 10), 50 * 24 * HOUR);
    /* 2^53 microseconds, the longest duration: 104,249 days, at most 12 steps */
    assert_int_equal(axis_time_step(INT64_C(9007199254740992), 12), 10000 * 24 * HOUR);
    for (int64_t length = 1; length < INT64_C(9007199254740992); length = length * 3 / 2 + 1) {
        int64_t step = axis_time_step(length, 12), small = axis_small_step(step);
        assert_true(step > 0 && length / step <= 12);
        assert_true(small > 0 && small <= step && step % small == 0);
    }
}

static void label(int64_t microseconds, const char *wanted) {
    char text[64];
    axis_time(microseconds, text, sizeof text);
    assert_string_equal(text, wanted);
}

static void test_time(void **state) {
    (void)state;
    label(0, "0");
    label(200000, "0.2 s");
    label(1, "0.000001 s");
    label(10 * SECOND, "10 s");
    label(-1500000, "-1.5 s");
    label(90 * SECOND, "1 min 30 s");
    label(30 * MINUTE, "30 min");
    label(2 * HOUR, "2 h");
    label(100 * MINUTE, "1 h 40 min");
    label(30 * HOUR, "1 d 6 h");
    label(-2 * MINUTE, "-2 min");
    label(20 * 24 * HOUR, "20 d");
    label(MINUTE + 500000, "1 min 0.5 s");
    char small[4];
    axis_time(100 * MINUTE, small, sizeof small);
    assert_string_equal(small, "1 h");
}

static void clock_label(int64_t microseconds, int64_t step, const char *wanted) {
    char text[64];
    axis_clock(microseconds, step, text, sizeof text);
    assert_string_equal(text, wanted);
}

static void test_clock(void **state) {
    (void)state;
    clock_label(0, HOUR, "00:00");
    clock_label(190 * MINUTE, 10 * MINUTE, "03:10");
    clock_label(190 * MINUTE + 5 * SECOND, 5 * SECOND, "03:10:05");
    clock_label(24 * HOUR, HOUR, "00:00");
    clock_label(49 * HOUR, HOUR, "01:00");
    clock_label(-HOUR, HOUR, "23:00");
}

static void test_count_step(void **state) {
    (void)state;
    assert_int_equal(axis_count_step(16, 17, true), 1);
    assert_int_equal(axis_count_step(16, 8, true), 2);
    assert_int_equal(axis_count_step(16, 5, true), 4);
    assert_int_equal(axis_count_step(60, 10, false), 10);
    assert_int_equal(axis_count_step(60, 12, false), 5);
    assert_int_equal(axis_count_step(100000, 10, false), 10000);
    assert_int_equal(axis_count_step(1, 1, false), 1);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_time_step),
        cmocka_unit_test(test_time),
        cmocka_unit_test(test_clock),
        cmocka_unit_test(test_count_step),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
