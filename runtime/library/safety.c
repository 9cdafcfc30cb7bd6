#include "runtime/library/safety.h"

#include <stdio.h>

#include "runtime/core/memory.h"
#include "runtime/core/timetable.h"
#include "runtime/library/nights.h"

void safety_time(int64_t microseconds, char *text, size_t size) {
    int64_t milliseconds = microseconds / 1000, seconds = milliseconds / 1000;
    snprintf(text, size, "%lld:%02d.%03d", (long long)(seconds / 60), (int)(seconds % 60),
             (int)(milliseconds % 1000));
}

const char *safety_percent(double share, char text[SAFETY_PERCENT]) {
    double percent = 100 * share;
    snprintf(text, SAFETY_PERCENT, percent >= 9.95 ? "%.0f %%" : "%.2g %%", percent);
    return text;
}

/* ---- which lamps ---- */

static bool entry_plays(const TimetableEntry *entry, const Program *program, uint16_t routine) {
    uint16_t at = entry->play.routine;
    for (uint16_t steps = 0; at < program->routine_count && steps < program->routine_count;
         steps++) {
        if (at == routine)
            return true;
        at = program->routines[at].then;
    }
    return false;
}

/* Whether the timetable plays it on that lamp; a routine that it does not play may be played by
 * hand anywhere. */
static bool may_play(const Compilation *compilation, uint16_t routine, uint32_t lamp) {
    const Timetable *timetable = lang_timetable(compilation);
    const Program *program = lang_program(compilation);
    bool played = false;
    for (uint32_t i = 0; timetable && i < timetable->entry_count; i++) {
        const TimetableEntry *entry = &timetable->entries[i];
        if (!entry_plays(entry, program, routine))
            continue;
        if (entry->play.lamp == TIMETABLE_NOT_SAID || (uint32_t)entry->play.lamp == lamp)
            return true;
        played = true;
    }
    return !played;
}

/* ---- what is said ---- */

static void say_flashes(Compilation *compilation, const Sight *sight) {
    static const char *const KINDS[] = {"flashes", "flashes red"};
    uint32_t count;
    const RoutineCost *cost = &lang_costs(compilation, &count)[sight->routine];
    for (int kind = 0; kind < FLASH_KINDS; kind++) {
        const FlashSeen *seen = &sight->examined.flashes;
        char time[32];
        safety_time(seen->worst[kind], time, sizeof time);
        if (seen->most[kind] >= FLASH_TOO_MANY)
            diagnostics_report(
                lang_diagnostics(compilation), SEVERITY_WARNING, "flashes-too-often", cost->span,
                SPAN_NONE,
                sight->lamp && sight->lamp->flashes
                    ? "slower changes, or smaller ones; more than three flashes in a second can "
                      "harm, and this lamp's guard is off"
                    : "slower changes, or smaller ones; more than three flashes in a second can "
                      "harm, and a lamp's guard holds them back",
                "`%s` %s: %u changes in the second from %s on, where six are the most (WCAG 2.2, "
                "2.3.1)",
                cost->name, KINDS[kind], seen->most[kind], time);
        else if (seen->sustained[kind])
            diagnostics_report(lang_diagnostics(compilation), SEVERITY_NOTE, "flashes-on",
                               cost->span, SPAN_NONE, NULL,
                               "`%s` %s two or three times a second for seconds on end, which "
                               "many find hard to bear",
                               cost->name, KINDS[kind]);
    }
}

/* The worst of a routine's lamps speaks for all. */
static void say_all(Compilation *compilation, const Safety *safety) {
    const Sight *worst = NULL;
    for (size_t i = 0; i < safety->count; i++) {
        const Sight *sight = &safety->sights[i];
        const FlashSeen *seen = &sight->examined.flashes;
        if (!worst || worst->routine != sight->routine ||
            seen->most[FLASH_GENERAL] + seen->most[FLASH_RED] >
                worst->examined.flashes.most[FLASH_GENERAL] +
                    worst->examined.flashes.most[FLASH_RED])
            worst = sight;
        if (i + 1 == safety->count || safety->sights[i + 1].routine != sight->routine)
            say_flashes(compilation, worst);
    }
}

/* ---- nights ---- */

/* More than this of full white is a bright night light, and more melanopic output for its light
 * than this, against full white's, a blue one (about 2400 K): common practice, no source. What has
 * less than the faintest of it is left alone. */
#define NIGHT_BRIGHT 0.05
#define NIGHT_BLUE 0.3
#define NIGHT_FAINTEST 0.001

static void say_bright(Diagnostics *sink, const RoutineCost *cost, const Sight *sight,
                       bool clockless) {
    const char *on = sight->lamp ? sight->lamp->name : "a ring of 16";
    char light[SAFETY_PERCENT];
    safety_percent(sight->examined.light_most, light);
    if (clockless)
        diagnostics_report(
            sink, SEVERITY_WARNING, "night-bright", cost->span, SPAN_NONE,
            "less light, such as `* 2%`, or another routine there",
            "`%s` is played `until clock is set`, which may be at night and under no "
            "ceiling, and holds up to %s of the full white of %s",
            cost->name, light, on);
    else
        diagnostics_report(sink, SEVERITY_WARNING, "night-bright", cost->span, SPAN_NONE,
                           "less light at night, such as `* 2%`, or a ceiling: `between 21:00 and "
                           "05:00 keep level under 2%`",
                           "`%s` is played at night and holds up to %s of the full white of %s",
                           cost->name, light, on);
}

static void say_night(Compilation *compilation, const Sight *sight, bool clockless) {
    uint32_t count;
    const RoutineCost *cost = &lang_costs(compilation, &count)[sight->routine];
    const Examined *seen = &sight->examined;
    Diagnostics *sink = lang_diagnostics(compilation);
    char light[SAFETY_PERCENT], melanopic[SAFETY_PERCENT];
    if (seen->light_most > NIGHT_BRIGHT)
        say_bright(sink, cost, sight, clockless);
    if (seen->melanopic_most > NIGHT_FAINTEST &&
        seen->melanopic_most > NIGHT_BLUE * seen->light_most)
        diagnostics_report(
            sink, SEVERITY_WARNING, "night-blue", cost->span, SPAN_NONE,
            "red, or amber of 1900K and below",
            "`%s` is played at night and is bluer than a warm bulb: about %s of full "
            "white's melanopic output in %s of its light",
            cost->name, safety_percent(seen->melanopic_most, melanopic),
            safety_percent(seen->light_most, light));
}

static bool look_at_nights(Compilation *compilation, int64_t now, uint32_t lamps,
                           const LampInfo *infos, double *work, Safety *safety) {
    const Program *program = lang_program(compilation);
    Night *nights = memory_allocate((size_t)program->routine_count * lamps, sizeof *nights);
    bool fine = nights && nights_find(compilation, now, nights, &safety->cut);
    for (size_t i = 0; fine && i < (size_t)program->routine_count * lamps; i++) {
        if (!nights[i].plays)
            continue;
        Sight *sight = &safety->nights[safety->night_count++];
        *sight =
            (Sight){.routine = (uint16_t)(i / lamps), .lamp = infos ? &infos[i % lamps] : NULL};
        ExamineRequest request = {program, sight->routine,   sight->lamp, nights[i].start,
                                  2,       nights[i].ceiling};
        fine = examine(&request, work, &sight->examined);
        safety->cut = safety->cut || sight->examined.length < sight->examined.wanted;
        if (fine)
            say_night(compilation, sight, nights[i].clockless);
    }
    memory_release(nights);
    return fine;
}

/* ---- all ---- */

bool safety_look(Compilation *compilation, int64_t now, Safety *safety) {
    return safety_look_within(compilation, now, EXAMINE_WORK, safety);
}

bool safety_look_within(Compilation *compilation, int64_t now, double work, Safety *safety) {
    const Program *program = lang_program(compilation);
    uint32_t lamp_count;
    const LampInfo *infos = lang_lamps(compilation, &lamp_count);
    const uint32_t lamps = lamp_count ? lamp_count : 1;
    *safety = (Safety){0};
    safety->sights = memory_allocate((size_t)program->routine_count * lamps, sizeof(Sight));
    safety->nights = memory_allocate((size_t)program->routine_count * lamps, sizeof(Sight));
    if (!safety->sights || !safety->nights)
        return false;
    for (uint16_t routine = 0; routine < program->routine_count; routine++) {
        for (uint32_t lamp = 0; lamp < lamps; lamp++) {
            if (lamp_count && !may_play(compilation, routine, lamp))
                continue;
            Sight *sight = &safety->sights[safety->count++];
            *sight = (Sight){.routine = routine, .lamp = lamp_count ? &infos[lamp] : NULL};
            ExamineRequest request = {program, routine, sight->lamp, 0, 0, LEVEL_NO_CEILING};
            if (!examine(&request, &work, &sight->examined))
                return false;
            safety->cut = safety->cut || sight->examined.length < sight->examined.wanted;
        }
    }
    say_all(compilation, safety);
    /* Where no memory was left for a warning. */
    if (diagnostics_out_of_memory(lang_diagnostics(compilation)))
        return false;
    return look_at_nights(compilation, now, lamps, lamp_count ? infos : NULL, &work, safety);
}

void safety_free(Safety *safety) {
    memory_release(safety->sights);
    memory_release(safety->nights);
    *safety = (Safety){0};
}
