/* Advice can be followed: where a message proposes other words, those words in the same place are a
 * program without that mistake. And corners of the timetable, worked out with a calendar by hand.
 */
#include "expect.h"

/* `wrong` between `before` and `after` gives one error, whose first words between backticks are
 * `right`; with these there is no error. */
static void advice(const char *before, const char *wrong, const char *after, const char *code,
                   const char *right) {
    char text[1000], hint[200] = "";
    snprintf(text, sizeof text, "%s%s%s", before, wrong, after);
    Compilation *compilation = compile_text(text);
    assert_int_equal(diagnostics_count(lang_diagnostics(compilation), SEVERITY_ERROR), 1);
    const Diagnostic *diagnostic = said(compilation, code);
    if (!diagnostic || !diagnostic->hint) {
        said_print(compilation);
        fail_msg("%s: expected %s with a hint", text, code);
    }
    sscanf(diagnostic->hint, "%*[^`]`%199[^`]", hint);
    if (diagnostic->hint[0] == '`')
        sscanf(diagnostic->hint, "`%199[^`]", hint);
    assert_string_equal(hint, right);
    lang_free(compilation);
    snprintf(text, sizeof text, "%s%s%s", before, hint, after);
    compilation = compile_text(text);
    if (!lang_program(compilation)) {
        said_print(compilation);
        fail_msg("%s: expected this to be followed", text);
    }
    lang_free(compilation);
}

static void test_along(void **state) {
    (void)state;
    advice("routine r { paint black -> gold ", "along angle", " }", "needs-number",
           "along angle / 1turn");
    advice("routine r { paint black -> gold ", "along t", " }", "needs-number",
           "along fract(t / 10s)");
    expect("routine r { paint black -> gold along ⟦(t > 2s)⟧ }", "error needs-number");
}

static void test_products(void **state) {
    (void)state;
    const char *duration = " paint gold delayed a }", *colour = " paint a }";
    advice("routine r { let a = ", "2s * 3s", duration, "cannot-multiply", "2s * (3s / 1s)");
    advice("routine r { let a = ", "gold * t", colour, "cannot-multiply", "gold * (t / 1s)");
    advice("routine r { let a = ", "angle * gold", colour, "cannot-multiply",
           "gold * (angle / 1turn)");
    advice("routine r { let a = ", "angle * angle", " paint oklch(75%, 0.1, a) }",
           "cannot-multiply", "angle * (angle / 1turn)");
    advice("routine r { let a = ", "2s * angle", " paint oklch(75%, 0.1, a) }", "cannot-multiply",
           "2s / 1s * angle");
    advice("routine r { let a = ", "angle * 2s", " paint oklch(75%, 0.1, a) }", "cannot-multiply",
           "2s / 1s * angle");
    advice("routine r { let a = ", "(t > 1s) * gold", colour, "cannot-multiply",
           "if (t > 1s) then gold else black");
    advice("routine r { let a = ", "3 * (t > 1s)", " paint gold * a }", "cannot-multiply",
           "if (t > 1s) then 3 else 0");
}

static void test_types(void **state) {
    (void)state;
    advice("routine r { paint gold * ", "sqrt(angle)", " }", "wrong-argument",
           "sqrt(angle / 1turn)");
    advice("routine r { paint gold * ", "sqrt(t)", " }", "wrong-argument", "sqrt(t / 1s)");
    advice("routine r { paint gold * ", "sqrt(t > 1s)", " }", "wrong-argument",
           "sqrt(if (t > 1s) then 1 else 0)");
    advice("routine r { paint gold * ", "sin(pos)", " }", "needs-angle", "sin(pos * 1turn)");
    advice("routine r { paint gold * ", "sin(t)", " }", "needs-angle", "sin(t / 4s * 1turn)");
    advice("routine r { paint ", "oklch(75%, 0.12, 90)", " }", "needs-angle",
           "oklch(75%, 0.12, 90deg)");
    advice("routine r { paint gold delayed ", "pos", " }", "needs-duration", "pos * 1s");
    advice("routine r { paint gold delayed ", "angle", " }", "needs-duration",
           "angle / 1turn * 1s");
}

/* What the advice quotes is in one line, without the comments, and not without end. */
static void test_quoted(void **state) {
    (void)state;
    advice("routine r { paint gold * ", "sqrt((t // since it began\n\n > \t1s) // so far\n)", " }",
           "wrong-argument", "sqrt(if (t > 1s) then 1 else 0)");
    char text[1200];
    size_t used = (size_t)sprintf(text, "routine r { paint gold * sqrt(t ");
    for (int i = 0; i < 100; i++)
        used += (size_t)sprintf(text + used, "+ t");
    sprintf(text + used, ") }");
    Compilation *compilation = compile_text(text);
    const Diagnostic *diagnostic = said(compilation, "wrong-argument");
    assert_non_null(diagnostic);
    assert_non_null(strstr(diagnostic->hint, "..."));
    assert_true(strlen(diagnostic->hint) < 200);
    lang_free(compilation);
}

static void test_steps(void **state) {
    (void)state;
    expect("routine r { paint black -> gold every 2s ⟦steps(3)⟧ }", "warning steps-never-last");
    expect("routine r { paint black -> gold every 2s ⟦steps(3, end)⟧ }",
           "warning steps-never-last");
    expect("routine r { paint black -> gold every 2s ⟦steps(3, jump-end)⟧ }",
           "warning steps-never-last");
    expect("routine r { paint black -> gold every 2s ⟦step-end⟧ }", "warning steps-never-last");
    expect("routine r { paint black -> gold every 2s steps(3, jump-none) }", "");
    expect("routine r { paint black -> gold every 2s steps(3, start) }", "");
    expect("routine r { paint black -> gold every 2s step-start }", "");
}

/* -------- the timetable -------- */

#define HOUSE                                                                                      \
    "place 51.45, -2.59 zone \"Europe/London\"\n"                                                  \
    "lamp lantern { pixels 16 shape ring }\n"                                                      \
    "lamp shelf { pixels 60 part left 0..29 part right 30..59 }\n"                                 \
    "dial hold = 2s from 0s to 1min dial count = 2 from 1 to 3\n"                                  \
    "routine daybreak lasts 30min { paint black -> 2700K throughout }\n"                           \
    "routine nightlight { paint 2000K * count where t > hold }\n"                                  \
    "until clock is set play nightlight\n"

static void entry(const char *marked, const char *codes) {
    static char text[4000];
    snprintf(text, sizeof text, "%s%s\n", HOUSE, marked);
    expect(text, codes);
}

/* A dawn by 03:10 begins at 02:40: what plays at 03:00 on the same day and lamp cuts it off. */
static void test_run_up_days(void **state) {
    (void)state;
    entry("by 03:10 on mon play daybreak ⟦at 03:00 on sat..mon play off⟧", "warning in-run-up");
    entry("by 03:10 on tue play daybreak at 03:00 on sat..mon play off", "");
    entry("by 03:10 on weekdays play daybreak at 03:00 on weekends play off", "");
    entry("by 03:10 on weekdays play daybreak ⟦at 03:00 on fri, sat play off⟧",
          "warning in-run-up");
    entry("by 00:10 on sun play daybreak ⟦at 23:50 on weekends play off⟧", "warning in-run-up");
    entry("by 00:10 on tue play daybreak at 23:50 on weekends play off", "");
    entry("by 03:10 on tue..sat except wed play daybreak ⟦at 03:00 play off⟧", "warning in-run-up");
    /* Days that depend on the date are not looked at. */
    entry("by 03:10 in nov..feb play daybreak at 03:00 in jul play off", "");
    entry("by 03:10 play daybreak at 03:00 on days 1..4 of 8 from 2026-03-02 play off", "");
}

static void test_run_up_moments(void **state) {
    (void)state;
    entry("by sunrise, 03:10 play daybreak ⟦at sunset, 03:00 play off⟧", "warning in-run-up");
    entry("by 03:10 play daybreak at 03:10..05:10 every 1h play off for 1min", "");
    entry("by 12:00, 03:10 play daybreak ⟦at 06:00, 03:00 play off⟧", "warning in-run-up");
}

static void test_run_up_lamps(void **state) {
    (void)state;
    entry("by 03:10 play daybreak on lamp shelf part left "
          "⟦at 03:00 play off on lamp shelf part left⟧",
          "warning in-run-up");
    entry("by 03:10 play daybreak on lamp shelf part left "
          "at 03:00 play off on lamp shelf part right",
          "");
    entry("by 03:10 play daybreak on lamp shelf part left at 03:00 play off on lamp lantern", "");
    entry("by 03:10 play daybreak on lamp lantern ⟦at 03:00 play off⟧", "warning in-run-up");
    entry("by 03:10 play daybreak on lamp lantern ⟦at 03:00 play off on lamp lantern⟧",
          "warning in-run-up");
}

static void test_between(void **state) {
    (void)state;
    entry("between sunset and ⟦sunset⟧ keep level under 10%", "error range-empty");
    entry("between civil dusk and ⟦civil dusk⟧ keep level under 10%", "error range-empty");
    entry("between civil dusk and nautical dusk keep level under 10%", "");
    entry("between sunset and sunset + 1h keep level under 10%", "");
    entry("between sunset and 21:00 keep level under 10% on lamp shelf part left", "");
}

static void test_dials(void **state) {
    (void)state;
    entry("at 19:30 play nightlight with hold = ⟦2min⟧", "error out-of-range");
    entry("at 19:30 play nightlight with count = ⟦4⟧, hold = ⟦-1s⟧",
          "error out-of-range, error out-of-range");
    entry("at 19:30 play nightlight with count = 3, hold = 1min", "");
    entry("at 19:30 play nightlight with count = ⟦3s⟧", "error setting-type");
}

static void test_cut_short(void **state) {
    (void)state;
    entry("at 19:30 play daybreak ⟦until 19:45⟧", "warning cut-short");
    entry("at 19:30 play daybreak until 20:00", "");
    entry("at 23:50 play daybreak ⟦until 00:10⟧", "warning cut-short");
    entry("at 23:50 play daybreak until 00:20", "");
    entry("by 20:00 play daybreak ⟦until 19:45⟧", "warning cut-short");
    entry("by 20:00 play daybreak until 20:00", "");
    entry("at 19:30 play daybreak until sunrise", "");
    entry("at 19:30, 20:30 play daybreak until 19:45", "");
}

/* The clock of twelve hours: midnight is 12 am, noon is 12 pm. */
static void test_times(void **state) {
    (void)state;
    static const char *const times[][2] = {
        {"7am", "07:00"},     {"7pm", "19:00"},    {"12am", "00:00"},   {"12pm", "12:00"},
        {"11PM", "23:00"},    {"1AM", "01:00"},    {"7:30pm", "19:30"}, {"12:15am", "00:15"},
        {"12:15PM", "12:15"}, {"7:30AM", "07:30"}, {"7:5", "07:05"},    {"24:00", "00:00"}};
    for (size_t i = 0; i < sizeof times / sizeof *times; i++)
        advice(HOUSE "at ", times[i][0], " play off", "time-of-day", times[i][1]);
    /* What cannot be guessed is not. */
    entry("at ⟦13pm⟧ play off", "error time-of-day");
    entry("at ⟦0am⟧ play off", "error time-of-day");
    entry("at ⟦24:01⟧ play off", "error time-of-day");
    entry("at ⟦07:60⟧ play off", "error time-of-day");
    entry("at ⟦07:00:60⟧ play off", "error time-of-day");
    entry("at 7:05, 07:00:30 play off", "");
}

static void test_units(void **state) {
    (void)state;
    static const char *const units[][3] = {
        {"2", "days", "48h"}, {"1", "d", "24h"},      {"1.5", "day", "36h"}, {"2", "sec", "2s"},
        {"3", "hours", "3h"}, {"10", "Min", "10min"}, {"500", "MS", "500ms"}};
    for (size_t i = 0; i < sizeof units / sizeof *units; i++) {
        char wrong[20];
        snprintf(wrong, sizeof wrong, "%s%s", units[i][0], units[i][1]);
        advice("routine r lasts ", wrong, " { paint gold }", "unknown-unit", units[i][2]);
    }
    expect("routine r lasts 5⟦m⟧ { paint gold }", "error unknown-unit");
    expect("routine r { paint gold * 1⟦e⟧ }", "error unknown-unit");
    expect("routine r { paint gold * 1⟦_⟧000 }", "error unknown-unit");
    expect("lamp l { pixels 16 shape grid 4⟦x⟧4 }", "error unknown-unit");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_along),          cmocka_unit_test(test_products),
        cmocka_unit_test(test_types),          cmocka_unit_test(test_quoted),
        cmocka_unit_test(test_steps),          cmocka_unit_test(test_run_up_days),
        cmocka_unit_test(test_run_up_moments), cmocka_unit_test(test_run_up_lamps),
        cmocka_unit_test(test_between),        cmocka_unit_test(test_dials),
        cmocka_unit_test(test_cut_short),      cmocka_unit_test(test_times),
        cmocka_unit_test(test_units),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
