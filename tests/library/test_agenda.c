/* What begins, and why, as a list: days worked out by hand from what the language says, beside each
 * text; clock changes of tests/data/time/tz-transitions.csv, days of the sun of sun-times.csv. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "lang/compile.h"
#include "runtime/core/civil.h"
#include "runtime/core/memory.h"
#include "runtime/library/advice.h"
#include "runtime/library/agenda.h"
#include "runtime/library/reader.h"
#include "tests/support/moments.h"
#include "tests/support/table.h"
#include "tests/support/zones.h"

#define MINUTE INT64_C(60000000)
#define LONDON "51.5074, -0.1278 zone \"Europe/London\""
#define ROUTINES                                                                                   \
    "routine daybreak lasts 30min { paint black -> 2700K throughout }\n"                           \
    "routine dusk lasts 40min then nightlight { paint 2700K -> #ff3a00 * 2% throughout }\n"        \
    "routine nightlight { paint #ff3a00 * 2% }\n"                                                  \
    "routine strike lasts 24s { paint gold }\n"                                                    \
    "until clock is set play off\n"

typedef struct Home {
    Compilation *compilation;
    Zone *zone;
    TimetableContext context;
    const LampInfo *lamps;
    uint32_t lamp_count;
} Home;

static void home_start(Home *home, const char *place, const char *lines) {
    static char text[200000];
    snprintf(text, sizeof text, "place %s\n%s%s\n", place, ROUTINES, lines);
    TextReader one = {text, strlen(text)};
    LangReader reader = {text_reader_read, &one};
    home->compilation = lang_compile(&reader, "home.gloam");
    const Timetable *timetable = lang_timetable(home->compilation);
    if (!timetable) {
        diagnostics_print(lang_diagnostics(home->compilation), stderr, false);
        fail_msg("not compiled");
    }
    home->zone = zone_named(timetable->place.zone);
    home->context = (TimetableContext){timetable, lang_program(home->compilation), home->zone};
    home->lamps = lang_lamps(home->compilation, &home->lamp_count);
}

static void home_end(Home *home) {
    lang_free(home->compilation);
    zone_free(home->zone);
}

static Agenda agenda_of(const Home *home, int32_t only, const char *first, int32_t days) {
    Agenda agenda;
    int32_t date = day_of(first);
    assert_true(agenda_make(&home->context, home->lamps, home->lamp_count, only,
                            timetable_local_instant(&home->context, date, 0),
                            timetable_local_instant(&home->context, date + days, 0), &agenda));
    return agenda;
}

/* "02:40 0 daybreak by 03:10 | NOTES": time, lamp, routine, cause, notes; an item in one line. */
static void item_line(const Home *home, const AgendaItem *item, char *line, size_t size) {
    static const char *const KINDS[] = {"stands",  "begins", "follows", "ends",
                                        "lowered", "raised", "passed"};
    char clock[16];
    agenda_clock(&home->context, item->utc, clock, sizeof clock);
    if (item->kind == AGENDA_STANDS)
        snprintf(clock, sizeof clock, "--:--");
    snprintf(line, size, "%s %s %d/%d %s: %s | %s", clock, KINDS[item->kind], item->lamp,
             item->part,
             item->routine == ROUTINE_NONE ? "nothing"
                                           : agenda_routine(home->context.program, item->routine),
             item->cause, item->notes);
}

/* All of a list, each item as item_line has it, then NULL. */
static void lists(const Home *home, int32_t only, const char *first, int32_t days,
                  const char *const *lines) {
    Agenda agenda = agenda_of(home, only, first, days);
    size_t count = 0;
    while (lines[count])
        count++;
    for (size_t i = 0; i < agenda.count || i < count; i++) {
        char line[400] = "nothing";
        if (i < agenda.count)
            item_line(home, &agenda.items[i], line, sizeof line);
        const char *wanted = i < count ? lines[i] : "nothing";
        if (strcmp(line, wanted) != 0)
            fail_msg("item %zu is `%s`, not `%s`", i, line, wanted);
    }
    agenda_free(&agenda);
}

/* -------- one day -------- */

static void test_a_day_and_its_causes(void **state) {
    (void)state;
    Home home;
    home_start(&home, LONDON,
               "by 03:10 play daybreak until 04:00\n"
               "at 19:30 play dusk\n"
               "between 21:00 and 02:30 keep level under 10%\n"
               "at 22:00 play strike for 1h30min\n");
    /* Since the evening before 19:30 + 40 min the night light; strike covers it for 1 h 30 min. */
    lists(&home, TIMETABLE_NOT_SAID, "2026-11-25", 1,
          (const char *const[]){
              "--:-- stands 0/-1 nightlight:  | ",
              "02:30 raised 0/-1 nightlight: between 21:00 and 02:30 is over | ",
              "02:40 begins 0/-1 daybreak: by 03:10 | until 04:00",
              "04:00 ends 0/-1 nightlight: until 04:00 is over | ",
              "19:30 begins 0/-1 dusk: at 19:30 | ",
              "20:10 follows 0/-1 nightlight: dusk is over | ",
              "21:00 lowered 0/-1 nightlight: between 21:00 and 02:30 keep level under 10% | ",
              "22:00 begins 0/-1 strike: at 22:00 | until 23:30",
              "23:30 ends 0/-1 nightlight: for 1h30min is over | ", NULL});
    home_end(&home);
}

/* Kinds of what nothing comes of: no time of the sun, no length, covered at the same moment. */
static void test_what_nothing_comes_of(void **state) {
    (void)state;
    Home home;
    home_start(&home, "78.2232, 15.6267 zone \"Arctic/Longyearbyen\"",
               "at sunset play nightlight\n"
               "at 12:00 play nightlight\n"
               "at 12:00 play dusk for 20min\n");
    /* sun-times.csv: the sun stays down on 2026-11-25. */
    lists(&home, TIMETABLE_NOT_SAID, "2026-11-25", 1,
          (const char *const[]){
              "--:-- stands 0/-1 nightlight:  | ",
              "00:00 passed 0/-1 nightlight: at sunset | no sunset",
              "12:00 passed 0/-1 nightlight: at 12:00 | what stands later in the file begins at "
              "the same moment",
              "12:00 begins 0/-1 dusk: at 12:00 | until 12:20",
              "12:20 ends 0/-1 nightlight: for 20min is over | ", NULL});
    home_end(&home);
    /* London's sun sets at 20:02 on 2026-08-25 (sun-times.csv), after the end. */
    home_start(&home, LONDON, "at sunset + 1min play nightlight until 20:00\n");
    lists(&home, TIMETABLE_NOT_SAID, "2026-08-25", 1,
          (const char *const[]){"--:-- stands 0/-1 nothing:  | ",
                                "20:03 passed 0/-1 nightlight: at sunset + 1min | sunset 20:02; "
                                "has no length: its end is over when it begins",
                                NULL});
    home_end(&home);
}

static void test_bounds_and_else(void **state) {
    (void)state;
    Home home;
    /* London 2026-04-20: sunrise 05:54:25 and sunset 20:05:30 by the clock (sun-times.csv). */
    home_start(&home, LONDON,
               "at sunrise - 30min not before 06:00 else 07:00 play dusk for 1min\n"
               "at sunset not after 20:00 play dusk for 1min\n"
               "by sunset - 1h play daybreak until sunset\n");
    lists(&home, TIMETABLE_NOT_SAID, "2026-04-20", 1,
          (const char *const[]){
              "--:-- stands 0/-1 nothing:  | ",
              "06:00 begins 0/-1 dusk: at sunrise - 30min | sunrise 05:54; held by `not before "
              "06:00`; until 06:01",
              "06:01 ends 0/-1 nothing: for 1min is over | ",
              "18:35 begins 0/-1 daybreak: by sunset - 1h | sunset 20:05; until 20:05",
              "20:00 begins 0/-1 dusk: at sunset | sunset 20:05; held by `not after 20:00`; until "
              "20:01",
              "20:01 ends 0/-1 daybreak: for 1min is over | ",
              "20:05 ends 0/-1 nothing: until sunset is over | ", NULL});
    home_end(&home);
}

/* London 2026: 01:00Z on 29 March forward, on 25 October back (tz-transitions.csv). */
static void test_clock_changes(void **state) {
    (void)state;
    Home home;
    AgendaChange change;
    home_start(&home, LONDON,
               "by 01:30 play daybreak until 01:45\n"
               "at 00:50 play nightlight until 01:10\n");
    /* 00:50Z to 01:10, which is 01:10Z; 01:30 is 01:30Z, half an hour before it is 01:00Z, shown as
     * 02:00; 01:45 is shown as 02:45. */
    lists(&home, TIMETABLE_NOT_SAID, "2026-03-29", 1,
          (const char *const[]){
              "--:-- stands 0/-1 nothing:  | ",
              "00:50 begins 0/-1 nightlight: at 00:50 | until 02:10",
              "02:00 begins 0/-1 daybreak: by 01:30 | 01:30 does not exist: 02:30; until 02:45",
              "02:45 ends 0/-1 nothing: until 01:45 is over | 01:45 does not exist: 02:45", NULL});
    assert_true(agenda_change(&home.context, day_of("2026-03-29"), &change));
    assert_int_equal(change.utc, INT64_C(1774746000000000)); /* 2026-03-29T01:00:00Z */
    assert_int_equal(change.before, 3600);
    assert_int_equal(change.after, 7200);
    assert_true(agenda_change(&home.context, day_of("2026-10-25"), &change));
    assert_int_equal(change.before, 7200);
    assert_int_equal(change.after, 3600);
    assert_false(agenda_change(&home.context, day_of("2026-03-28"), &change));
    assert_false(agenda_change(&home.context, day_of("2026-03-30"), &change));
    home_end(&home);
}

/* Every change of offset of the table, on its date and on no other beside it. */
static void test_all_clock_changes_of_the_table(void **state) {
    (void)state;
    Table *table = table_read("tests/data/time/tz-transitions.csv", 82);
    size_t seen = 0;
    for (size_t row = 0; row < table_rows(table); row++) {
        if (strcmp(table_text(table, row, "kind"), "start") == 0)
            continue;
        /* The one row that databases of before release 2026c do not have. */
        if (strcmp(table_text(table, row, "utc_instant"), "2026-09-20T01:00:00Z") == 0)
            continue;
        Home home;
        char place[120];
        snprintf(place, sizeof place, "0, 0 zone \"%s\"", table_text(table, row, "zone"));
        home_start(&home, place, "at 12:00 play nightlight\n");
        const char *before = table_text(table, row, "wall_clock_reading_before");
        AgendaChange change;
        int hour, minute;
        assert_int_equal(sscanf(before + 11, "%d:%d", &hour, &minute), 2);
        /* A reading of 24:00 is the midnight that ends the day, and may be written as 00:00. */
        int32_t date = day_of(before);
        bool found = agenda_change(&home.context, date, &change);
        if (!found && hour == 0 && minute == 0)
            found = agenda_change(&home.context, --date, &change);
        if (!found)
            fail_msg("no change in %s at %s", table_text(table, row, "zone"), before);
        assert_int_equal(change.before,
                         (day_of(before) - date) * 86400 + hour * 3600 + minute * 60);
        assert_int_equal(change.after - change.before,
                         (int)table_number(table, row, "shift_seconds"));
        seen++;
        home_end(&home);
    }
    assert_int_equal(seen, 70);
    table_free(table);
}

/* -------- lamps and parts -------- */

static void test_lamps_and_parts(void **state) {
    (void)state;
    Home home;
    home_start(&home, LONDON,
               "lamp lantern { pixels 16 shape ring }\n"
               "lamp shelf { pixels 60 part left 0..29 part right 30..59 }\n"
               "at 08:00 play nightlight\n"
               "at 09:00 play dusk on lamp shelf part right for 5min\n"
               "between 10:00 and 11:00 keep level under 12.5% on lamp lantern\n");
    lists(&home, TIMETABLE_NOT_SAID, "2026-11-25", 1,
          (const char *const[]){
              "--:-- stands 0/-1 nightlight:  | ", "--:-- stands 1/-1 nightlight:  | ",
              "--:-- stands 1/1 nothing:  | ", "08:00 begins 0/-1 nightlight: at 08:00 | ",
              "08:00 begins 1/-1 nightlight: at 08:00 | ",
              "09:00 begins 1/1 dusk: at 09:00 | until 09:05",
              "09:05 ends 1/1 nothing: for 5min is over | ",
              "10:00 lowered 0/-1 nightlight: between 10:00 and 11:00 keep level under 12.5% | ",
              "11:00 raised 0/-1 nightlight: between 10:00 and 11:00 is over | ", NULL});
    lists(&home, 0, "2026-11-25", 1,
          (const char *const[]){
              "--:-- stands 0/-1 nightlight:  | ", "08:00 begins 0/-1 nightlight: at 08:00 | ",
              "10:00 lowered 0/-1 nightlight: between 10:00 and 11:00 keep level under 12.5% | ",
              "11:00 raised 0/-1 nightlight: between 10:00 and 11:00 is over | ", NULL});
    home_end(&home);
}

/* 07:00, 07:30, 08:00: three moments, each over after 24 s. */
static void test_repeated_moments(void **state) {
    (void)state;
    Home home;
    home_start(&home, LONDON, "at 07:00..08:00 every 30min play strike\n");
    Agenda agenda = agenda_of(&home, TIMETABLE_NOT_SAID, "2026-11-25", 1);
    assert_int_equal(agenda.count, 7); /* what stands, then three beginnings and ends */
    for (size_t i = 1; i < agenda.count; i++) {
        assert_true(agenda.items[i].repeated);
        assert_string_equal(agenda.items[i].cause,
                            i % 2 ? "at 07:00..08:00 every 30min" : "strike is over");
    }
    assert_int_equal(agenda.items[2].utc - agenda.items[1].utc, 24 * MINUTE / 60);
    assert_int_equal(agenda.items[5].utc - agenda.items[1].utc, 60 * MINUTE);
    agenda_free(&agenda);
    home_end(&home);
}

/* -------- the whole is its days -------- */

/* What begins in a fortnight is what begins on each of its days. */
static void test_days_add_up(void **state) {
    (void)state;
    Home home;
    home_start(&home, LONDON,
               "by 03:10 on tue..sat play daybreak until 07:00\n"
               "at sunset - 20min not after 21:00 play dusk\n"
               "at 01:30, 23:59 play nightlight for 2min\n"
               "between sunset and 01:30 keep level under 10%\n"
               "at 09:00..12:00 every 1h play strike\n");
    for (int autumn = 0; autumn < 2; autumn++) {
        const char *first = autumn ? "2026-10-18" : "2026-03-22";
        Agenda whole = agenda_of(&home, TIMETABLE_NOT_SAID, first, 14);
        size_t at = 1;
        for (int32_t day = 0; day < 14; day++) {
            char text[48];
            CivilDate date = civil_from_days(day_of(first) + day);
            snprintf(text, sizeof text, "%04d-%02d-%02d", date.year, date.month, date.day);
            Agenda one = agenda_of(&home, TIMETABLE_NOT_SAID, text, 1);
            for (size_t i = 1; i < one.count; i++, at++) {
                assert_true(at < whole.count);
                assert_int_equal(one.items[i].utc, whole.items[at].utc);
                assert_string_equal(one.items[i].cause, whole.items[at].cause);
                assert_string_equal(one.items[i].notes, whole.items[at].notes);
            }
            agenda_free(&one);
        }
        assert_int_equal(at, whole.count);
        assert_true(whole.count > 14 * 10);
        agenda_free(&whole);
    }
    home_end(&home);
}

/* -------- much work, little memory -------- */

static void test_much_work_is_cut(void **state) {
    (void)state;
    static char lines[60000];
    size_t used = 0;
    for (int i = 0; i < 1000; i++)
        used += (size_t)snprintf(lines + used, sizeof lines - used,
                                 "at 00:00..23:59 every 1min play strike\n");
    Home home;
    home_start(&home, LONDON, lines);
    Agenda agenda = agenda_of(&home, TIMETABLE_NOT_SAID, "2026-11-25", 7);
    int64_t from = timetable_local_instant(&home.context, day_of("2026-11-25"), 0);
    assert_true(agenda.whole >= from && agenda.whole < from + 7 * 1440 * MINUTE);
    for (size_t i = 0; i < agenda.count; i++)
        assert_true(agenda.items[i].utc < agenda.whole);
    agenda_free(&agenda);
    home_end(&home);
}

static void test_no_memory(void **state) {
    (void)state;
    Home home;
    home_start(&home, LONDON, "at 12:00 play dusk\n");
    int32_t date = day_of("2026-11-25");
    unsigned long live = memory_live();
    Agenda agenda;
    memory_fail_at(1);
    assert_false(agenda_make(&home.context, NULL, 0, TIMETABLE_NOT_SAID,
                             timetable_local_instant(&home.context, date, 0),
                             timetable_local_instant(&home.context, date + 1, 0), &agenda));
    memory_fail_at(0);
    agenda_free(&agenda);
    assert_int_equal(memory_live(), live);
    home_end(&home);
}

/* -------- the sun of a day -------- */

/* All rows of 2026 that say whether the sun rises, at most a minute off (sun-times.csv). */
static void test_the_sun_of_days(void **state) {
    (void)state;
    Table *table = table_read("tests/data/time/sun-times.csv", 240);
    size_t seen[3] = {0, 0, 0};
    for (size_t row = 0; row < table_rows(table); row++) {
        const char *date = table_text(table, row, "local_date");
        const char *said = table_text(table, row, "state");
        Home home;
        char place[120];
        int64_t rises, sets;
        snprintf(place, sizeof place, "%s, %s zone \"%s\"", table_text(table, row, "lat_deg_N"),
                 table_text(table, row, "lon_deg_E"), table_text(table, row, "zone"));
        if (strncmp(date, "2026", 4) != 0)
            continue;
        home_start(&home, place, "at 12:00 play nightlight\n");
        AgendaSun sun = agenda_sun(&home.context, day_of(date), &rises, &sets);
        AgendaSun wanted = strcmp(said, "sun_always_up") == 0     ? AGENDA_SUN_STAYS_UP
                           : strcmp(said, "sun_always_down") == 0 ? AGENDA_SUN_STAYS_DOWN
                                                                  : AGENDA_SUN_RISES;
        if (sun != wanted)
            fail_msg("%s %s: %d, not %s", place, date, sun, said);
        seen[sun]++;
        home_end(&home);
    }
    assert_int_equal(
        seen[AGENDA_SUN_RISES] + seen[AGENDA_SUN_STAYS_UP] + seen[AGENDA_SUN_STAYS_DOWN], 48);
    assert_true(seen[AGENDA_SUN_STAYS_UP] >= 2 && seen[AGENDA_SUN_STAYS_DOWN] >= 1);
    table_free(table);
}

/* -------- words -------- */

static void test_durations(void **state) {
    (void)state;
    static const struct {
        int64_t microseconds;
        const char *text;
    } LENGTHS[] = {{0, "0s"},          {1, "0.000001s"},      {2500000, "2.5s"},
                   {60000000, "1min"}, {61000000, "1min1s"},  {5400000000, "1h30min"},
                   {7200000000, "2h"}, {7200500000, "2h0.5s"}};
    for (size_t i = 0; i < sizeof LENGTHS / sizeof *LENGTHS; i++) {
        char text[64];
        agenda_duration(LENGTHS[i].microseconds, text, sizeof text);
        assert_string_equal(text, LENGTHS[i].text);
    }
}

/* -------- what never comes -------- */

/* Whether an entry or ceiling is refused, and what is said. */
static void never(const char *place, const char *line, const char *said) {
    char text[1024];
    snprintf(text, sizeof text, "place %s\n%s%s\n", place, ROUTINES, line);
    TextReader one = {text, strlen(text)};
    LangReader reader = {text_reader_read, &one};
    Compilation *compilation = lang_compile(&reader, "home.gloam");
    assert_non_null(lang_program(compilation));
    advice_give(compilation);
    const Diagnostics *sink = lang_diagnostics(compilation);
    const char *got = NULL;
    for (size_t i = 0; i < diagnostics_total(sink); i++)
        if (strcmp(diagnostics_at(sink, i)->code, "never-comes") == 0)
            got = diagnostics_at(sink, i)->message;
    if ((said == NULL) != (got == NULL) || (said && !strstr(got, said)))
        fail_msg("`%s`: %s, not %s", line, got ? got : "nothing", said ? said : "nothing");
    assert_true((lang_program(compilation) == NULL) == (said != NULL));
    assert_true((lang_timetable(compilation) == NULL) == (said != NULL));
    lang_free(compilation);
}

static void test_what_never_comes(void **state) {
    (void)state;
    const char *polar = "69.6492, 18.9553 zone \"Europe/Oslo\"";
    never(LONDON, "at 12:00 on mon except weekdays play off", "weekdays and `except` together");
    never(LONDON, "at 12:00 on mon except weekends play off", NULL);
    /* 2026-11-23 is a Monday: the rota of 7 days holds on Mondays and Tuesdays for ever. */
    never(LONDON, "at 12:00 on days 1..2 of 7 from 2026-11-23 except mon, tue play off",
          "`days ... of` and `except` together");
    never(LONDON, "at 12:00 on days 1..2 of 8 from 2026-11-23 except mon, tue play off", NULL);
    /* The 23rd is a Monday, so the 27th a Friday. */
    never(LONDON, "at 12:00 on sat from 2026-11-23 until 2026-11-27 play off",
          "its weekdays and `from ... until` together");
    never(LONDON, "at 12:00 on fri from 2026-11-23 until 2026-11-27 play off", NULL);
    never(LONDON, "at 12:00 in feb from 2027-03-01 until 2028-01-31 play off",
          "its months and `from ... until` together");
    /* 2028-02-29 is the one day of February left. */
    never(LONDON, "at 12:00 in feb from 2028-02-29 until 2028-03-05 play off", NULL);
    never(LONDON, "between 21:00 and 02:30 on sun except sun keep level under 10%", "together");
    never(LONDON, "at 12:00 except 2026-01-01..2026-12-31 play off", NULL);
    /* The polar day and night of Tromso: May to July, and from the end of November to January
     * (sun-odd-days.csv: its last sunset of 2026 before the day is that of 17 May). */
    never(polar, "at sunset in jun play off", "the sun has no such time");
    never(polar, "at sunset in jun else 23:00 play off", NULL);
    never(polar, "at sunset in may play off", NULL);
    never(polar, "at 12:00, sunset in jun play off", NULL);
    never(polar, "at civil dawn in dec play off", NULL);
    never(polar, "by sunrise in dec play daybreak", "the sun has no such time");
    never(polar, "between sunset and 23:00 in jun keep level under 10%", "the sun has no such");
    never(LONDON, "at sunset in jun play off", NULL);
}

/* Of an error that is found after compiling: no program, no timetable, nothing leaks. */
static void test_what_is_missing_where_nothing_comes(void **state) {
    (void)state;
    unsigned long live = memory_live();
    never(LONDON, "at 12:00 on mon except mon play off", "together");
    assert_int_equal(memory_live(), live);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_day_and_its_causes),
        cmocka_unit_test(test_what_nothing_comes_of),
        cmocka_unit_test(test_bounds_and_else),
        cmocka_unit_test(test_clock_changes),
        cmocka_unit_test(test_all_clock_changes_of_the_table),
        cmocka_unit_test(test_lamps_and_parts),
        cmocka_unit_test(test_repeated_moments),
        cmocka_unit_test(test_days_add_up),
        cmocka_unit_test(test_much_work_is_cut),
        cmocka_unit_test(test_no_memory),
        cmocka_unit_test(test_the_sun_of_days),
        cmocka_unit_test(test_durations),
        cmocka_unit_test(test_what_never_comes),
        cmocka_unit_test(test_what_is_missing_where_nothing_comes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
