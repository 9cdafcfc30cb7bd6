/* The baker's home as a World, with clocks that tests set, for tests of what lies on top of the
 * timetable. Bristol keeps Greenwich time in winter: local times of November are UTC. */
#ifndef GLOAM_TESTS_SUPPORT_HOUSEHOLD_H
#define GLOAM_TESTS_SUPPORT_HOUSEHOLD_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <stdio.h>
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/library/reader.h"
#include "runtime/library/state_file.h"
#include "runtime/time/act.h"
#include "tests/support/moments.h"
#include "tests/support/zones.h"

#define MINUTE INT64_C(60000000)
#define HOUR (60 * MINUTE)
#define ALL TIMETABLE_NOT_SAID
#define WHOLE TIMETABLE_NOT_SAID
enum { LANTERN, SHELF };
enum { LEFT, RIGHT };

#define HOUSEHOLD                                                                                  \
    "place 51.45, -2.59 zone \"Europe/London\"\n"                                                  \
    "lamp lantern { pixels 16 shape ring }\n"                                                      \
    "lamp shelf { pixels 60 part left 0..29 part right 30..59 }\n"                                 \
    "dial warmth = 40% from 0% to 100%\n"                                                          \
    "dial passing = 0 dial tone = gold dial hold = 2s from 0s to 1min\n"                           \
    "event rung event told\n"                                                                      \
    "routine daybreak lasts 30min { paint black -> 2700K throughout }\n"                           \
    "routine dusk lasts 40min then nightlight { paint 2700K -> #ff3a00 * 2% throughout }\n"        \
    "routine nightlight { paint #ff3a00 * 2% }\n"                                                  \
    "routine glow { paint tone * warmth }\n"                                                       \
    "routine nap lasts 20min then glow { paint black -> 2700K throughout }\n"                      \
    "routine feed { paint red * 1% }\n"                                                            \
    "routine strike lasts 24s { paint gold | black every 2s }\n"                                   \
    "until clock is set play nightlight\n"

/* What the baker's week is made of. */
#define WEEK                                                                                       \
    "by 03:10 on tue..sat play daybreak\n"                                                         \
    "at 08:00 play off\n"                                                                          \
    "at 19:30 play dusk\n"

typedef struct Household {
    Compilation *compilation;
    Zone *zone;
    World world;
} Household;

static inline void household_start(Household *home, const char *lines) {
    static char text[1 << 17];
    snprintf(text, sizeof text, "%s%s\n", HOUSEHOLD, lines);
    TextReader one = {text, strlen(text)};
    LangReader reader = {text_reader_read, &one};
    home->compilation = lang_compile(&reader, "home.gloam");
    assert_non_null(home->compilation);
    const Program *program = lang_program(home->compilation);
    if (!program) {
        diagnostics_print(lang_diagnostics(home->compilation), stderr, false);
        fail_msg("not compiled");
    }
    home->zone = zone_named("Europe/London");
    assert_true(state_world(&home->world, home->compilation, program, home->zone));
}

static inline void household_end(Household *home) {
    state_world_free(&home->world);
    lang_free(home->compilation);
    zone_free(home->zone);
}

/* 2026-11-25T06:00[:00] in UTC. */
static inline int64_t at(const char *text) {
    return seconds(text) * 1000000;
}

/* A trusted clock; the machine started on 2026-11-20 at midnight. */
static inline Now now_at(const char *text) {
    return (Now){at(text), at(text) - at("2026-11-20T00:00"), true, "first"};
}

static inline uint16_t routine_named(const Household *home, const char *name) {
    const Program *program = home->world.context.program;
    for (uint16_t i = 0; i < program->routine_count; i++)
        if (strcmp(program->routines[i].name, name) == 0)
            return i;
    return ROUTINE_OFF;
}

static inline const char *routine_name(const Household *home, uint16_t routine) {
    return routine == ROUTINE_OFF ? "off" : home->world.context.program->routines[routine].name;
}

static inline Overrides *overrides_new(void) {
    Overrides *overrides = memory_allocate(1, sizeof *overrides);
    assert_non_null(overrides);
    strcpy(overrides->boot, "first");
    return overrides;
}

/* -------- acts -------- */

static inline Act act_of_play(const Household *home, const char *routine, OverrideEnd end) {
    return (Act){
        .kind = ACT_PLAY, .lamp = ALL, .routine = routine_named(home, routine), .end = end};
}

static inline OverrideEnd for_length(int64_t length) {
    return (OverrideEnd){.kind = OVERRIDE_FOR, .length = length};
}
static inline OverrideEnd until_clock(int hours, int minutes) {
    return (OverrideEnd){.kind = OVERRIDE_UNTIL, .until = {.clock = hours * 3600 + minutes * 60}};
}
static inline OverrideEnd until_instant(const char *text) {
    return (OverrideEnd){.kind = OVERRIDE_AT, .instant = at(text)};
}
static const OverrideEnd next_entry = {.kind = OVERRIDE_NEXT_ENTRY};

static inline void done(Overrides *overrides, const Household *home, const Now *now, Act act) {
    const char *trouble = overrides_act(overrides, &home->world, now, &act);
    if (trouble)
        fail_msg("refused: %s", trouble);
}

static inline void refused(Overrides *overrides, const Household *home, const Now *now, Act act,
                           const char *words) {
    Overrides *before = memory_allocate(1, sizeof *before);
    assert_non_null(before);
    memcpy(before, overrides, sizeof *before);
    const char *trouble = overrides_act(overrides, &home->world, now, &act);
    if (!trouble || !strstr(trouble, words))
        fail_msg("expected `%s`, got `%s`", words, trouble ? trouble : "done");
    assert_memory_equal(before, overrides, sizeof *before);
    memory_release(before);
}

/* -------- what plays -------- */

static inline Playing playing_on(const Overrides *overrides, const Household *home, const Now *now,
                                 int32_t lamp, int32_t part) {
    Playing playing;
    playing_now(overrides, &home->world, now, lamp, part, &playing);
    return playing;
}

/* On the lantern: the routine, and its t in microseconds (-1: not looked at). */
static inline void plays(const Overrides *overrides, const Household *home, const Now *now,
                         const char *routine, int64_t t) {
    Playing playing = playing_on(overrides, home, now, LANTERN, WHOLE);
    const char *got = routine_name(home, playing.routine);
    if (strcmp(got, routine) != 0 || (t >= 0 && now->utc - playing.since != t))
        fail_msg("expected %s at %.3f min, got %s at %.3f min", routine, (double)t / 6e7, got,
                 (double)(now->utc - playing.since) / 6e7);
}

static inline void plays_at(const Overrides *overrides, const Household *home, const char *when,
                            const char *routine, int64_t t) {
    Now now = now_at(when);
    plays(overrides, home, &now, routine, t);
}

#endif
