/* Overrides as data: lengths on two clocks, ends, acts and what takes them back, what a reload
 * keeps. Expected instants are worked out by hand. */
#include <math.h>

#include "tests/support/household.h"

/* -------- lengths -------- */

static void test_length_survives_the_correction(void **state) {
    (void)state;
    Now now = {at("2026-11-25T13:00"), 5 * MINUTE, false, "first"};
    Begun begun = begun_in(&now, 0);
    now = now_later(&now, 12 * MINUTE);
    assert_int_equal(begun_ago(&begun, &now), 12 * MINUTE);
    now.utc += 3 * HOUR;
    assert_int_equal(begun_ago(&begun, &now), 12 * MINUTE);
    now.trusted = true;
    begun_settle(&begun, &now, false);
    assert_int_equal(begun_ago(&begun, &now), 12 * MINUTE);
    assert_int_equal(begun.utc, at("2026-11-25T16:00"));
    assert_true(begun.trusted);
    now.utc -= 2 * HOUR; /* set again, by somebody: the length does not mind */
    begun_settle(&begun, &now, false);
    assert_int_equal(begun_ago(&begun, &now), 12 * MINUTE);
    assert_int_equal(begun_utc(&begun, &now), at("2026-11-25T16:00"));
}

static void test_length_over_a_restart(void **state) {
    (void)state;
    Now now = {at("2026-11-25T13:00"), 50 * HOUR, true, "first"};
    const Begun begun = begun_in(&now, 0);
    Begun one = begun;
    now = (Now){at("2026-11-25T13:09"), MINUTE, true, "second"};
    begun_settle(&one, &now, true);
    assert_int_equal(begun_ago(&one, &now), 9 * MINUTE);
    now = now_later(&now, 2 * MINUTE);
    assert_int_equal(begun_ago(&one, &now), 11 * MINUTE);
    /* the clock is slow by the outage of an hour: known when it is set */
    one = begun;
    now = (Now){at("2026-11-25T13:05"), MINUTE, false, "second"};
    begun_settle(&one, &now, true);
    assert_int_equal(begun_ago(&one, &now), 5 * MINUTE);
    now = now_later(&now, 3 * MINUTE);
    assert_int_equal(begun_ago(&one, &now), 8 * MINUTE);
    now.utc += HOUR;
    assert_int_equal(begun_ago(&one, &now), 8 * MINUTE);
    now.trusted = true;
    assert_int_equal(begun_ago(&one, &now), 68 * MINUTE);
    begun_settle(&one, &now, false);
    assert_int_equal(begun_ago(&one, &now), 68 * MINUTE);
    now.utc -= 30 * MINUTE;
    assert_int_equal(begun_ago(&one, &now), 68 * MINUTE);
    /* slower still, before it began: nothing has gone by, and it goes by from here */
    one = begun;
    now = (Now){at("2026-11-25T12:00"), MINUTE, false, "second"};
    begun_settle(&one, &now, true);
    assert_int_equal(begun_ago(&one, &now), 0);
    now = now_later(&now, 3 * MINUTE);
    assert_int_equal(begun_ago(&one, &now), 3 * MINUTE);
    /* and a third start */
    now = (Now){at("2026-11-25T13:20"), MINUTE, true, "third"};
    begun_settle(&one, &now, true);
    assert_int_equal(begun_ago(&one, &now), 20 * MINUTE);
}

/* -------- ends -------- */

static int64_t end_of(const Household *home, const char *now_text, OverrideEnd end) {
    Overrides *list = overrides_new();
    Now now = now_at(now_text);
    done(list, home, &now, act_of_play(home, "glow", end));
    int64_t ends;
    assert_true(override_holds(list, &home->world, &now, &list->list[0], LANTERN, &ends));
    Now last = now_later(&now, ends - now.utc - 1), over = now_later(&now, ends - now.utc);
    int64_t again;
    assert_true(override_holds(list, &home->world, &last, &list->list[0], LANTERN, &again));
    assert_int_equal(again, ends);
    assert_false(override_holds(list, &home->world, &over, &list->list[0], LANTERN, &again));
    memory_release(list);
    return ends;
}

/* On nights on which the clocks change in Bristol a length is exact time, an end is the clock's:
 * forward 2026-03-29 01:00 UTC, back 2026-10-25 01:00 UTC (time zone database). */
static void test_ends(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK);
    assert_int_equal(end_of(&home, "2026-11-24T21:00", for_length(30 * MINUTE)),
                     at("2026-11-24T21:30"));
    assert_int_equal(end_of(&home, "2026-11-24T21:00", until_clock(22, 0)), at("2026-11-24T22:00"));
    assert_int_equal(end_of(&home, "2026-11-24T21:00", until_clock(6, 30)), at("2026-11-25T06:30"));
    assert_int_equal(end_of(&home, "2026-11-24T21:00", until_clock(21, 0)), at("2026-11-25T21:00"));
    assert_int_equal(end_of(&home, "2026-11-24T21:00", until_instant("2026-12-01T12:00")),
                     at("2026-12-01T12:00"));
    assert_int_equal(end_of(&home, "2026-11-24T21:00", next_entry), at("2026-11-25T02:40"));
    assert_int_equal(end_of(&home, "2026-03-29T00:30", for_length(2 * HOUR)),
                     at("2026-03-29T02:30"));
    assert_int_equal(end_of(&home, "2026-03-29T00:30", until_clock(2, 30)), at("2026-03-29T01:30"));
    assert_int_equal(end_of(&home, "2026-10-24T23:30", until_clock(2, 30)), at("2026-10-25T02:30"));
    household_end(&home);
}

/* -------- what is refused -------- */

static void test_refused(void **state) {
    (void)state;
    Household home, bare;
    household_start(&home, WEEK);
    household_start(&bare, "");
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-24T21:00");
    Act play = act_of_play(&home, "glow", next_entry), one = play;
    one.routine = home.world.context.program->routine_count;
    refused(list, &home, &now, one, "no such routine");
    one = play;
    one.lamp = 2;
    refused(list, &home, &now, one, "no such lamp");
    one.lamp = -2;
    refused(list, &home, &now, one, "no such lamp");
    one = play;
    one.end = for_length(0);
    refused(list, &home, &now, one, "at most 366 days");
    one.end = until_clock(24, 0);
    refused(list, &home, &now, one, "no time of day");
    one.end = until_instant("2026-11-24T21:00");
    refused(list, &home, &now, one, "lie ahead");
    refused(list, &bare, &now, play, "no entry of the timetable would end it");
    one = (Act){.kind = ACT_LEVEL, .lamp = ALL, .end = for_length(HOUR)};
    one.lightness = 100.5;
    refused(list, &home, &now, one, "0 to 100");
    one.lightness = -0.5;
    refused(list, &home, &now, one, "0 to 100");
    one.lightness = NAN;
    refused(list, &home, &now, one, "0 to 100");
    one = (Act){.kind = ACT_MORE, .lamp = ALL, .length = 0};
    refused(list, &home, &now, one, "24 hours");
    one.length = 24 * HOUR + 1;
    refused(list, &home, &now, one, "24 hours");
    one.length = MINUTE;
    refused(list, &bare, &now, one, "nothing plays");
    refused(list, &bare, &now, (Act){.kind = ACT_SKIP, .lamp = ALL}, "nothing in the timetable");
    refused(list, &home, &now, (Act){.kind = ACT_EARLIER, .lamp = ALL, .clock = 86400},
            "no time of day");
    refused(list, &bare, &now, (Act){.kind = ACT_EARLIER, .lamp = ALL, .clock = 0},
            "within 12 hours");
    refused(list, &home, &now, (Act){.kind = ACT_SET, .lamp = ALL, .setting = {.dial = 99}},
            "no such dial");
    refused(list, &home, &now, (Act){.kind = ACT_REPORT, .lamp = ALL, .event = 99},
            "no such event");
    refused(list, &home, &now, (Act){.kind = ACT_CLEAR, .lamp = ALL, .number = 7}, "that number");
    refused(list, &home, &now, (Act){.kind = ACT_CLEAR, .lamp = ALL}, "nothing is overridden");
    refused(list, &home, &now, (Act){.kind = ACT_UNDO, .lamp = ALL}, "nothing was done");
    memory_release(list);
    household_end(&home);
    household_end(&bare);
}

/* -------- limits -------- */

static void test_limits(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK);
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-24T21:00");
    Act play = act_of_play(&home, "glow", for_length(LIMIT_OVERRIDE_DAYS * 24 * HOUR));
    for (int i = 0; i < LIMIT_OVERRIDES; i++)
        done(list, &home, &now, play);
    assert_int_equal(list->count, LIMIT_OVERRIDES);
    assert_int_equal(list->undo_count, LIMIT_UNDO);
    refused(list, &home, &now, play, "too many");
    refused(list, &home, &now, (Act){.kind = ACT_SKIP, .lamp = ALL}, "too many");
    refused(list, &home, &now, (Act){.kind = ACT_MORE, .lamp = ALL, .length = 1}, "too many");
    done(list, &home, &now, (Act){.kind = ACT_CLEAR, .lamp = ALL, .number = 5});
    done(list, &home, &now, play); /* in the place of what was cleared */
    assert_int_equal(list->count, LIMIT_OVERRIDES);
    refused(list, &home, &now, play, "too many");
    /* LIMIT_UNDO acts can be taken back: that play, and 14 of the first 64; nothing is left of the
     * clearing. */
    int taken = 0;
    Act undo = {.kind = ACT_UNDO, .lamp = ALL};
    while (!overrides_act(list, &home.world, &now, &undo))
        taken++;
    assert_int_equal(taken, LIMIT_UNDO - 1);
    assert_int_equal(list->count, LIMIT_OVERRIDES - (LIMIT_UNDO - 1));

    play.end.length++;
    refused(list, &home, &now, play, "366 days");
    play.end =
        (OverrideEnd){.kind = OVERRIDE_AT, .instant = now.utc + LIMIT_OVERRIDE_DAYS * 24 * HOUR};
    done(list, &home, &now, play);
    play.end.instant++;
    refused(list, &home, &now, play, "366 days");
    TimetableSetting settings[LIMIT_OVERRIDE_DIALS + 1] = {{0}};
    play.end = next_entry;
    play.settings = settings;
    play.setting_count = LIMIT_OVERRIDE_DIALS;
    done(list, &home, &now, play);
    play.setting_count++;
    refused(list, &home, &now, play, "16 dials");
    memory_release(list);
    household_end(&home);
}

/* -------- taking back -------- */

static void test_clear_and_undo(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK "when rung play feed for 2h\n");
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-24T21:00");
    Act undo = {.kind = ACT_UNDO, .lamp = ALL};
    done(list, &home, &now, act_of_play(&home, "glow", for_length(HOUR))); /* 1 */
    done(list, &home, &now, act_of_play(&home, "nap", for_length(HOUR)));  /* 2 */
    done(list, &home, &now, (Act){.kind = ACT_REPORT, .lamp = ALL});       /* 3 */
    plays(list, &home, &now, "nap", 0);
    done(list, &home, &now, (Act){.kind = ACT_CLEAR, .lamp = ALL, .number = 2}); /* 4 */
    plays(list, &home, &now, "glow", 0);
    done(list, &home, &now, (Act){.kind = ACT_CLEAR, .lamp = ALL, .number = 3}); /* 5 */
    done(list, &home, &now, (Act){.kind = ACT_CLEAR, .lamp = ALL});              /* 6: 1 */
    plays(list, &home, &now, "nightlight", -1);
    refused(list, &home, &now, (Act){.kind = ACT_CLEAR, .lamp = ALL}, "nothing is overridden");
    refused(list, &home, &now, (Act){.kind = ACT_CLEAR, .lamp = ALL, .number = 2}, "that number");
    done(list, &home, &now, undo);
    plays(list, &home, &now, "glow", 0);
    done(list, &home, &now, undo);
    assert_int_equal(list->running[0].cleared, 0);
    now = now_at("2026-11-24T21:30");
    done(list, &home, &now, undo);
    plays(list, &home, &now, "glow", 10 * MINUTE); /* of the nap, its `then` */
    done(list, &home, &now, undo);
    plays(list, &home, &now, "glow", 30 * MINUTE);
    done(list, &home, &now, undo);
    plays(list, &home, &now, "feed", 30 * MINUTE);
    refused(list, &home, &now, undo, "nothing was done");
    /* What has ended is not there to be taken back, what was before it is. */
    Act set = {.kind = ACT_SET, .lamp = ALL, .setting = {.dial = 0, .number = 0.7}};
    done(list, &home, &now, set);
    done(list, &home, &now, act_of_play(&home, "glow", for_length(MINUTE)));
    now = now_at("2026-11-24T21:31");
    done(list, &home, &now, undo);
    assert_int_equal(list->dial_count, 0);
    memory_release(list);
    household_end(&home);
}

/* One act on two lamps that play different things, and a part: one number, taken back at once. */
static void test_more_of_several(void **state) {
    (void)state;
    Household home;
    household_start(&home, "at 08:00 play off at 12:00 play glow for 1h on lamp shelf\n"
                           "at 12:00 play feed for 1h on lamp shelf part left\n");
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-24T12:30");
    done(list, &home, &now, (Act){.kind = ACT_MORE, .lamp = ALL, .length = 10 * MINUTE});
    assert_int_equal(list->count, 3);
    Now later = now_at("2026-11-24T13:09");
    assert_string_equal(routine_name(&home, playing_on(list, &home, &later, SHELF, WHOLE).routine),
                        "glow");
    assert_string_equal(routine_name(&home, playing_on(list, &home, &later, SHELF, LEFT).routine),
                        "feed");
    done(list, &home, &now, (Act){.kind = ACT_UNDO, .lamp = ALL});
    assert_int_equal(list->count, 0);
    /* of a play by hand: its length grows, and goes with it */
    done(list, &home, &now, act_of_play(&home, "nap", for_length(30 * MINUTE)));
    done(list, &home, &now, (Act){.kind = ACT_MORE, .lamp = LANTERN, .length = 10 * MINUTE});
    assert_int_equal(list->count, 2);
    plays_at(list, &home, "2026-11-24T12:40", "nap", 0);
    plays_at(list, &home, "2026-11-24T12:50", "nap", 10 * MINUTE);
    plays_at(list, &home, "2026-11-24T13:09:59", "glow", 10 * MINUTE - 1000000);
    plays_at(list, &home, "2026-11-24T13:10", "off", -1);
    assert_int_equal(playing_on(list, &home, &later, SHELF, WHOLE).cause, PLAYING_ENTRY);
    later = now_at("2026-11-24T13:10");
    overrides_prune(list, &home.world, &later);
    assert_int_equal(list->count, 0);
    memory_release(list);
    household_end(&home);
}

/* What hangs on a moved moment that is cleared, or on a play of `when`. */
static void test_more_goes_with_its_target(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK "when rung play feed for 10min\n");
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-24T22:00");
    done(list, &home, &now, (Act){.kind = ACT_EARLIER, .lamp = ALL, .clock = 2 * 3600});
    now = now_at("2026-11-25T01:40");
    done(list, &home, &now, (Act){.kind = ACT_MORE, .lamp = ALL, .length = 5 * MINUTE});
    done(list, &home, &now, (Act){.kind = ACT_CLEAR, .lamp = ALL, .number = 1});
    plays(list, &home, &now, "nightlight", -1);
    overrides_prune(list, &home.world, &now);
    done(list, &home, &now, (Act){.kind = ACT_UNDO, .lamp = ALL});
    plays_at(list, &home, "2026-11-25T01:50", "daybreak", 15 * MINUTE);
    now = now_at("2026-11-25T12:00");
    overrides_prune(list, &home.world, &now);
    assert_int_equal(list->count, 0);
    done(list, &home, &now, (Act){.kind = ACT_REPORT, .lamp = ALL, .event = 0});
    done(list, &home, &now, (Act){.kind = ACT_MORE, .lamp = ALL, .length = 5 * MINUTE});
    plays_at(list, &home, "2026-11-25T12:14:59", "feed", -1);
    plays_at(list, &home, "2026-11-25T12:15", "off", -1);
    now = now_at("2026-11-25T12:14:59");
    assert_false(overrides_prune(list, &home.world, &now));
    now = now_at("2026-11-25T12:15");
    assert_true(overrides_prune(list, &home.world, &now));
    assert_int_equal(list->count, 0);
    assert_int_equal(list->running_count, 0);
    assert_int_equal(list->undo_count, 0);
    memory_release(list);
    household_end(&home);
}

/* -------- entries by their meaning -------- */

static uint64_t meaning_of_last(const char *lines) {
    Household home;
    household_start(&home, lines);
    uint64_t meaning = world_meaning(&home.world, home.world.context.timetable->entry_count - 1);
    household_end(&home);
    return meaning;
}

static void test_meaning(void **state) {
    (void)state;
    /* Each differs from all others. */
    static const char *const entries[] = {
        "at 07:00 play glow",
        "at 07:01 play glow",
        "at 07:00, 07:01 play glow",
        "at 07:00..07:01 every 1min play glow for 1min",
        "at 07:00..07:02 every 1min play glow for 1min",
        "at 07:00..07:02 every 2min play glow for 1min",
        "at 07:00 play feed",
        "at 07:00 play off",
        "by 07:00 play daybreak",
        "at 07:00 play daybreak",
        "at sunrise play glow",
        "at sunset play glow",
        "at sunrise + 1min play glow",
        "at sunrise not before 06:00 play glow",
        "at sunrise not after 06:00 play glow",
        "at sunrise else 06:00 play glow",
        "at 07:00 on mon play glow",
        "at 07:00 in nov play glow",
        "at 07:00 from 2026-01-01 play glow",
        "at 07:00 until 2026-01-01 play glow",
        "at 07:00 except mon play glow",
        "at 07:00 except 2026-12-25 play glow",
        "at 07:00 except 2026-12-25..2026-12-26 play glow",
        "at 07:00 on days 1..4 of 8 from 2026-01-01 play glow",
        "at 07:00 on days 1..4 of 9 from 2026-01-01 play glow",
        "at 07:00 on days 2..4 of 8 from 2026-01-01 play glow",
        "at 07:00 play glow with warmth = 50%",
        "at 07:00 play glow with warmth = 60%",
        "at 07:00 play glow with tone = red",
        "at 07:00 play glow with passing = 0.5",
        "at 07:00 play glow on lamp shelf",
        "at 07:00 play glow on lamp lantern",
        "at 07:00 play glow on lamp shelf part left",
        "at 07:00 play glow on lamp shelf part right",
        "at 07:00 play glow for 1h",
        "at 07:00 play glow for 2h",
        "at 07:00 play glow until 08:00",
        "at 07:00 play glow until sunset",
        "when rung play glow for 1h",
        "when told play glow for 1h",
        "when passing > 50% play glow for 1h",
        "when passing > 60% play glow for 1h",
        "when passing < 50% play glow for 1h",
        "when warmth > 50% play glow for 1h",
    };
    enum { COUNT = sizeof entries / sizeof entries[0] };
    uint64_t meanings[COUNT];
    for (int i = 0; i < COUNT; i++) {
        meanings[i] = meaning_of_last(entries[i]);
        for (int j = 0; j < i; j++)
            if (meanings[j] == meanings[i])
                fail_msg("one meaning: %s, %s", entries[i], entries[j]);
    }
    /* What stands around it changes nothing. */
    static char text[4096];
    for (int i = 0; i < COUNT; i++) {
        snprintf(
            text, sizeof text,
            "dial above = 3 event before\nroutine other { paint white * above }\n"
            "at 12:00 play other\nwhen before play other for 1s\nwhen above > 4 play other for "
            "1s\n\n   %s",
            entries[i]);
        assert_true(meaning_of_last(text) == meanings[i]);
    }
}

/* -------- reloads -------- */

typedef struct Reload {
    const char *before, *after;
    uint32_t kept; /* of overrides */
    const char *says;
} Reload;

/* A skip of the dawn, and a play of glow on the shelf, in front of the file as it was. */
static void test_reloads(void **state) {
    (void)state;
    static const Reload reloads[] = {
        {WEEK, WEEK, 2, NULL},
        {WEEK, "at 12:00 play glow\n" WEEK "at 12:01 play off\n", 2, NULL},
        {WEEK, "at 19:30 play dusk by 03:10 on tue..sat play daybreak at 08:00 play off", 2, NULL},
        {WEEK, "at 08:00 play off at 19:30 play dusk", 1, "taken out or changed"},
        {WEEK, "by 03:20 on tue..sat play daybreak at 08:00 play off", 1, "taken out or changed"},
    };
    for (size_t i = 0; i < sizeof reloads / sizeof reloads[0]; i++) {
        Household before, after;
        household_start(&before, reloads[i].before);
        household_start(&after, reloads[i].after);
        Overrides *list = overrides_new();
        Now now = now_at("2026-11-24T21:00");
        done(list, &before, &now, (Act){.kind = ACT_SKIP, .lamp = ALL});
        Act play = act_of_play(&before, "glow", for_length(10 * HOUR));
        play.lamp = SHELF;
        done(list, &before, &now, play);
        StateSaid said = {0};
        assert_true(state_move(list, &before.world, &after.world, &said));
        overrides_settle(list, &now);
        overrides_prune(list, &after.world, &now);
        assert_int_equal(list->count, reloads[i].kept);
        assert_int_equal(said.count, reloads[i].says != NULL);
        if (reloads[i].says)
            assert_non_null(strstr(said.sentences[0], reloads[i].says));
        Now dawn = now_at("2026-11-25T03:00");
        if (!reloads[i].says)
            plays(list, &after, &dawn, "nightlight", -1);
        assert_string_equal(
            routine_name(&after, playing_on(list, &after, &dawn, SHELF, WHOLE).routine), "glow");
        memory_release(list);
        household_end(&before);
        household_end(&after);
    }
}

/* What is run on events and truths goes with its entry; so do dials with their name and type. */
static void test_reload_of_the_rest(void **state) {
    (void)state;
    Household before, after;
    household_start(&before, "dial extra = 3 dial kind = 2 event gone\n"
                             "routine own { paint white * extra * kind }\n" WEEK
                             "when rung play feed for 2h\nwhen told play glow for 2h\n"
                             "when passing > 50% play glow for 2h\n");
    household_start(&after, "dial kind = 2s\nwhen passing > 50% play glow for 2h\n" WEEK
                            "when told play glow for 3h\nwhen rung play feed for 2h\n");
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-24T21:00");
    const bool no[] = {false}, yes[] = {true};
    for (uint16_t event = 0; event < 3; event++)
        done(list, &before, &now, (Act){.kind = ACT_REPORT, .lamp = ALL, .event = event});
    overrides_truths(list, &before.world, &now, no);
    overrides_truths(list, &before.world, &now, yes);
    assert_int_equal(list->running_count, 3);
    static const char *const dials[] = {"warmth", "extra", "kind"};
    for (int i = 0; i < 3; i++) {
        const Program *program = before.world.context.program;
        Act set = {.kind = ACT_SET, .lamp = ALL, .setting = {.number = 0.25}};
        while (strcmp(program->dials[set.setting.dial].name, dials[i]) != 0)
            set.setting.dial++;
        done(list, &before, &now, set);
    }
    done(list, &before, &now, act_of_play(&before, "own", for_length(HOUR)));
    StateSaid said = {0};
    assert_true(state_move(list, &before.world, &after.world, &said));
    overrides_settle(list, &now);
    assert_int_equal(list->count, 0);
    assert_int_equal(list->running_count, 2);
    assert_int_equal(list->running[0].entry, after.world.context.timetable->entry_count - 1);
    assert_int_equal(list->running[1].entry, 0);
    assert_int_equal(list->truths[0], TRUTH_TRUE);
    assert_int_equal(list->dial_count, 1);
    assert_true(list->dials[0].setting.number == 0.25);
    assert_int_equal(list->report_count, 2);
    overrides_prune(list, &after.world, &now);
    assert_int_equal(list->undo_count, 1); /* of the dial that is still there */
    assert_true(said.count >= 5);          /* routine, entry, two dials, event */
    memory_release(list);
    household_end(&before);
    household_end(&after);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_length_survives_the_correction),
        cmocka_unit_test(test_length_over_a_restart),
        cmocka_unit_test(test_ends),
        cmocka_unit_test(test_refused),
        cmocka_unit_test(test_limits),
        cmocka_unit_test(test_clear_and_undo),
        cmocka_unit_test(test_more_of_several),
        cmocka_unit_test(test_more_goes_with_its_target),
        cmocka_unit_test(test_meaning),
        cmocka_unit_test(test_reloads),
        cmocka_unit_test(test_reload_of_the_rest),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
