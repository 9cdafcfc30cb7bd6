/* What plays with what lies on top of the timetable, worked out by hand: the evenings and nights of
 * people who skip, move, prolong and override (common practice, no source). 2026-11-25 is a
 * Wednesday. */
#include "tests/support/household.h"

/* Tonight: no dawn tomorrow. */
static void test_skip_tomorrow(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK);
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-24T22:00");
    plays_at(list, &home, "2026-11-25T02:50", "daybreak", 10 * MINUTE);
    done(list, &home, &now, (Act){.kind = ACT_SKIP, .lamp = ALL});
    assert_int_equal(list->list[0].target.start, at("2026-11-25T02:40"));
    plays_at(list, &home, "2026-11-25T02:50", "nightlight", 6 * HOUR + 40 * MINUTE);
    plays_at(list, &home, "2026-11-25T07:59:59", "nightlight", -1);
    plays_at(list, &home, "2026-11-25T08:00", "off", 0);
    plays_at(list, &home, "2026-11-26T02:50", "daybreak", 10 * MINUTE);
    TimetableBegin begin;
    assert_true(playing_next(list, &home.world, &now, LANTERN, &begin));
    assert_int_equal(begin.start, at("2026-11-25T08:00"));
    /* Shown until nothing of it can be seen. */
    now = now_at("2026-11-25T07:59:59");
    assert_false(overrides_prune(list, &home.world, &now));
    Overrides *copy = overrides_new();
    *copy = *list;
    done(copy, &home, &now, (Act){.kind = ACT_UNDO, .lamp = ALL});
    plays(copy, &home, &now, "daybreak", 5 * HOUR + 20 * MINUTE - 1000000);
    now = now_at("2026-11-25T08:00");
    assert_true(overrides_prune(list, &home.world, &now));
    assert_int_equal(list->count, 0);
    plays(list, &home, &now, "off", 0);
    refused(list, &home, &now, (Act){.kind = ACT_UNDO, .lamp = ALL}, "nothing was done");
    memory_release(copy);
    memory_release(list);
    household_end(&home);
}

static void test_skip_twice(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK);
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-24T22:00");
    done(list, &home, &now, (Act){.kind = ACT_SKIP, .lamp = ALL});
    done(list, &home, &now, (Act){.kind = ACT_SKIP, .lamp = ALL});
    plays_at(list, &home, "2026-11-25T12:00", "nightlight", -1);
    plays_at(list, &home, "2026-11-25T19:30", "dusk", 0);
    done(list, &home, &now, (Act){.kind = ACT_UNDO, .lamp = ALL});
    plays_at(list, &home, "2026-11-25T12:00", "off", 4 * HOUR);
    plays_at(list, &home, "2026-11-25T03:00", "nightlight", -1);
    done(list, &home, &now, (Act){.kind = ACT_UNDO, .lamp = ALL});
    plays_at(list, &home, "2026-11-25T03:00", "daybreak", 20 * MINUTE);
    memory_release(list);
    household_end(&home);
}

/* Two entries at one moment, the later with an end: neither comes back when that is over. */
static void test_skip_of_two(void **state) {
    (void)state;
    Household home;
    household_start(&home, "at 08:00 play off at 19:30 play dusk at 19:30 play strike for 10min\n");
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-24T12:00");
    done(list, &home, &now, (Act){.kind = ACT_SKIP, .lamp = ALL});
    for (int minute = 0; minute < 120; minute++) {
        now = now_at("2026-11-24T19:00");
        now = now_later(&now, minute * MINUTE);
        overrides_prune(list, &home.world, &now);
        plays(list, &home, &now, "off", -1);
    }
    now = now_at("2026-11-25T08:00");
    overrides_prune(list, &home.world, &now);
    assert_int_equal(list->count, 0);
    memory_release(list);
    household_end(&home);
}

/* One lamp's moments are not another's. */
static void test_skip_on_a_lamp(void **state) {
    (void)state;
    Household home;
    household_start(&home, "at 19:00 play glow on lamp shelf at 19:30 play dusk\n"
                           "at 19:10 play feed on lamp shelf part left\n");
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-24T18:00");
    done(list, &home, &now, (Act){.kind = ACT_SKIP, .lamp = LANTERN});
    done(list, &home, &now, (Act){.kind = ACT_SKIP, .lamp = SHELF});
    done(list, &home, &now, (Act){.kind = ACT_SKIP, .lamp = SHELF}); /* its part */
    Now evening = now_at("2026-11-24T19:40");
    plays(list, &home, &evening, "nightlight", 23 * HOUR + 30 * MINUTE); /* of yesterday's dusk */
    Playing shelf = playing_on(list, &home, &evening, SHELF, WHOLE);
    assert_string_equal(routine_name(&home, shelf.routine), "dusk");
    Now before = now_at("2026-11-24T19:20");
    Playing left = playing_on(list, &home, &before, SHELF, LEFT);
    assert_int_equal(left.cause, PLAYING_ENTRY);
    assert_int_equal(left.began, at("2026-11-23T19:10"));
    memory_release(list);
    household_end(&home);
}

/* "15 more minutes": the dawn stands still at its minute 10, survives a power cut, and the morning
 * keeps its times. */
static void test_fifteen_more(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK);
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-25T02:50");
    done(list, &home, &now, (Act){.kind = ACT_MORE, .lamp = ALL, .length = 15 * MINUTE});
    assert_int_equal(list->count, 1);
    plays_at(list, &home, "2026-11-25T02:50", "daybreak", 10 * MINUTE);
    plays_at(list, &home, "2026-11-25T03:00", "daybreak", 10 * MINUTE);
    plays_at(list, &home, "2026-11-25T03:05", "daybreak", 10 * MINUTE);
    plays_at(list, &home, "2026-11-25T03:10", "daybreak", 15 * MINUTE);
    plays_at(list, &home, "2026-11-25T03:25", "daybreak", 30 * MINUTE);
    plays_at(list, &home, "2026-11-25T08:00", "off", 0);
    now = now_at("2026-11-25T03:00");
    Playing playing = playing_on(list, &home, &now, LANTERN, WHOLE);
    assert_true(playing.held);
    assert_int_equal(playing.goes_on, at("2026-11-25T03:05"));
    assert_int_equal(playing.changes, at("2026-11-25T03:05"));
    /* again: 15 minutes behind the first */
    done(list, &home, &now, (Act){.kind = ACT_MORE, .lamp = ALL, .length = 15 * MINUTE});
    plays_at(list, &home, "2026-11-25T03:20", "daybreak", 10 * MINUTE);
    plays_at(list, &home, "2026-11-25T03:30", "daybreak", 20 * MINUTE);
    /* a power cut of two minutes at 03:01 */
    size_t length;
    char *text = state_write(list, &home.world, &length);
    StateSaid said = {0};
    assert_int_equal(state_read(text, length, &home.world, list, &said), STATE_FINE);
    memory_release(text);
    assert_int_equal(said.count, 0);
    now = (Now){at("2026-11-25T03:03"), 20000000, true, "second"};
    overrides_settle(list, &now);
    plays(list, &home, &now, "daybreak", 10 * MINUTE);
    now = now_later(&now, 27 * MINUTE); /* 03:30 */
    plays(list, &home, &now, "daybreak", 20 * MINUTE);
    memory_release(list);
    household_end(&home);
}

/* What ends by `for` ends later by as much, what ends by `until` does not. */
static void test_more_and_ends(void **state) {
    (void)state;
    Household home;
    household_start(&home,
                    "at 08:00 play off at 12:30 play glow for 1h\n"
                    "at 15:00 play glow until 16:00 at 17:00..17:30 every 30min play strike\n");
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-25T13:00");
    done(list, &home, &now, (Act){.kind = ACT_MORE, .lamp = ALL, .length = 20 * MINUTE});
    plays_at(list, &home, "2026-11-25T13:49:59", "glow", -1);
    plays_at(list, &home, "2026-11-25T13:50", "off", -1);
    plays_at(list, &home, "2026-11-26T13:29:59", "glow", -1); /* the next day as ever */
    plays_at(list, &home, "2026-11-26T13:30", "off", -1);
    now = now_at("2026-11-25T15:30");
    done(list, &home, &now, (Act){.kind = ACT_MORE, .lamp = ALL, .length = 20 * MINUTE});
    plays_at(list, &home, "2026-11-25T15:45", "glow", 30 * MINUTE);
    plays_at(list, &home, "2026-11-25T16:00", "off", -1);
    now = now_at("2026-11-25T17:00:10"); /* it ends with its 24 s */
    done(list, &home, &now, (Act){.kind = ACT_MORE, .lamp = ALL, .length = 1 * MINUTE});
    plays_at(list, &home, "2026-11-25T17:01:23", "strike", 23000000);
    plays_at(list, &home, "2026-11-25T17:01:24", "off", -1);
    now = now_at("2026-11-25T16:59");
    overrides_prune(list, &home.world, &now);
    assert_int_equal(list->count, 1); /* the last one; the others' plays are over */
    now = now_at("2026-11-25T17:01:24");
    overrides_prune(list, &home.world, &now);
    assert_int_equal(list->count, 0);
    memory_release(list);
    household_end(&home);
}

/* The train at five: bright at 02:00 instead of 03:10, once. */
static void test_earlier_tomorrow(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK);
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-24T22:00");
    done(list, &home, &now, (Act){.kind = ACT_EARLIER, .lamp = ALL, .clock = 2 * 3600});
    plays_at(list, &home, "2026-11-25T01:29:59", "nightlight", -1);
    plays_at(list, &home, "2026-11-25T01:30", "daybreak", 0);
    plays_at(list, &home, "2026-11-25T02:00", "daybreak", 30 * MINUTE);
    plays_at(list, &home, "2026-11-25T02:50", "daybreak", 80 * MINUTE); /* not a second time */
    plays_at(list, &home, "2026-11-25T08:00", "off", 0);
    plays_at(list, &home, "2026-11-26T02:39", "nightlight", -1);
    plays_at(list, &home, "2026-11-26T02:40", "daybreak", 0);
    now = now_at("2026-11-25T07:00");
    assert_false(overrides_prune(list, &home.world, &now));
    now = now_at("2026-11-25T08:00");
    assert_true(overrides_prune(list, &home.world, &now));
    assert_int_equal(list->count, 0);
    memory_release(list);
    household_end(&home);
}

/* What comes between now and then stays where it is; earlier still, skipped, taken back. */
static void test_earlier_corners(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK);
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-24T18:00");
    done(list, &home, &now, (Act){.kind = ACT_EARLIER, .lamp = ALL, .clock = 2 * 3600});
    plays_at(list, &home, "2026-11-24T19:30", "dusk", 0);
    plays_at(list, &home, "2026-11-25T01:40", "daybreak", 10 * MINUTE);
    done(list, &home, &now, (Act){.kind = ACT_EARLIER, .lamp = ALL, .clock = 3600});
    plays_at(list, &home, "2026-11-25T00:40", "daybreak", 10 * MINUTE);
    plays_at(list, &home, "2026-11-25T01:40", "daybreak", 70 * MINUTE);
    done(list, &home, &now, (Act){.kind = ACT_UNDO, .lamp = ALL});
    plays_at(list, &home, "2026-11-25T00:40", "nightlight", -1);
    plays_at(list, &home, "2026-11-25T01:40", "daybreak", 10 * MINUTE);
    now = now_at("2026-11-24T22:00"); /* the moved one is what comes next */
    done(list, &home, &now, (Act){.kind = ACT_SKIP, .lamp = ALL});
    plays_at(list, &home, "2026-11-25T01:40", "nightlight", -1);
    plays_at(list, &home, "2026-11-25T02:50", "nightlight", -1);
    Act undo = {.kind = ACT_UNDO, .lamp = ALL}, earlier = {.kind = ACT_EARLIER, .lamp = ALL};
    done(list, &home, &now, undo);
    done(list, &home, &now, undo);
    plays_at(list, &home, "2026-11-25T02:50", "daybreak", 10 * MINUTE);
    earlier.clock = 22 * 3600 + 20 * 60; /* its half hour would have begun at 21:50 */
    refused(list, &home, &now, earlier, "too late");
    now = now_at("2026-11-28T22:00"); /* Saturday: no dawn on Sunday, next is off at 08:00 */
    earlier.clock = 19 * 3600;        /* Sunday 19:00; dusk at 19:30 */
    done(list, &home, &now, earlier);
    plays_at(list, &home, "2026-11-29T19:05", "dusk", 5 * MINUTE);
    earlier.clock = 19 * 3600 + 1800; /* the first behind Sunday 19:30 is Monday 08:00 */
    refused(list, &home, &now, earlier, "within 12 hours");
    memory_release(list);
    household_end(&home);
}

/* Reading longer: the wind-down stands still for 20 minutes and the night light comes later. */
static void test_read_longer(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK);
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-24T20:00");
    done(list, &home, &now, (Act){.kind = ACT_MORE, .lamp = LANTERN, .length = 20 * MINUTE});
    plays_at(list, &home, "2026-11-24T20:15", "dusk", 30 * MINUTE);
    plays_at(list, &home, "2026-11-24T20:29:59", "dusk", 40 * MINUTE - 1000000);
    plays_at(list, &home, "2026-11-24T20:30", "nightlight", 0);
    Now later = now_at("2026-11-24T20:15");
    Playing shelf = playing_on(list, &home, &later, SHELF, WHOLE);
    assert_string_equal(routine_name(&home, shelf.routine), "nightlight");
    later = now_at("2026-11-24T20:05"); /* not at 20:10, when dusk would have been over */
    assert_int_equal(playing_on(list, &home, &later, LANTERN, WHOLE).changes,
                     at("2026-11-24T20:20"));
    later = now_at("2026-11-24T20:25");
    assert_int_equal(playing_on(list, &home, &later, LANTERN, WHOLE).changes,
                     at("2026-11-24T20:30"));
    memory_release(list);
    household_end(&home);
}

/* A nap of 30 minutes, begun on a clock that is three hours slow and is set after 10 of them. */
static void test_nap(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK);
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-25T13:00");
    now.trusted = false;
    plays(list, &home, &now, "nightlight", -1);
    done(list, &home, &now, act_of_play(&home, "nap", for_length(30 * MINUTE)));
    plays(list, &home, &now, "nap", 0);
    now = now_later(&now, 10 * MINUTE);
    plays(list, &home, &now, "nap", 10 * MINUTE);
    now.utc += 3 * HOUR;
    now.trusted = true;
    overrides_settle(list, &now);
    assert_false(overrides_prune(list, &home.world, &now));
    plays(list, &home, &now, "nap", 10 * MINUTE);
    Playing playing = playing_on(list, &home, &now, LANTERN, WHOLE);
    assert_int_equal(playing.until - now.utc, 20 * MINUTE);
    assert_int_equal(playing.cause, PLAYING_HAND);
    assert_int_equal(playing.number, 1);
    assert_int_equal(playing.changes - now.utc, 10 * MINUTE); /* `then` */
    now = now_later(&now, 15 * MINUTE);
    plays(list, &home, &now, "glow", 5 * MINUTE);
    now = now_later(&now, 5 * MINUTE - 1);
    plays(list, &home, &now, "glow", 10 * MINUTE - 1);
    now = now_later(&now, 1);
    plays(list, &home, &now, "off", 8 * HOUR + 30 * MINUTE); /* 16:30 */
    assert_true(playing_on(list, &home, &now, LANTERN, WHOLE).until == TIMETABLE_NEVER);
    assert_int_equal(playing_on(list, &home, &now, LANTERN, WHOLE).changes, at("2026-11-25T19:30"));
    assert_true(overrides_prune(list, &home.world, &now));
    memory_release(list);
    household_end(&home);
}

/* A feed at night: dim red for 25 minutes, then what the timetable says by then. */
static void test_night_feed(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK "when rung play feed for 25min\n");
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-25T02:30");
    done(list, &home, &now, (Act){.kind = ACT_REPORT, .lamp = ALL, .event = 0});
    plays_at(list, &home, "2026-11-25T02:30", "feed", 0);
    plays_at(list, &home, "2026-11-25T02:50", "feed", 20 * MINUTE); /* the moment ends it not */
    plays_at(list, &home, "2026-11-25T02:55", "daybreak", 15 * MINUTE);
    /* rung again at 02:50: anew */
    now = now_at("2026-11-25T02:50");
    done(list, &home, &now, (Act){.kind = ACT_REPORT, .lamp = ALL, .event = 0});
    assert_int_equal(list->running_count, 1);
    plays_at(list, &home, "2026-11-25T02:55", "feed", 5 * MINUTE);
    plays_at(list, &home, "2026-11-25T03:15", "daybreak", 35 * MINUTE);
    /* a hand lies on top, whatever comes first */
    done(list, &home, &now, act_of_play(&home, "glow", for_length(5 * MINUTE)));
    now = now_at("2026-11-25T02:52");
    done(list, &home, &now, (Act){.kind = ACT_REPORT, .lamp = ALL, .event = 0});
    plays_at(list, &home, "2026-11-25T02:53", "glow", 3 * MINUTE);
    plays_at(list, &home, "2026-11-25T02:56", "feed", 4 * MINUTE);
    memory_release(list);
    household_end(&home);
}

/* The latest of two running plays; under it the other, with its time gone on. */
static void test_latest_when(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK "when rung play feed for 20min\n"
                                "when told play glow for 5min\n"
                                "when told play nap for 10min on lamp shelf part left\n");
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-25T12:00");
    done(list, &home, &now, (Act){.kind = ACT_REPORT, .lamp = ALL, .event = 0});
    now = now_at("2026-11-25T12:02");
    done(list, &home, &now, (Act){.kind = ACT_REPORT, .lamp = ALL, .event = 1});
    plays_at(list, &home, "2026-11-25T12:04", "glow", 2 * MINUTE);
    plays_at(list, &home, "2026-11-25T12:07", "feed", 7 * MINUTE);
    plays_at(list, &home, "2026-11-25T12:20", "off", 260 * MINUTE);
    /* on the part its own, later than the lamp's; told to the lamp again, that covers it */
    now = now_at("2026-11-25T12:04");
    Playing part = playing_on(list, &home, &now, SHELF, LEFT);
    assert_int_equal(part.cause, PLAYING_WHEN);
    assert_string_equal(routine_name(&home, part.routine), "nap");
    assert_int_equal(playing_on(list, &home, &now, SHELF, RIGHT).cause, PLAYING_NOTHING);
    done(list, &home, &now, (Act){.kind = ACT_REPORT, .lamp = ALL, .event = 0});
    part = playing_on(list, &home, &now, SHELF, LEFT);
    assert_int_equal(part.cause, PLAYING_NOTHING);
    assert_int_equal(part.changes, at("2026-11-25T12:24"));
    memory_release(list);
    household_end(&home);
}

/* A dial that crosses: once, its end moves when it crosses again, its time does not. */
static void test_truth(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK "when passing > 50% play feed for 2min\n");
    Overrides *list = overrides_new();
    const bool yes[] = {true}, no[] = {false};
    Now now = now_at("2026-11-25T12:00");
    assert_false(overrides_truths(list, &home.world, &now, yes)); /* was it so before? */
    plays(list, &home, &now, "off", -1);
    assert_false(overrides_truths(list, &home.world, &now, no));
    assert_true(overrides_truths(list, &home.world, &now, yes));
    assert_false(overrides_truths(list, &home.world, &now, yes));
    now = now_at("2026-11-25T12:01");
    plays(list, &home, &now, "feed", MINUTE);
    overrides_truths(list, &home.world, &now, no);
    assert_true(overrides_truths(list, &home.world, &now, yes));
    plays(list, &home, &now, "feed", MINUTE);
    plays_at(list, &home, "2026-11-25T12:02:59", "feed", 179000000);
    plays_at(list, &home, "2026-11-25T12:03", "off", -1);
    now = now_at("2026-11-25T12:04");
    overrides_prune(list, &home.world, &now);
    overrides_truths(list, &home.world, &now, no);
    overrides_truths(list, &home.world, &now, yes);
    plays(list, &home, &now, "feed", 0);
    memory_release(list);
    household_end(&home);
}

/* Two weeks away: off, by date. */
static void test_away(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK);
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-24T21:00");
    done(list, &home, &now, act_of_play(&home, "off", until_instant("2026-12-08T12:00")));
    for (int hour = 0; hour < 327; hour++) {
        Now then = now_later(&now, hour * HOUR);
        overrides_prune(list, &home.world, &then);
        plays(list, &home, &then, "off", hour * HOUR);
    }
    plays_at(list, &home, "2026-12-08T19:40", "dusk", 10 * MINUTE);
    now = now_at("2026-12-08T12:00");
    assert_true(overrides_prune(list, &home.world, &now));
    memory_release(list);
    household_end(&home);
}

/* A guest: until the next entry, on each lamp its own; what is skipped does not count. */
static void test_guest(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK "at 23:00 play glow on lamp shelf\n");
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-24T21:00");
    done(list, &home, &now, act_of_play(&home, "feed", next_entry));
    Playing playing = playing_on(list, &home, &now, LANTERN, WHOLE);
    assert_int_equal(playing.until, at("2026-11-25T02:40"));
    assert_int_equal(playing_on(list, &home, &now, SHELF, WHOLE).until, at("2026-11-24T23:00"));
    plays_at(list, &home, "2026-11-25T02:39:59", "feed", -1);
    plays_at(list, &home, "2026-11-25T02:40", "daybreak", 0);
    Now night = now_at("2026-11-25T00:00");
    overrides_prune(list, &home.world, &night);
    assert_int_equal(list->count, 1); /* over on the shelf, not on the lantern */
    assert_int_equal(playing_on(list, &home, &night, SHELF, WHOLE).cause, PLAYING_ENTRY);
    done(list, &home, &night, (Act){.kind = ACT_SKIP, .lamp = LANTERN});
    plays_at(list, &home, "2026-11-25T07:59:59", "feed", -1);
    plays_at(list, &home, "2026-11-25T08:00", "off", 0);
    memory_release(list);
    household_end(&home);
}

/* A skip of what has an end is over long before the next entry: the hand stays. */
static void test_skip_under_a_hand(void **state) {
    (void)state;
    Household home;
    household_start(&home, "at 08:00 play off at 12:30 play glow for 1h\n");
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-25T12:00");
    done(list, &home, &now, act_of_play(&home, "feed", next_entry));
    done(list, &home, &now, (Act){.kind = ACT_SKIP, .lamp = ALL});
    for (int minute = 0; minute < 20 * 60; minute++) {
        Now then = now_later(&now, minute * MINUTE);
        overrides_prune(list, &home.world, &then);
        plays(list, &home, &then, "feed", minute * MINUTE);
    }
    assert_int_equal(list->count, 1);
    plays_at(list, &home, "2026-11-26T08:00", "off", 0);
    memory_release(list);
    household_end(&home);
}

/* `with`, and hands that set a dial before and while it plays. */
static void test_dials(void **state) {
    (void)state;
    Household home;
    household_start(&home, "at 08:00 play off at 19:30 play glow with warmth = 80%\n");
    Overrides *list = overrides_new();
    Now noon = now_at("2026-11-25T12:00"), evening = now_at("2026-11-25T20:00");
    Playing off = playing_on(list, &home, &noon, LANTERN, WHOLE);
    Playing glow = playing_on(list, &home, &evening, LANTERN, WHOLE);
    assert_true(playing_dial(list, &home.world, &noon, &off, 0).number == 0.4);
    assert_true(playing_dial(list, &home.world, &evening, &glow, 0).number == 0.8);
    Act set = {.kind = ACT_SET, .lamp = ALL, .setting = {.dial = 0, .number = 0.1}};
    done(list, &home, &noon, set);
    assert_true(playing_dial(list, &home.world, &noon, &off, 0).number == 0.1);
    assert_true(playing_dial(list, &home.world, &evening, &glow, 0).number == 0.8);
    set.setting.number = 0.2;
    done(list, &home, &evening, set);
    assert_true(playing_dial(list, &home.world, &evening, &glow, 0).number == 0.2);
    Now next = now_at("2026-11-26T20:00"); /* the next evening's play has its own */
    glow = playing_on(list, &home, &next, LANTERN, WHOLE);
    assert_true(playing_dial(list, &home.world, &next, &glow, 0).number == 0.8);
    done(list, &home, &evening, (Act){.kind = ACT_UNDO, .lamp = ALL});
    assert_true(playing_dial(list, &home.world, &noon, &off, 0).number == 0.1);
    done(list, &home, &evening, (Act){.kind = ACT_UNDO, .lamp = ALL});
    assert_true(playing_dial(list, &home.world, &noon, &off, 0).number == 0.4);
    /* a play by hand with its own, set while it plays */
    TimetableSetting own = {.dial = 0, .number = 0.6};
    Act play = act_of_play(&home, "glow", for_length(HOUR));
    play.settings = &own;
    play.setting_count = 1;
    done(list, &home, &noon, play);
    Playing hand = playing_on(list, &home, &noon, LANTERN, WHOLE);
    assert_true(playing_dial(list, &home.world, &noon, &hand, 0).number == 0.6);
    done(list, &home, &noon, set);
    assert_true(playing_dial(list, &home.world, &noon, &hand, 0).number == 0.2);
    memory_release(list);
    household_end(&home);
}

static void test_level(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK);
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-24T21:00");
    assert_true(playing_level(list, &home.world, &now, LANTERN).lightness == 100.0);
    done(list, &home, &now,
         (Act){.kind = ACT_LEVEL, .lamp = ALL, .lightness = 40, .end = until_clock(23, 0)});
    done(list, &home, &now,
         (Act){.kind = ACT_LEVEL, .lamp = SHELF, .lightness = 10, .end = for_length(HOUR)});
    assert_true(playing_level(list, &home.world, &now, LANTERN).lightness == 40.0);
    assert_int_equal(playing_level(list, &home.world, &now, LANTERN).until, at("2026-11-24T23:00"));
    assert_true(playing_level(list, &home.world, &now, SHELF).lightness == 10.0);
    assert_int_equal(overrides_next_end(list, &home.world, &now), at("2026-11-24T22:00"));
    now = now_at("2026-11-24T22:00");
    assert_true(playing_level(list, &home.world, &now, SHELF).lightness == 40.0);
    now = now_at("2026-11-24T23:00");
    assert_true(playing_level(list, &home.world, &now, SHELF).lightness == 100.0);
    memory_release(list);
    household_end(&home);
}

/* A clock that is not set: no moment plays, hands and events do. */
static void test_clock_not_set(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK "when rung play feed for 25min\n");
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-25T03:00");
    now.trusted = false;
    now.boottime = 7 * MINUTE;
    plays(list, &home, &now, "nightlight", 7 * MINUTE);
    assert_int_equal(playing_on(list, &home, &now, LANTERN, WHOLE).cause, PLAYING_UNTIL_CLOCK);
    assert_int_equal(playing_on(list, &home, &now, SHELF, LEFT).cause, PLAYING_NOTHING);
    refused(list, &home, &now, (Act){.kind = ACT_SKIP, .lamp = ALL}, "the clock is not set");
    refused(list, &home, &now, (Act){.kind = ACT_EARLIER, .lamp = ALL}, "the clock is not set");
    refused(list, &home, &now, (Act){.kind = ACT_MORE, .lamp = ALL, .length = MINUTE},
            "nothing plays");
    done(list, &home, &now, (Act){.kind = ACT_REPORT, .lamp = ALL, .event = 0});
    plays(list, &home, &now, "feed", 0);
    done(list, &home, &now, act_of_play(&home, "glow", until_clock(4, 0)));
    plays(list, &home, &now, "glow", 0);
    /* It was 03:55 all the time: until the next 04:00 of the right clock. */
    now.utc += 55 * MINUTE;
    now.trusted = true;
    overrides_settle(list, &now);
    assert_int_equal(playing_on(list, &home, &now, LANTERN, WHOLE).until, at("2026-11-25T04:00"));
    memory_release(list);
    household_end(&home);
}

/* Looking back beyond what has begun and ended since. */
static void test_other_instants(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK);
    Overrides *list = overrides_new();
    Now now = now_at("2026-11-24T21:00");
    done(list, &home, &now, act_of_play(&home, "feed", for_length(HOUR)));
    plays_at(list, &home, "2026-11-24T20:59:59", "nightlight", -1);
    plays_at(list, &home, "2026-11-24T21:00", "feed", 0);
    plays_at(list, &home, "2026-11-24T22:00", "nightlight", -1);
    memory_release(list);
    household_end(&home);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_skip_tomorrow),
        cmocka_unit_test(test_skip_twice),
        cmocka_unit_test(test_skip_of_two),
        cmocka_unit_test(test_skip_on_a_lamp),
        cmocka_unit_test(test_fifteen_more),
        cmocka_unit_test(test_more_and_ends),
        cmocka_unit_test(test_earlier_tomorrow),
        cmocka_unit_test(test_earlier_corners),
        cmocka_unit_test(test_read_longer),
        cmocka_unit_test(test_nap),
        cmocka_unit_test(test_night_feed),
        cmocka_unit_test(test_latest_when),
        cmocka_unit_test(test_truth),
        cmocka_unit_test(test_away),
        cmocka_unit_test(test_guest),
        cmocka_unit_test(test_skip_under_a_hand),
        cmocka_unit_test(test_dials),
        cmocka_unit_test(test_level),
        cmocka_unit_test(test_clock_not_set),
        cmocka_unit_test(test_other_instants),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
