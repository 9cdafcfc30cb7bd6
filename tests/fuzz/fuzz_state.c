/* Any bytes as a state file (libFuzzer): what comes of it can be settled, asked at instants, acted
 * upon and pruned, and is written as a text that is read as the same. See slow_fuzz.sh. */
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/library/reader.h"
#include "runtime/library/state_file.h"
#include "runtime/time/act.h"
#include "tests/fuzz/must.h"

static const char STATE_HOME[] =
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

static World state_home;

static void state_home_start(void) {
    TextReader one = {STATE_HOME, sizeof STATE_HOME - 1};
    LangReader reader = {text_reader_read, &one};
    Compilation *compilation = lang_compile(&reader, "home.gloam");
    Zone *zone;
    MUST(compilation && lang_program(compilation));
    MUST(zone_from_rule("GMT0BST,M3.5.0/1,M10.5.0", &zone) == ZONE_FINE);
    MUST(state_world(&state_home, compilation, lang_program(compilation), zone));
}

static void ask(const Overrides *overrides, const Now *now) {
    for (int32_t lamp = 0; lamp < 2; lamp++)
        for (int32_t part = TIMETABLE_NOT_SAID; part < lamp; part++) {
            Playing playing;
            playing_now(overrides, &state_home, now, lamp, part, &playing);
            MUST(playing.until > now->utc && playing.changes > now->utc);
            MUST(playing.held == (playing.goes_on > now->utc));
            MUST(playing.routine == ROUTINE_OFF ||
                 playing.routine < state_home.context.program->routine_count);
            for (uint16_t dial = 0; dial < 4; dial++)
                MUST(playing_dial(overrides, &state_home, now, &playing, dial).dial == dial);
            PlayingLevel level = playing_level(overrides, &state_home, now, lamp);
            MUST(level.lightness >= 0.0 && level.lightness <= 100.0);
        }
}

/* Written, read, written again. */
static void check_written(const Overrides *overrides) {
    size_t length, again;
    StateSaid said = {0};
    Overrides *back = memory_allocate(1, sizeof *back);
    char *text = state_write(overrides, &state_home, &length);
    MUST(text && back);
    MUST(length > LIMIT_STATE_BYTES ||
         state_read(text, length, &state_home, back, &said) == STATE_FINE);
    MUST(said.count == 0);
    char *twice = state_write(back, &state_home, &again);
    MUST(twice && again == length && memcmp(text, twice, length) == 0);
    memory_release(twice);
    memory_release(text);
    memory_release(back);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    const int64_t day = INT64_C(86400000000);
    StateSaid said = {0};
    if (!state_home.lamps)
        state_home_start();
    Overrides *overrides = memory_allocate(1, sizeof *overrides);
    MUST(overrides);
    if (state_read((const char *)data, size, &state_home, overrides, &said) == STATE_FINE) {
        check_written(overrides);
        for (int i = 0; i < 4; i++) { /* 2026-11-25 02:50, and on */
            Now now = {INT64_C(1795575000000000) + i * day / 3, 7 * day, i != 1, "first"};
            now.boottime += i * day / 3;
            overrides_settle(overrides, &now);
            ask(overrides, &now);
            Act act = {.kind = (ActKind)((size + (size_t)i * 3) % (ACT_REPORT + 1)),
                       .lamp = i - 1,
                       .routine = 1,
                       .end = {.kind = OVERRIDE_NEXT_ENTRY},
                       .length = 60000000,
                       .clock = 7200,
                       .number = (uint64_t)i};
            (void)overrides_act(overrides, &state_home, &now, &act);
            ask(overrides, &now);
            (void)overrides_prune(overrides, &state_home, &now);
            MUST(!overrides_prune(overrides, &state_home, &now));
            ask(overrides, &now);
            check_written(overrides);
        }
    } else {
        MUST(overrides->count == 0 && overrides->running_count == 0 && said.count > 0);
    }
    memory_release(overrides);
    return 0;
}
