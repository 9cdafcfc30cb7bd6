/* What must hold of every list of overrides, whatever was done: acts by chance over days. Nothing
 * that has ended may matter to what is to come, nothing changes before it was foretold, and a
 * restart or a reload in between changes nothing. */
#include "tests/support/chance.h"
#include "tests/support/household.h"

#define CHANCE_WEEK                                                                                \
    WEEK "at 12:30 play glow for 1h\n"                                                             \
         "at 13:00 play feed for 20min on lamp shelf part left\n"                                  \
         "at sunset play dusk until 18:30 on lamp shelf\n"                                         \
         "at 09:00..11:00 every 1h play strike for 5min\n"                                         \
         "at 10:00 play nap for 30min on lamp lantern\n"                                           \
         "when rung play feed for 25min\n"                                                         \
         "when told play glow until 18:00 on lamp shelf part left\n"                               \
         "when passing > 50% play nap for 50min on lamp lantern\n"

static const struct {
    int32_t lamp, part;
} PLACES[] = {{LANTERN, WHOLE}, {SHELF, WHOLE}, {SHELF, LEFT}};
enum { PLACE_COUNT = 3 };

static int64_t chance_below(int64_t most) {
    return (int64_t)(chance() % (uint64_t)most);
}

static OverrideEnd end_by_chance(const Now *now) {
    switch (chance_below(4)) {
    case 0:
        return for_length((1 + chance_below(300)) * MINUTE);
    case 1: {
        int hours = (int)chance_below(24);
        return until_clock(hours, (int)chance_below(60));
    }
    case 2:
        return (OverrideEnd){.kind = OVERRIDE_AT,
                             .instant = now->utc + (1 + chance_below(600)) * MINUTE};
    default:
        return next_entry;
    }
}

static void act_by_chance(const Household *home, Overrides *list, const Now *now) {
    static const char *const routines[] = {"off", "glow", "nap", "dusk", "feed"};
    /* One after the other: initialisers have no order. */
    Act act = {.kind = (ActKind)chance_below(ACT_REPORT + 1)};
    act.lamp = (int32_t)chance_below(3) - 1;
    act.routine = routine_named(home, routines[chance_below(5)]);
    act.end = end_by_chance(now);
    act.lightness = (double)chance_below(101);
    act.length = (1 + chance_below(40)) * MINUTE;
    act.clock = (int32_t)chance_below(24 * 60) * 60;
    act.setting = (TimetableSetting){.dial = 0, .number = chance_unit()};
    act.event = (uint16_t)chance_below(2);
    if (act.kind == ACT_CLEAR)
        act.number = list->last_number - (uint64_t)chance_below(4);
    (void)overrides_act(list, &home->world, now, &act);
    bool truth = chance() & 1;
    overrides_truths(list, &home->world, now, &truth);
}

static bool same_playing(const Playing *a, const Playing *b, const Now *now) {
    return a->cause == b->cause && a->routine == b->routine && a->since == b->since &&
           a->until == b->until && a->held == b->held && a->setting_count == b->setting_count &&
           (a->cause != PLAYING_ENTRY || a->entry == b->entry) &&
           (a->cause != PLAYING_HAND || a->number == b->number) &&
           (a->cause != PLAYING_WHEN || a->number == b->number) &&
           (!a->held || a->goes_on == b->goes_on) && a->changes > now->utc;
}

/* Both lists, from now on for a day and a half. */
static void same_future(const Household *home, const Overrides *a, const Overrides *b,
                        const Now *now) {
    for (int64_t ahead = 0; ahead < 36 * HOUR; ahead += 53 * MINUTE) {
        Now then = now_later(now, ahead);
        for (int i = 0; i < PLACE_COUNT; i++) {
            Playing one = playing_on(a, home, &then, PLACES[i].lamp, PLACES[i].part);
            Playing other = playing_on(b, home, &then, PLACES[i].lamp, PLACES[i].part);
            if (!same_playing(&one, &other, &then))
                fail_msg("after %.1f min at place %d: %d %s %u, %d %s %u", (double)ahead / 6e7, i,
                         one.cause, routine_name(home, one.routine), one.entry, other.cause,
                         routine_name(home, other.routine), other.entry);
            PlayingLevel level = playing_level(a, &home->world, &then, PLACES[i].lamp);
            PlayingLevel again = playing_level(b, &home->world, &then, PLACES[i].lamp);
            assert_true(level.number == again.number && level.until == again.until);
        }
    }
}

static void test_pruning_and_writing_change_nothing(void **state) {
    (void)state;
    Household home;
    household_start(&home, CHANCE_WEEK);
    Overrides *list = overrides_new(), *other = overrides_new();
    Now now = now_at("2026-11-23T00:00");
    unsigned long pruned = 0;
    chance_state = 12;
    for (int round = 0; round < 200; round++) {
        now = now_later(&now, chance_below(150) * MINUTE);
        for (int64_t acts = chance_below(4); acts > 0; acts--)
            act_by_chance(&home, list, &now);
        *other = *list;
        pruned += overrides_prune(other, &home.world, &now);
        same_future(&home, list, other, &now);
        size_t length;
        StateSaid said = {0};
        char *text = state_write(other, &home.world, &length);
        assert_non_null(text);
        assert_int_equal(state_read(text, length, &home.world, list, &said), STATE_FINE);
        assert_int_equal(said.count, 0);
        memory_release(text);
        if (round % 10 == 9) { /* the machine starts again */
            snprintf(now.boot, sizeof now.boot, "start %d", round);
            now.boottime = chance_below(10) * MINUTE;
            overrides_settle(other, &now);
        }
        overrides_settle(list, &now);
        same_future(&home, list, other, &now);
    }
    printf("%lu of 200 rounds dropped something\n", pruned);
    assert_true(pruned > 50);
    memory_release(other);
    memory_release(list);
    household_end(&home);
}

/* Until `changes` all stays as it is, minute by minute; there something is different, or may be. */
static void test_changes_are_foretold(void **state) {
    (void)state;
    Household home;
    household_start(&home, CHANCE_WEEK);
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-23T00:00");
    unsigned long changes = 0;
    chance_state = 34;
    for (int round = 0; round < 100; round++) {
        for (int64_t acts = chance_below(3); acts > 0; acts--)
            act_by_chance(&home, list, &now);
        int64_t quiet = (1 + chance_below(240)) * MINUTE;
        for (int i = 0; i < PLACE_COUNT; i++) {
            Playing before = playing_on(list, &home, &now, PLACES[i].lamp, PLACES[i].part);
            for (int64_t ahead = MINUTE; ahead <= quiet; ahead += MINUTE) {
                Now then = now_later(&now, ahead);
                Playing one = playing_on(list, &home, &then, PLACES[i].lamp, PLACES[i].part);
                if (before.held)
                    before.since += MINUTE;
                if (then.utc < before.changes)
                    assert_true(same_playing(&before, &one, &then));
                else
                    changes++;
                before = one;
            }
        }
        now = now_later(&now, quiet);
        overrides_prune(list, &home.world, &now);
    }
    printf("%lu changes\n", changes);
    assert_true(changes > 100);
    memory_release(list);
    household_end(&home);
}

/* What was cleared long ago may be forgotten by another act. */
static uint32_t in_force(const Overrides *list) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < list->count; i++)
        count += list->list[i].cleared == 0;
    return count;
}

/* What was done last and is taken back at once was never done. */
static void test_undo_is_exact(void **state) {
    (void)state;
    Household home;
    household_start(&home, CHANCE_WEEK);
    Overrides *list = overrides_new(), *before = overrides_new();
    Now now = now_at("2026-11-23T00:00");
    unsigned long undone = 0;
    chance_state = 56;
    for (int round = 0; round < 200; round++) {
        now = now_later(&now, chance_below(100) * MINUTE);
        overrides_prune(list, &home.world, &now);
        *before = *list;
        Act act = {.kind = (ActKind)chance_below(ACT_UNDO)};
        act.lamp = (int32_t)chance_below(3) - 1;
        act.routine = routine_named(&home, "glow");
        act.end = end_by_chance(&now);
        act.lightness = 50;
        act.length = MINUTE;
        act.clock = (int32_t)chance_below(24 * 60) * 60;
        act.setting = (TimetableSetting){.dial = 0, .number = chance_unit()};
        act.number = list->last_number;
        if (overrides_act(list, &home.world, &now, &act))
            continue;
        Overrides *after = overrides_new();
        *after = *list;
        done(list, &home, &now, (Act){.kind = ACT_UNDO, .lamp = ALL});
        same_future(&home, list, before, &now);
        assert_int_equal(in_force(list), in_force(before));
        assert_int_equal(list->dial_count, before->dial_count);
        for (uint32_t i = 0; i < list->dial_count; i++)
            assert_true(list->dials[i].setting.number == before->dials[i].setting.number);
        *list = *after;
        memory_release(after);
        undone++;
    }
    printf("%lu acts taken back\n", undone);
    assert_true(undone > 100);
    memory_release(before);
    memory_release(list);
    household_end(&home);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_pruning_and_writing_change_nothing),
        cmocka_unit_test(test_changes_are_foretold),
        cmocka_unit_test(test_undo_is_exact),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
