/* A home with a bit of everything, for fuzzing what lies on a timetable. */
#ifndef GLOAM_TESTS_FUZZ_HOME_H
#define GLOAM_TESTS_FUZZ_HOME_H

#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/library/reader.h"
#include "runtime/library/state_file.h"
#include "tests/fuzz/must.h"

static const char FUZZ_HOME[] =
    "place 51.45, -2.59 zone \"Europe/London\"\n"
    "lamp lantern { pixels 16 shape ring } lamp shelf { pixels 60 part left 0..29 }\n"
    "dial warmth = 40% from 0% to 100% dial tone = gold dial hold = 2s dial lit = true\n"
    "event rung event told\n"
    "routine daybreak lasts 30min { paint black -> 2700K throughout }\n"
    "routine dusk lasts 40min then glow { paint 2700K -> black throughout }\n"
    "routine glow { paint tone * warmth where lit and t > hold }\n"
    "by 03:10 on tue..sat play daybreak at 08:00 play off at 19:30 play dusk\n"
    "at 12:00 play glow for 1h on lamp shelf part left at sunset play glow until 23:00\n"
    "at 09:00..18:00 every 1h play daybreak for 1min\n"
    "when rung play glow for 6s when told play dusk until 22:00\n"
    "when warmth > 50% play glow for 1h\n"
    "until clock is set play glow\n";

static World fuzz_home;

static void fuzz_home_start(void) {
    TextReader one = {FUZZ_HOME, sizeof FUZZ_HOME - 1};
    LangReader reader = {text_reader_read, &one};
    Compilation *compilation = lang_compile(&reader, "home.gloam");
    Zone *zone;
    MUST(compilation && lang_program(compilation));
    MUST(zone_from_rule("GMT0BST,M3.5.0/1,M10.5.0", &zone) == ZONE_FINE);
    MUST(state_world(&fuzz_home, compilation, lang_program(compilation), zone));
}

/* Written, read, written again. */
static void fuzz_check_written(const Overrides *overrides) {
    size_t length, again;
    StateSaid said = {0};
    Overrides *back = memory_allocate(1, sizeof *back);
    char *text = state_write(overrides, &fuzz_home, &length);
    MUST(text && back);
    MUST(length > LIMIT_STATE_BYTES ||
         state_read(text, length, &fuzz_home, back, &said) == STATE_FINE);
    MUST(said.count == 0);
    char *twice = state_write(back, &fuzz_home, &again);
    MUST(twice && again == length && memcmp(text, twice, length) == 0);
    memory_release(twice);
    memory_release(text);
    memory_release(back);
}

#endif
