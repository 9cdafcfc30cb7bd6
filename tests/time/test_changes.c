/* A skip is the timetable with that date taken out of the entry (`except`), an `earlier` the same
 * with one entry more, for that date alone: both ways must play the same at every instant. The file
 * is the other source. */
#include "runtime/core/civil.h"
#include "tests/support/household.h"

typedef struct Line {
    const char *when, *then;
    bool by;
} Line;

static const Line LINES[] = {
    {"by 03:10 on tue..sat", "play daybreak", true},
    {"by 07:00 on mon, sun", "play daybreak until 07:45", true},
    {"at 08:00", "play off", false},
    {"at 12:30 on weekdays", "play glow for 1h", false},
    {"at sunset - 20min not before 16:00", "play dusk until 21:15", false},
    {"at 22:10 on fri, sat", "play nap", false},
    {"at 00:50", "play feed until 02:20", false},
    {"at 19:30 on days 1..3 of 5 from 2026-03-01", "play strike for 3h", false},
};
enum { LINE_COUNT = sizeof LINES / sizeof LINES[0] };

static void date_text(int32_t date, char *text, size_t room) {
    time_t seconds = (time_t)date * 86400;
    strftime(text, room, "%Y-%m-%d", gmtime(&seconds));
}

/* The lines, entry `without` not on `date`; `more` behind them. */
static void start_without(Household *home, uint32_t without, int32_t date, const char *more) {
    char text[4096], day[16];
    int length = 0;
    date_text(date, day, sizeof day);
    for (uint32_t i = 0; i < LINE_COUNT; i++)
        length +=
            snprintf(text + length, sizeof text - (size_t)length, "%s %s%s %s\n", LINES[i].when,
                     i == without ? "except " : "", i == without ? day : "", LINES[i].then);
    snprintf(text + length, sizeof text - (size_t)length, "%s\n", more);
    household_start(home, text);
}

/* From `from` on for four days, at every instant at which something changes and a moment before.
 * The index of an entry may differ. */
static void same_days(const Household *one, const Overrides *changed, const Household *other,
                      const Now *from) {
    Overrides *none = overrides_new();
    int64_t ahead = 0, next = 0;
    for (; ahead < 96 * HOUR; ahead = ahead < next - 1 ? next - 1 : next) {
        Now now = now_later(from, ahead);
        Playing a = playing_on(changed, one, &now, LANTERN, WHOLE);
        Playing b = playing_on(none, other, &now, LANTERN, WHOLE);
        if (a.cause != b.cause || a.began != b.began || a.since != b.since || a.until != b.until ||
            a.changes != b.changes ||
            strcmp(routine_name(one, a.routine), routine_name(other, b.routine)) != 0)
            fail_msg("after %.1f h: %s since %.2f h, %s since %.2f h", (double)ahead / 3.6e9,
                     routine_name(one, a.routine), (double)(a.since - from->utc) / 3.6e9,
                     routine_name(other, b.routine), (double)(b.since - from->utc) / 3.6e9);
        next = a.changes - from->utc;
    }
    memory_release(none);
}

static int32_t local_date(const Household *home, int64_t utc) {
    return timetable_local_date(&home->world.context, utc);
}

/* Each of some 60 moments around the night on which the clocks go forward, and in November. */
static void skip_days(const char *first, int days) {
    Household home;
    start_without(&home, LINE_COUNT, 0, "");
    Overrides *list = overrides_new();
    Now now = now_at(first);
    int64_t end = now.utc + days * 24 * HOUR;
    int skipped = 0;
    TimetableBegin begin;
    while (playing_next(list, &home.world, &now, LANTERN, &begin) && begin.start < end) {
        done(list, &home, &now, (Act){.kind = ACT_SKIP, .lamp = ALL});
        assert_int_equal(list->list[0].target.start, begin.start);
        Household other;
        start_without(&other, begin.entry, local_date(&home, begin.moment), "");
        same_days(&home, list, &other, &now);
        household_end(&other);
        done(list, &home, &now, (Act){.kind = ACT_UNDO, .lamp = ALL});
        now = now_later(&now, begin.start - now.utc);
        skipped++;
    }
    printf("%d skips from %s on\n", skipped, first);
    assert_true(skipped >= days * 4);
    memory_release(list);
    household_end(&home);
}

static void test_skip_is_except(void **state) {
    (void)state;
    skip_days("2026-03-27T00:00", 5);
    skip_days("2026-10-23T00:00", 4);
    skip_days("2026-11-24T00:00", 4);
}

static void earlier_days(const char *first, int hours, int32_t clock) {
    Household home;
    start_without(&home, LINE_COUNT, 0, "");
    Overrides *list = overrides_new();
    int moved = 0;
    for (int hour = 0; hour < hours; hour++) {
        Now now = now_at(first);
        now = now_later(&now, hour * HOUR + 13 * MINUTE);
        Act act = {.kind = ACT_EARLIER, .lamp = ALL, .clock = clock};
        if (overrides_act(list, &home.world, &now, &act))
            continue;
        const Override *one = &list->list[0];
        uint32_t entry = one->target.entry;
        int64_t lead = LINES[entry].by ? 30 * MINUTE : 0;
        char more[256], day[16];
        date_text(local_date(&home, one->moment), day, sizeof day);
        snprintf(more, sizeof more, "%s %02d:%02d from %s until %s %s",
                 LINES[entry].by ? "by" : "at", clock / 3600, clock / 60 % 60, day, day,
                 LINES[entry].then);
        Household other;
        start_without(&other, entry, local_date(&home, one->target.start + lead), more);
        same_days(&home, list, &other, &now);
        household_end(&other);
        done(list, &home, &now, (Act){.kind = ACT_UNDO, .lamp = ALL});
        moved++;
    }
    printf("%d moved to %02d:%02d from %s on\n", moved, clock / 3600, clock / 60 % 60, first);
    assert_true(moved >= hours / 3);
    memory_release(list);
    household_end(&home);
}

static void test_earlier_is_another_entry(void **state) {
    (void)state;
    earlier_days("2026-11-24T00:00", 48, 2 * 3600 + 5 * 60);
    earlier_days("2026-11-24T00:00", 48, 6 * 3600);
    earlier_days("2026-03-28T00:00", 48, 30 * 60);
    earlier_days("2026-03-28T00:00", 30, 3600 + 30 * 60); /* a time that the clocks skip */
    earlier_days("2026-10-24T00:00", 30, 3600 + 30 * 60); /* and one that comes twice */
    earlier_days("2026-11-26T00:00", 30, 20 * 3600);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_skip_is_except),
        cmocka_unit_test(test_earlier_is_another_entry),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
