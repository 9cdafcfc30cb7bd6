/* The home and its pictures as the page tells them. Named colours by CSS Color 4, sRGB by IEC
 * 61966-2-1, a ring's places by sine and cosine, base64 by the test vectors of RFC 4648; what a
 * small file says is written beside it by hand. */
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
#include "runtime/service/page/base64.h"
#include "runtime/service/page/content.h"
#include "runtime/service/page/frames.h"
#include "tests/support/scored.h"
#include "tests/support/table.h"

/* -------- the home -------- */

static const char HOME[] = "place 51.45, -2.59 zone \"Europe/London\"\n"
                           "lamp lantern { pixels 16 shape ring }\n"
                           "lamp window { pixels 60 part left 0..29 group ends 0..1, 58..59 }\n"
                           "dial rest = 40% from 10% to 90% \"How bright\"\n"
                           "dial hold = 2s from 1s to 1min\n"
                           "dial lit = true\n"
                           "dial tone = #ff0000 \"Its colour\"\n"
                           "event bell \"The shop bell\"\n"
                           "event rung\n"
                           "routine glow { paint tone * rest where lit and t > hold }\n"
                           "routine daybreak lasts 30min { paint black -> 2700K throughout }\n"
                           "routine nightlight { paint #ff3a00 * 2% }\n";

static json_t *without_places(json_t *home) {
    json_t *lamp;
    size_t i;
    json_array_foreach(member(home, "lamps"), i, lamp) json_object_del(lamp, "places");
    return home;
}

static void the_home_is_what_the_file_says(void **state) {
    (void)state;
    Score *score = scored(HOME);
    json_t *home = without_places(content_home(score));
    assert_json(member(home, "place"),
                "{\"latitude\": 51.45, \"longitude\": -2.59, \"zone\": \"Europe/London\"}");
    assert_json(member(home, "lamps"),
                "[{\"name\": \"lantern\", \"pixels\": 16, \"shape\": \"ring\", \"parts\": []},"
                " {\"name\": \"window\", \"pixels\": 60, \"shape\": \"strip\","
                "  \"parts\": [\"left\"]}]");
    assert_json(member(home, "routines"),
                "[{\"name\": \"glow\", \"lasts\": null, \"still\": false},"
                " {\"name\": \"daybreak\", \"lasts\": 1800.0, \"still\": false},"
                " {\"name\": \"nightlight\", \"lasts\": null, \"still\": true}]");
    assert_json(member(home, "events"), "[{\"name\": \"bell\", \"label\": \"The shop bell\"},"
                                        " {\"name\": \"rung\", \"label\": null}]");
    json_decref(home);
    score_free(score);
}

static void dials_have_their_ranges_and_defaults(void **state) {
    (void)state;
    Score *score = scored(HOME);
    json_t *home = content_home(score), *dials = member(home, "dials");
    assert_int_equal(json_array_size(dials), 4);
    assert_json(json_array_get(dials, 1),
                "{\"name\": \"hold\", \"label\": null, \"type\": \"duration\", \"percent\": false,"
                " \"from\": 1.0, \"to\": 60.0, \"default\": 2.0, \"used\": true}");
    assert_json(json_array_get(dials, 2),
                "{\"name\": \"lit\", \"label\": null, \"type\": \"truth\", \"percent\": false,"
                " \"from\": null, \"to\": null, \"default\": true, \"used\": true}");
    assert_json(json_array_get(dials, 3),
                "{\"name\": \"tone\", \"label\": \"Its colour\", \"type\": \"colour\","
                " \"percent\": false, \"from\": null, \"to\": null, \"default\": [1.0, 0.0, 0.0],"
                " \"used\": true}");
    const json_t *rest = json_array_get(dials, 0);
    assert_string_equal(text_member(rest, "type"), "number");
    assert_true(json_is_true(member(rest, "percent")));
    assert_true(fabs(json_number_value(member(rest, "from")) - 0.1) < 1e-12);
    assert_true(fabs(json_number_value(member(rest, "default")) - 0.4) < 1e-12);
    json_decref(home);
    score_free(score);
}

/* Pixel i of n at i / n of a turn, clockwise from the top (spec/meaning.md). */
static void a_ring_is_where_sine_and_cosine_are(void **state) {
    (void)state;
    Score *score = scored(HOME);
    json_t *lamps = content_lamps(score);
    const json_t *places = member(json_array_get(lamps, 0), "places");
    assert_int_equal(json_array_size(places), 16);
    for (size_t i = 0; i < 16; i++) {
        const json_t *place = json_array_get(places, i);
        double angle = 2 * acos(-1.0) * (double)i / 16;
        double wanted[3] = {sin(angle), cos(angle), 0};
        for (size_t axis = 0; axis < 3; axis++)
            assert_true(fabs(json_number_value(json_array_get(place, axis)) - wanted[axis]) < 1e-9);
    }
    json_decref(lamps);
    score_free(score);
}

static void where_no_lamp_is_declared_a_ring_stands_in(void **state) {
    (void)state;
    Score *score = scored("routine glow { paint gold }\n");
    json_t *home = without_places(content_home(score));
    assert_json(member(home, "lamps"),
                "[{\"name\": null, \"pixels\": 16, \"shape\": \"ring\", \"parts\": []}]");
    assert_true(json_is_null(member(home, "place")));
    json_decref(home);
    score_free(score);
}

/* -------- pictures -------- */

static Frames *frames_of(const Score *score, const char *routine, const char *told) {
    json_t *state = told ? json_loads(told, 0, NULL) : NULL;
    assert_true(!told || state);
    uint16_t index = frames_routine(score, routine);
    assert_true(index != ROUTINE_NONE);
    Frames *frames = frames_open(score, 0, index, state, 0);
    assert_non_null(frames);
    json_decref(state);
    return frames;
}

static void assert_pixels(const uint8_t *rgb, size_t pixels, int r, int g, int b) {
    for (size_t i = 0; i < pixels; i++)
        if (rgb[3 * i] != r || rgb[3 * i + 1] != g || rgb[3 * i + 2] != b)
            fail_msg("expected %d %d %d at pixel %zu, not %d %d %d", r, g, b, i, rgb[3 * i],
                     rgb[3 * i + 1], rgb[3 * i + 2]);
}

/* All named colours of CSS Color 4, section 6.1, but for what a word of the language is. */
static void a_colour_is_shown_as_css_has_it(void **state) {
    (void)state;
    static char text[32768];
    size_t used = 0;
    Table *table = table_read("tests/data/light/css_named_colours.csv", 148);
    for (size_t row = 0; row < table_rows(table); row++)
        used += (size_t)snprintf(text + used, sizeof text - used, "routine r%zu { paint %s }\n",
                                 row, table_text(table, row, "name"));
    Score *score = scored(text);
    for (size_t row = 0; row < table_rows(table); row++) {
        uint8_t rgb[3 * 16];
        char name[32];
        snprintf(name, sizeof name, "r%zu", row);
        Frames *frames = frames_of(score, name, NULL);
        assert_int_equal(frames_pixels(frames), 16);
        assert_true(frames_still(frames));
        frames_at(frames, 0, -1, rgb);
        assert_pixels(rgb, 16, (int)table_number(table, row, "r"),
                      (int)table_number(table, row, "g"), (int)table_number(table, row, "b"));
        frames_free(frames);
    }
    score_free(score);
    table_free(table);
}

/* 5,000 pixels: every third (5000 / 2048, rounded up), so pixels 0, 3, 6 ..., 1,667 of them. */
static void of_a_large_lamp_every_kth_is_shown(void **state) {
    (void)state;
    static uint8_t rgb[3 * 2048];
    Score *score = scored("lamp shelf { pixels 5000 }\n"
                          "routine shown { paint white where pixel == 6 }\n"
                          "routine hidden { paint white where pixel == 7 }\n"
                          "routine last { paint white where pixel == 4998 }\n");
    Frames *frames = frames_of(score, "shown", NULL);
    assert_int_equal(frames_pixels(frames), 1667);
    frames_at(frames, 0, -1, rgb);
    assert_pixels(rgb, 2, 0, 0, 0);
    assert_pixels(rgb + 6, 1, 255, 255, 255);
    assert_pixels(rgb + 9, 1664, 0, 0, 0);
    frames_free(frames);
    frames = frames_of(score, "hidden", NULL);
    frames_at(frames, 0, -1, rgb);
    assert_pixels(rgb, 1667, 0, 0, 0);
    frames_free(frames);
    frames = frames_of(score, "last", NULL);
    frames_at(frames, 0, -1, rgb);
    assert_pixels(rgb + 3 * 1666, 1, 255, 255, 255);
    frames_free(frames);
    json_t *lamps = content_lamps(score);
    assert_int_equal(json_array_size(member(json_array_get(lamps, 0), "places")), 1667);
    json_decref(lamps);
    score_free(score);
    assert_int_equal(feed_step(2048), 1);
    assert_int_equal(feed_step(2049), 2);
    assert_int_equal(feed_step(100000), 49);
}

/* IEC 61966-2-1. */
static int encoded(double light) {
    double value = light <= 0.0031308 ? 12.92 * light : 1.055 * pow(light, 1 / 2.4) - 0.055;
    return (int)lround(255 * value);
}

static void the_level_of_the_lamp_counts(void **state) {
    (void)state;
    uint8_t rgb[3 * 16];
    Score *score = scored("lamp lantern { pixels 16 shape ring level 50% }\n"
                          "routine full { paint white }\n");
    Frames *frames = frames_of(score, "full", NULL);
    frames_at(frames, 0, -1, rgb);
    assert_pixels(rgb, 16, encoded(0.5), encoded(0.5), encoded(0.5)); /* of physical light */
    frames_free(frames);
    score_free(score);
}

static void dials_are_as_the_state_has_them(void **state) {
    (void)state;
    uint8_t rgb[3 * 16];
    Score *score = scored("dial share = 25% from 0% to 50%\ndial tone = #ff0000\ndial lit = true\n"
                          "dial hold = 1s from 0s to 1h\n"
                          "routine glow { paint tone * share where lit and t >= hold }\n");
#define HOLD "{\"name\": \"hold\", \"value\": 0.5}"
    /* at 0.6 s: nothing before `hold`; what is told is held in its range */
    const struct {
        const char *told;
        double red, blue;
    } CASES[] = {
        {"{}", 0, 0},
        {"{\"dials\": [" HOLD "]}", 0.25, 0},
        {"{\"dials\": [" HOLD ", {\"name\": \"tone\", \"value\": [0, 0, 1]}]}", 0, 0.25},
        {"{\"dials\": [" HOLD ", {\"name\": \"share\", \"value\": 0.9}]}", 0.5, 0},
        {"{\"dials\": [" HOLD ", {\"name\": \"lit\", \"value\": false}]}", 0, 0},
        {"{\"dials\": [7, {\"name\": 1}, {\"name\": \"tone\", \"value\": [1, 2]}, "
         "{\"name\": \"none\", \"value\": 1}, {\"name\": \"share\"}, " HOLD "]}",
         0.25, 0},
    };
    for (size_t i = 0; i < sizeof CASES / sizeof *CASES; i++) {
        Frames *frames = frames_of(score, "glow", CASES[i].told);
        frames_at(frames, 600000, -1, rgb);
        assert_pixels(rgb, 16, encoded(CASES[i].red), 0, encoded(CASES[i].blue));
        frames_free(frames);
    }
    score_free(score);
}

static void a_routine_goes_from_its_begin_to_its_end(void **state) {
    (void)state;
    uint8_t rgb[3 * 16];
    Score *score = scored("routine rise lasts 10s { paint black -> #ff8800 throughout }\n"
                          "routine beat { paint white where mod(t, 2s) >= 1s }\n");
    Frames *frames = frames_of(score, "rise", NULL);
    assert_true(frames_lasts(frames) == 10);
    frames_at(frames, 0, -1, rgb);
    assert_pixels(rgb, 16, 0, 0, 0);
    frames_at(frames, 10000000, -1, rgb);
    assert_pixels(rgb, 16, 0xff, 0x88, 0);
    frames_free(frames);
    frames = frames_of(score, "beat", NULL);
    assert_true(frames_lasts(frames) == 0 && !frames_still(frames));
    for (int i = 0; i < 6; i++) { /* each by itself, in any order */
        frames_at(frames, 500000 + 1000000 * (5 - i), -1, rgb);
        assert_pixels(rgb, 16, i % 2 ? 0 : 255, i % 2 ? 0 : 255, i % 2 ? 0 : 255);
    }
    frames_free(frames);
    score_free(score);
}

static void out_of_memory_is_told(void **state) {
    (void)state;
    Score *score = scored(HOME);
    unsigned long before = memory_live(), at = 1;
    for (bool failed = true; failed; at++) {
        memory_fail_at(at);
        Frames *frames = frames_open(score, 1, 0, NULL, 0);
        memory_fail_at(0);
        failed = frames == NULL;
        frames_free(frames);
        assert_int_equal(memory_live(), before);
    }
    assert_true(at > 5);
    score_free(score);
}

/* -------- requests -------- */

static Page page;
static HttpRequest request;

/* The answer of a handler to a path's part and a query of up to three words. */
static json_t *answer(Handler handler, unsigned status, const char *part,
                      const char *const *query) {
    request = (HttpRequest){.page = &page};
    snprintf(request.parts[0], REQUEST_PART, "%s", part);
    for (int i = 0; query && query[2 * i]; i++) {
        request.query[i][0] = query[2 * i];
        request.query[i][1] = query[2 * i + 1];
    }
    handler(&request);
    assert_true(request.answered);
    if (request.status != status)
        fail_msg("expected status %u, not %u: %s", status, request.status, request.bytes);
    json_t *object = json_loadb(request.bytes, request.length, 0, NULL);
    assert_non_null(object);
    memory_release(request.bytes);
    return object;
}

static void assert_problem(Handler handler, unsigned status, const char *part,
                           const char *const *query, const char *code) {
    json_t *problem = answer(handler, status, part, query);
    assert_string_equal(text_member(problem, "code"), code);
    assert_true(strlen(text_member(problem, "detail")) > 10);
    assert_int_equal(json_integer_value(member(problem, "status")), status);
    json_decref(problem);
}

static void hold(const char *text) {
    page = (Page){.taken = 1, .score_taken = 1, .score = scored(text)};
}

static void light_is_answered_in_base64(void **state) {
    (void)state;
    hold("routine beat { paint white where mod(t, 2s) >= 1s }\nroutine rest { paint #0000ff }\n");
    const char *query[] = {"frames", "4", "length", "4", NULL};
    json_t *light = answer(content_get_light, 200, "beat", query);
    assert_int_equal(json_integer_value(member(light, "frames")), 4);
    assert_int_equal(json_integer_value(member(light, "pixels")), 16);
    assert_true(json_number_value(member(light, "period")) == 1);
    assert_true(json_is_false(member(light, "still")) && json_is_null(member(light, "lasts")));
    /* frames at 0, 1, 2, 3 s: 48 bytes of 0, 48 of 255, and again; 64 letters each */
    const char *text = text_member(light, "light");
    assert_int_equal(strlen(text), 256);
    for (int i = 0; i < 256; i++)
        assert_int_equal(text[i], i / 64 % 2 ? '/' : 'A');
    json_decref(light);
    /* What rests is one picture, whatever is asked for: 0 0 255 is AAD/. */
    light = answer(content_get_light, 200, "rest", query);
    assert_int_equal(json_integer_value(member(light, "frames")), 1);
    assert_true(json_is_true(member(light, "still")));
    assert_memory_equal(text_member(light, "light"), "AAD/AAD/", 8);
    json_decref(light);
    score_free(page.score);
}

static void too_much_and_too_little_are_refused(void **state) {
    (void)state;
    hold("lamp wall { pixels 100000 }\n"
         "routine waves { paint gold * ((x + 1) / 2) * abs(sin(t / 5s * 1turn + x * 1turn)) }\n");
    const char *many[] = {"frames", "120", NULL}, *few[] = {"frames", "1", NULL};
    assert_problem(content_get_light, 422, "waves", many, "too-much-light");
    json_decref(answer(content_get_light, 200, "waves", few));
    assert_problem(content_get_light, 404, "none", NULL, "no-routine");
    const char *const WRONG[][3] = {{"frames", "0"},  {"frames", "121"},   {"frames", "x"},
                                    {"frames", ""},   {"frames", "-1"},    {"start", "1e3"},
                                    {"start", "nan"}, {"length", "1.2.3"}, {"length", "86401"}};
    for (size_t i = 0; i < sizeof WRONG / sizeof *WRONG; i++)
        assert_problem(content_get_light, 400, "waves", WRONG[i], "bad-query");
    const char *lamp[] = {"lamp", "none", NULL};
    assert_problem(content_get_light, 404, "waves", lamp, "no-lamp");
    score_free(page.score);
}

static void a_home_that_is_not_known_is_asked_for_later(void **state) {
    (void)state;
    page = (Page){0};
    assert_problem(content_get_home, 503, "", NULL, "no-home");
    assert_int_equal(request.retry_after, 1);
    assert_problem(content_get_week, 503, "", NULL, "no-home");
    assert_problem(content_get_calendar, 503, "", NULL, "no-home");
    hold("routine glow { paint gold }\n");
    assert_problem(content_get_week, 404, "", NULL, "no-timetable");
    /* What is known is of another home than plays. */
    page.unkept = true;
    assert_problem(content_get_home, 503, "", NULL, "no-home");
    assert_problem(content_get_week, 503, "", NULL, "no-home");
    assert_null(page.score);
}

/* RFC 4648, section 10. */
static void base64_is_that_of_the_rfc(void **state) {
    (void)state;
    static const char *const PAIRS[][2] = {{"", ""},
                                           {"f", "Zg=="},
                                           {"fo", "Zm8="},
                                           {"foo", "Zm9v"},
                                           {"foob", "Zm9vYg=="},
                                           {"fooba", "Zm9vYmE="},
                                           {"foobar", "Zm9vYmFy"}};
    for (size_t i = 0; i < sizeof PAIRS / sizeof *PAIRS; i++) {
        char *text = base64_text((const uint8_t *)PAIRS[i][0], strlen(PAIRS[i][0]));
        assert_string_equal(text, PAIRS[i][1]);
        memory_release(text);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_home_is_what_the_file_says),
        cmocka_unit_test(dials_have_their_ranges_and_defaults),
        cmocka_unit_test(a_ring_is_where_sine_and_cosine_are),
        cmocka_unit_test(where_no_lamp_is_declared_a_ring_stands_in),
        cmocka_unit_test(a_colour_is_shown_as_css_has_it),
        cmocka_unit_test(of_a_large_lamp_every_kth_is_shown),
        cmocka_unit_test(the_level_of_the_lamp_counts),
        cmocka_unit_test(dials_are_as_the_state_has_them),
        cmocka_unit_test(a_routine_goes_from_its_begin_to_its_end),
        cmocka_unit_test(out_of_memory_is_told),
        cmocka_unit_test(light_is_answered_in_base64),
        cmocka_unit_test(too_much_and_too_little_are_refused),
        cmocka_unit_test(a_home_that_is_not_known_is_asked_for_later),
        cmocka_unit_test(base64_is_that_of_the_rfc),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
