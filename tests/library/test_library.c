/* The public library, through gloam.h; bytecode is made by the house. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>
#include <math.h>

#include "lang/compile.h"
#include "runtime/core/bytecode.h"
#include "runtime/core/memory.h"
#include "runtime/library/gloam.h"
#include "runtime/library/reader.h"
#include "tests/support/folder.h"

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
    /* What is not finite is 0, and no light either. */
    double nonsense = NAN, far = 1, bad[3] = {NAN, INFINITY, -1e300}, on = 1;
    assert_true(gloam_set(a, "lit", &on) && gloam_set(a, "tint", bad));
    assert_true(gloam_set(a, "warmth", &far));
    gloam_render(a, 0, NULL, light);
    assert_true(light[0] == 0.0f && light[1] == 0.0f && light[2] == 0.0f);
    assert_true(gloam_set(a, "tint", (double[]){1, 1, 1}));
    assert_true(gloam_set(a, "warmth", &nonsense));
    gloam_render(a, 0, NULL, light);
    assert_true(light[0] == 0.0f);
    gloam_close(a);
    gloam_free(program);
}

static void test_lamps(void **state) {
    (void)state;
    gloam_program *program = compile(TWO);
    const char *reason;
    gloam_lamp shelf = gloam_declared("shelf"), none = gloam_declared("shelve");
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
    gloam_lamp grid = gloam_grid(3, 4), ball = gloam_ball(2);
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

/* Where the pixels are: spec/meaning.md, section on places. A strip runs along x from -1 to 1, a
 * ring begins at the top and runs clockwise, a grid from the bottom up. */
static void test_places(void **state) {
    (void)state;
    gloam_program *program = compile("routine a { paint red * (x + 1) + lime * (y + 1) + "
                                     "blue * pos }");
    double places[9] = {0, 0, 0, 4, 0, 0, 0, 2, 0};
    gloam_lamp lamps[] = {gloam_strip(2),
                          gloam_ring(4),
                          gloam_grid(2, 2),
                          {.shape = GLOAM_PLACES, .pixels = 3, .places = places}};
    float light[12];
    /* x and y of the first three pixels. */
    const double wanted[4][3][2] = {{{-0.5, 0}, {0.5, 0}, {0, 0}},
                                    {{0, 1}, {1, 0}, {0, -1}},
                                    {{-0.5, -0.5}, {0.5, -0.5}, {-0.5, 0.5}},
                                    {{-1, -0.5}, {1, -0.5}, {-1, 0.5}}};
    for (int i = 0; i < 4; i++) {
        gloam_routine *a = gloam_open(program, "a", &lamps[i], NULL);
        assert_non_null(a);
        gloam_render(a, 0, NULL, light);
        for (uint32_t pixel = 0; pixel < 3 && pixel < gloam_pixels(a); pixel++) {
            const double *place = wanted[i][pixel];
            if (fabs((double)light[3 * pixel] - 1 - place[0]) > 1e-6 ||
                fabs((double)light[3 * pixel + 1] - 1 - place[1]) > 1e-6)
                fail_msg("pixel %u of lamp %d at %g, %g", pixel, i, (double)light[3 * pixel] - 1,
                         (double)light[3 * pixel + 1] - 1);
        }
        gloam_close(a);
    }
    gloam_free(program);
}

static char *written(const char *name, const char *text) {
    static char path[FOLDER_PATH];
    folder_make(path, "library");
    snprintf(path + strlen(path), sizeof path - strlen(path), "/%s", name);
    file_write(path, text);
    return path;
}

static void removed(char *path) {
    assert_int_equal(unlink(path), 0);
    *strrchr(path, '/') = 0;
    assert_int_equal(rmdir(path), 0);
}

static void test_bytecode_is_the_same_program(void **state) {
    (void)state;
    unsigned char *bytes;
    size_t length;
    TextReader one = {TWO, strlen(TWO)};
    LangReader reader = {text_reader_read, &one};
    Compilation *compilation = lang_compile(&reader, "home.gloam");
    assert_true(bytecode_write(lang_program(compilation), &bytes, &length));
    lang_free(compilation);
    gloam_program *text = compile(TWO), *code = gloam_load("home", bytes, length);
    memory_release(bytes); /* nothing of it is kept */
    assert_true(gloam_ready(code));
    assert_int_equal(gloam_diagnostic_count(code), 0);
    assert_int_equal(gloam_routine_count(code), 3);
    assert_int_equal(gloam_dial_count(code), 4);
    assert_int_equal(gloam_lamp_count(code), 0);
    gloam_lamp lamp = gloam_strip(5);
    for (size_t i = 0; i < 3; i++) {
        assert_string_equal(gloam_routine_name(code, i), gloam_routine_name(text, i));
        gloam_routine *a = gloam_open(text, gloam_routine_name(text, i), &lamp, NULL);
        gloam_routine *b = gloam_open(code, gloam_routine_name(text, i), &lamp, NULL);
        float one_light[15], other_light[15];
        gloam_render(a, 700000, NULL, one_light);
        gloam_render(b, 700000, NULL, other_light);
        assert_memory_equal(one_light, other_light, sizeof one_light);
        gloam_close(a);
        gloam_close(b);
    }
    gloam_free(text);
    gloam_free(code);
}

static void test_far_times(void **state) {
    (void)state;
    gloam_program *program =
        compile("routine a { paint (black -> white and back every 7s) * (hour / 24) }");
    gloam_lamp lamp = gloam_ring(2);
    gloam_routine *a = gloam_open(program, NULL, &lamp, NULL);
    gloam_moment moments[] = {{.hour = NAN}, {.hour = INFINITY}, {.hour = 1e308}, {.hour = 12}};
    int64_t times[] = {INT64_MIN, -1, 0, 1LL << 53, INT64_MAX};
    for (size_t m = 0; m < 4; m++)
        for (size_t i = 0; i < 5; i++) {
            float light[6];
            gloam_render(a, times[i], &moments[m], light);
            for (int k = 0; k < 6; k++)
                assert_true(isfinite(light[k]));
        }
    gloam_close(a);
    gloam_free(program);
}

/* -------- threads -------- */

enum { THREADS = 4, ROUNDS = 12, PIXELS = 40 };

typedef struct Work {
    const gloam_program *shared;
    float light[ROUNDS][3 * PIXELS];
    bool fine;
} Work;

/* Programs of its own, and routines of one that all share. */
static void *work(void *context) {
    Work *mine = context;
    gloam_lamp lamp = gloam_ring(PIXELS);
    mine->fine = true;
    for (int round = 0; round < ROUNDS; round++) {
        gloam_program *own = gloam_compile_text("own", TWO, strlen(TWO));
        gloam_routine *a = gloam_open(own, "a", &lamp, NULL);
        gloam_routine *c = gloam_open(mine->shared, "c", &lamp, NULL);
        mine->fine = mine->fine && a && c;
        gloam_render(a, round * 100000, NULL, mine->light[round]);
        gloam_render(c, round * 100000, NULL, mine->light[round]);
        gloam_close(c);
        gloam_close(a);
        gloam_free(own);
    }
    return NULL;
}

static void test_threads(void **state) {
    (void)state;
    static Work all[THREADS], alone;
    pthread_t threads[THREADS];
    gloam_program *shared = compile(TWO);
    unsigned long before = memory_live();
    for (int i = 0; i < THREADS; i++) {
        all[i].shared = shared;
        assert_int_equal(pthread_create(&threads[i], NULL, work, &all[i]), 0);
    }
    for (int i = 0; i < THREADS; i++)
        pthread_join(threads[i], NULL);
    assert_true(memory_live() == before); /* counted right, too */
    alone.shared = shared;
    work(&alone);
    for (int i = 0; i < THREADS; i++) {
        assert_true(all[i].fine);
        assert_memory_equal(all[i].light, alone.light, sizeof alone.light);
    }
    gloam_free(shared);
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

/* NULL for a part of a call whose object is there. */
static void test_nothing_as_a_part(void **state) {
    (void)state;
    gloam_lamp lamp = gloam_ring(2), none = gloam_declared(NULL);
    const char *reason = NULL;
    double value = 1;
    gloam_program *program = gloam_compile_file(NULL);
    assert_false(gloam_ready(program));
    assert_true(gloam_diagnostic_count(program) > 0);
    gloam_free(program);
    program = gloam_compile_text(NULL, NULL, 7); /* nothing is an empty text */
    assert_true(gloam_ready(program));
    assert_int_equal(gloam_routine_count(program), 0);
    gloam_free(program);
    program = gloam_load(NULL, NULL, 7);
    assert_false(gloam_ready(program));
    gloam_free(program);
    program = compile(TWO);
    assert_false(gloam_dial_at(program, 0, NULL));
    assert_null(gloam_open(program, "a", NULL, &reason));
    assert_non_null(reason);
    assert_null(gloam_open(program, "a", &none, &reason));
    assert_null(gloam_open(program, NULL, &lamp, NULL));
    gloam_routine *a = gloam_open(program, "a", &lamp, NULL);
    assert_false(gloam_set(a, NULL, &value));
    assert_false(gloam_set(a, "warmth", NULL));
    gloam_render(a, 0, NULL, NULL);
    gloam_close(a);
    gloam_free(program);
}

/* A program, opened and shown; false where memory ran out on the way. */
static bool show(gloam_program *program, const gloam_lamp *lamp) {
    gloam_routine *routine = gloam_open(program, "b", lamp, NULL);
    float light[27];
    double value = 0.5;
    gloam_set(routine, "warmth", &value);
    gloam_render(routine, 2500000, NULL, light);
    gloam_close(routine);
    bool whole = routine != NULL;
    gloam_free(program);
    return whole;
}

static const char LIFE[] =
    "dial warmth = 40% from 0% to 100%\nlamp l { pixels 9 part p 0..3 }\n"
    "routine a lasts 3s { paint (black -> red -> gold throughout) delayed pos * 1s where "
    "within(p) }\nroutine b { paint a where warmth }\nat 07:00 play b for 2h\n"
    "until clock is set play b\n";

/* Whole lives: from a text, from a file, from bytecode. */
static bool live_by_text(const void *context) {
    (void)context;
    gloam_lamp lamp = gloam_declared("l");
    return show(gloam_compile_text("t", LIFE, sizeof LIFE - 1), &lamp);
}

static bool live_by_file(const void *context) {
    gloam_lamp lamp = gloam_ball(2);
    gloam_program *program = gloam_compile_file(context);
    gloam_free(gloam_compile_file("no/such/file"));
    lamp.frequency = 1;
    lamp.pixels = 0;
    double places[27] = {0, 0, 0, 1, 2, 3};
    gloam_lamp own = {.shape = GLOAM_PLACES, .pixels = 9, .places = places};
    gloam_close(gloam_open(program, "a", &lamp, NULL));
    return show(program, &own);
}

typedef struct Bytes {
    unsigned char *bytes;
    size_t length;
} Bytes;

static bool live_by_bytecode(const void *context) {
    const Bytes *code = context;
    gloam_lamp lamp = gloam_grid(3, 3);
    gloam_free(gloam_load("cut", code->bytes, code->length - 1));
    return show(gloam_load("t", code->bytes, code->length), &lamp);
}

static void fail_each(bool (*live)(const void *), const void *context) {
    unsigned long failures = 0;
    for (unsigned long n = 1;; n++) {
        unsigned long before = memory_live();
        memory_fail_at(n);
        bool whole = live(context);
        memory_fail_at(0);
        if (memory_live() != before)
            fail_msg("expected nothing to be left when allocation %lu fails", n);
        if (whole && n > failures + 4) /* four in a row: past the last one that matters */
            break;
        failures += !whole;
        assert_true(n < 20000);
    }
    print_message("%lu allocations failed in turn\n", failures);
    assert_true(failures > 10);
}

static void test_every_allocation_may_fail(void **state) {
    (void)state;
    fail_each(live_by_text, NULL);
    char *path = written("life.gloam", LIFE);
    fail_each(live_by_file, path);
    removed(path);
    Bytes code;
    TextReader one = {LIFE, sizeof LIFE - 1};
    LangReader reader = {text_reader_read, &one};
    Compilation *compilation = lang_compile(&reader, "t");
    assert_true(bytecode_write(lang_program(compilation), &code.bytes, &code.length));
    lang_free(compilation);
    fail_each(live_by_bytecode, &code);
    memory_release(code.bytes);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_what_is_in_a_program),
        cmocka_unit_test(test_diagnostics_have_a_place),
        cmocka_unit_test(test_dials_are_set_and_held),
        cmocka_unit_test(test_lamps),
        cmocka_unit_test(test_places),
        cmocka_unit_test(test_bytecode_is_the_same_program),
        cmocka_unit_test(test_far_times),
        cmocka_unit_test(test_threads),
        cmocka_unit_test(test_any_order_of_frames),
        cmocka_unit_test(test_the_moment),
        cmocka_unit_test(test_nothing_is_allowed_everywhere),
        cmocka_unit_test(test_nothing_as_a_part),
        cmocka_unit_test(test_every_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
