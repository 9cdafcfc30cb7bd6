/* What a timetable shows, as light, worked out by hand beside each text. The shares of ease-in-out
 * are those of tests/data/light/easing_cubic_bezier.csv (npm bezier-easing):
 * 0.129161931 at a quarter, 0.5 at a half, and by its symmetry 0.870838069 at three quarters. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "runtime/light/level.h"
#include "runtime/light/lightness.h"
#include "tests/player/show.h"
#include "tests/support/table.h"

/* Two lamps, and routines whose light is plain: primaries of sRGB are 1 or 0 in linear light, and
 * `*` is physical. */
#define HOME                                                                                       \
    "place 51.45, -2.59 zone \"Europe/London\"\n"                                                  \
    "lamp lantern { pixels 4 shape ring }\n"                                                       \
    "lamp shelf { pixels 12 part left 0..5 part right 6..11 part middle 4..7 group odd 1, 5, 9 "   \
    "level 50% }\n"                                                                                \
    "dial warmth = 40% from 0% to 100%\n"                                                          \
    "dial slow = 0% from 0% to 100% eased 4s\n"                                                    \
    "dial pace = 10s\n"                                                                            \
    "event bell\n"                                                                                 \
    "routine ruby { paint red }\n"                                                                 \
    "routine sky { paint blue }\n"                                                                 \
    "routine leaf { paint lime }\n"                                                                \
    "routine grey { paint white * warmth }\n"                                                      \
    "routine easy { paint white * slow }\n"                                                        \
    "routine paced { paint white * (0 -> 1 every pace) }\n"                                        \
    "routine rise lasts 20s { paint white * (0 -> 1 throughout) }\n"                               \
    "routine settles { paint white * (0 -> 1 over 20s) }\n"                                        \
    "routine short lasts 4s then sky { paint white * (0 -> 1 throughout) }\n"                      \
    "routine spot lasts 4s then off { paint red }\n"                                               \
    "routine along_it { paint white * pos }\n"                                                     \
    "routine counted { paint white * (pixel / pixels) }\n"                                         \
    "routine odd_ones { paint white where within(odd) }\n"                                         \
    "routine wall { paint white * (hour / 24) }\n"                                                 \
    "routine moving { paint white * (0 -> 1 and back every 3s) }\n"                                \
    "until clock is set play off\n"

enum { LANTERN, SHELF };

static void show_start(Show *show, int32_t lamp, const char *lines) {
    char text[8192];
    snprintf(text, sizeof text, "%s%s\n", HOME, lines);
    home_start(&show->home, text);
    show->lamp = lamp;
    show->overrides = NULL;
    Now now = home_now(home_local(&show->home, "2026-11-25T12:00:00"));
    show->performance = home_performance(&show->home, lamp, &now);
}

static void light_at(Show *show, int64_t utc, float *light) {
    assert_true(performance_light(show->performance, utc, light));
}

static void pixel_at(const Show *show, const char *now, int pixel, double red, double green,
                     double blue) {
    pixel_is(show, at(show, now), pixel, red, green, blue, now);
}

/* -------- cross-fades -------- */

static void test_a_fade_of_its_own(void **state) {
    (void)state;
    Show show;
    show_start(&show, LANTERN, "at 18:00 play sky\nat 19:00 play ruby fading 10s");
    is(&show, "18:59:59.999999", 0, 0, 1);
    is(&show, "19:00:00", 0, 0, 1);
    is(&show, "19:00:02.5", QUARTER, 0, 1 - QUARTER);
    is(&show, "19:00:05", 0.5, 0, 0.5);
    is(&show, "19:00:07.5", 1 - QUARTER, 0, QUARTER);
    is(&show, "19:00:10", 1, 0, 0);
    is(&show, "23:00:00", 1, 0, 0);
    show_end(&show);
}

/* One second where nothing is said; before the first entry the lamp is off. */
static void test_a_second(void **state) {
    (void)state;
    Show show;
    show_start(&show, LANTERN, "at 19:00 from 2026-11-25 play ruby");
    is(&show, "18:59:59", 0, 0, 0);
    is(&show, "19:00:00.25", QUARTER, 0, 0);
    is(&show, "19:00:00.5", 0.5, 0, 0);
    is(&show, "19:00:01", 1, 0, 0);
    show_end(&show);
    show_start(&show, LANTERN, "at 18:00 play sky\nat 19:00 play ruby fading 0s");
    is(&show, "18:59:59.999999", 0, 0, 1);
    is(&show, "19:00:00", 1, 0, 0);
    show_end(&show);
}

/* The old one goes on: 15 s into its 20 it is at 0.75; later it holds its last moment. */
static void test_the_old_one_goes_on(void **state) {
    (void)state;
    Show show;
    show_start(&show, LANTERN, "at 18:59:50 play rise\nat 19:00 play ruby fading 20s");
    is(&show, "18:59:55", 0.25, 0.25, 0.25);
    is(&show, "19:00:05", 0.75 + QUARTER * 0.25, 0.75 * (1 - QUARTER), 0.75 * (1 - QUARTER));
    is(&show, "19:00:15", 1, QUARTER, QUARTER);
    show_end(&show);
}

/* What follows a routine that is over; while it fades out that stays at its last moment. */
static void test_then(void **state) {
    (void)state;
    Show show;
    show_start(&show, LANTERN, "at 19:00 play short\nat 20:00 play short fading 4s");
    is(&show, "19:00:02", 0.5, 0.5, 0.5);
    is(&show, "19:00:04", 1, 1, 1);
    is(&show, "19:00:04.5", 0.5, 0.5, 1);
    is(&show, "19:00:05", 0, 0, 1);
    is(&show, "20:00:06", 0.5, 0.5, 1);
    is(&show, "20:00:08", 0, 0, 1);
    show_end(&show);
}

/* What ends uncovers what was below, with the cross-fade of what ends. */
static void test_an_end(void **state) {
    (void)state;
    Show show;
    show_start(&show, LANTERN,
               "at 18:00 play rise\nat 18:00:05 play ruby for 5s fading 2s\n"
               "at 19:00 play ruby until 19:01");
    is(&show, "18:00:08", 1, 0, 0);
    is(&show, "18:00:10", 1, 0, 0);
    is(&show, "18:00:11", 0.5 + 0.275, 0.275, 0.275);
    is(&show, "18:00:12", 0.6, 0.6, 0.6);
    is(&show, "19:01:00.25", 1, QUARTER, QUARTER);
    show_end(&show);
}

/* A fade into a fade: the light that would have been is what fades. */
static void test_nested(void **state) {
    (void)state;
    Show show;
    show_start(&show, LANTERN,
               "at 18:00 play sky\nat 19:00 play ruby fading 4s\nat 19:00:02 play leaf fading 4s");
    double ruby = 1 - QUARTER; /* 3 s of 4 */
    is(&show, "19:00:03", (1 - QUARTER) * ruby, QUARTER, (1 - QUARTER) * (1 - ruby));
    is(&show, "19:00:05", QUARTER, 1 - QUARTER, 0);
    show_end(&show);
}

/* Of more than eight fades at once the oldest count as complete: ten plays, a second apart, each
 * fading in for 20 s. The light is worked out here from its definition. */
static void test_nested_deep(void **state) {
    (void)state;
    Show show;
    char lines[1024] = "at 18:00 play off\n";
    const char *names[3] = {"ruby", "leaf", "sky"};
    for (int i = 0; i < 10; i++)
        snprintf(lines + strlen(lines), sizeof lines - strlen(lines),
                 "at 19:00:%02d play %s fading 20s\n", i, names[i % 3]);
    show_start(&show, LANTERN, lines);
    Table *table = table_read("tests/data/light/easing_cubic_bezier.csv", 189);
    double light[3] = {0, 0, 0};
    light[1 % 3] = 1; /* the second of the ten is complete, and what was before it unseen */
    for (int i = 2; i < 10; i++) {
        double way = (11 - i) / 20.0, share = NAN; /* at 19:00:11 */
        for (size_t row = 0; row < table_rows(table); row++)
            if (strcmp(table_text(table, row, "curve"), "ease-in-out") == 0 &&
                fabs(table_number(table, row, "x") - way) < 1e-9)
                share = table_number(table, row, "exact");
        assert_false(isnan(share));
        for (int c = 0; c < 3; c++)
            light[c] += share * ((c == i % 3 ? 1 : 0) - light[c]);
    }
    table_free(table);
    is(&show, "19:00:11", light[0], light[1], light[2]);
    assert_true(performance_machines(show.performance) <= 9);
    show_end(&show);
}

/* Entries of repeated moments begin and end sharply, unless they say. */
static void test_sharp(void **state) {
    (void)state;
    Show show;
    show_start(&show, LANTERN,
               "at 05:00 play sky\nat 07:00..09:00 every 1h play ruby for 10s\n"
               "at 10:00..11:00 every 1h play ruby for 10s fading 4s\n"
               "at 12:00..13:00 every 1h play spot");
    is(&show, "06:59:59.999999", 0, 0, 1);
    is(&show, "07:00:00", 1, 0, 0);
    is(&show, "09:00:09.999999", 1, 0, 0);
    is(&show, "09:00:10", 0, 0, 1);
    is(&show, "10:00:02", 0.5, 0, 0.5);
    is(&show, "11:00:12", 0.5, 0, 0.5);
    /* What ends with the length of its routine uncovers; `then` does not come. */
    is(&show, "12:00:03.999999", 1, 0, 0);
    is(&show, "12:00:04", 0, 0, 1);
    show_end(&show);
}

/* `by`: fully bright at the moment; 02:55 is half of its 30 min. */
static void test_by(void **state) {
    (void)state;
    Show show;
    show_start(&show, LANTERN, "by 03:10 play rise\nat 00:00 play off");
    is(&show, "03:09:40", 0, 0, 0);
    is(&show, "03:09:50", 0.5, 0.5, 0.5);
    is(&show, "03:10:00", 1, 1, 1);
    is(&show, "03:40:00", 1, 1, 1);
    show_end(&show);
}

/* -------- parts -------- */

static void test_a_part(void **state) {
    (void)state;
    Show show;
    show_start(&show, SHELF,
               "at 18:00 play sky\nat 19:00 play ruby on lamp shelf part right until 20:00\n"
               "at 19:30 play leaf on lamp shelf");
    pixel_at(&show, "19:10:00", 5, 0, 0, 1);
    pixel_at(&show, "19:10:00", 6, 1, 0, 0);
    pixel_at(&show, "19:10:00", 11, 1, 0, 0);
    pixel_at(&show, "19:00:00.5", 6, 0.5, 0, 0.5);
    pixel_at(&show, "19:00:00.5", 5, 0, 0, 1);
    /* The lamp's own change stays below. */
    pixel_at(&show, "19:30:00.5", 5, 0, 0.5, 0.5);
    pixel_at(&show, "19:30:00.5", 6, 1, 0, 0);
    /* At its end the part shows what the lamp shows. */
    pixel_at(&show, "20:00:00.25", 6, 1 - QUARTER, QUARTER, 0);
    pixel_at(&show, "20:00:01", 6, 0, 1, 0);
    show_end(&show);
}

/* The part fades to the lamp while the lamp fades. */
static void test_a_part_over_a_fade(void **state) {
    (void)state;
    Show show;
    show_start(&show, SHELF,
               "at 18:00 play sky\nat 19:00 play ruby on lamp shelf part right for 10min\n"
               "at 19:10 play leaf on lamp shelf");
    pixel_at(&show, "19:10:00.5", 6, 0.5, 0.5 * 0.5, 0.5 * 0.5);
    show_end(&show);
}

/* A part is a stretch of its own: 6 pixels, pos = (i + 0.5) / 6; groups of the lamp reach into it.
 * Where parts lie over one another the one that the lamp names later is on top. */
static void test_places_of_a_part(void **state) {
    (void)state;
    Show show;
    show_start(&show, SHELF,
               "at 18:00 play along_it on lamp shelf part right\n"
               "at 19:00 play counted on lamp shelf part right\n"
               "at 20:00 play odd_ones on lamp shelf part right\n"
               "at 21:00 play ruby on lamp shelf part middle until 22:00\n"
               "at 21:30 play sky on lamp shelf part right\n");
    for (int i = 0; i < 6; i++) {
        pixel_at(&show, "18:30:00", 6 + i, (i + 0.5) / 6, (i + 0.5) / 6, (i + 0.5) / 6);
        pixel_at(&show, "19:30:00", 6 + i, i / 6.0, i / 6.0, i / 6.0);
        double odd = i == 3 ? 1 : 0; /* pixel 9 of the lamp */
        pixel_at(&show, "20:30:00", 6 + i, odd, odd, odd);
    }
    pixel_at(&show, "21:45:00", 7, 1, 0, 0);
    pixel_at(&show, "21:45:00", 8, 0, 0, 1);
    pixel_at(&show, "21:45:00", 4, 1, 0, 0);
    pixel_at(&show, "21:45:00", 3, 0, 0, 0);
    show_end(&show);
}

static void test_off_on_a_part(void **state) {
    (void)state;
    Show show;
    show_start(&show, SHELF, "at 18:00 play sky\nat 19:00 play off on lamp shelf part left");
    pixel_at(&show, "19:30:00", 5, 0, 0, 0);
    pixel_at(&show, "19:30:00", 6, 0, 0, 1);
    show_end(&show);
}

/* -------- settings, the clock on the wall -------- */

static void test_with(void **state) {
    (void)state;
    Show show;
    show_start(&show, LANTERN,
               "at 18:00 play grey\nat 19:00 play grey with warmth = 80%\n"
               "at 20:00 play grey with warmth = 10% fading 4s");
    is(&show, "18:30:00", 0.4, 0.4, 0.4);
    is(&show, "19:00:00.5", 0.6, 0.6, 0.6);
    is(&show, "19:30:00", 0.8, 0.8, 0.8);
    is(&show, "20:00:02", 0.45, 0.45, 0.45);
    show_end(&show);
}

/* `hour` is the clock's at the instant, in what fades out too. */
static void test_hour(void **state) {
    (void)state;
    Show show;
    show_start(&show, LANTERN, "at 06:00 play wall\nat 18:00 play ruby fading 2h");
    is(&show, "12:00:00", 0.5, 0.5, 0.5);
    is(&show, "19:00:00", 0.5 + 0.5 * 19 / 24, 0.5 * 19 / 24, 0.5 * 19 / 24);
    show_end(&show);
    /* London's summer time is an hour ahead of UTC. */
    show_start(&show, LANTERN, "at 06:00 play wall");
    float light[3 * HOME_PIXELS];
    int64_t noon = (int64_t)days_from_civil((CivilDate){2026, 7, 1}) * DAY + 12 * HOUR;
    light_at(&show, noon, light);
    near_to(light, 13 / 24.0, 13 / 24.0, 13 / 24.0, "noon of UTC in July");
    show_end(&show);
}

/* -------- ceilings -------- */

static void ceiling_is(Show *show, const char *now, double wanted) {
    double got = performance_ceiling(show->performance, at(show, now));
    if (!(fabs(got - wanted) <= 1e-8 * wanted))
        fail_msg("the ceiling at %s is %g, not %g", now, got, wanted);
}

/* It comes and goes within 10 s at its two ends; of several the lowest. */
static void test_ceilings(void **state) {
    (void)state;
    Show show;
    show_start(&show, SHELF,
               "at 12:00 play ruby\nbetween 21:00 and 02:30 keep level under 10%\n"
               "between 22:00 and 23:00 keep level under 60% on lamp shelf\n"
               "between 23:30 and 23:40 keep level under 5% on lamp shelf\n"
               "between 21:30 and 21:40 keep level under 1% on lamp lantern");
    ceiling_is(&show, "20:59:59", LEVEL_NO_CEILING);
    ceiling_is(&show, "21:00:00", 1);
    ceiling_is(&show, "21:00:02.5", 1 - 0.9 * QUARTER);
    ceiling_is(&show, "21:00:05", 0.55);
    ceiling_is(&show, "21:00:10", 0.1);
    ceiling_is(&show, "21:35:00", 0.1);
    ceiling_is(&show, "22:30:00", 0.1);
    ceiling_is(&show, "23:35:00", 0.05);
    ceiling_is(&show, "02:29:55", 0.55);
    ceiling_is(&show, "02:30:00", 1);
    ceiling_is(&show, "02:30:01", LEVEL_NO_CEILING);
    show_end(&show);
}

/* What the shelf (level 50 %) shows: a ceiling on a part scales that part alone, after the master
 * level and the gamut step. */
static void test_a_ceiling_on_a_part(void **state) {
    (void)state;
    Show show;
    show_start(&show, SHELF,
               "at 12:00 play along_it\nat 12:00 play ruby on lamp shelf part left\n"
               "between 21:00 and 02:30 keep level under 10% on lamp shelf part right\n"
               "between 22:00 and 02:30 keep level under 20% on lamp shelf");
    PipelineLamp lamp = lamp_light(&show.home.infos[SHELF], 0);
    lamp.guarded = false;
    Pipeline *pipeline = pipeline_create(&lamp, show.home.lamps[SHELF].shape);
    float light[3 * HOME_PIXELS];
    light_at(&show, at(&show, "20:00:00"), light);
    performance_show(show.performance, at(&show, "20:00:00"), pipeline, 0, light);
    near_to(light, 0.5, 0, 0, "no ceiling, left");
    near_to(light + 3 * 11, 0.5 * 11.5 / 12, 0.5 * 11.5 / 12, 0.5 * 11.5 / 12, "no ceiling, right");
    light_at(&show, at(&show, "21:30:00"), light);
    performance_show(show.performance, at(&show, "21:30:00"), pipeline, 1, light);
    near_to(light, 0.5, 0, 0, "left");
    near_to(light + 3 * 11, 0.1, 0.1, 0.1, "the brightest of the right");
    near_to(light + 3 * 6, 0.1 * 6.5 / 11.5, 0.1 * 6.5 / 11.5, 0.1 * 6.5 / 11.5, "its first");
    light_at(&show, at(&show, "22:30:00"), light);
    performance_show(show.performance, at(&show, "22:30:00"), pipeline, 2, light);
    near_to(light, 0.2, 0, 0, "left under the lamp's ceiling");
    near_to(light + 3 * 11, 0.04, 0.04, 0.04, "the right under both");
    pipeline_free(pipeline);
    show_end(&show);
}

/* -------- what rests -------- */

static void test_rest(void **state) {
    (void)state;
    Show show;
    show_start(&show, LANTERN,
               "at 18:00 play sky\nat 19:00 play settles\nat 20:00 play moving for 1h\n"
               "between 22:00 and 23:00 keep level under 10%");
    changes_at(&show, "18:00:00", "18:00:00");
    changes_at(&show, "18:00:00.999999", "18:00:00.999999");
    changes_at(&show, "18:00:01", "19:00:00");
    changes_at(&show, "18:30:00", "19:00:00");
    changes_at(&show, "19:00:19", "19:00:19");
    changes_at(&show, "19:00:20", "20:00:00");
    changes_at(&show, "20:30:00", "20:30:00");
    changes_at(&show, "21:00:01", "22:00:00");
    changes_at(&show, "22:00:05", "22:00:05");
    changes_at(&show, "22:00:10", "22:59:50");
    changes_at(&show, "22:59:55", "22:59:55");
    show_end(&show);
}

/* -------- the table of states -------- */

static void state_row(const Table *table, size_t row) {
    const char *zone = table_text(table, row, "zone"),
               *given = table_text(table, row, "length_given_as");
    const char *start = table_text(table, row, "start_local"), *id = table_text(table, row, "id");
    int length = (int)table_number(table, row, "length_s");
    char end[32], text[1024];
    if (strncmp(given, "for ", 4) == 0)
        snprintf(end, sizeof end, "for %ds", length);
    else
        snprintf(end, sizeof end, "until %.5s", given + strlen("until 2026-03-29T"));
    snprintf(text, sizeof text,
             "place 0, 0 zone \"%s\"\nlamp lantern { pixels 1 }\n"
             "routine glow lasts %ds { paint white * (1 -> 0.5 throughout) }\n"
             "until clock is set play off\n"
             "at %.5s from %.10s until %.10s play glow %s fading 0s\n",
             zone, length, start + 11, start, start, end);
    Home home;
    home_start(&home, text);
    int year, month, day, hour, minute, second;
    assert_int_equal(sscanf(table_text(table, row, "now_utc"), "%d-%d-%dT%d:%d:%dZ", &year, &month,
                            &day, &hour, &minute, &second),
                     6);
    int64_t utc = (int64_t)days_from_civil((CivilDate){year, month, day}) * DAY + hour * HOUR +
                  minute * MINUTE + second * SECOND;
    Now now = home_now(utc);
    Performance *performance = home_performance(&home, 0, &now);
    float light[3];
    assert_true(performance_light(performance, utc, light));
    bool running = strcmp(table_text(table, row, "state"), "running") == 0;
    double wanted = running ? 1 - 0.5 * table_number(table, row, "fraction") : 0;
    if (!(fabs((double)light[0] - wanted) < 6e-7)) /* the table has six decimals */
        fail_msg("%s: %g, not %g", id, (double)light[0], wanted);
    performance_free(performance);
    home_end(&home);
}

static void test_states(void **state) {
    (void)state;
    Table *table = table_read("tests/data/time/routine-state.csv", 15);
    for (size_t row = 0; row < table_rows(table); row++)
        state_row(table, row);
    table_free(table);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_fade_of_its_own),
        cmocka_unit_test(test_a_second),
        cmocka_unit_test(test_the_old_one_goes_on),
        cmocka_unit_test(test_then),
        cmocka_unit_test(test_an_end),
        cmocka_unit_test(test_nested),
        cmocka_unit_test(test_nested_deep),
        cmocka_unit_test(test_sharp),
        cmocka_unit_test(test_by),
        cmocka_unit_test(test_a_part),
        cmocka_unit_test(test_a_part_over_a_fade),
        cmocka_unit_test(test_places_of_a_part),
        cmocka_unit_test(test_off_on_a_part),
        cmocka_unit_test(test_with),
        cmocka_unit_test(test_hour),
        cmocka_unit_test(test_ceilings),
        cmocka_unit_test(test_a_ceiling_on_a_part),
        cmocka_unit_test(test_rest),
        cmocka_unit_test(test_states),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
