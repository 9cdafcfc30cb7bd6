/* What a timetable plays and when: the tables of tests/data/time say how they were made; the rest
 * is worked out by hand from what the language says, beside each text. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include "lang/compile.h"
#include "runtime/core/civil.h"
#include "runtime/library/reader.h"
#include "runtime/time/timetable.h"
#include "tests/support/chance.h"
#include "tests/support/moments.h"
#include "tests/support/table.h"
#include "tests/support/zones.h"

#define SECOND INT64_C(1000000)
#define MINUTE (60 * SECOND)
#define HOUR (60 * MINUTE)
#define DAY (24 * HOUR)

/* -------- a home -------- */

#define ROUTINES                                                                                   \
    "lamp lantern { pixels 16 shape ring }\n"                                                      \
    "lamp shelf { pixels 60 part left 0..29 part right 30..59 }\n"                                 \
    "routine daybreak lasts 30min { paint black -> 2700K throughout }\n"                           \
    "routine dusk lasts 40min then nightlight { paint 2700K -> #ff3a00 * 2% throughout }\n"        \
    "routine nightlight { paint #ff3a00 * 2% }\n"                                                  \
    "routine glow { paint 2700K * 50% }\n"                                                         \
    "routine strike lasts 24s { paint gold | black every 2s }\n"                                   \
    "routine slow lasts 100h { paint black -> gold throughout }\n"                                 \
    "routine first lasts 1s then second { paint gold }\n"                                          \
    "routine second lasts 2s then third { paint black }\n"                                         \
    "routine third lasts 3s { paint teal }\n"                                                      \
    "routine brief lasts 10s then off { paint gold }\n"                                            \
    "until clock is set play off\n"

typedef struct Home {
    Compilation *compilation;
    Zone *zone;
    TimetableContext context;
} Home;

enum { LANTERN, SHELF };
enum { LEFT, RIGHT };
#define WHOLE TIMETABLE_NOT_SAID

static void home_start(Home *home, const char *place, const char *lines) {
    static char text[16384];
    snprintf(text, sizeof text, "place %s\n%s%s\n", place, ROUTINES, lines);
    TextReader one = {text, strlen(text)};
    LangReader reader = {text_reader_read, &one};
    home->compilation = lang_compile(&reader, "home.gloam");
    assert_non_null(home->compilation);
    const Timetable *timetable = lang_timetable(home->compilation);
    if (!timetable) {
        diagnostics_print(lang_diagnostics(home->compilation), stderr, false);
        fail_msg("not compiled");
    }
    home->zone = zone_named(timetable->place.zone);
    home->context = (TimetableContext){timetable, lang_program(home->compilation), home->zone};
}

static void home_end(Home *home) {
    lang_free(home->compilation);
    zone_free(home->zone);
}

#define BRISTOL "51.45, -2.59 zone \"Europe/London\""

static int64_t utc_of(const char *text) {
    return seconds(text) * SECOND;
}

/* Of a reading of the home's clock, 2026-11-25T06:00 with or without seconds. */
static int64_t local(const Home *home, const char *text) {
    int64_t wall = seconds(text);
    return timetable_local_instant(&home->context, (int32_t)civil_floor_divide(wall, 86400),
                                   (int32_t)(wall - 86400 * civil_floor_divide(wall, 86400)));
}

static const char *name_of(const Home *home, uint16_t routine) {
    return routine == ROUTINE_OFF ? "off" : home->context.program->routines[routine].name;
}

/* "-": nothing plays. `since` is local time too. */
static void plays_on(const Home *home, int32_t lamp, int32_t part, const char *now,
                     const char *routine, const char *since) {
    TimetableState state;
    timetable_state(&home->context, lamp, part, local(home, now), &state);
    const char *got = state.plays ? name_of(home, state.routine) : "-";
    if (strcmp(got, routine) != 0)
        fail_msg("at %s plays %s, not %s", now, got, routine);
    if (state.plays && state.since != local(home, since))
        fail_msg("at %s %s is %.3f s off", now, routine,
                 (double)(state.since - local(home, since)) / 1e6);
}

static void plays(const Home *home, const char *now, const char *routine, const char *since) {
    plays_on(home, LANTERN, WHOLE, now, routine, since);
}

static void next_at(const Home *home, const char *now, const char *next) {
    int64_t got = timetable_next(&home->context, LANTERN, WHOLE, local(home, now));
    int64_t wanted = next ? local(home, next) : TIMETABLE_NEVER;
    if (got != wanted)
        fail_msg("next after %s: %.3f s off %s", now, (double)(got - wanted) / 1e6, next);
}

/* -------- tables -------- */

/* A line for one date, `how` being `at` or `by`. */
static void one_date(Home *home, const char *zone, const char *how, const char *wall,
                     const char *play) {
    char place[128], lines[512];
    snprintf(place, sizeof place, "0, 0 zone \"%s\"", zone);
    snprintf(lines, sizeof lines, "%s %.5s from %.10s until %.10s play %s", how, wall + 11, wall,
             wall, play);
    home_start(home, place, lines);
}

static void state_row(const Table *table, size_t row) {
    const char *id = table_text(table, row, "id"),
               *length = table_text(table, row, "length_given_as");
    char play[64];
    int count;
    if (sscanf(length, "for %d s", &count) == 1)
        snprintf(play, sizeof play, "glow for %ds", count);
    else
        snprintf(play, sizeof play, "glow until %.5s", length + strlen("until 2026-03-29T"));
    Home home;
    one_date(&home, table_text(table, row, "zone"), "at", table_text(table, row, "start_local"),
             play);
    TimetableState state;
    int64_t now = utc_of(table_text(table, row, "now_utc"));
    timetable_state(&home.context, LANTERN, WHOLE, now, &state);
    bool running = strcmp(table_text(table, row, "state"), "running") == 0;
    if (state.plays != running)
        fail_msg("%s", id);
    if (running) {
        assert_int_equal(state.began, utc_of(table_text(table, row, "start_utc")));
        assert_int_equal(state.ends, utc_of(table_text(table, row, "end_utc")));
        assert_int_equal(now - state.since,
                         SECOND * (int64_t)table_number(table, row, "elapsed_s"));
        double fraction = (double)(now - state.began) / (double)(state.ends - state.began);
        assert_true(fabs(fraction - table_number(table, row, "fraction")) < 1e-6);
    }
    home_end(&home);
}

static void test_routine_states(void **state) {
    (void)state;
    Table *table = table_read("tests/data/time/routine-state.csv", 15);
    for (size_t row = 0; row < table_rows(table); row++)
        state_row(table, row);
    table_free(table);
}

/* PT2H is `for 2h`, P1D `until` the same time of day; -PT30M a `by` of what lasts so long. */
static bool duration_row(const Table *table, size_t row) {
    const char *duration = table_text(table, row, "duration");
    const char *zone = table_text(table, row, "zone"),
               *start = table_text(table, row, "start_local");
    int64_t end = utc_of(table_text(table, row, "end_utc"));
    int64_t begin = utc_of(table_text(table, row, "start_utc"));
    int hours;
    char play[64];
    if (sscanf(duration, "PT%dH", &hours) == 1)
        snprintf(play, sizeof play, "glow for %dh", hours);
    else if (strcmp(duration, "P1D") == 0)
        snprintf(play, sizeof play, "glow until %.5s", start + 11);
    else if (strcmp(duration, "-PT30M") == 0)
        snprintf(play, sizeof play, "daybreak");
    else
        return false;
    bool back = duration[0] == '-';
    Home home;
    one_date(&home, zone, back ? "by" : "at", start, play);
    TimetableState state;
    timetable_state(&home.context, LANTERN, WHOLE, back ? end : begin, &state);
    if (!state.plays || state.began != (back ? end : begin) ||
        state.ends != (back ? TIMETABLE_NEVER : end))
        fail_msg("%s %s %s: %.0f s off", zone, start, duration, (double)(state.ends - end) / 1e6);
    home_end(&home);
    return true;
}

static void test_durations(void **state) {
    (void)state;
    Table *table = table_read("tests/data/time/durations.csv", 20);
    size_t skipped = 0;
    for (size_t row = 0; row < table_rows(table); row++)
        if (!duration_row(table, row)) {
            print_message("%s skipped: the language has no such end\n",
                          table_text(table, row, "duration"));
            skipped++;
        }
    assert_int_equal(skipped, 2); /* P1W, P1M */
    table_free(table);
}

/* What the rules of the table are in this language; those of a day of the month are none. */
static const struct {
    const char *rule, *lines;
} rules[] = {
    {"R01", "at 06:30 on weekdays from 2026-03-23 except 2026-04-03, 2026-04-06 play glow for 1s"},
    {"R02", "at 08:30 on weekends from 2026-03-21 play glow for 1s"},
    {"R03", "at 07:00 on days 1..1 of 2 from 2024-02-25 play glow for 1s"},
    {"R04", "at 07:00 on days 1..1 of 2 from 2026-02-25 play glow for 1s"},
    {"R05", "at 21:00 on days 1..3 of 14 from 2026-12-14 play glow for 1s"},
    {"R06", "at 09:00 on days 1..1 of 14 from 1997-08-05 until 1997-08-24 play glow for 1s\n"
            "at 09:00 on days 1..1 of 14 from 1997-08-10 until 1997-08-24 play glow for 1s"},
    {"R07", "at 09:00 on days 1..1 of 14 from 1997-08-05 until 1997-08-31 play glow for 1s\n"
            "at 09:00 on days 1..1 of 14 from 1997-08-17 until 1997-08-31 play glow for 1s"},
    {"R08", "at 19:30 from 2025-03-26 until 2025-04-01 play glow for 1s"},
    {"R12", "at 01:30 from 2026-03-27 play glow for 1s"},
    {"R13", "at 01:30 from 2026-10-24 play glow for 1s"},
    {"R14", "at 02:30 from 2026-03-07 play glow for 1s"},
    {"R15", "at 00:00 from 2026-09-05 play glow for 1s"},
    {"R16", "at 18:00 on days 1..1 of 8 from 2026-06-01 play glow for 1s"},
    {"R17", "at 07:00 from 2026-04-01 until 2026-04-03 play glow for 1s"},
    {"R18", "at 07:00 from 2026-04-01 until 2026-04-03 except 2026-04-01 play glow for 1s"},
    {"R20", "at 07:00 on weekdays in nov..feb from 2026-10-27 play glow for 1s"},
};

static bool ends_there(const char *rule) {
    return strcmp(rule, "R06") == 0 || strcmp(rule, "R07") == 0 || strcmp(rule, "R08") == 0 ||
           strcmp(rule, "R17") == 0 || strcmp(rule, "R18") == 0;
}

/* All rows of a rule, one after the other: each is the next after the one before. */
static size_t rule_rows(const Table *table, const char *rule, const char *lines) {
    size_t found = 0;
    Home home;
    int64_t now = 0;
    for (size_t row = 0; row < table_rows(table); row++) {
        if (strcmp(table_text(table, row, "rule"), rule) != 0)
            continue;
        int64_t wanted = utc_of(table_text(table, row, "utc_by_3_3_5"));
        if (found++ == 0) {
            char place[128];
            snprintf(place, sizeof place, "0, 0 zone \"%s\"", table_text(table, row, "zone"));
            home_start(&home, place, lines);
            now = wanted - 40 * DAY; /* nothing before the first */
        }
        int64_t next = timetable_next(&home.context, LANTERN, WHOLE, now);
        if (next != wanted)
            fail_msg("%s row %zu: %.0f s off", rule, found, (double)(next - wanted) / 1e6);
        TimetableState state;
        timetable_state(&home.context, LANTERN, WHOLE, wanted, &state);
        assert_true(state.plays && state.began == wanted && state.ends == wanted + SECOND);
        now = wanted + SECOND;
    }
    assert_true(found > 1);
    bool over = timetable_next(&home.context, LANTERN, WHOLE, now) == TIMETABLE_NEVER;
    assert_int_equal(over, ends_there(rule));
    home_end(&home);
    return found;
}

static void test_recurrence(void **state) {
    (void)state;
    Table *table = table_read("tests/data/time/recurrence.csv", 122);
    size_t checked = 0;
    for (size_t i = 0; i < sizeof rules / sizeof *rules; i++)
        checked += rule_rows(table, rules[i].rule, rules[i].lines);
    print_message(
        "%zu of 122 rows: R09, R10, R11, R19 are days of a month, which no entry can name\n",
        checked);
    size_t others = 0;
    for (size_t row = 0; row < table_rows(table); row++) {
        const char *rule = table_text(table, row, "rule");
        others += strcmp(rule, "R09") == 0 || strcmp(rule, "R10") == 0 ||
                  strcmp(rule, "R11") == 0 || strcmp(rule, "R19") == 0;
    }
    assert_int_equal(checked + others, 122);
    table_free(table);
}

/* -------- by hand -------- */

/* 2026-11-23 is a Monday. */
static void test_last_moment_plays(void **state) {
    (void)state;
    Home home;
    home_start(&home, BRISTOL,
               "by 03:10 on tue..sat play daybreak\n"
               "at 19:30 play dusk\n"
               "at 22:00 on fri, sat play off\n");
    plays(&home, "2026-11-25T02:39:59", "nightlight", "2026-11-24T20:10");
    plays(&home, "2026-11-25T02:40", "daybreak", "2026-11-25T02:40");
    plays(&home, "2026-11-25T03:10", "daybreak", "2026-11-25T02:40");
    plays(&home, "2026-11-25T19:29:59", "daybreak", "2026-11-25T02:40");
    plays(&home, "2026-11-25T19:30", "dusk", "2026-11-25T19:30");
    plays(&home, "2026-11-25T20:09:59", "dusk", "2026-11-25T19:30");
    plays(&home, "2026-11-25T20:10", "nightlight", "2026-11-25T20:10");
    plays(&home, "2026-11-27T22:00", "off", "2026-11-27T22:00");
    /* Sunday and Monday have no dawn: Saturday's off lasts until Sunday's dusk */
    plays(&home, "2026-11-29T12:00", "off", "2026-11-28T22:00");
    plays(&home, "2026-11-30T12:00", "nightlight", "2026-11-29T20:10");
    next_at(&home, "2026-11-25T02:39:59", "2026-11-25T02:40");
    next_at(&home, "2026-11-25T02:40", "2026-11-25T19:30");
    next_at(&home, "2026-11-25T19:30", "2026-11-25T20:10");
    next_at(&home, "2026-11-25T20:10", "2026-11-26T02:40");
    next_at(&home, "2026-11-28T22:00", "2026-11-29T19:30");
    home_end(&home);
}

static void test_before_the_first(void **state) {
    (void)state;
    Home home;
    home_start(&home, BRISTOL, "at 07:00 from 2026-12-24 until 2027-01-02 play glow");
    plays(&home, "2026-12-24T06:59:59", "-", NULL);
    next_at(&home, "0001-01-01T00:00", "2026-12-24T07:00");
    plays(&home, "2026-12-24T07:00", "glow", "2026-12-24T07:00");
    plays(&home, "2027-01-02T12:00", "glow", "2027-01-02T07:00");
    plays(&home, "2031-06-01T12:00", "glow", "2027-01-02T07:00"); /* nothing took over */
    next_at(&home, "2027-01-02T07:00", NULL);
    TimetableState first;
    timetable_state(&home.context, LANTERN, WHOLE, INT64_MIN, &first);
    assert_true(!first.plays && first.routine == ROUTINE_OFF && first.ends == TIMETABLE_NEVER);
    timetable_state(&home.context, LANTERN, WHOLE, INT64_MAX, &first);
    assert_true(first.plays);
    home_end(&home);
}

static void test_same_moment(void **state) {
    (void)state;
    Home home;
    home_start(&home, BRISTOL,
               "at 20:00 play glow\n"
               "at 20:00 on sat play nightlight\n"
               "by 20:30 on sun play daybreak\n"); /* begins at 20:00 too */
    plays(&home, "2026-11-27T20:00", "glow", "2026-11-27T20:00");
    plays(&home, "2026-11-28T20:00", "nightlight", "2026-11-28T20:00");
    plays(&home, "2026-11-29T20:00", "daybreak", "2026-11-29T20:00");
    home_end(&home);
}

/* An entry with an end gives way to what would have played without it. */
static void test_gives_way(void **state) {
    (void)state;
    Home home;
    home_start(&home, BRISTOL,
               "at 12:00 play glow\n"
               "at 12:30 play dusk until 14:30\n"
               "at 14:00 play nightlight\n"
               "at 13:00 on wed play strike for 5min\n"
               "at 23:00 play brief for 2h\n");
    plays(&home, "2026-11-24T12:45", "dusk", "2026-11-24T12:30");
    plays(&home, "2026-11-24T13:10", "nightlight", "2026-11-24T13:10"); /* dusk's then */
    plays(&home, "2026-11-24T14:00", "nightlight", "2026-11-24T14:00");
    plays(&home, "2026-11-24T14:30", "nightlight", "2026-11-24T14:00");
    next_at(&home, "2026-11-24T14:00", "2026-11-24T23:00");            /* 14:30 is an end below */
    plays(&home, "2026-11-25T13:04:59", "strike", "2026-11-25T13:00"); /* longer than it lasts */
    plays(&home, "2026-11-25T13:05", "dusk", "2026-11-25T12:30");
    next_at(&home, "2026-11-25T13:00", "2026-11-25T13:05");
    next_at(&home, "2026-11-25T13:05", "2026-11-25T13:10");
    plays(&home, "2026-11-24T23:00:10", "off", "2026-11-24T23:00:10"); /* `then off` */
    plays(&home, "2026-11-25T00:59:59", "off", "2026-11-24T23:00:10");
    plays(&home, "2026-11-25T01:00", "nightlight", "2026-11-24T14:00");
    home_end(&home);
}

static void test_nothing_below(void **state) {
    (void)state;
    Home home;
    home_start(&home, BRISTOL, "at 12:30 on wed play glow for 2h");
    plays(&home, "2026-11-25T12:29:59", "-", NULL);
    plays(&home, "2026-11-25T14:29:59", "glow", "2026-11-25T12:30");
    plays(&home, "2026-11-25T14:30", "-", NULL);
    next_at(&home, "2026-11-25T14:30", "2026-12-02T12:30");
    home_end(&home);
}

/* `by 06:30 on weekdays play daybreak until 07:30` is bright from 06:30 to 07:30. */
static void test_by_until(void **state) {
    (void)state;
    Home home;
    home_start(&home, BRISTOL,
               "by 06:30 on weekdays play daybreak until 07:30\n"
               "by 00:10 on sat play daybreak until 01:00\n"); /* Saturday is the day of the end */
    plays(&home, "2026-11-25T05:59:59", "-", NULL);
    plays(&home, "2026-11-25T07:29:59", "daybreak", "2026-11-25T06:00");
    plays(&home, "2026-11-25T07:30", "-", NULL);
    plays(&home, "2026-11-27T23:39:59", "-", NULL);
    plays(&home, "2026-11-27T23:40", "daybreak", "2026-11-27T23:40");
    plays(&home, "2026-11-28T00:59:59", "daybreak", "2026-11-27T23:40");
    plays(&home, "2026-11-28T01:00", "-", NULL);
    home_end(&home);
}

/* Four days and four hours: the moment lies far behind the start. */
static void test_by_long(void **state) {
    (void)state;
    Home home;
    home_start(&home, BRISTOL, "by 12:00 on fri play slow until 13:00\n");
    plays(&home, "2026-11-23T07:59:59", "-", NULL);
    plays(&home, "2026-11-23T08:00", "slow", "2026-11-23T08:00");
    plays(&home, "2026-11-23T12:59:59", "slow", "2026-11-23T08:00"); /* the next 13:00 */
    next_at(&home, "2026-11-22T12:00", "2026-11-23T08:00");
    next_at(&home, "2026-11-23T13:00", "2026-11-30T08:00");
    home_end(&home);
}

/* first 1 s, second 2 s, third 3 s and on at its last moment */
static void test_chain(void **state) {
    (void)state;
    Home home;
    home_start(&home, BRISTOL, "at 12:00 from 2026-01-01 until 2026-01-01 play first");
    plays(&home, "2026-01-01T12:00:00", "first", "2026-01-01T12:00:00");
    plays(&home, "2026-01-01T12:00:01", "second", "2026-01-01T12:00:01");
    plays(&home, "2026-01-01T12:00:02", "second", "2026-01-01T12:00:01");
    plays(&home, "2026-01-01T12:00:03", "third", "2026-01-01T12:00:03");
    plays(&home, "2027-01-01T12:00:00", "third", "2026-01-01T12:00:03");
    next_at(&home, "2026-01-01T12:00:00", "2026-01-01T12:00:01");
    next_at(&home, "2026-01-01T12:00:01", "2026-01-01T12:00:03");
    next_at(&home, "2026-01-01T12:00:03", NULL);
    home_end(&home);
}

static void test_repeated(void **state) {
    (void)state;
    Home home;
    home_start(&home, BRISTOL,
               "at 06:00 play glow\n"
               "at 07:00..21:00 every 1h play strike\n" /* ends with its 24 s */
               "at 22:50..00:30 every 20min on sat play nightlight for 5min\n");
    plays(&home, "2026-11-25T06:59:59", "glow", "2026-11-25T06:00");
    plays(&home, "2026-11-25T07:00:23", "strike", "2026-11-25T07:00");
    plays(&home, "2026-11-25T07:00:24", "glow", "2026-11-25T06:00");
    plays(&home, "2026-11-25T21:00:10", "strike", "2026-11-25T21:00");
    plays(&home, "2026-11-25T22:00:10", "glow", "2026-11-25T06:00");
    next_at(&home, "2026-11-25T20:30", "2026-11-25T21:00");
    next_at(&home, "2026-11-25T21:00:24", "2026-11-26T06:00");
    /* Each moment has its own date: Saturday's are 00:10, 00:30, 22:50, 23:10, 23:30, 23:50 */
    plays(&home, "2026-11-28T00:12", "nightlight", "2026-11-28T00:10");
    plays(&home, "2026-11-28T00:30", "nightlight", "2026-11-28T00:30");
    plays(&home, "2026-11-28T00:50", "glow", "2026-11-27T06:00");
    plays(&home, "2026-11-28T23:54:59", "nightlight", "2026-11-28T23:50");
    plays(&home, "2026-11-29T00:10", "glow", "2026-11-28T06:00");
    home_end(&home);
}

static void test_lists(void **state) {
    (void)state;
    Home home;
    home_start(&home, BRISTOL, "at 04:30, 19:30 not before 05:00 not after 19:00 play glow");
    plays(&home, "2026-11-25T12:00", "glow", "2026-11-25T05:00");
    plays(&home, "2026-11-25T19:10", "glow", "2026-11-25T19:00");
    plays(&home, "2026-11-26T04:59:59", "glow", "2026-11-25T19:00");
    home_end(&home);
}

static void test_days(void **state) {
    (void)state;
    Home home;
    home_start(&home, BRISTOL,
               "at 17:00 in nov..feb on mon play glow\n"
               "at 08:30 on days 1..4 of 8 from 2026-03-02 play dusk for 1h\n"
               "at 09:30 on days 1..1 of 10000 from 1990-01-01 play brief for 1h\n"
               "at 11:00 from 2026-12-24 until 2027-01-02 except sun, 2026-12-25..2026-12-26 play "
               "first for 1h\n");
    /* the last Monday of February 2026 is the 23rd: it plays until November */
    plays(&home, "2026-10-31T12:00", "glow", "2026-02-23T17:00");
    plays(&home, "2026-11-02T17:00", "glow", "2026-11-02T17:00");
    /* 2026-03-02 is day 1, 5 off, 10 on again */
    plays(&home, "2026-03-01T08:45", "glow", "2026-02-23T17:00");
    plays(&home, "2026-03-05T08:45", "dusk", "2026-03-05T08:30");
    plays(&home, "2026-03-06T08:45", "glow", "2026-02-23T17:00");
    plays(&home, "2026-03-09T08:45", "glow", "2026-02-23T17:00");
    plays(&home, "2026-03-10T08:45", "dusk", "2026-03-10T08:30");
    /* 1990-01-01 and 10000 days are 2017-05-19, which is no day of nov..feb's Mondays' hour */
    plays(&home, "2017-05-19T09:30", "brief", "2017-05-19T09:30");
    plays(&home, "2017-05-20T09:30", "glow", "2017-02-27T17:00");
    plays(&home, "2026-12-24T11:00", "first", "2026-12-24T11:00");
    plays(&home, "2026-12-25T11:00", "glow", "2026-12-21T17:00");
    plays(&home, "2026-12-26T11:00", "glow", "2026-12-21T17:00");
    plays(&home, "2026-12-27T11:00", "glow", "2026-12-21T17:00"); /* a Sunday */
    plays(&home, "2026-12-28T11:00", "first", "2026-12-28T11:00");
    plays(&home, "2027-01-02T11:00", "first", "2027-01-02T11:00");
    plays(&home, "2027-01-04T11:00", "glow", "2026-12-28T17:00");
    home_end(&home);
}

static void test_lamps_and_parts(void **state) {
    (void)state;
    Home home;
    home_start(&home, BRISTOL,
               "at 06:00 play glow\n"
               "at 07:00 play dusk on lamp shelf\n"
               "at 05:00 play nightlight on lamp shelf part left until 08:00\n"
               "between 21:00 and 02:30 keep level under 10%\n"
               "between 22:00 and 23:00 on fri keep level under 5% on lamp shelf part right\n");
    plays_on(&home, LANTERN, WHOLE, "2026-11-25T07:30", "glow", "2026-11-25T06:00");
    plays_on(&home, SHELF, WHOLE, "2026-11-25T06:30", "glow", "2026-11-25T06:00");
    plays_on(&home, SHELF, WHOLE, "2026-11-25T05:30", "nightlight", "2026-11-24T07:40");
    plays_on(&home, SHELF, WHOLE, "2026-11-25T07:30", "dusk", "2026-11-25T07:00");
    plays_on(&home, SHELF, LEFT, "2026-11-25T07:30", "nightlight", "2026-11-25T05:00");
    plays_on(&home, SHELF, LEFT, "2026-11-25T08:00", "-", NULL);
    plays_on(&home, SHELF, RIGHT, "2026-11-25T07:30", "-", NULL);
    plays_on(&home, LANTERN, LEFT, "2026-11-25T07:30", "-", NULL);
    assert_true(timetable_ceiling_covers(&home.context, 0, LANTERN, WHOLE));
    assert_true(timetable_ceiling_covers(&home.context, 0, SHELF, RIGHT));
    assert_false(timetable_ceiling_covers(&home.context, 1, SHELF, WHOLE));
    assert_false(timetable_ceiling_covers(&home.context, 1, SHELF, LEFT));
    assert_true(timetable_ceiling_covers(&home.context, 1, SHELF, RIGHT));
    home_end(&home);
}

static void ceiling_at(const Home *home, uint32_t index, const char *now, const char *since,
                       const char *until, const char *next) {
    int64_t began, ends;
    assert_true(timetable_ceiling(&home->context, index, local(home, now), &began, &ends));
    assert_int_equal(began, local(home, since));
    assert_int_equal(ends, local(home, until));
    assert_int_equal(timetable_ceiling_next(&home->context, index, local(home, now)),
                     local(home, next));
}

static void test_ceilings(void **state) {
    (void)state;
    Home home;
    home_start(&home, BRISTOL,
               "between 21:00 and 02:30 on fri keep level under 10%\n" /* the day it begins */
               "between 13:00 and 14:00 from 2026-11-25 keep level under 5%\n");
    ceiling_at(&home, 0, "2026-11-28T01:00", "2026-11-27T21:00", "2026-11-28T02:30",
               "2026-11-28T02:30");
    ceiling_at(&home, 0, "2026-11-28T02:30", "2026-11-27T21:00", "2026-11-28T02:30",
               "2026-12-04T21:00");
    int64_t began, ends;
    assert_false(
        timetable_ceiling(&home.context, 1, local(&home, "2026-11-25T12:59:59"), &began, &ends));
    assert_int_equal(timetable_ceiling_next(&home.context, 1, local(&home, "2026-11-01T00:00")),
                     local(&home, "2026-11-25T13:00"));
    ceiling_at(&home, 1, "2026-11-25T13:00", "2026-11-25T13:00", "2026-11-25T14:00",
               "2026-11-25T14:00");
    home_end(&home);
}

/* RFC 5545 section 3.3.5: 2026-03-29 has no 01:30 in London, 2026-10-25 has two. */
static void test_changes_of_the_clock(void **state) {
    (void)state;
    Home home;
    home_start(&home, BRISTOL,
               "at 01:30 play glow\n"
               "at 12:00 play nightlight\n"
               "by 02:00 on sun play daybreak for 35min\n"
               "at 01:30 on sun play strike until 02:00 on lamp shelf\n");
    TimetableState now;
    /* gap: 01:30 by the offset before it is 01:30 UTC, 02:30 on the clock */
    timetable_state(&home.context, LANTERN, WHOLE, utc_of("2026-03-29T02:00:00"), &now);
    assert_string_equal(name_of(&home, now.routine), "glow");
    assert_int_equal(now.began, utc_of("2026-03-29T01:30:00"));
    /* by 02:00: 30 minutes before 01:00 UTC */
    timetable_state(&home.context, LANTERN, WHOLE, utc_of("2026-03-29T00:45:00"), &now);
    assert_int_equal(now.began, utc_of("2026-03-29T00:30:00"));
    /* 02:00 is over when 01:30 has come: no length, instead of a day */
    timetable_state(&home.context, SHELF, WHOLE, utc_of("2026-03-29T01:40:00"), &now);
    assert_string_equal(name_of(&home, now.routine), "glow");
    /* overlap: the first 01:30 is 00:30 UTC; the second is none */
    timetable_state(&home.context, LANTERN, WHOLE, utc_of("2026-10-25T01:20:00"), &now);
    assert_int_equal(now.began, utc_of("2026-10-25T00:30:00"));
    assert_int_equal(timetable_next(&home.context, LANTERN, WHOLE, utc_of("2026-10-25T00:30:00")),
                     utc_of("2026-10-25T01:30:00")); /* by 02:00 GMT begins then */
    home_end(&home);
}

/* -------- the sun: times of tests/data/time/sun-times.csv -------- */

static void near(int64_t got, const char *utc, double tolerance) {
    double off = (double)(got - utc_of(utc)) / 1e6;
    if (fabs(off) > tolerance)
        fail_msg("%.1f s off %s", off, utc);
}

static TimetableState at_utc(const Home *home, const char *utc) {
    TimetableState state;
    timetable_state(&home->context, LANTERN, WHOLE, utc_of(utc), &state);
    return state;
}

static void test_sun(void **state) {
    (void)state;
    Home home; /* London 2026-08-25: sunset 19:02:18Z; 11-25: 15:59:39Z, sunrise 07:34:53Z */
    home_start(&home, "51.5074, -0.1278 zone \"Europe/London\"",
               "at sunset - 20min not before 16:30 play glow\n"
               "at sunrise + 30min play off\n");
    near(at_utc(&home, "2026-08-25T20:00:00").began, "2026-08-25T18:42:18", 10);
    assert_int_equal(at_utc(&home, "2026-11-25T20:00:00").began, utc_of("2026-11-25T16:30:00"));
    near(at_utc(&home, "2026-11-25T12:00:00").began, "2026-11-25T08:04:53", 10);
    int64_t next = timetable_next(&home.context, LANTERN, WHOLE, utc_of("2026-08-25T12:00:00"));
    near(next, "2026-08-25T18:42:18", 10);
    assert_string_equal(name_of(&home, at_utc(&home, "2026-08-25T20:00:00").routine), "glow");
    home_end(&home);
    /* 2026-06-21: it sets after 21:00; 20 hours behind sunset, 20 before sunrise */
    home_start(&home, "51.5074, -0.1278 zone \"Europe/London\"",
               "at sunset not after 21:00 in jun play glow\n"
               "at sunset + 20h in nov play nightlight\n"
               "at sunrise - 20h in nov play dusk\n");
    assert_int_equal(at_utc(&home, "2026-06-21T21:00:00").began, utc_of("2026-06-21T20:00:00"));
    near(at_utc(&home, "2026-11-26T12:00:00").began, "2026-11-26T11:59:39", 10);
    near(timetable_next(&home.context, LANTERN, WHOLE, utc_of("2026-11-26T11:55:00")),
         "2026-11-26T11:59:39", 10);
    near(at_utc(&home, "2026-11-24T11:40:00").began, "2026-11-24T11:34:53", 10);
    near(timetable_next(&home.context, LANTERN, WHOLE, utc_of("2026-11-24T11:30:00")),
         "2026-11-24T11:34:53", 10);
    home_end(&home);
}

/* Reykjavik, Saturday 2025-06-21: the sun sets at 00:03:59 on Sunday, and that is Saturday's. */
static void test_sun_after_midnight(void **state) {
    (void)state;
    Home home;
    home_start(&home, "64.1466, -21.9426 zone \"Atlantic/Reykjavik\"",
               "at sunset on sat play glow\n"
               "at 12:00 play off\n");
    near(at_utc(&home, "2025-06-22T00:10:00").began, "2025-06-22T00:03:59", 10);
    near(timetable_next(&home.context, LANTERN, WHOLE, utc_of("2025-06-22T00:01:00")),
         "2025-06-22T00:03:59", 10);
    assert_int_equal(at_utc(&home, "2025-06-22T00:03:00").began, utc_of("2025-06-21T12:00:00"));
    assert_int_equal(at_utc(&home, "2025-06-22T23:59:00").began, utc_of("2025-06-22T12:00:00"));
    home_end(&home);
}

/* Longyearbyen has no sunset from April to August: the last before 2026-06-21 plays on, `else`
 * comes instead. (sun-odd-days.csv: on 2026-04-17 one sunrise and no sunset; on 2026-08-25 two
 * sunsets.) */
static void test_sun_does_not_set(void **state) {
    (void)state;
    Home home;
    home_start(&home, "78.2232, 15.6267 zone \"Arctic/Longyearbyen\"", "at sunset play glow");
    TimetableState june = at_utc(&home, "2026-06-21T12:00:00");
    assert_true(june.plays && june.began > utc_of("2026-04-14T00:00:00") &&
                june.began < utc_of("2026-04-20T00:00:00"));
    int64_t next = timetable_next(&home.context, LANTERN, WHOLE, utc_of("2026-06-21T12:00:00"));
    assert_true(next > utc_of("2026-08-21T00:00:00") && next < utc_of("2026-08-26T00:00:00"));
    home_end(&home);
    home_start(&home, "78.2232, 15.6267 zone \"Arctic/Longyearbyen\"",
               "at sunset - 1h not after 21:00 else 22:15 play glow");
    assert_int_equal(at_utc(&home, "2026-06-21T21:00:00").began, utc_of("2026-06-21T20:15:00"));
    home_end(&home);
}

/* The end that follows a start: see moment.h. London: sunset 2026-06-21 at 20:21Z (21:21),
 * 2026-11-25 at 15:59:39Z; sunrise 2026-06-21 at 03:43Z (04:43), 2026-11-25 at 07:34:53Z. */
static void test_sun_ends(void **state) {
    (void)state;
    Home home;
    home_start(&home, "51.5074, -0.1278 zone \"Europe/London\"",
               "at sunset on wed, sun play glow until 21:00\n" /* 2026-11-25, 2026-06-21 */
               "at 06:00 on wed, sun play nightlight until sunrise\n"
               "at 22:30 on wed play first until sunrise - 10min\n"
               "at sunset on thu play brief until sunrise\n"
               "at sunset on fri play dusk until 02:00\n"
               "at 03:00 on tue play strike until sunset + 8h\n"); /* that of the day before */
    /* 2026-08-25 is a Tuesday, sunset on the 24th 2 minutes later than on the 25th, 19:02:18Z */
    near(at_utc(&home, "2026-08-25T02:30:00").ends, "2026-08-25T03:04:30", 60);
    assert_int_equal(at_utc(&home, "2026-11-25T16:30:00").ends, utc_of("2026-11-25T21:00:00"));
    near(at_utc(&home, "2026-11-25T07:00:00").ends, "2026-11-25T07:34:53", 10);
    assert_false(at_utc(&home, "2026-06-21T20:40:00").plays); /* no length: not until tomorrow */
    assert_false(at_utc(&home, "2026-06-21T06:00:00").plays);
    assert_true(timetable_next(&home.context, LANTERN, WHOLE, utc_of("2026-06-21T04:00:00")) >
                utc_of("2026-06-22T00:00:00"));
    TimetableState night = at_utc(&home, "2026-11-26T00:00:00");
    assert_true(night.ends > utc_of("2026-11-26T07:20:00") &&
                night.ends < utc_of("2026-11-26T07:30:00"));
    TimetableState late = at_utc(&home, "2026-11-26T18:00:00");
    assert_true(late.ends > utc_of("2026-11-27T07:30:00") &&
                late.ends < utc_of("2026-11-27T07:45:00"));
    assert_int_equal(at_utc(&home, "2026-11-27T18:00:00").ends, utc_of("2026-11-28T02:00:00"));
    home_end(&home);
}

/* -------- every instant -------- */

static void test_next_misses_nothing(void **state) {
    (void)state;
    Home home;
    home_start(&home, BRISTOL,
               "by 03:10 on tue..sat play daybreak\n"
               "at sunset - 20min not after 21:00 play glow until 23:15\n"
               "at 19:30 play dusk\n"
               "at 22:00 on fri, sat play off\n"
               "at 01:00..02:30 every 15min on sun play strike\n"
               "at 12:30 on mon, wed play first for 10s\n"
               "at civil dawn on weekends play nightlight until sunrise\n");
    int64_t now = utc_of("2026-10-10T00:00:00"), end = utc_of("2026-11-10T00:00:00");
    size_t changes = 0;
    while (now < end) {
        int64_t next = timetable_next(&home.context, LANTERN, WHOLE, now);
        assert_true(next > now);
        TimetableState at, between, before;
        timetable_state(&home.context, LANTERN, WHOLE, now, &at);
        timetable_state(&home.context, LANTERN, WHOLE, next - 1, &before);
        assert_memory_equal(&at.began, &before.began, sizeof at.began);
        assert_true(at.routine == before.routine && at.since == before.since);
        for (int i = 0; i < 4; i++) {
            int64_t some = now + (int64_t)(chance() % (uint64_t)(next - now));
            timetable_state(&home.context, LANTERN, WHOLE, some, &between);
            assert_true(at.entry == between.entry && at.began == between.began &&
                        at.routine == between.routine && at.since == between.since &&
                        at.ends == between.ends);
        }
        timetable_state(&home.context, LANTERN, WHOLE, next, &between);
        assert_true(between.began != at.began || between.since != at.since ||
                    between.plays != at.plays || between.entry != at.entry);
        now = next;
        changes++;
    }
    print_message("%zu changes in 31 days\n", changes);
    assert_true(changes > 150);
    home_end(&home);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_routine_states),
        cmocka_unit_test(test_durations),
        cmocka_unit_test(test_recurrence),
        cmocka_unit_test(test_last_moment_plays),
        cmocka_unit_test(test_before_the_first),
        cmocka_unit_test(test_same_moment),
        cmocka_unit_test(test_gives_way),
        cmocka_unit_test(test_nothing_below),
        cmocka_unit_test(test_by_until),
        cmocka_unit_test(test_by_long),
        cmocka_unit_test(test_chain),
        cmocka_unit_test(test_repeated),
        cmocka_unit_test(test_lists),
        cmocka_unit_test(test_days),
        cmocka_unit_test(test_lamps_and_parts),
        cmocka_unit_test(test_ceilings),
        cmocka_unit_test(test_changes_of_the_clock),
        cmocka_unit_test(test_sun),
        cmocka_unit_test(test_sun_after_midnight),
        cmocka_unit_test(test_sun_does_not_set),
        cmocka_unit_test(test_sun_ends),
        cmocka_unit_test(test_next_misses_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
