/* A home from its text: program, timetable, zone, lamps, and a performance of one of them. */
#ifndef GLOAM_TESTS_SUPPORT_STAGE_H
#define GLOAM_TESTS_SUPPORT_STAGE_H

#include <stdio.h>
#include <string.h>

#include "lang/compile.h"
#include "runtime/core/civil.h"
#include "runtime/core/memory.h"
#include "runtime/library/lamp.h"
#include "runtime/library/reader.h"
#include "runtime/player/performance.h"
#include "tests/support/zones.h"

#define SECOND INT64_C(1000000)
#define MINUTE (60 * SECOND)
#define HOUR (60 * MINUTE)
#define DAY (24 * HOUR)

enum { HOME_LAMPS = 4, HOME_PIXELS = 64 };

typedef struct Home {
    Compilation *compilation;
    Zone *zone;
    uint32_t lamp_count;
    const LampInfo *infos;
    Lamp lamps[HOME_LAMPS];
    WorldLamp names[HOME_LAMPS];
    World world;
} Home;

/* Of what was compiled, which becomes the home's. */
static inline void home_open(Home *home, Compilation *compilation) {
    *home = (Home){.compilation = compilation};
    assert_non_null(home->compilation);
    const Program *program = lang_program(home->compilation);
    const Timetable *timetable = lang_timetable(home->compilation);
    if (!program || !timetable) {
        diagnostics_print(lang_diagnostics(home->compilation), stderr, false);
        fail_msg("not compiled");
    }
    home->zone = zone_named(timetable->place.zone);
    home->infos = lang_lamps(home->compilation, &home->lamp_count);
    assert_true(home->lamp_count <= HOME_LAMPS);
    for (uint32_t i = 0; i < home->lamp_count; i++) {
        ShapeRequest request;
        ShapePoint *points;
        assert_true(lamp_request(&home->infos[i], &request, &points));
        assert_true(lamp_make(&home->lamps[i], program, &request, &home->infos[i]));
        assert_true(home->lamps[i].scene.pixels <= HOME_PIXELS);
        memory_release(points);
        home->names[i] = (WorldLamp){.name = home->infos[i].name};
    }
    home->world = (World){.context = {timetable, program, home->zone},
                          .lamp_count = home->lamp_count,
                          .lamps = home->names};
}

static inline void home_start(Home *home, const char *text) {
    TextReader one = {text, strlen(text)};
    LangReader reader = {text_reader_read, &one};
    home_open(home, lang_compile(&reader, "home.gloam"));
}

static inline void home_end(Home *home) {
    for (uint32_t i = 0; i < home->lamp_count; i++)
        lamp_free(&home->lamps[i]);
    lang_free(home->compilation);
    zone_free(home->zone);
}

/* Of a reading of the home's clock: 2026-11-25T06:00:00, with a fraction where one is said. */
static inline int64_t home_local(const Home *home, const char *text) {
    int year, month, day, hour, minute;
    double second;
    assert_int_equal(
        sscanf(text, "%d-%d-%dT%d:%d:%lf", &year, &month, &day, &hour, &minute, &second), 6);
    int32_t date = days_from_civil((CivilDate){year, month, day});
    int32_t clock = 3600 * hour + 60 * minute + (int32_t)second;
    return timetable_local_instant(&home->world.context, date, clock) +
           (int64_t)((second - (double)(int32_t)second) * 1e6 + 0.5);
}

static inline Now home_now(int64_t utc) {
    return (Now){.utc = utc, .boottime = HOUR, .trusted = true, .boot = "a"};
}

static inline Performance *home_performance(const Home *home, int32_t lamp, const Now *now) {
    PerformanceRequest request = {&home->world, lamp, &home->infos[lamp], &home->lamps[lamp].scene};
    Performance *performance = performance_create(&request, NULL, now);
    assert_non_null(performance);
    return performance;
}

#endif
