/* Dates and day numbers against the calendar of the C library (timegm, gmtime_r), which ISO 8601
 * and POSIX define. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <time.h>

#include <cmocka.h>

#include "runtime/core/civil.h"

static void check_day(int32_t days) {
    time_t seconds = (time_t)days * 86400;
    struct tm tm;
    assert_non_null(gmtime_r(&seconds, &tm));
    CivilDate date = civil_from_days(days);
    if (date.year != tm.tm_year + 1900 || date.month != tm.tm_mon + 1 || date.day != tm.tm_mday)
        fail_msg("day %d is %d-%d-%d, not %d-%d-%d", days, tm.tm_year + 1900, tm.tm_mon + 1,
                 tm.tm_mday, date.year, date.month, date.day);
    if (days_from_civil(date) != days)
        fail_msg("day %d comes back as %d", days, days_from_civil(date));
    if (weekday_from_days(days) != (tm.tm_wday + 6) % 7)
        fail_msg("day %d has weekday %d", days, weekday_from_days(days));
    if (civil_days_before_month(date.year, date.month) + date.day - 1 != tm.tm_yday)
        fail_msg("day %d of the year is %d", days, tm.tm_yday);
}

/* Every day of the years that four digits can write, 0000 to 9999: 3652425 of them. */
static void test_every_day(void **state) {
    (void)state;
    int32_t first = days_from_civil((CivilDate){0, 1, 1});
    int32_t last = days_from_civil((CivilDate){9999, 12, 31});
    assert_int_equal(last - first + 1, 25 * 146097); /* 400 years have 146097 days */
    for (int32_t days = first; days <= last; days++)
        check_day(days);
}

static void test_far_away(void **state) {
    (void)state;
    int32_t first = civil_days_before_year(-CIVIL_YEARS);
    int32_t last = civil_days_before_year(CIVIL_YEARS) + 364;
    for (int32_t days = first; days < last - 10007; days += 9973)
        check_day(days);
    check_day(first);
    check_day(last);
}

/* POSIX: the Epoch is 1970-01-01, a Thursday; leap years as the Gregorian rule has them. */
static void test_known(void **state) {
    (void)state;
    assert_int_equal(days_from_civil((CivilDate){1970, 1, 1}), 0);
    assert_int_equal(weekday_from_days(0), 3);
    assert_int_equal(weekday_from_days(-1), 2);
    assert_true(civil_is_leap(2000) && civil_is_leap(2028) && civil_is_leap(-4));
    assert_false(civil_is_leap(1900) || civil_is_leap(2100) || civil_is_leap(2026));
    static const int lengths[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    for (int month = 1; month <= 12; month++) {
        assert_int_equal(civil_days_in_month(2026, month), lengths[month - 1]);
        assert_int_equal(civil_days_in_month(2028, month), lengths[month - 1] + (month == 2));
    }
    assert_int_equal(civil_floor_divide(-7, 7), -1);
    assert_int_equal(civil_floor_divide(-8, 7), -2);
    assert_int_equal(civil_floor_divide(6, 7), 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_day),
        cmocka_unit_test(test_far_away),
        cmocka_unit_test(test_known),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
