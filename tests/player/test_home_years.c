/* The baker's home for ten years, minute by minute: what the lantern plays is what the clock on the
 * wall says, that clock being the C library's with the system's time zone database; each wake-up
 * comes exactly once on a day that has one, and is the same light on each. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <time.h>

#include <cmocka.h>

#include "tests/support/stage.h"

enum { LANTERN, WINDOW, FIRST_YEAR = 2026, YEARS = 10 };

typedef struct Years {
    Home home;
    DiskReader disk;
    int64_t first, last; /* local midnights */
} Years;

static int64_t new_year(int year) {
    struct tm civil = {.tm_year = year - 1900, .tm_mday = 1, .tm_isdst = -1};
    return (int64_t)mktime(&civil) * SECOND;
}

static int years_start(void **state) {
    static Years years;
    setenv("TZ", "Europe/London", 1);
    tzset();
    disk_reader_start(&years.disk);
    home_open(&years.home, lang_compile(&years.disk.reader, "examples/home.gloam"));
    years.first = new_year(FIRST_YEAR);
    years.last = new_year(FIRST_YEAR + YEARS);
    *state = &years;
    return 0;
}

static int years_end(void **state) {
    Years *years = *state;
    home_end(&years->home);
    disk_reader_end(&years->disk);
    return 0;
}

static struct tm wall(int64_t utc) {
    time_t seconds = (time_t)(utc / SECOND);
    struct tm shown;
    assert_non_null(localtime_r(&seconds, &shown));
    return shown;
}

/* What the lines of the file say for the lantern: by 03:10 on tue..sat play daybreak (30 min),
 * at 04:00 play off, at 19:30 play dusk (40 min, then nightlight). */
static const char *by_the_clock(const struct tm *shown) {
    int minute = 60 * shown->tm_hour + shown->tm_min;
    bool wakes = shown->tm_wday >= 2 && shown->tm_wday <= 6;
    if (minute < 2 * 60 + 40)
        return "nightlight";
    if (minute < 4 * 60)
        return wakes ? "daybreak" : "nightlight";
    if (minute < 19 * 60 + 30)
        return "off";
    return minute < 20 * 60 + 10 ? "dusk" : "nightlight";
}

static const char *name_of(const Years *years, const TimetableState *state) {
    return state->routine == ROUTINE_OFF
               ? "off"
               : years->home.world.context.program->routines[state->routine].name;
}

static void test_minute_by_minute(void **state) {
    Years *years = *state;
    const TimetableContext *context = &years->home.world.context;
    int64_t next = years->first;
    TimetableState plays;
    for (int64_t utc = years->first; utc < years->last; utc += MINUTE) {
        if (utc >= next) {
            timetable_state(context, LANTERN, TIMETABLE_NOT_SAID, utc, &plays);
            next = timetable_next(context, LANTERN, TIMETABLE_NOT_SAID, utc);
            assert_true(next > utc && next % MINUTE == 0);
        }
        struct tm shown = wall(utc);
        const char *wanted = by_the_clock(&shown);
        if (strcmp(name_of(years, &plays), wanted) != 0)
            fail_msg("%04d-%02d-%02d %02d:%02d: %s, not %s", shown.tm_year + 1900, shown.tm_mon + 1,
                     shown.tm_mday, shown.tm_hour, shown.tm_min, name_of(years, &plays), wanted);
    }
}

/* How often a routine begins on each date, counted from the first. */
static uint32_t count_begins(const Years *years, int32_t lamp, const char *name, uint8_t *begins,
                             uint32_t days) {
    const TimetableContext *context = &years->home.world.context;
    int32_t first = days_from_civil((CivilDate){FIRST_YEAR, 1, 1});
    uint32_t all = 0;
    int64_t utc = years->first - 1;
    while ((utc = timetable_next(context, lamp, TIMETABLE_NOT_SAID, utc)) < years->last) {
        TimetableState plays;
        timetable_state(context, lamp, TIMETABLE_NOT_SAID, utc, &plays);
        if (plays.began != utc || strcmp(name_of(years, &plays), name) != 0)
            continue;
        struct tm shown = wall(utc);
        int32_t date =
            days_from_civil((CivilDate){shown.tm_year + 1900, shown.tm_mon + 1, shown.tm_mday});
        assert_true(date >= first && (uint32_t)(date - first) < days);
        begins[date - first]++;
        all++;
    }
    return all;
}

enum { DAYS_OF_ALL = 3652 }; /* 2028 and 2032 have a day more */

static void test_wake_ups(void **state) {
    Years *years = *state;
    uint8_t begins[DAYS_OF_ALL] = {0};
    int32_t first = days_from_civil((CivilDate){FIRST_YEAR, 1, 1});
    uint32_t all = count_begins(years, LANTERN, "daybreak", begins, DAYS_OF_ALL), wanted = 0;
    for (int32_t day = 0; day < DAYS_OF_ALL; day++) {
        int weekday = weekday_from_days(first + day); /* 0: Monday */
        bool wakes = weekday >= 1 && weekday <= 5;
        assert_int_equal(begins[day], wakes);
        wanted += wakes;
    }
    assert_int_equal(all, wanted);
    assert_true(wanted > 2600);
}

/* The window's moment of the sun comes once a date, too. */
static void test_window(void **state) {
    Years *years = *state;
    uint8_t begins[DAYS_OF_ALL] = {0};
    assert_int_equal(count_begins(years, WINDOW, "window_glow", begins, DAYS_OF_ALL), DAYS_OF_ALL);
    for (int32_t day = 0; day < DAYS_OF_ALL; day++)
        assert_int_equal(begins[day], 1);
}

/* Fully bright at 03:10, and what came before and after, to the bit. */
static void test_the_same_light(void **state) {
    Years *years = *state;
    Now now = home_now(years->first);
    Performance *performance = home_performance(&years->home, LANTERN, &now);
    float wanted[3][3 * HOME_PIXELS], light[3 * HOME_PIXELS];
    size_t bytes = 3 * sizeof *light * years->home.lamps[LANTERN].scene.pixels;
    uint32_t mornings = 0;
    for (int day = 0; day < DAYS_OF_ALL; day++) {
        struct tm civil = {.tm_year = FIRST_YEAR - 1900,
                           .tm_mday = 1 + day,
                           .tm_hour = 3,
                           .tm_min = 10,
                           .tm_isdst = -1};
        int64_t bright = (int64_t)mktime(&civil) * SECOND;
        if (civil.tm_wday < 2)
            continue;
        const int64_t instants[3] = {bright - 30 * MINUTE, bright - 13 * MINUTE, bright};
        for (int i = 0; i < 3; i++) {
            assert_true(performance_light(performance, instants[i], light));
            if (mornings == 0)
                memcpy(wanted[i], light, bytes);
            assert_memory_equal(light, wanted[i], bytes);
        }
        mornings++;
    }
    assert_true(mornings > 2600);
    /* 2700K at full level: the largest channel is 1. */
    assert_true(fabs((double)wanted[2][0] - 1) < 1e-6);
    assert_true(wanted[0][0] < 0.05F && wanted[1][0] > wanted[0][0] && wanted[1][0] < wanted[2][0]);
    performance_free(performance);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_minute_by_minute),
        cmocka_unit_test(test_wake_ups),
        cmocka_unit_test(test_window),
        cmocka_unit_test(test_the_same_light),
    };
    return cmocka_run_group_tests(tests, years_start, years_end);
}
