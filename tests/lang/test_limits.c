/* Limits that no other test meets: at each, and one past it. tests/spec/test_limits_covered.sh
 * holds that every limit occurs in some test. */
#include <stddef.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <cmocka.h>

#include "runtime/core/bytecode.h"
#include "runtime/core/limits.h"
#include "said.h"

static void check_fine(const char *text) {
    Compilation *compilation = compile_text(text);
    assert_non_null(compilation);
    if (!lang_program(compilation)) {
        said_print(compilation);
        fail_msg("expected no error");
    }
    lang_free(compilation);
}

/* One error, of that code, whose sentence names the limit. */
static void check_past(const char *text, const char *code, const char *named) {
    Compilation *compilation = compile_text(text);
    assert_non_null(compilation);
    assert_null(lang_program(compilation));
    assert_int_equal(diagnostics_count(lang_diagnostics(compilation), SEVERITY_ERROR), 1);
    const Diagnostic *diagnostic = said(compilation, code);
    if (!diagnostic || !strstr(diagnostic->message, named)) {
        said_print(compilation);
        fail_msg("expected `%s`, which names %s", code, named);
    }
    lang_free(compilation);
}

static void test_digits(void **state) {
    (void)state;
    char text[80], digits[LIMIT_DIGITS + 2];
    memset(digits, '7', sizeof digits);
    digits[LIMIT_DIGITS] = 0;
    snprintf(text, sizeof text, "dial a = 0.00%s routine r { paint gold * a }", digits);
    check_fine(text);
    digits[LIMIT_DIGITS] = '7';
    digits[LIMIT_DIGITS + 1] = 0;
    snprintf(text, sizeof text, "dial a = 0.00%s routine r { paint gold * a }", digits);
    check_past(text, "too-many-digits", "15");
}

static void test_microseconds(void **state) {
    (void)state;
    /* 9007199254740992 us = 2501999 h 47 min 34.740992 s */
    assert_true(((2501999.0 * 60 + 47) * 60 + 34) * 1e6 + 740992 == (double)LIMIT_MICROSECONDS);
    check_fine("routine r lasts 2501999h47min34.740992s { paint gold }");
    check_past("routine r lasts 2501999h47min34.740993s { paint gold }", "duration-not-whole",
               "285 years");
}

static void test_steps(void **state) {
    (void)state;
    char text[120];
    const char *form = "routine r { paint (black -> gold over 3s steps(%d)) }";
    snprintf(text, sizeof text, form, LIMIT_EASING_STEPS);
    check_fine(text);
    snprintf(text, sizeof text, form, LIMIT_EASING_STEPS + 1);
    check_past(text, "wrong-easing", "1000");
}

/* Half of the points are the second places of others. */
static char *many_points(int count) {
    char *text = malloc(16u * (size_t)count + 80);
    assert_non_null(text);
    size_t at = (size_t)sprintf(text, "routine r { paint (black -> gold over 3s linear(0");
    for (int made = 1; made < count;) {
        bool two = made + 2 <= count;
        at += (size_t)sprintf(text + at, two ? ", 1 50%% 50%%" : ", 1");
        made += 1 + two;
    }
    sprintf(text + at, ")) }");
    return text;
}

static void test_points(void **state) {
    (void)state;
    for (int past = 0; past < 2; past++) {
        char *text = many_points(LIMIT_EASING_POINTS + past);
        if (past)
            check_past(text, "wrong-easing", "256");
        else
            check_fine(text);
        free(text);
    }
}

static void test_pixels_of_a_lamp(void **state) {
    (void)state;
    char text[80];
    snprintf(text, sizeof text, "lamp l { pixels %d }", LIMIT_PIXELS);
    check_fine(text);
    snprintf(text, sizeof text, "lamp l { pixels %d }", LIMIT_PIXELS + 1);
    check_past(text, "out-of-range", "100000");
}

/* -------- expansion -------- */

enum { TERMS = 100 };

/* `routines` routines, each of which calls a function of TERMS terms `calls` times, with a new
 * argument each time, and adds `more` terms of its own. A call that costs E expressions lets
 * LIMIT_EXPANSIONS / E of them pass. */
static Compilation *compile_calls(int routines, int calls, int more) {
    size_t room =
        (size_t)routines * ((size_t)calls * 40 + (size_t)more * 8 + 100) + 8 * TERMS + 100;
    char *text = malloc(room);
    assert_non_null(text);
    size_t at = (size_t)sprintf(text, "let f(n) = n");
    for (int i = 1; i < TERMS; i++)
        at += (size_t)sprintf(text + at, " + n");
    for (int r = 0; r < routines; r++) {
        at += (size_t)sprintf(text + at, "\nroutine r%d {\n", r);
        for (int i = 0; i < calls; i++)
            at += (size_t)sprintf(text + at, "paint gold where f(%d)\n", i % 7);
        at += (size_t)sprintf(text + at, "paint gold where 0");
        for (int i = 0; i < more; i++)
            at += (size_t)sprintf(text + at, " + 1");
        at += (size_t)sprintf(text + at, "\n}\n");
    }
    assert_true(at < room);
    Compilation *compilation = compile_text(text);
    free(text);
    assert_non_null(compilation);
    return compilation;
}

static bool calls_pass(int routines, int calls, int more, const char *named) {
    Compilation *compilation = compile_calls(routines, calls, more);
    bool fine = lang_program(compilation) != NULL;
    const Diagnostic *diagnostic = said(compilation, "too-large");
    if (fine == (diagnostic != NULL) || (!fine && !strstr(diagnostic->message, named))) {
        said_print(compilation);
        fail_msg("expected a program or `too-large`, which names %s", named);
    }
    lang_free(compilation);
    return fine;
}

/* The largest number that passes; `most` must not. */
static int most_calls(int most) {
    int pass = 0, fail = most;
    while (fail - pass > 1) {
        int middle = pass + (fail - pass) / 2;
        if (calls_pass(1, middle, 0, "200000 expressions"))
            pass = middle;
        else
            fail = middle;
    }
    return pass;
}

static void test_expansions(void **state) {
    (void)state;
    /* A call meets at least the TERMS names and the signs between them. */
    int least = 2 * TERMS - 1, calls = most_calls(LIMIT_EXPANSIONS / least + 2);
    print_message("%d calls of %d terms in one routine\n", calls, TERMS);
    assert_true(calls * least <= LIMIT_EXPANSIONS);
    /* A name may count twice, itself and the argument behind it, and a call has a few of its own.
     */
    assert_true((calls + 1) * (3 * TERMS + 10) > LIMIT_EXPANSIONS);
    /* The last call that fits leaves room for less than another: terms fill it one by one. */
    int more = 0;
    while (calls_pass(1, calls, more, "200000 expressions")) {
        more++;
        assert_true(more < 190);
    }
    assert_false(calls_pass(1, calls, more + 1, "200000 expressions"));

    /* A program of so many such routines as LIMIT_EXPANSIONS_ALL allows, and of one more. */
    int routines = LIMIT_EXPANSIONS_ALL / LIMIT_EXPANSIONS;
    assert_true(calls_pass(routines, calls, 0, ""));
    assert_false(calls_pass(routines + 1, calls, 0, "4000000 expressions"));
}

/* -------- bytecode -------- */

static bool told_of_size(size_t length) {
    unsigned char *small, *bytes = calloc(length, 1);
    size_t small_length;
    Compilation *compilation = compile_text("routine r { paint gold }");
    assert_true(bytecode_write(lang_program(compilation), &small, &small_length));
    assert_non_null(bytes);
    memcpy(bytes, small, small_length); /* a sound program, then zeros */
    char why[200] = "";
    assert_null(bytecode_read(bytes, length, why, sizeof why));
    memory_release(small);
    lang_free(compilation);
    free(bytes);
    return strstr(why, "16 MiB") != NULL;
}

static void test_program_bytes(void **state) {
    (void)state;
    assert_false(told_of_size(LIMIT_PROGRAM_BYTES));
    assert_true(told_of_size(LIMIT_PROGRAM_BYTES + 1));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_digits),
        cmocka_unit_test(test_microseconds),
        cmocka_unit_test(test_steps),
        cmocka_unit_test(test_points),
        cmocka_unit_test(test_pixels_of_a_lamp),
        cmocka_unit_test(test_expansions),
        cmocka_unit_test(test_program_bytes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
