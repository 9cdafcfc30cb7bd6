/* What must hold of any timetable: a run at 60 frames a second, a jump to any of its instants and a
 * start there give the same bits, and no frame differs before performance_changes says. The
 * timetables are drawn by lot; so that cross-fades meet, all happens within a quarter of an hour.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "runtime/time/act.h"
#include "tests/support/chance.h"
#include "tests/support/stage.h"

enum { TIMETABLES = 150, ACTED = 100, STARTS = 4, FRAMES = 60, TEXT = 16384 };

#define ROUTINES                                                                                   \
    "place 51.45, -2.59 zone \"Europe/London\"\n"                                                  \
    "lamp lantern { pixels 5 shape ring }\n"                                                       \
    "lamp shelf { pixels 9 part left 0..3 part right 4..8 part middle 3..5 group odd 1, 5, 7 }\n"  \
    "dial warmth = 40% from 0% to 100%\n"                                                          \
    "dial pace = 7s\n"                                                                             \
    "routine ruby { paint red }\n"                                                                 \
    "routine dim { paint 2700K * 5% }\n"                                                           \
    "routine warm { paint 1900K -> 4000K along warmth }\n"                                         \
    "routine waves { paint (navy -> teal and back every pace) delayed pos * 3s }\n"                \
    "routine coals { paint black -> #ff5000 -> gold along noise(pixel, t / 300ms) }\n"             \
    "routine rise lasts 90s { paint black -> 2700K throughout }\n"                                 \
    "routine runs lasts 20s then dim { paint (black -> gold over 9s) delayed pos * 5s }\n"         \
    "routine chain lasts 3s then runs { paint lime where within(odd) }\n"                          \
    "routine wall { paint oklch(60%, 0.1, hour * 60turn) }\n"                                      \
    "routine sparks { paint white where random(pixel, tick(2s)) > 70% }\n"                         \
    "routine settles { paint black -> teal over 40s }\n"                                           \
    "event bell\n"                                                                                 \
    "until clock is set play dim\n"

static const char *PLAYED[] = {"ruby", "dim",   "warm", "waves",  "coals",   "rise",
                               "runs", "chain", "wall", "sparks", "settles", "off"};

static int draw(int below) {
    return (int)(chance() % (uint64_t)below);
}

/* A time of day within a quarter of an hour from noon, often on the minute. */
static void moment(char *text, size_t size) {
    snprintf(text, size, "12:%02d:%02d", draw(15), draw(3) ? draw(60) : 0);
}

static void entry(char *text, size_t size) {
    char first[16], end[40] = "", fading[24] = "", with[48] = "";
    const char *lamps[] = {"",
                           "",
                           " on lamp shelf",
                           " on lamp lantern",
                           " on lamp shelf part left",
                           " on lamp shelf part right",
                           " on lamp shelf part middle"};
    const char *lamp = lamps[draw(7)], *days = draw(4) ? "" : " on wed, fri";
    moment(first, sizeof first);
    if (draw(2))
        snprintf(end, sizeof end, " for %ds", 1 + draw(120));
    if (draw(2))
        snprintf(fading, sizeof fading, " fading %ds", draw(3) ? draw(30) : 120);
    if (draw(3) == 0)
        snprintf(with, sizeof with, " with warmth = %d%%, pace = %ds", draw(101), 1 + draw(9));
    int kind = draw(8);
    if (kind == 0)
        snprintf(text, size, "by %s%s play rise%s%s%s\n", first, days, lamp, end, fading);
    else if (kind == 1)
        snprintf(text, size, "at 12:00..12:%02d every %dmin play %s for %ds%s%s\n", 1 + draw(14),
                 1 + draw(4), PLAYED[draw(12)], 1 + draw(100), lamp, fading);
    else if (kind == 2)
        snprintf(text, size, "between %s and 12:%02d keep level under %d%%%s\n", first,
                 15 + draw(5), draw(100), lamp);
    else
        snprintf(text, size, "at %s%s play %s%s%s%s%s\n", first, days, PLAYED[draw(12)], with, lamp,
                 end, fading);
}

static void timetable(char *text) {
    strcpy(text, ROUTINES);
    for (int count = 1 + draw(24); count > 0; count--) {
        size_t used = strlen(text);
        entry(text + used, TEXT - used);
    }
}

typedef struct Shown {
    Performance *performance;
    Pipeline *pipeline;
    uint32_t pixels;
} Shown;

static Shown shown_start(const Home *home, int32_t lamp, int64_t utc) {
    PipelineLamp light = lamp_light(&home->infos[lamp], 0);
    light.guarded = false; /* it is the one step that remembers */
    Now now = home_now(utc);
    Shown shown = {home_performance(home, lamp, &now),
                   pipeline_create(&light, home->lamps[lamp].shape),
                   home->lamps[lamp].scene.pixels};
    assert_non_null(shown.pipeline);
    return shown;
}

static void shown_end(Shown *shown) {
    pipeline_free(shown->pipeline);
    performance_free(shown->performance);
}

/* The light, and behind it what the lamp makes of it. */
static void frame(Shown *shown, int64_t utc, float *into) {
    size_t values = 3 * (size_t)shown->pixels;
    assert_true(performance_light(shown->performance, utc, into));
    memcpy(into + values, into, values * sizeof *into);
    performance_show(shown->performance, utc, shown->pipeline, 0, into + values);
}

static void same(const Shown *shown, const float *one, const float *other, int64_t since,
                 const char *what, const char *text) {
    if (memcmp(one, other, 6 * (size_t)shown->pixels * sizeof *one) != 0)
        fail_msg("%.6f s past noon: %s\n%s", (double)since / 1e6, what, text);
}

/* A second of frames from an instant on. */
static void run(const Home *home, int32_t lamp, int64_t noon, int64_t start, const char *text) {
    Shown runs = shown_start(home, lamp, start), jumps = shown_start(home, lamp, noon);
    float running[6 * HOME_PIXELS], jumped[6 * HOME_PIXELS], last[6 * HOME_PIXELS];
    int64_t changes = INT64_MIN;
    for (int n = 0; n < FRAMES; n++) {
        int64_t utc = start + (n * SECOND + 30) / 60;
        frame(&runs, utc, running);
        if (n > 0 && utc < changes)
            same(&runs, running, last, utc - noon, "differs before it was said to", text);
        if (n == 0 || utc >= changes) {
            memcpy(last, running, sizeof last);
            changes = performance_changes(runs.performance, utc);
            assert_true(changes >= utc);
        }
        if (draw(4) == 0) {
            int64_t away = noon + (int64_t)(chance_unit() * 20 * MINUTE);
            frame(&jumps, away, jumped);
            frame(&jumps, utc, jumped);
            same(&runs, running, jumped, utc - noon, "another frame by a jump", text);
        }
        if (draw(16) == 0) {
            Shown fresh = shown_start(home, lamp, utc);
            frame(&fresh, utc, jumped);
            same(&runs, running, jumped, utc - noon, "another frame after a start", text);
            shown_end(&fresh);
        }
    }
    shown_end(&runs);
    shown_end(&jumps);
}

/* From one change to the next over a quarter of an hour: what is said to rest is looked at in
 * between, up to the last microsecond. */
static void rests(const Home *home, int32_t lamp, int64_t noon, const char *text) {
    Shown shown = shown_start(home, lamp, noon);
    float first[6 * HOME_PIXELS], later[6 * HOME_PIXELS];
    for (int64_t utc = noon - MINUTE; utc < noon + 20 * MINUTE;) {
        int64_t next = performance_changes(shown.performance, utc);
        assert_true(next >= utc);
        if (next == utc) {
            utc += SECOND / 4;
            continue;
        }
        int64_t end = next < noon + DAY ? next : noon + DAY;
        frame(&shown, utc, first);
        for (int i = 0; i < 4; i++) {
            int64_t between =
                i == 0 ? end - 1 : utc + (int64_t)(chance_unit() * (double)(end - utc));
            frame(&shown, between, later);
            same(&shown, first, later, between - noon, "differs while it rests", text);
        }
        utc = end;
    }
    shown_end(&shown);
}

static void test_any_timetable(void **state) {
    (void)state;
    static char text[TEXT];
    chance_state = 20261125;
    for (int i = 0; i < TIMETABLES; i++) {
        Home home;
        timetable(text);
        home_start(&home, text);
        int64_t noon = home_local(&home, "2026-11-25T12:00:00");
        for (int32_t lamp = 0; lamp < 2; lamp++) {
            for (int start = 0; start < STARTS; start++)
                run(&home, lamp, noon, noon + (int64_t)(chance_unit() * 17 * MINUTE), text);
            rests(&home, lamp, noon, text);
        }
        home_end(&home);
    }
}

/* An act by hand or from outside; refused ones change nothing. */
static void any_act(const Home *home, Overrides *overrides, const Now *now) {
    Act act = {.lamp = draw(2) ? TIMETABLE_NOT_SAID : draw(2)};
    const Program *program = home->world.context.program;
    switch (draw(8)) {
    case 0:
        act.kind = ACT_MORE;
        act.length = (1 + draw(60)) * SECOND;
        break;
    case 1:
        act.kind = ACT_SKIP;
        break;
    case 2:
        act.kind = ACT_UNDO;
        break;
    case 3:
        act.kind = ACT_SET;
        act.setting = draw(2) ? (TimetableSetting){0, chance_unit(), {0, 0, 0}}
                              : (TimetableSetting){1, (1 + draw(9)) * 1e6, {0, 0, 0}};
        break;
    case 4:
    case 5:
        act.kind = ACT_REPORT;
        break;
    default:
        act.kind = ACT_PLAY;
        act.routine = (uint16_t)draw(program->routine_count);
        act.end = (OverrideEnd){.kind = OVERRIDE_FOR, .length = (1 + draw(90)) * SECOND};
    }
    (void)overrides_act(overrides, &home->world, now, &act);
}

/* What was done by hand while it ran, or was read from a file at a start: a second later, when no
 * frame stands still any more, the light is the same. */
static void acts(const Home *home, int32_t lamp, int64_t noon, const char *text) {
    Overrides *overrides = memory_allocate(1, sizeof *overrides);
    assert_non_null(overrides);
    Now now = home_now(noon);
    overrides_settle(overrides, &now);
    Shown shown = shown_start(home, lamp, noon);
    PerformanceRequest request = {&home->world, lamp, &home->infos[lamp], &home->lamps[lamp].scene};
    float running[3 * HOME_PIXELS], started[3 * HOME_PIXELS];
    for (int i = 0; i < 12; i++) {
        now = now_later(&now, draw(3) ? draw(40) * SECOND : 2 * SECOND + draw(1000000));
        any_act(home, overrides, &now);
        assert_true(performance_tell(shown.performance, overrides, &now));
        for (int look = 0; look < 4; look++) {
            now = now_later(&now, look == 0 ? SECOND : draw(5 * 1000000));
            Performance *fresh = performance_create(&request, overrides, &now);
            assert_true(fresh && performance_light(fresh, now.utc, started));
            assert_true(performance_light(shown.performance, now.utc, running));
            if (memcmp(running, started, 3 * sizeof *running * shown.pixels) != 0)
                fail_msg("%.6f s past noon, after act %d: another light after a start\n%s",
                         (double)(now.utc - noon) / 1e6, i, text);
            performance_free(fresh);
        }
    }
    shown_end(&shown);
    memory_release(overrides);
}

static void test_any_acts(void **state) {
    (void)state;
    static char text[TEXT];
    chance_state = 4711;
    for (int i = 0; i < ACTED; i++) {
        Home home;
        timetable(text);
        strcat(text, draw(2) ? "when bell play sparks for 20s\n"
                             : "when bell play chain for 20s on lamp shelf part left fading 3s\n");
        home_start(&home, text);
        int64_t noon = home_local(&home, "2026-11-25T12:00:00");
        for (int32_t lamp = 0; lamp < 2; lamp++)
            acts(&home, lamp, noon, text);
        home_end(&home);
    }
}

/* Nothing is allocated while frames are made for what was prepared; they are those of a jump. */
static void test_no_allocation(void **state) {
    (void)state;
    static char text[TEXT];
    chance_state = 7;
    for (int i = 0; i < 10; i++) {
        Home home;
        timetable(text);
        home_start(&home, text);
        int64_t noon = home_local(&home, "2026-11-25T12:00:00");
        Shown shown = shown_start(&home, 1, noon);
        float light[6 * HOME_PIXELS];
        assert_true(performance_prepare(shown.performance, noon, noon + 15 * MINUTE));
        unsigned long before = memory_count();
        for (int64_t utc = noon; utc < noon + 15 * MINUTE; utc += SECOND / 2) {
            frame(&shown, utc, light);
            (void)performance_changes(shown.performance, utc);
        }
        assert_true(memory_count() == before);
        for (int n = 0; n < 100; n++) {
            int64_t utc = noon + (int64_t)(chance_unit() * 15 * MINUTE);
            Shown fresh = shown_start(&home, 1, utc);
            float wanted[6 * HOME_PIXELS];
            frame(&fresh, utc, wanted);
            frame(&shown, utc, light);
            same(&shown, light, wanted, utc - noon, "another frame in a long view", text);
            shown_end(&fresh);
        }
        shown_end(&shown);
        home_end(&home);
    }
}

/* Each allocation fails in turn: said, and nothing is lost or leaks. */
static void test_out_of_memory(void **state) {
    (void)state;
    static char text[TEXT];
    chance_state = 3;
    Home home;
    timetable(text);
    home_start(&home, text);
    int64_t noon = home_local(&home, "2026-11-25T12:07:00");
    Now now = home_now(noon);
    PerformanceRequest request = {&home.world, 1, &home.infos[1], &home.lamps[1].scene};
    float wanted[3 * HOME_PIXELS], light[3 * HOME_PIXELS];
    Performance *first = performance_create(&request, NULL, &now);
    assert_true(first && performance_light(first, noon, wanted));
    performance_free(first);
    unsigned long live = memory_live();
    bool made = false;
    for (unsigned long n = 1; n < 1000 && !made; n++) {
        memory_fail_at(n);
        Performance *performance = performance_create(&request, NULL, &now);
        made = performance && performance_light(performance, noon, light) &&
               performance_prepare(performance, noon, noon + 5 * MINUTE) &&
               performance_light(performance, noon, light);
        memory_fail_at(0);
        if (performance)
            assert_true(performance_light(performance, noon, light) &&
                        memcmp(light, wanted, 3 * sizeof *light * home.lamps[1].scene.pixels) == 0);
        performance_free(performance);
        assert_true(memory_live() == live);
    }
    assert_true(made);
    home_end(&home);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_any_timetable),
        cmocka_unit_test(test_any_acts),
        cmocka_unit_test(test_no_allocation),
        cmocka_unit_test(test_out_of_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
