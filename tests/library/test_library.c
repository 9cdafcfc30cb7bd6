/* The public library, through gloam.h only. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <math.h>

#include "runtime/core/memory.h"
#include "runtime/library/gloam.h"

static gloam_program *compile(const char *text) {
    gloam_program *program = gloam_compile_text("home.gloam", text, strlen(text));
    assert_non_null(program);
    return program;
}

static const char *const TWO = "dial warmth = 40% from 0% to 100% \"How warm\"\n"
                               "dial pace = 2s\ndial lit = true\ndial tint = red\n"
                               "lamp shelf { pixels 5 shape strip part left 0..1 }\n"
                               "routine a lasts 3s { paint tint * warmth where lit }\n"
                               "routine b { paint white where within(left) }\n"
                               "routine c { paint black -> white over pace }\n";

static void test_what_is_in_a_program(void **state) {
    (void)state;
    gloam_program *program = compile(TWO);
    assert_true(gloam_ready(program));
    assert_int_equal(gloam_routine_count(program), 3);
    assert_string_equal(gloam_routine_name(program, 1), "b");
    assert_null(gloam_routine_name(program, 3));
    assert_int_equal(gloam_routine_lasts(program, 0), 3000000);
    assert_int_equal(gloam_routine_lasts(program, 1), 0);
    assert_int_equal(gloam_dial_count(program), 4);
    gloam_dial dial;
    assert_true(gloam_dial_at(program, 0, &dial));
    assert_string_equal(dial.name, "warmth");
    assert_string_equal(dial.label, "How warm");
    assert_int_equal(dial.type, GLOAM_NUMBER);
    assert_true(dial.ranged && dial.from == 0.0 && dial.to == 1.0 && dial.value[0] == 0.4);
    assert_true(gloam_dial_at(program, 1, &dial));
    assert_true(dial.type == GLOAM_DURATION && dial.value[0] == 2e6 && !dial.label);
    assert_true(gloam_dial_at(program, 2, &dial));
    assert_true(dial.type == GLOAM_TRUTH && dial.value[0] == 1.0);
    assert_true(gloam_dial_at(program, 3, &dial));
    assert_true(dial.type == GLOAM_COLOUR && dial.value[0] == 1.0 && dial.value[1] == 0.0);
    assert_false(gloam_dial_at(program, 4, &dial));
    assert_int_equal(gloam_lamp_count(program), 1);
    assert_string_equal(gloam_lamp_name(program, 0), "shelf");
    gloam_free(program);
}

static void test_diagnostics_have_a_place(void **state) {
    (void)state;
    gloam_program *program = compile("\nroutine a { paint 5 }\n");
    assert_false(gloam_ready(program));
    assert_int_equal(gloam_diagnostic_count(program), 1);
    const gloam_diagnostic *one = gloam_diagnostic_at(program, 0);
    assert_int_equal(one->severity, GLOAM_ERROR);
    assert_string_equal(one->file, "home.gloam");
    assert_true(one->line == 2 && one->column == 19 && one->end_line == 2 && one->end_column == 20);
    assert_non_null(one->code);
    assert_non_null(strstr(one->message, "colour"));
    assert_non_null(one->hint);
    assert_null(gloam_diagnostic_at(program, 1));
    gloam_lamp lamp = gloam_ring(4);
    const char *reason;
    assert_null(gloam_open(program, "a", &lamp, &reason));
    assert_string_equal(reason, "the program has errors");
    gloam_free(program);
    program = gloam_load("code", "no bytecode", 11);
    assert_false(gloam_ready(program));
    assert_string_equal(gloam_diagnostic_at(program, 0)->file, "code");
    gloam_free(program);
    program = gloam_compile_file("no/such/file.gloam");
    assert_false(gloam_ready(program));
    assert_true(gloam_diagnostic_count(program) > 0);
    gloam_free(program);
}

static void test_dials_are_set_and_held(void **state) {
    (void)state;
    gloam_program *program = compile(TWO);
    gloam_lamp lamp = gloam_ring(2);
    gloam_routine *a = gloam_open(program, "a", &lamp, NULL);
    float light[6];
    gloam_render(a, 0, NULL, light);
    assert_true(light[0] == 0.4f && light[1] == 0.0f);
    double most = 9, tint[3] = {0.0, 0.5, -1.0}, off = 0;
    assert_true(gloam_set(a, "warmth", &most));
    gloam_render(a, 0, NULL, light);
    assert_true(light[0] == 1.0f);
    assert_true(gloam_set(a, "tint", tint));
    gloam_render(a, 0, NULL, light);
    assert_true(light[0] == 0.0f && light[1] == 0.5f && light[2] == -1.0f);
    assert_true(gloam_set(a, "lit", &off));
    gloam_render(a, 0, NULL, light);
    assert_true(light[1] == 0.0f);
    assert_false(gloam_set(a, "warm", &most));
    double nonsense = NAN;
    assert_true(gloam_set(a, "warmth", &nonsense));
    gloam_close(a);
    gloam_free(program);
}

static void test_lamps(void **state) {
    (void)state;
    gloam_program *program = compile(TWO);
    const char *reason;
    gloam_lamp shelf = {.declared = "shelf"}, none = {.declared = "shelve"};
    gloam_routine *b = gloam_open(program, "b", &shelf, &reason);
    assert_non_null(b);
    assert_null(reason);
    assert_int_equal(gloam_pixels(b), 5);
    float light[15];
    gloam_render(b, 0, NULL, light);
    for (int i = 0; i < 5; i++)
        assert_true(light[3 * i] == (i < 2 ? 1.0f : 0.0f));
    gloam_close(b);
    assert_null(gloam_open(program, "b", &none, &reason));
    assert_non_null(reason);
    assert_null(gloam_open(program, NULL, &shelf, &reason));
    assert_null(gloam_open(program, "d", &shelf, &reason));
    gloam_lamp grid = gloam_grid(3, 4), ball = {.shape = GLOAM_BALL, .frequency = 2};
    double places[6] = {0, 0, 0, 10, 0, 0};
    gloam_lamp own = {.shape = GLOAM_PLACES, .pixels = 2, .places = places};
    gloam_lamp lamps[] = {gloam_strip(7), grid, ball, own};
    uint32_t counts[] = {7, 12, 42, 2}; /* 10 f^2 + 2 vertices of a geodesic sphere */
    for (int i = 0; i < 4; i++) {
        gloam_routine *c = gloam_open(program, "c", &lamps[i], &reason);
        assert_non_null(c);
        assert_int_equal(gloam_pixels(c), counts[i]);
        gloam_close(c);
    }
    gloam_lamp wrong[] = {gloam_strip(0),
                          gloam_ring(100001),
                          {.shape = GLOAM_BALL},
                          {.shape = (gloam_shape)99, .pixels = 1},
                          {.shape = GLOAM_GRID, .across = 2, .up = 2, .pixels = 5},
                          {.shape = GLOAM_PLACES, .pixels = 2}};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        assert_null(gloam_open(program, "c", &wrong[i], &reason));
        assert_non_null(reason);
    }
    places[4] = INFINITY;
    assert_null(gloam_open(program, "c", &own, &reason));
    gloam_free(program);
}

static void test_any_order_of_frames(void **state) {
    (void)state;
    gloam_program *program = compile(
        "routine a { paint (navy -> teal and back every 7s) delayed noise(pixel * 0.3) * 3s }");
    gloam_lamp lamp = gloam_ring(30);
    gloam_routine *a = gloam_open(program, NULL, &lamp, NULL);
    float ahead[8][90], back[8][90];
    for (int i = 0; i < 8; i++)
        gloam_render(a, i * 999983, NULL, ahead[i]);
    for (int i = 7; i >= 0; i--)
        gloam_render(a, i * 999983, NULL, back[i]);
    assert_memory_equal(ahead, back, sizeof ahead);
    assert_int_equal(gloam_rests_from(a), -1);
    gloam_close(a);
    gloam_free(program);
    program = compile("routine a { paint black -> gold over 3s delayed pos * 2s }\n"
                      "routine b { paint gold }");
    a = gloam_open(program, "a", &lamp, NULL);
    /* The last pixel is at pos 59.5 / 60: 3 s + 2 s * 59.5 / 60, whole microseconds. */
    assert_int_equal(gloam_rests_from(a), 3000000 + 1966667);
    gloam_close(a);
    a = gloam_open(program, "b", &lamp, NULL);
    assert_int_equal(gloam_rests_from(a), 0);
    gloam_close(a);
    gloam_free(program);
}

static void test_the_moment(void **state) {
    (void)state;
    gloam_program *program = compile(
        "routine a { paint white * (hour / 24) + red * moonlit + lime * (sunheight / 1turn) }");
    gloam_lamp lamp = gloam_ring(1);
    gloam_routine *a = gloam_open(program, NULL, &lamp, NULL);
    gloam_moment moment = {.hour = 6, .moonlit = 0.5, .sun_height = 0.25};
    float light[3];
    gloam_render(a, 0, &moment, light);
    assert_true(light[0] == 0.75f && light[1] == 0.5f && light[2] == 0.25f);
    gloam_render(a, 0, NULL, light);
    assert_true(light[0] == 0.0f && light[1] == 0.0f && light[2] == 0.0f);
    gloam_close(a);
    gloam_free(program);
}

static void test_nothing_is_allowed_everywhere(void **state) {
    (void)state;
    gloam_dial dial;
    double value = 1;
    const char *reason;
    gloam_lamp lamp = gloam_ring(3);
    assert_false(gloam_ready(NULL));
    assert_int_equal(gloam_diagnostic_count(NULL), 0);
    assert_null(gloam_diagnostic_at(NULL, 0));
    assert_int_equal(gloam_routine_count(NULL), 0);
    assert_null(gloam_routine_name(NULL, 0));
    assert_int_equal(gloam_routine_lasts(NULL, 0), 0);
    assert_int_equal(gloam_dial_count(NULL), 0);
    assert_false(gloam_dial_at(NULL, 0, &dial));
    assert_int_equal(gloam_lamp_count(NULL), 0);
    assert_null(gloam_lamp_name(NULL, 0));
    assert_null(gloam_open(NULL, "a", &lamp, &reason));
    assert_int_equal(gloam_pixels(NULL), 0);
    assert_false(gloam_set(NULL, "a", &value));
    assert_int_equal(gloam_rests_from(NULL), 0);
    gloam_render(NULL, 0, NULL, NULL);
    gloam_close(NULL);
    gloam_free(NULL);
}

/* A whole life; false where memory ran out on the way. */
static bool live(void) {
    static const char TEXT[] =
        "dial warmth = 40% from 0% to 100%\nlamp l { pixels 9 part p 0..3 }\n"
        "routine a lasts 3s { paint (black -> red -> gold throughout) delayed pos * 1s where "
        "within(p) }\nroutine b { paint a where warmth }\nat 07:00 play b for 2h\n"
        "until clock is set play b\n";
    gloam_program *program = gloam_compile_text("t", TEXT, sizeof TEXT - 1);
    gloam_lamp lamp = {.declared = "l"};
    gloam_routine *routine = gloam_open(program, "b", &lamp, NULL);
    float light[27];
    double value = 0.5;
    gloam_set(routine, "warmth", &value);
    gloam_render(routine, 2500000, NULL, light);
    gloam_close(routine);
    bool whole = routine != NULL;
    gloam_free(program);
    return whole;
}

static void test_every_allocation_may_fail(void **state) {
    (void)state;
    unsigned long failures = 0;
    for (unsigned long n = 1;; n++) {
        unsigned long before = memory_live();
        memory_fail_at(n);
        bool whole = live();
        memory_fail_at(0);
        if (memory_live() != before)
            fail_msg("expected nothing to be left when allocation %lu fails", n);
        if (whole && n > failures + 1)
            break;
        failures += !whole;
        assert_true(n < 20000);
    }
    print_message("%lu allocations failed in turn\n", failures);
    assert_true(failures > 30);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_what_is_in_a_program),
        cmocka_unit_test(test_diagnostics_have_a_place),
        cmocka_unit_test(test_dials_are_set_and_held),
        cmocka_unit_test(test_lamps),
        cmocka_unit_test(test_any_order_of_frames),
        cmocka_unit_test(test_the_moment),
        cmocka_unit_test(test_nothing_is_allowed_everywhere),
        cmocka_unit_test(test_every_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
