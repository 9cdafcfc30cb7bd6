/* The days that come, as the page tells them, against tables whose heads say where they are from:
 * sunrise and sunset, every change of a clock in eleven zones; what a small timetable plays is
 * worked out by hand beside it. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/core/memory.h"
#include "runtime/service/page/content.h"
#include "tests/support/moments.h"
#include "tests/support/scored.h"
#include "tests/support/table.h"

static json_t *week_of(const Score *score, const char *date, int days) {
    int32_t first = day_of(date);
    json_t *week = content_week(score, 0, first, days, first * INT64_C(86400000000));
    assert_non_null(week);
    assert_int_equal(json_array_size(member(week, "days")), days);
    return week;
}

static Score *score_at(double latitude, double longitude, const char *zone) {
    char text[512];
    snprintf(text, sizeof text,
             "place %.4f, %.4f zone \"%s\"\nroutine glow { paint #ff8800 }\nat 06:00 play glow\n",
             latitude, longitude, zone);
    return scored(text);
}

/* -------- sun -------- */

/* As tests/time/test_sun.c has it up to 65 degrees: 10 s; and 1 s for what is cut off. */
static void assert_near(const json_t *sun, const char *name, const char *wanted) {
    double off = (double)(seconds(text_member(sun, name)) - seconds(wanted));
    if (fabs(off) > 11)
        fail_msg("expected %s at %s, not %s", name, wanted, text_member(sun, name));
}

/* The local clock's minute, where the table's second is not so near a full minute that some seconds
 * decide. */
static void assert_clock(const json_t *sun, const char *name, const char *local) {
    int second = atoi(local + 17);
    char minute[6];
    snprintf(minute, sizeof minute, "%.5s", local + 11);
    if (second > 15 && second < 45)
        assert_string_equal(text_member(sun, name), minute);
}

static void sunrise_and_sunset_are_those_of_the_table(void **state) {
    (void)state;
    Table *table = table_read("tests/data/time/sun-times.csv", 240);
    size_t normal = 0, up = 0, down = 0;
    Score *score = NULL;
    for (size_t row = 0; row < table_rows(table); row++) {
        const char *date = table_text(table, row, "local_date");
        const char *kind = table_text(table, row, "state");
        double latitude = table_number(table, row, "lat_deg_N");
        bool same = row > 0 && strcmp(table_text(table, row, "place"),
                                      table_text(table, row - 1, "place")) == 0;
        if (!same) {
            score_free(score);
            score = score_at(latitude, table_number(table, row, "lon_deg_E"),
                             table_text(table, row, "zone"));
        }
        json_t *week = week_of(score, date, 1);
        const json_t *day = json_array_get(member(week, "days"), 0), *sun = member(day, "sun");
        assert_string_equal(text_member(day, "date"), date);
        if (strcmp(kind, "normal") == 0) {
            assert_string_equal(text_member(sun, "kind"), "rises");
            /* near the seasons without a night a sunset may belong to the next date */
            if (fabs(latitude) <= 65) {
                assert_near(sun, "rises", table_text(table, row, "sunrise_utc"));
                assert_near(sun, "sets", table_text(table, row, "sunset_utc"));
                assert_clock(sun, "rises_clock", table_text(table, row, "sunrise_local"));
                assert_clock(sun, "sets_clock", table_text(table, row, "sunset_local"));
                normal++;
            }
        } else {
            bool above = strcmp(kind, "sun_always_up") == 0;
            assert_string_equal(text_member(sun, "kind"), above ? "stays-up" : "stays-down");
            assert_true(json_is_null(member(sun, "rises")));
            *(above ? &up : &down) += 1;
        }
        json_decref(week);
    }
    score_free(score);
    table_free(table);
    assert_int_equal(normal, 180);
    assert_int_equal(up, 17);
    assert_int_equal(down, 14);
}

static void without_a_place_there_is_no_sun(void **state) {
    (void)state;
    Score *score = scored("routine glow { paint gold }\nat 06:00 play glow\n");
    json_t *week = week_of(score, "2026-03-28", 1);
    assert_true(json_is_null(member(json_array_get(member(week, "days"), 0), "sun")));
    json_decref(week);
    score_free(score);
}

/* -------- clocks -------- */

static void assert_reading(const json_t *change, const char *name, const char *wall) {
    char minute[6];
    snprintf(minute, sizeof minute, "%.5s", wall + 11);
    assert_string_equal(text_member(change, name), minute);
}

/* The day on which the clock shows `before` when it changes: its length, and as many colours. */
static void assert_change(const Table *table, size_t row, const json_t *day) {
    const json_t *change = member(day, "change");
    const char *utc = table_text(table, row, "utc_instant");
    if (!json_is_object(change))
        fail_msg("expected a change of the clock at %s in %s", utc, table_text(table, row, "zone"));
    assert_int_equal(seconds(text_member(change, "at")), seconds(utc));
    assert_reading(change, "before", table_text(table, row, "wall_clock_reading_before"));
    assert_reading(change, "after", table_text(table, row, "wall_clock_reading_after"));
    int64_t length = seconds(text_member(day, "ends")) - seconds(text_member(day, "begins"));
    int64_t shift = (int64_t)table_number(table, row, "shift_seconds");
    assert_int_equal(length, 86400 - shift);
    assert_int_equal(json_array_size(member(day, "colours")), (86400 - shift) / 900);
}

/* Where the change comes at midnight, neither date is simply that of the reading before. */
static bool at_midnight(const char *before, const char *after) {
    return strstr(before, "T00:00:00") || strstr(after, "T00:00:00") ||
           strncmp(before, after, 10) != 0;
}

static void clocks_change_as_the_table_has_it(void **state) {
    (void)state;
    Table *table = table_read("tests/data/time/tz-transitions.csv", 82);
    size_t checked = 0, london = 0;
    for (size_t row = 0; row < table_rows(table); row++) {
        const char *zone = table_text(table, row, "zone");
        const char *before = table_text(table, row, "wall_clock_reading_before");
        /* Casablanca's depend on the release of the machine's data: the comment of the table. */
        if (strcmp(table_text(table, row, "kind"), "start") == 0 ||
            strcmp(zone, "Africa/Casablanca") == 0 ||
            at_midnight(before, table_text(table, row, "wall_clock_reading_after")))
            continue;
        char date[11];
        snprintf(date, sizeof date, "%.10s", before);
        Score *score = score_at(50, 0, zone);
        json_t *week = week_of(score, date, 2);
        assert_string_equal(text_member(week, "zone"), zone);
        assert_change(table, row, json_array_get(member(week, "days"), 0));
        const json_t *next = json_array_get(member(week, "days"), 1);
        assert_true(json_is_null(member(next, "change")));
        assert_int_equal(json_array_size(member(next, "colours")), 96);
        london += strcmp(zone, "Europe/London") == 0 && strncmp(date, "2026", 4) == 0;
        checked++;
        json_decref(week);
        score_free(score);
    }
    table_free(table);
    assert_int_equal(checked, 56);
    assert_int_equal(london, 2);
}

/* -------- what plays -------- */

static const char BAKERY[] = "place 51.45, -2.59 zone \"Europe/London\"\n"
                             "lamp lantern { pixels 16 shape ring }\n"
                             "lamp window { pixels 60 }\n"
                             "routine daybreak lasts 30min { paint black -> 2700K throughout }\n"
                             "routine day { paint #ff8800 }\n"
                             "by 03:10 play daybreak on lamp lantern\n"
                             "at 05:00 play day\n"
                             "at 17:00 play off\n"
                             "at 18:00 play day for 90min on lamp window\n";

static void assert_play(const json_t *plays, size_t i, const char *at, const char *clock,
                        const char *routine, const char *cause) {
    const json_t *play = json_array_get(plays, i);
    assert_string_equal(text_member(play, "at"), at);
    assert_string_equal(text_member(play, "clock"), clock);
    assert_string_equal(text_member(play, "routine"), routine);
    assert_string_equal(text_member(play, "cause"), cause);
    assert_string_equal(text_member(play, "kind"), "begins");
}

/* On 29 March 2026 the clocks of London go from 01:00 to 02:00 (the table above): 03:10 is 02:10
 * UTC, and half an hour before it 02:40 on the clock. */
static void plays_are_in_their_order_with_their_causes(void **state) {
    (void)state;
    Score *score = scored(BAKERY);
    json_t *week = week_of(score, "2026-03-28", 2);
    const json_t *days = member(week, "days");
    assert_true(json_is_true(member(week, "whole")));
    assert_string_equal(text_member(week, "lamp"), "lantern");
    assert_string_equal(text_member(json_array_get(days, 0), "weekday"), "Saturday");
    assert_string_equal(text_member(json_array_get(days, 1), "weekday"), "Sunday");
    const json_t *plays = member(json_array_get(days, 0), "plays");
    assert_int_equal(json_array_size(plays), 3);
    assert_play(plays, 0, "2026-03-28T02:40:00Z", "02:40", "daybreak", "by 03:10");
    assert_play(plays, 1, "2026-03-28T05:00:00Z", "05:00", "day", "at 05:00");
    assert_play(plays, 2, "2026-03-28T17:00:00Z", "17:00", "off", "at 17:00");
    plays = member(json_array_get(days, 1), "plays");
    assert_int_equal(json_array_size(plays), 3);
    assert_play(plays, 0, "2026-03-29T01:40:00Z", "02:40", "daybreak", "by 03:10");
    assert_play(plays, 1, "2026-03-29T04:00:00Z", "05:00", "day", "at 05:00");
    json_decref(week);
    score_free(score);
}

static void another_lamp_has_its_own(void **state) {
    (void)state;
    Score *score = scored(BAKERY);
    int32_t date = day_of("2026-06-01");
    json_t *week = content_week(score, 1, date, 1, date * INT64_C(86400000000));
    assert_string_equal(text_member(week, "lamp"), "window");
    const json_t *plays = member(json_array_get(member(week, "days"), 0), "plays");
    assert_int_equal(json_array_size(plays), 4);
    assert_play(plays, 0, "2026-06-01T04:00:00Z", "05:00", "day", "at 05:00");
    assert_play(plays, 2, "2026-06-01T17:00:00Z", "18:00", "day", "at 18:00");
    assert_string_equal(text_member(json_array_get(plays, 2), "until"), "2026-06-01T18:30:00Z");
    /* after 90 minutes what it covered, `off`, plays on */
    assert_string_equal(text_member(json_array_get(plays, 3), "kind"), "ends");
    assert_string_equal(text_member(json_array_get(plays, 3), "clock"), "19:30");
    json_decref(week);
    score_free(score);
}

static void assert_colours(const json_t *colours, size_t from, size_t to, const char *wanted) {
    for (size_t i = from; i < to; i++)
        if (strcmp(json_string_value(json_array_get(colours, i)), wanted) != 0)
            fail_msg("expected %s in quarter %zu, not %s", wanted, i,
                     json_string_value(json_array_get(colours, i)));
}

/* The colour as it is written, from 05:00 to 17:00. A fade of a second begins with each; so the
 * quarters of 05:00 and 17:00 themselves are not looked at. On 29 March 05:00 is the sixteenth
 * quarter of the day, on 25 October the twenty-fourth. */
static void each_quarter_has_its_colour(void **state) {
    (void)state;
    Score *score = scored("place 51.45, -2.59 zone \"Europe/London\"\n"
                          "routine day { paint #ff8800 }\nat 05:00 play day\nat 17:00 play off\n");
    static const struct {
        const char *date;
        size_t five, five_pm, all;
    } DAYS[] = {
        {"2026-03-28", 20, 68, 96}, {"2026-03-29", 16, 64, 92}, {"2026-10-25", 24, 72, 100}};
    for (size_t i = 0; i < sizeof DAYS / sizeof *DAYS; i++) {
        json_t *week = week_of(score, DAYS[i].date, 1);
        const json_t *colours = member(json_array_get(member(week, "days"), 0), "colours");
        assert_int_equal(json_array_size(colours), DAYS[i].all);
        assert_colours(colours, 0, DAYS[i].five, "#000000");
        assert_colours(colours, DAYS[i].five + 1, DAYS[i].five_pm, "#ff8800");
        assert_colours(colours, DAYS[i].five_pm + 1, DAYS[i].all, "#000000");
        json_decref(week);
    }
    score_free(score);
}

/* -------- bounds -------- */

static void a_large_lamp_has_fewer_colours(void **state) {
    (void)state;
    /* Many instructions on many pixels: worked out for each quarter of 14 days it would take
     * minutes; on fewer pixels some quarters share a colour. */
    char text[8192];
    static const unsigned PIXELS[] = {100000, 3000};
    for (int i = 0; i < 2; i++) {
        int used = snprintf(text, sizeof text,
                            "lamp wall { pixels %u }\nroutine waves { paint gold * (0", PIXELS[i]);
        for (int k = 1; k <= 30; k++)
            used += snprintf(text + used, sizeof text - (size_t)used,
                             " + abs(sin(t / %ds * 1turn + x * %dturn)) / 30", k, k);
        snprintf(text + used, sizeof text - (size_t)used, ") }\nat 00:00 play waves\n");
        Score *score = scored(text);
        json_t *week = week_of(score, "2026-06-01", 14);
        const json_t *colours = member(json_array_get(member(week, "days"), 3), "colours");
        assert_int_equal(json_array_size(colours), i == 0 ? 0 : 96);
        assert_int_equal(json_array_size(member(json_array_get(member(week, "days"), 3), "plays")),
                         1);
        json_decref(week);
        score_free(score);
    }
}

static void very_many_plays_are_cut(void **state) {
    (void)state;
    Score *score = scored("routine beat { paint gold }\n"
                          "at 00:00..23:59 every 1min play beat for 30s\n");
    json_t *week = week_of(score, "2026-06-01", 14);
    assert_true(json_is_false(member(week, "whole")));
    size_t plays = 0;
    for (size_t i = 0; i < 14; i++)
        plays += json_array_size(member(json_array_get(member(week, "days"), i), "plays"));
    assert_true(plays > 100 && plays <= 5000);
    /* what is listed is right up to where it ends, and a day that is not whole has no colours */
    const json_t *first = json_array_get(member(week, "days"), 0);
    assert_string_equal(text_member(json_array_get(member(first, "plays"), 0), "clock"), "00:00");
    assert_int_equal(json_array_size(member(json_array_get(member(week, "days"), 13), "colours")),
                     0);
    json_decref(week);
    score_free(score);
}

static void out_of_memory_is_told(void **state) {
    (void)state;
    Score *score = scored(BAKERY);
    int32_t date = day_of("2026-06-01");
    unsigned long before = memory_live(), at = 1;
    for (bool failed = true; failed && at < 400; at++) {
        memory_fail_at(at);
        json_t *week = content_week(score, 0, date, 1, date * INT64_C(86400000000));
        memory_fail_at(0);
        failed = week == NULL;
        json_decref(week);
        assert_int_equal(memory_live(), before);
    }
    assert_true(at > 10);
    score_free(score);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sunrise_and_sunset_are_those_of_the_table),
        cmocka_unit_test(without_a_place_there_is_no_sun),
        cmocka_unit_test(clocks_change_as_the_table_has_it),
        cmocka_unit_test(plays_are_in_their_order_with_their_causes),
        cmocka_unit_test(another_lamp_has_its_own),
        cmocka_unit_test(each_quarter_has_its_colour),
        cmocka_unit_test(a_large_lamp_has_fewer_colours),
        cmocka_unit_test(very_many_plays_are_cut),
        cmocka_unit_test(out_of_memory_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
