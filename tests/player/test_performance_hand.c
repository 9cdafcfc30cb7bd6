/* What was done by hand or told from outside, as light: worked out by hand beside each act. Shares
 * of ease-in-out as in test_performance.c. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "runtime/time/act.h"
#include "tests/player/show.h"

#define HOME                                                                                       \
    "place 51.45, -2.59 zone \"Europe/London\"\n"                                                  \
    "lamp lantern { pixels 4 shape ring part left 0..1 }\n"                                        \
    "dial warmth = 40% from 0% to 100%\n"                                                          \
    "dial slow = 0% from 0% to 100% eased 4s\n"                                                    \
    "dial hue = black eased 4s\n"                                                                  \
    "dial pace = 10s\n"                                                                            \
    "event bell\n"                                                                                 \
    "routine ruby { paint red }\n"                                                                 \
    "routine sky { paint blue }\n"                                                                 \
    "routine leaf { paint lime }\n"                                                                \
    "routine grey { paint white * warmth }\n"                                                      \
    "routine easy { paint white * slow + hue }\n"                                                  \
    "routine paced { paint white * (0 -> 1 every pace) }\n"                                        \
    "routine rise lasts 20s { paint white * (0 -> 1 throughout) }\n"

enum { WARMTH, SLOW, HUE, PACE };

static void show_start(Show *show, const char *now, const char *lines) {
    char text[8192];
    snprintf(text, sizeof text, "%s%s\n", HOME, lines);
    home_start(&show->home, text);
    show->overrides = memory_allocate(1, sizeof *show->overrides);
    assert_non_null(show->overrides);
    show->now = home_now(at(show, now));
    overrides_settle(show->overrides, &show->now);
    show->lamp = 0;
    show->performance = home_performance(&show->home, show->lamp, &show->now);
}

/* Time goes on to a reading of the clock. */
static void wait_until(Show *show, const char *now) {
    show->now = now_later(&show->now, at(show, now) - show->now.utc);
}

static void act(Show *show, Act what) {
    what.lamp = TIMETABLE_NOT_SAID;
    const char *wrong = overrides_act(show->overrides, &show->home.world, &show->now, &what);
    if (wrong)
        fail_msg("refused: %s", wrong);
    assert_true(performance_tell(show->performance, show->overrides, &show->now));
}

static void play(Show *show, const char *name, int64_t length) {
    const Program *program = show->home.world.context.program;
    uint16_t routine = 0;
    while (strcmp(program->routines[routine].name, name) != 0)
        routine++;
    act(show, (Act){.kind = ACT_PLAY,
                    .routine = routine,
                    .end = {.kind = OVERRIDE_FOR, .length = length}});
}

static void set(Show *show, uint16_t dial, double number, Colour colour) {
    act(show, (Act){.kind = ACT_SET, .setting = {dial, number, colour}});
}

/* It comes and goes within a second, over the part too; what was played goes on meanwhile. */
static void test_play(void **state) {
    (void)state;
    Show show;
    show_start(&show, "19:00:00",
               "until clock is set play off\nat 19:59:50 play rise\n"
               "at 12:00 play leaf on lamp lantern part left until 21:00");
    wait_until(&show, "20:00:00");
    play(&show, "ruby", 10 * MINUTE);
    pixel_is(&show, at(&show, "19:59:59"), 3, 0.45, 0.45, 0.45, "before it");
    pixel_is(&show, at(&show, "20:00:00.5"), 3, 0.5 + 0.2625, 0.2625, 0.2625, "half in");
    pixel_is(&show, at(&show, "20:00:00.5"), 0, 0.5 * (0.5 + 0.2625), 0.5 + 0.5 * 0.2625,
             0.5 * 0.2625, "half in on the part");
    is(&show, "20:00:01", 1, 0, 0);
    changes_at(&show, "20:00:01", "20:10:00");
    is(&show, "20:09:59.999999", 1, 0, 0);
    pixel_is(&show, at(&show, "20:10:00.25"), 3, 1, QUARTER, QUARTER, "going");
    pixel_is(&show, at(&show, "20:10:01"), 0, 0, 1, 0, "the part again");
    /* Also where what has ended was dropped meanwhile. */
    wait_until(&show, "20:10:00");
    assert_true(overrides_prune(show.overrides, &show.home.world, &show.now));
    pixel_is(&show, at(&show, "20:10:00.25"), 3, 1, QUARTER, QUARTER, "going");
    show_end(&show);
}

/* What is taken back fades from the frame as it was. */
static void test_undo(void **state) {
    (void)state;
    Show show;
    show_start(&show, "19:00:00", "until clock is set play off\nat 12:00 play sky");
    wait_until(&show, "20:00:00");
    play(&show, "ruby", 10 * MINUTE);
    wait_until(&show, "20:05:00");
    act(&show, (Act){.kind = ACT_UNDO});
    is(&show, "20:05:00", 1, 0, 0);
    is(&show, "20:05:00.25", 1 - QUARTER, 0, QUARTER);
    is(&show, "20:05:01", 0, 0, 1);
    changes_at(&show, "20:05:00.5", "20:05:00.5");
    show_end(&show);
}

/* L* = 50 is ((50 + 16) / 116)^3 of the light, 75 is (91 / 116)^3 (CIE 15). */
static void test_level(void **state) {
    (void)state;
    Show show;
    show_start(&show, "19:00:00", "until clock is set play off\nat 12:00 play sky");
    wait_until(&show, "20:00:00");
    act(&show,
        (Act){.kind = ACT_LEVEL, .lightness = 50, .end = {.kind = OVERRIDE_FOR, .length = MINUTE}});
    const struct {
        const char *now;
        double level;
    } cases[] = {{"20:00:00", 1},
                 {"20:00:00.5", pow(91.0 / 116.0, 3)},
                 {"20:00:01", pow(66.0 / 116.0, 3)},
                 {"20:00:59.9", pow(66.0 / 116.0, 3)},
                 {"20:01:00.5", pow(91.0 / 116.0, 3)},
                 {"20:01:01", 1}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        double got = performance_level(show.performance, at(&show, cases[i].now));
        if (fabs(got - cases[i].level) > 1e-9)
            fail_msg("the level at %s is %.9g, not %.9g", cases[i].now, got, cases[i].level);
    }
    /* In any order. */
    for (size_t i = sizeof cases / sizeof *cases; i-- > 0;)
        assert_true(fabs(performance_level(show.performance, at(&show, cases[i].now)) -
                         cases[i].level) < 1e-9);
    show_end(&show);
    /* One level after the other goes on from where it is. */
    show_start(&show, "19:00:00", "until clock is set play off\nat 12:00 play sky");
    Act level = {.kind = ACT_LEVEL, .lightness = 50, .end = {OVERRIDE_FOR, .length = MINUTE}};
    act(&show, level);
    wait_until(&show, "19:00:00.5");
    level.lightness = 75;
    act(&show, level);
    double same = pow(91.0 / 116.0, 3);
    assert_true(fabs(performance_level(show.performance, show.now.utc) - same) < 1e-9);
    assert_true(fabs(performance_level(show.performance, show.now.utc + SECOND / 2) - same) < 1e-9);
    show_end(&show);
}

/* An eased dial glides; another is at once what it was set to. */
static void test_dials(void **state) {
    (void)state;
    Show show;
    show_start(&show, "19:00:00",
               "until clock is set play off\nat 12:00 play easy\nat 21:00 play grey");
    wait_until(&show, "20:00:00");
    set(&show, SLOW, 1, (Colour){0, 0, 0});
    is(&show, "20:00:00", 0, 0, 0);
    is(&show, "20:00:02", 0.5, 0.5, 0.5);
    changes_at(&show, "20:00:02", "20:00:02");
    is(&show, "20:00:04", 1, 1, 1);
    changes_at(&show, "20:00:04", "21:00:00");
    wait_until(&show, "20:10:00");
    set(&show, SLOW, 0, (Colour){0, 0, 0});
    wait_until(&show, "20:10:02"); /* half way down, and up again */
    set(&show, SLOW, 1, (Colour){0, 0, 0});
    is(&show, "20:10:02", 0.5, 0.5, 0.5);
    is(&show, "20:10:04", 0.75, 0.75, 0.75);
    wait_until(&show, "20:20:00");
    set(&show, SLOW, 0, (Colour){0, 0, 0});
    wait_until(&show, "20:30:00");
    set(&show, HUE, 0, (Colour){0.5F, 0.25F, 1});
    is(&show, "20:30:02", 0.25, 0.125, 0.5);
    wait_until(&show, "21:10:00");
    set(&show, WARMTH, 0.9, (Colour){0, 0, 0});
    is(&show, "21:10:00", 0.9, 0.9, 0.9);
    changes_at(&show, "21:10:00", "36:00:00"); /* 12:00 of the next day */
    show_end(&show);
}

/* A duration jumps the phase: the light cross-fades. 72000 s since 00:00 are 0 in rounds of 10 s,
 * 5 s later it is half way; in rounds of 40 s at 72005 s an eighth. */
static void test_a_duration(void **state) {
    (void)state;
    Show show;
    show_start(&show, "19:00:00", "until clock is set play off\nat 00:00 play paced");
    wait_until(&show, "20:00:05");
    is(&show, "20:00:05", 0.5, 0.5, 0.5);
    set(&show, PACE, 40e6, (Colour){0, 0, 0});
    is(&show, "20:00:05", 0.5, 0.5, 0.5);
    double half = 0.5 * (0.5 + 5.5 / 40);
    is(&show, "20:00:05.5", half, half, half);
    is(&show, "20:00:07", 7 / 40.0, 7 / 40.0, 7 / 40.0);
    show_end(&show);
    /* What does not read it goes on. */
    show_start(&show, "19:00:00", "until clock is set play off\nat 19:59:50 play rise");
    wait_until(&show, "20:00:00");
    set(&show, PACE, 40e6, (Colour){0, 0, 0});
    is(&show, "20:00:00.5", 0.525, 0.525, 0.525);
    show_end(&show);
}

/* A dial set by hand wins over `with` until that play is over. */
static void test_with(void **state) {
    (void)state;
    Show show;
    show_start(&show, "19:00:00",
               "until clock is set play off\nat 12:00 play grey with warmth = 80%\n"
               "at 21:00 play grey with warmth = 10%\nat 22:00 play grey");
    is(&show, "20:00:00", 0.8, 0.8, 0.8);
    wait_until(&show, "20:00:00");
    set(&show, WARMTH, 0.2, (Colour){0, 0, 0});
    is(&show, "20:30:00", 0.2, 0.2, 0.2);
    is(&show, "21:30:00", 0.1, 0.1, 0.1);
    is(&show, "22:30:00", 0.2, 0.2, 0.2);
    show_end(&show);
}

/* A clock that was set, or becomes trusted, makes another light: it fades from the old one. */
static void test_clocks(void **state) {
    (void)state;
    Show show;
    show_start(&show, "20:59:59",
               "until clock is set play leaf\nat 12:00 play sky\nat 21:00 play ruby\n"
               "at 22:00 play sky\nbetween 21:05 and 21:20 keep level under 40%");
    is(&show, "20:59:59", 0, 0, 1);
    show.now.utc += 10 * MINUTE; /* the clock was slow */
    assert_true(performance_tell(show.performance, show.overrides, &show.now));
    is(&show, "21:09:59", 0, 0, 1);
    is(&show, "21:09:59.5", 0.5, 0, 0.5);
    is(&show, "21:10:00", 1, 0, 0);
    double ceiling = performance_ceiling(show.performance, at(&show, "21:09:59.5"));
    assert_true(fabs(ceiling - 0.7) < 1e-9); /* half way from full to 40 % */
    ceiling = performance_ceiling(show.performance, at(&show, "21:10:00"));
    assert_true(fabs(ceiling - 0.4) < 1e-9);
    show.now.trusted = false;
    assert_true(performance_tell(show.performance, show.overrides, &show.now));
    wait_until(&show, "21:30:00");
    is(&show, "21:30:00", 0, 1, 0);
    show.now.trusted = true;
    assert_true(performance_tell(show.performance, show.overrides, &show.now));
    is(&show, "21:30:00.25", QUARTER, 1 - QUARTER, 0);
    is(&show, "21:30:01", 1, 0, 0);
    /* Told anew without anything new: nothing happens, a fade goes on. */
    wait_until(&show, "21:30:00.5");
    is(&show, "21:30:00.5", 0.5, 0.5, 0);
    assert_true(performance_tell(show.performance, show.overrides, &show.now));
    is(&show, "21:30:00.75", 1 - QUARTER, QUARTER, 0);
    show_end(&show);
}

/* What is held stands still at its t, and rests so long. */
static void test_more(void **state) {
    (void)state;
    Show show;
    show_start(&show, "19:00:00", "until clock is set play off\nat 20:00 play rise");
    wait_until(&show, "20:00:05");
    act(&show, (Act){.kind = ACT_MORE, .length = MINUTE});
    is(&show, "20:00:05", 0.25, 0.25, 0.25);
    is(&show, "20:00:59", 0.25, 0.25, 0.25);
    changes_at(&show, "20:00:10", "20:01:05");
    is(&show, "20:01:10", 0.5, 0.5, 0.5);
    show_end(&show);
}

/* An event's play is sharp at both ends. */
static void test_when(void **state) {
    (void)state;
    Show show;
    show_start(&show, "19:00:00",
               "until clock is set play off\nat 12:00 play sky\nwhen bell play ruby for 6s");
    wait_until(&show, "20:00:00");
    act(&show, (Act){.kind = ACT_REPORT, .event = 0});
    is(&show, "19:59:59.999999", 0, 0, 1);
    is(&show, "20:00:00", 1, 0, 0);
    is(&show, "20:00:05.999999", 1, 0, 0);
    is(&show, "20:00:06", 0, 0, 1);
    show_end(&show);
}

/* From the light of another file to this one's. */
static void test_follow(void **state) {
    (void)state;
    Show old, show;
    show_start(&old, "19:00:00",
               "until clock is set play off\nat 12:00 play ruby\n"
               "between 18:00 and 20:00 keep level under 20%");
    show_start(&show, "19:00:00", "until clock is set play off\nat 12:00 play sky");
    int64_t now = at(&show, "19:00:00");
    assert_true(performance_follow(show.performance, old.performance, now));
    is(&show, "19:00:00", 1, 0, 0);
    is(&show, "19:00:00.5", 0.5, 0, 0.5);
    is(&show, "19:00:01", 0, 0, 1);
    assert_true(fabs(performance_ceiling(show.performance, now) - 0.2) < 1e-9);
    assert_true(fabs(performance_ceiling(show.performance, now + SECOND / 2) - 0.6) < 1e-9);
    assert_true(performance_ceiling(show.performance, now + SECOND) > 1);
    changes_at(&show, "19:00:00.5", "19:00:00.5");
    changes_at(&show, "19:00:01", "36:00:00");
    show_end(&old);
    show_end(&show);
}

/* Where memory runs out all is as before. */
static void test_out_of_memory(void **state) {
    (void)state;
    Show show;
    show_start(&show, "19:00:00", "until clock is set play off\nat 12:00 play sky");
    is(&show, "19:00:00", 0, 0, 1);
    Act what = {.kind = ACT_PLAY,
                .lamp = TIMETABLE_NOT_SAID,
                .end = {.kind = OVERRIDE_FOR, .length = MINUTE}};
    assert_null(overrides_act(show.overrides, &show.home.world, &show.now, &what));
    bool told = false;
    unsigned long n = 0;
    while (!told && n < 100) {
        memory_fail_at(++n);
        told = performance_tell(show.performance, show.overrides, &show.now);
        memory_fail_at(0);
        if (!told)
            is(&show, "19:00:30", 0, 0, 1);
    }
    assert_true(told && n > 2);
    is(&show, "19:00:30", 1, 0, 0);
    show_end(&show);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_play),          cmocka_unit_test(test_undo),
        cmocka_unit_test(test_level),         cmocka_unit_test(test_dials),
        cmocka_unit_test(test_with),          cmocka_unit_test(test_a_duration),
        cmocka_unit_test(test_clocks),        cmocka_unit_test(test_more),
        cmocka_unit_test(test_when),          cmocka_unit_test(test_follow),
        cmocka_unit_test(test_out_of_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
