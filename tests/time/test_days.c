/* The dates of entries against a walk over every day with the calendar of the C library (gmtime).
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include "runtime/core/civil.h"
#include "runtime/time/days.h"
#include "tests/support/chance.h"

static const TimetableDays every_day = {.weekdays = TIMETABLE_ALL_WEEKDAYS,
                                        .months = TIMETABLE_ALL_MONTHS,
                                        .from = INT32_MIN,
                                        .until = INT32_MAX};

/* What the comments of runtime/core/timetable.h say, word by word. */
static bool holds(const TimetableDays *days, int32_t date) {
    time_t when = (time_t)date * 86400;
    struct tm civil;
    gmtime_r(&when, &civil);
    int weekday = (civil.tm_wday + 6) % 7;
    if (!(days->weekdays >> weekday & 1) || days->except_weekdays >> weekday & 1 ||
        !(days->months >> civil.tm_mon & 1) || date < days->from || date > days->until)
        return false;
    if (days->rota_length > 0) {
        int32_t day = (date - days->from) % days->rota_length + 1;
        if (day < days->rota_first || day > days->rota_last)
            return false;
    }
    for (uint32_t i = 0; i < days->except_count; i++)
        if (date >= days->except[i].first && date <= days->except[i].last)
            return false;
    return true;
}

static int32_t below(int32_t most) {
    return (int32_t)(chance() % (uint64_t)most);
}

static void random_days(TimetableDays *days, DateRange except[4], int32_t middle) {
    *days = every_day;
    if (chance() % 2)
        days->weekdays = (uint16_t)(1 + below(0x7F));
    if (chance() % 3 == 0)
        days->months = (uint16_t)(1 + below(0xFFF));
    if (chance() % 3 == 0)
        days->except_weekdays = (uint16_t)(1u << below(7));
    if (chance() % 3 == 0)
        days->until = middle - 1000 + below(2000);
    if (chance() % 2) {
        days->from = middle - 2000 + below(2000);
        if (chance() % 2) {
            days->rota_length = 1 + below(chance() % 2 ? 30 : 700);
            days->rota_first = 1 + below(days->rota_length);
            days->rota_last = days->rota_first + below(days->rota_length - days->rota_first + 1);
        }
    }
    days->except_count = (uint32_t)below(5);
    for (uint32_t i = 0; i < days->except_count; i++) {
        except[i].first = middle - 500 + below(1000);
        except[i].last = except[i].first + below(200);
    }
    days->except = except;
}

static void test_any_days(void **state) {
    (void)state;
    size_t found_last = 0, found_next = 0;
    for (int round = 0; round < 3000; round++) {
        int32_t middle = 15000 + below(10000), wanted = middle, got;
        DateRange except[4];
        TimetableDays days;
        random_days(&days, except, middle);
        while (wanted > middle - 4000 && !holds(&days, wanted))
            wanted--;
        if (wanted > middle - 4000) {
            assert_true(days_last(&days, middle, &got));
            assert_int_equal(got, wanted);
            found_last++;
        } else if (days_last(&days, middle, &got)) {
            assert_true(got <= wanted && holds(&days, got));
        }
        for (wanted = middle; wanted < middle + 4000 && !holds(&days, wanted);)
            wanted++;
        if (wanted < middle + 4000) {
            assert_true(days_next(&days, middle, &got));
            assert_int_equal(got, wanted);
            found_next++;
        } else if (days_next(&days, middle, &got)) {
            assert_true(got >= wanted && holds(&days, got));
        }
    }
    print_message("%zu with a last, %zu with a next\n", found_last, found_next);
    assert_true(found_last > 1000 && found_next > 1000);
}

static int32_t date_of(int32_t year, int32_t month, int32_t day) {
    return days_from_civil((CivilDate){year, month, day});
}

static double milliseconds(clock_t since) {
    return (double)(clock() - since) * 1000.0 / CLOCKS_PER_SEC;
}

/* Sparse dates and none at all, by calculation: each answer within milliseconds. */
static void test_far_away(void **state) {
    (void)state;
    int32_t got;
    TimetableDays days = every_day;
    days.months = 1u << 1; /* Sundays in February */
    days.weekdays = 1u << 6;
    assert_true(days_last(&days, date_of(2026, 11, 25), &got));
    assert_int_equal(got, date_of(2026, 2, 22));
    days = every_day;
    days.from = date_of(1, 1, 1);
    days.rota_first = days.rota_last = 1;
    days.rota_length = 7; /* every Monday (0001-01-01 was one): never a Tuesday */
    assert_int_equal(weekday_from_days(days.from), 0);
    days.weekdays = 1u << 1;
    assert_false(days_last(&days, date_of(9999, 12, 31), &got));
    assert_false(days_next(&days, date_of(1, 1, 1), &got));
    days.weekdays = TIMETABLE_ALL_WEEKDAYS;
    assert_true(days_last(&days, date_of(2026, 11, 25), &got));
    assert_int_equal(got, date_of(2026, 11, 23));
    days.rota_length = 10000; /* one day in 27 years, and it shall be a Monday in February */
    days.weekdays = 1;
    days.months = 1u << 1;
    clock_t since = clock();
    bool found = days_next(&days, date_of(2, 1, 1), &got);
    assert_true(!found || holds(&days, got));
    assert_true(milliseconds(since) < 500.0);
    days = every_day;
    days.except_weekdays = TIMETABLE_ALL_WEEKDAYS;
    assert_false(days_last(&days, 0, &got));
    days = every_day;
    assert_false(days_next(&days, INT32_MAX, &got));
    assert_true(days_last(&days, INT32_MAX, &got));
    assert_int_equal(got, date_of(9999, 12, 31));
    assert_true(days_next(&days, INT32_MIN, &got));
    assert_int_equal(got, date_of(0, 1, 1));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_any_days),
        cmocka_unit_test(test_far_away),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
