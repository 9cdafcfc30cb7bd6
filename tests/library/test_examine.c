/* Routines looked at on lamps: currents and changes of light that can be reckoned by hand. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/lang/said.h"

#include "runtime/core/memory.h"
#include "runtime/library/examine.h"
#include "runtime/library/safety.h"
#include "runtime/light/level.h"

static Compilation *compile(const char *text) {
    Compilation *compilation = compile_text(text);
    if (!lang_program(compilation))
        said_print(compilation);
    assert_non_null(lang_program(compilation));
    return compilation;
}

/* Routine 0 on lamp 0, or where there is none on the ring of 16. */
static Examined look(const char *text) {
    Compilation *compilation = compile(text);
    uint32_t count;
    const LampInfo *lamps = lang_lamps(compilation, &count);
    double work = EXAMINE_WORK;
    Examined seen;
    ExamineRequest request = {lang_program(compilation), 0, count ? lamps : NULL, 0, 0,
                              LEVEL_NO_CEILING};
    assert_true(examine(&request, &work, &seen));
    lang_free(compilation);
    return seen;
}

/* A ring of 12 at full white, 20 mA a channel: 720 mA, and 12 mA idle (common practice: a small
 * ring still runs from a board's 5 V pins). */
static void test_current_of_a_ring(void **state) {
    (void)state;
    Examined seen = look("lamp l { pixels 12 shape ring chip ws2812b }\n"
                         "routine r { paint white }");
    assert_float_equal(seen.peak_ampere, 0.732, 1e-9);
    assert_float_equal(seen.mean_ampere, 0.732, 1e-9);
    assert_int_equal(seen.peak_at, 0);
    assert_int_equal(seen.length, EXAMINE_LENGTH);
    assert_false(seen.dimmed);
    /* Full white is 1 of itself. */
    assert_float_equal(seen.light_most, 1, 1e-6);
    assert_float_equal(seen.melanopic_least, 1, 1e-6);
}

/* Full for 6 s of 10: the mean lies there, the peak at its beginning. */
static void test_mean_and_peak(void **state) {
    (void)state;
    Examined seen = look("lamp l { pixels 10 shape strip chip ws2812b draws 10mA idle 0mA }\n"
                         "routine r lasts 10s { paint black | red at 40% throughout }");
    assert_float_equal(seen.peak_ampere, 0.1, 1e-9);
    assert_float_equal(seen.mean_ampere, 0.06, 0.0002);
    assert_int_equal(seen.peak_at, 4000000);
    assert_int_equal(seen.length, 10000000);
    assert_true(seen.light_least == 0 && seen.melanopic_least == 0);
    assert_float_equal(seen.light_most, 0.2126, 1e-6);
}

static void test_the_supply_dims(void **state) {
    (void)state;
    Examined seen = look("lamp l { pixels 12 shape ring chip ws2812b supply 5V 500mA }\n"
                         "routine r { paint white }");
    assert_true(seen.dimmed);
    assert_true(seen.peak_ampere <= 0.5 && seen.peak_ampere > 0.48);
    /* The master level comes before: half of it needs no limit. */
    seen = look("lamp l { pixels 12 shape ring chip ws2812b supply 5V 500mA level 50% }\n"
                "routine r { paint white }");
    assert_false(seen.dimmed);
    assert_float_equal(seen.light_most, 0.5, 1e-6);
}

/* A square of 4 Hz has eight changes in a second, of 3 Hz six (WCAG 2.2, 2.3.1: three flashes). */
static void test_flashes(void **state) {
    (void)state;
    Examined seen = look("routine r { paint white | black every 250ms }");
    assert_int_equal(seen.flashes.most[FLASH_GENERAL], 8);
    assert_int_equal(seen.flashes.most[FLASH_RED], 0);
    seen = look("routine r lasts 20s { paint white | black every 334ms }");
    assert_int_equal(seen.flashes.most[FLASH_GENERAL], 6);
    seen = look("routine r lasts 20s { paint red | black every 334ms }");
    assert_int_equal(seen.flashes.most[FLASH_RED], 6);
}

/* What comes to rest is looked at until then; the rest counts for the mean. */
static void test_rest_counts(void **state) {
    (void)state;
    Examined seen = look("lamp l { pixels 1 shape strip draws 10mA idle 0mA }\n"
                         "routine r lasts 8h { paint black -> red over 1s }");
    assert_int_equal(seen.length, INT64_C(28800000000));
    assert_float_equal(seen.peak_ampere, 0.01, 1e-9);
    assert_float_equal(seen.mean_ampere, 0.01, 1e-6);
}

/* Where the work is used up it says how far it came. */
static void test_work_ends(void **state) {
    (void)state;
    Compilation *compilation = compile("routine r { paint white where noise(pos, t / 1s) }");
    double work = 1e6;
    Examined seen;
    ExamineRequest request = {lang_program(compilation), 0, NULL, 0, 0, LEVEL_NO_CEILING};
    assert_true(examine(&request, &work, &seen));
    assert_true(seen.length > 0 && seen.length < seen.wanted);
    assert_int_equal(seen.wanted, EXAMINE_LENGTH);
    assert_true(work >= 0 && work < 1e5);
    lang_free(compilation);
}

static void test_lamps_of_a_routine(void **state) {
    (void)state;
    Compilation *compilation = compile("lamp lantern { pixels 16 shape ring }\n"
                                       "lamp window { pixels 60 shape strip }\n"
                                       "routine a lasts 1s then b { paint gold }\n"
                                       "routine b { paint gold }\n"
                                       "routine c { paint gold }\n"
                                       "at 07:00 play a on lamp window\n"
                                       "at 08:00 play off\n"
                                       "until clock is set play off\n");
    Safety safety;
    assert_true(safety_look(compilation, 0, &safety));
    /* a and what comes behind it on the window; what no entry plays on both. */
    assert_int_equal(safety.count, 4);
    static const struct {
        uint16_t routine;
        const char *lamp;
    } WANTED[] = {{0, "window"}, {1, "window"}, {2, "lantern"}, {2, "window"}};
    for (size_t i = 0; i < 4; i++) {
        assert_int_equal(safety.sights[i].routine, WANTED[i].routine);
        assert_string_equal(safety.sights[i].lamp->name, WANTED[i].lamp);
    }
    assert_false(safety.cut);
    safety_free(&safety);
    lang_free(compilation);
}

/* 2026-11-25 12:00 UTC, a Wednesday. */
#define NOW INT64_C(1795608000000000)

static const Sight *night_of(const Safety *safety, uint16_t routine) {
    for (size_t i = 0; i < safety->night_count; i++)
        if (safety->nights[i].routine == routine)
            return &safety->nights[i];
    return NULL;
}

/* Played at 02:00 on any of the coming seven days, or until the clock is set; nothing else is. */
static void test_which_are_night_lights(void **state) {
    (void)state;
    Compilation *compilation = compile("lamp lantern { pixels 16 shape ring }\n"
                                       "routine dusk lasts 40min then ember { paint gold * 1% }\n"
                                       "routine ember { paint #ff3a00 * 2% }\n"
                                       "routine feast { paint white }\n"
                                       "routine year { paint white }\n"
                                       "routine wait { paint red * 1% }\n"
                                       "at 19:30 play dusk\n"
                                       "at 23:00 on sat play feast until 03:00\n"
                                       "at 23:00 on fri from 2026-12-04 play year until 03:00\n"
                                       "at 08:00 play off\n"
                                       "until clock is set play wait\n");
    Safety safety;
    assert_true(safety_look(compilation, NOW, &safety));
    assert_null(night_of(&safety, 0)); /* over at 20:10 */
    assert_non_null(night_of(&safety, 1));
    assert_non_null(night_of(&safety, 2));
    assert_null(night_of(&safety, 3)); /* not in this week */
    assert_non_null(night_of(&safety, 4));
    assert_int_equal(safety.night_count, 3);
    assert_true(said(compilation, "night-bright") && said(compilation, "night-blue"));
    safety_free(&safety);
    lang_free(compilation);
}

/* What is over by 02:00 counts with its last moment only. */
static void test_a_night_begins_at_two(void **state) {
    (void)state;
    Compilation *compilation =
        compile("routine dusk lasts 40min { paint gold -> red * 1% throughout }\n"
                "at 19:30 play dusk\n"
                "until clock is set play off\n");
    Safety safety;
    assert_true(safety_look(compilation, NOW, &safety));
    assert_int_equal(safety.night_count, 1);
    assert_float_equal(safety.nights[0].examined.light_most, 0.002126, 1e-6);
    assert_null(said(compilation, "night-bright"));
    safety_free(&safety);
    lang_free(compilation);
}

/* A ceiling that is on at 02:00 counts; melanopic figures: tests/data/light/
 * melanopic_rgb_examples.csv, pure red 0.00055 of full white's. */
static void test_light_of_a_night(void **state) {
    (void)state;
    Compilation *compilation = compile("lamp lantern { pixels 16 shape ring level 50% }\n"
                                       "routine ember { paint red }\n"
                                       "at 19:30 play ember\n"
                                       "between 21:00 and 05:00 keep level under 10%\n"
                                       "until clock is set play off\n");
    Safety safety;
    assert_true(safety_look(compilation, NOW, &safety));
    assert_int_equal(safety.night_count, 1);
    assert_float_equal(safety.nights[0].examined.light_most, 0.02126, 1e-6);
    assert_float_equal(safety.nights[0].examined.light_least, 0.02126, 1e-6);
    assert_float_equal(safety.nights[0].examined.melanopic_most, 0.000055, 1e-9);
    assert_float_equal(safety.sights[0].examined.light_most, 0.1063, 1e-6);
    assert_false(said(compilation, "night-bright") || said(compilation, "night-blue"));
    safety_free(&safety);
    lang_free(compilation);
    /* Without a timetable nothing is a night light. */
    compilation = compile("routine ember { paint white }\n");
    assert_true(safety_look(compilation, NOW, &safety));
    assert_int_equal(safety.night_count, 0);
    safety_free(&safety);
    lang_free(compilation);
}

static void test_memory(void **state) {
    (void)state;
    unsigned long before = memory_live();
    for (unsigned long n = 1;; n++) {
        Compilation *compilation =
            compile("lamp l { pixels 4 shape strip chip sk6812w die 4000K }\n"
                    "routine a { paint white | black every 200ms }\n"
                    "at 20:00 play a until 06:00\n");
        Safety safety;
        memory_fail_at(n);
        bool fine = safety_look(compilation, NOW, &safety);
        memory_fail_at(0);
        safety_free(&safety);
        lang_free(compilation);
        assert_int_equal(memory_live(), before);
        if (fine)
            break;
        assert_true(n < 100);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_current_of_a_ring),
        cmocka_unit_test(test_mean_and_peak),
        cmocka_unit_test(test_the_supply_dims),
        cmocka_unit_test(test_flashes),
        cmocka_unit_test(test_rest_counts),
        cmocka_unit_test(test_work_ends),
        cmocka_unit_test(test_lamps_of_a_routine),
        cmocka_unit_test(test_which_are_night_lights),
        cmocka_unit_test(test_light_of_a_night),
        cmocka_unit_test(test_a_night_begins_at_two),
        cmocka_unit_test(test_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
