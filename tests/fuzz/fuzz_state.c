/* Any bytes as a state file (libFuzzer): what comes of it can be settled, asked at instants, acted
 * upon and pruned, and is written as a text that is read as the same. See slow_fuzz.sh. */
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/time/act.h"
#include "tests/fuzz/home.h"
#include "tests/fuzz/must.h"

static void ask(const Overrides *overrides, const Now *now) {
    for (int32_t lamp = 0; lamp < 2; lamp++)
        for (int32_t part = TIMETABLE_NOT_SAID; part < lamp; part++) {
            Playing playing;
            playing_now(overrides, &fuzz_home, now, lamp, part, &playing);
            MUST(playing.until > now->utc && playing.changes > now->utc);
            MUST(playing.held == (playing.goes_on > now->utc));
            MUST(playing.routine == ROUTINE_OFF ||
                 playing.routine < fuzz_home.context.program->routine_count);
            for (uint16_t dial = 0; dial < 4; dial++)
                MUST(playing_dial(overrides, &fuzz_home, now, &playing, dial).dial == dial);
            PlayingLevel level = playing_level(overrides, &fuzz_home, now, lamp);
            MUST(level.lightness >= 0.0 && level.lightness <= 100.0);
        }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    const int64_t day = INT64_C(86400000000);
    StateSaid said = {0};
    if (!fuzz_home.lamps)
        fuzz_home_start();
    Overrides *overrides = memory_allocate(1, sizeof *overrides);
    MUST(overrides);
    if (state_read((const char *)data, size, &fuzz_home, overrides, &said) == STATE_FINE) {
        fuzz_check_written(overrides);
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
            (void)overrides_act(overrides, &fuzz_home, &now, &act);
            ask(overrides, &now);
            (void)overrides_prune(overrides, &fuzz_home, &now);
            MUST(!overrides_prune(overrides, &fuzz_home, &now));
            ask(overrides, &now);
            fuzz_check_written(overrides);
        }
    } else {
        MUST(overrides->count == 0 && overrides->running_count == 0 && said.count > 0);
    }
    memory_release(overrides);
    return 0;
}
