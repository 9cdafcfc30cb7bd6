/* A player over hours, days, a year and through storms, on a clock that the test moves. What is
 * counted is printed; where a number follows from the rules it is worked out by hand beside it. */
#include <dirent.h>
#include <inttypes.h>
#include <malloc.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "tests/support/house.h"

static void tell_counts(const House *house, const char *what) {
    const LampCounts *lamp = counts(house);
    printf("measured: %s: frames %" PRIu64 ", late %" PRIu64 ", dropped %" PRIu64
           ", held back %" PRIu64 "; wakes %" PRIu64,
           what, lamp->rendered, lamp->late, lamp->dropped, lamp->held, wakes(house));
    for (int cause = 0; cause < WAKE_COUNT; cause++)
        if (cause != WAKE_FILE)
            printf("%s %s %" PRIu64, cause ? "," : ":", PLAYER_WAKE_WORDS[cause],
                   woken(house, (PlayerWake)cause));
    printf("\n");
}

/* A disk that does not wait until all is on it. */
static int no_sync(int file) {
    (void)file;
    return 0;
}

static int no_sync_folder(const char *path) {
    (void)path;
    return 0;
}

static void quick_start(House *house, const char *text, int64_t utc, double fps) {
    static StateDisk disk;
    disk = state_disk;
    disk.sync = no_sync;
    disk.sync_folder = no_sync_folder;
    house_make(house, text, utc);
    PlayerRequest request = house_request(house);
    request.disk = &disk;
    request.fps = fps;
    if (player_create(&request, &house->clock, house->loop, &house->player) != PLAYER_STARTED)
        fail_msg("not started: %s", house->said);
    player_turn(house->player);
}

/* -------- hours and days -------- */

static void test_an_hour_of_a_night_light(void **unused) {
    (void)unused;
    House house;
    house_start(&house, BAKER, MIDNIGHT - 2 * HOUR);
    house_wait(&house, HOUR);
    tell_counts(&house, "an hour of night light");
    assert_int_equal(wakes(&house), 0);
    assert_int_equal(counts(&house)->rendered, 1);
    assert_int_equal(counts(&house)->shown, 1);
    assert_int_equal(wire.frames, 1);
    house_end(&house);
}

static void test_the_bakers_day(void **unused) {
    (void)unused;
    House house;
    house_start(&house, BAKER, MIDNIGHT);
    house_wait(&house, DAY);
    tell_counts(&house, "the baker's day");
    /* Frames at both ends of what moves, 60 a second: the ceiling glides 10 s before 02:30, the
     * dawn from 02:40 to 03:10, off fades 2 min from 04:00, dusk 40 min from 19:30 and 1 s of
     * fading into the night light, the ceiling 10 s from 21:00. And the one at midnight. */
    uint64_t frames = 1 + (600 + 1) + (108000 + 1) + (7200 + 1) + (144060 + 1) + (600 + 1);
    assert_int_equal(counts(&house)->rendered, frames);
    assert_int_equal(counts(&house)->shown, frames);
    assert_int_equal(wire.frames, frames);
    assert_int_equal(counts(&house)->dropped, 0);
    assert_int_equal(counts(&house)->late, 0);
    /* All but the first wake it; five of them end a rest. Nothing else does. */
    assert_int_equal(woken(&house, WAKE_FRAME), frames - 1);
    assert_int_equal(woken(&house, WAKE_TIMETABLE), 5);
    assert_int_equal(wakes(&house), frames - 1);
    for (int cause = 0; cause < WAKE_COUNT; cause++)
        if (cause != WAKE_FRAME && cause != WAKE_TIMETABLE && cause != WAKE_FILE)
            assert_int_equal(woken(&house, (PlayerWake)cause), 0);
    house_end(&house);
}

/* A machine that is too slow: each frame of ten seconds of dawn takes 50 ms, three of 60 a second.
 * It is shown what is due, never what was. */
static void test_a_machine_that_is_too_slow(void **unused) {
    (void)unused;
    House house;
    house_start(&house, BAKER, MIDNIGHT + 2 * HOUR + 45 * MINUTE);
    for (int i = 1; i <= 200; i++) {
        clock_fake_advance(&house.fake, SECOND / 20);
        player_turn(house.player);
        assert_int_equal(wire.number, 3 * i);
    }
    tell_counts(&house, "ten seconds of dawn where a frame takes three");
    assert_int_equal(counts(&house)->rendered, 1 + 200);
    assert_int_equal(counts(&house)->shown, 1 + 200);
    assert_int_equal(counts(&house)->dropped, 2 * 200);
    assert_int_equal(counts(&house)->late, 200);
    house_end(&house);
}

/* -------- a year -------- */

typedef struct Held {
    unsigned long blocks;
    size_t bytes;
    int descriptors;
} Held;

static int descriptors(void) {
    DIR *folder = opendir("/proc/self/fd");
    int count = -1; /* its own */
    assert_non_null(folder);
    for (struct dirent *one; (one = readdir(folder));)
        count += one->d_name[0] != '.';
    closedir(folder);
    return count;
}

static Held held_now(void) {
    struct mallinfo2 all = mallinfo2();
    return (Held){memory_live(), all.uordblks + all.hblkhd, descriptors()};
}

/* Blocks to the last one; of their bytes a page may be more or less, since texts grow with the
 * digits in them and the allocator keeps pieces. */
static void assert_as_much(Held now, Held before) {
    assert_int_equal(now.blocks, before.blocks);
    assert_true(now.bytes <= before.bytes + 4096 && before.bytes <= now.bytes + 4096);
    assert_int_equal(now.descriptors, before.descriptors);
}

/* 365 days from 2026-12-01 on, looked at on the first of each month; both changes of the clocks are
 * among them, and every day has an act by hand that comes and ends. */
static void test_a_year_grows_nothing(void **unused) {
    (void)unused;
    static const int LENGTHS[] = {31, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30};
    House house;
    char said[256];
    quick_start(&house, BAKER, MIDNIGHT + 6 * DAY, 0.1);
    Held before = {0}, now = {0};
    for (int month = 0; month < 12; month++) {
        for (int day = 0; day < LENGTHS[month]; day++) {
            assert_true(player_act(house.player, "level 30 for 5h", said, sizeof said));
            player_turn(house.player);
            house_wait(&house, DAY);
        }
        assert_int_equal(player_overrides(house.player)->count, 0);
        now = held_now();
        if (month == 0)
            before = now;
        assert_as_much(now, before);
    }
    tell_counts(&house, "a year at 0.1 frames a second");
    printf("measured: a year: %lu blocks, %zu bytes, %d descriptors at the end of each month\n",
           now.blocks, now.bytes, now.descriptors);
    assert_int_equal(counts(&house)->dropped, 0);
    assert_true(counts(&house)->rendered > 365 * 240);
    assert_int_equal(player_counts(house.player)->saves, 2 * 365);
    house_end(&house);
}

/* -------- storms -------- */

#define MOVING                                                                                     \
    "lamp lantern { pixels 16 shape ring }\n"                                                      \
    "routine hues { paint oklch(75%%, 0.12, angle + t / 30s * 1turn) * %d%% }\n"                   \
    "at 00:00 play hues\n"

static void moving(char text[512], int percent) {
    snprintf(text, 512, MOVING, percent);
}

/* 1,000 signals and 1,000 changes of the file while it plays. */
static void test_a_storm_of_signals_and_changes(void **unused) {
    (void)unused;
    House house;
    char text[512];
    moving(text, 20);
    quick_start(&house, text, MIDNIGHT, 60);
    Held before = {0};
    for (int i = 0; i < 1000; i++) {
        moving(text, 1 + i % 40);
        house_write(&house, text);
        if (i % 7 == 0)
            house_wait(&house, SECOND / 2);
        player_signal(house.player, SIGHUP);
        player_turn(house.player);
        house_wait(&house, SECOND / 50);
        if (i == 20 || i == 999) {
            house_wait(&house, 3 * SECOND);
            house.said[0] = '\0';
            if (i == 20)
                before = held_now();
        }
    }
    Held after = held_now();
    printf("measured: 1,000 signals and 1,000 changes: %" PRIu64 " files taken, %lu and %lu blocks,"
           " %d and %d descriptors, %" PRIu64 " frames, %" PRIu64 " dropped\n",
           player_counts(house.player)->reloads, before.blocks, after.blocks, before.descriptors,
           after.descriptors, counts(&house)->rendered, counts(&house)->dropped);
    assert_int_equal(after.blocks, before.blocks);
    assert_int_equal(after.descriptors, before.descriptors);
    assert_true(player_counts(house.player)->reloads >= 1000);
    assert_int_equal(player_counts(house.player)->refused, 0);
    assert_int_equal(player_ended(house.player), PLAYER_GOES_ON);
    assert_int_equal(wire.opened, 1);
    /* The last file plays, whole. */
    moving(text, 1 + 999 % 40);
    House other;
    Wire last = wire;
    int64_t at = MIDNIGHT + (int64_t)(wire.number * SECOND / 60);
    house_start(&other, text, at);
    int most = 0;
    for (int i = 0; i < WIRE_BYTES; i++)
        most =
            abs(wire.bytes[i] - last.bytes[i]) > most ? abs(wire.bytes[i] - last.bytes[i]) : most;
    assert_true(most <= 1); /* both are dithered by the number of their own frame */
    house_end(&other);
    wire = last;
    house_end(&house);
}

/* -------- the clock is set -------- */

#define EVERY_DAY                                                                                  \
    "place 51.45, -2.59 zone \"Europe/London\"\n"                                                  \
    "lamp lantern { pixels 16 shape ring }\n"                                                      \
    "routine ruby { paint red }\n"                                                                 \
    "routine sea { paint blue }\n"                                                                 \
    "routine leaf { paint lime }\n"                                                                \
    "at 00:30 play ruby\n"                                                                         \
    "at 01:30 play sea\n"                                                                          \
    "at 03:10 play leaf\n"                                                                         \
    "at 12:00 play off\n"

typedef struct Step {
    const char *what;
    int64_t utc;
    uint8_t light[3];
} Step;

/* In Bristol clocks go from 01:00 to 02:00 on 29 March 2026 at 01:00 UTC, and from 02:00 back to
 * 01:00 on 25 October 2026 at 01:00 UTC (time zone database, Europe/London); seconds by date(1). */
#define SPRING (1774746000 * SECOND)
#define AUTUMN (1792890000 * SECOND)

static void test_steps_over_changes_of_the_clocks(void **unused) {
    (void)unused;
    static const Step STEPS[] = {
        {"forward by hours", MIDNIGHT + 4 * HOUR, {0, 255, 0}},
        {"backward by hours", MIDNIGHT + HOUR, {255, 0, 0}},
        {"back to before the spring, 00:50 GMT", SPRING - 10 * MINUTE, {255, 0, 0}},
        /* 01:30 is skipped: by the offset before the gap it is 02:30 (RFC 5545, 3.3.5). */
        {"forward over the spring, 02:10 BST", SPRING + 10 * MINUTE, {255, 0, 0}},
        {"02:40 BST", SPRING + 40 * MINUTE, {0, 0, 255}},
        {"03:15 BST", SPRING + 75 * MINUTE, {0, 255, 0}},
        {"back again, 00:50 GMT", SPRING - 10 * MINUTE, {255, 0, 0}},
        {"to the autumn, 01:20 BST", AUTUMN - 40 * MINUTE, {255, 0, 0}},
        {"01:40 BST", AUTUMN - 20 * MINUTE, {0, 0, 255}},
        /* Of a time that comes twice the first is meant (the same). */
        {"forward over the autumn, 01:10 GMT", AUTUMN + 10 * MINUTE, {0, 0, 255}},
        {"03:15 GMT", AUTUMN + 135 * MINUTE, {0, 255, 0}},
        {"back by a day", AUTUMN - 20 * HOUR, {0, 255, 0}},
        {"noon", AUTUMN - 12 * HOUR, {0, 0, 0}},
        {"years ahead, 04:00", MIDNIGHT + 3653 * DAY + 4 * HOUR, {0, 255, 0}},
        {"years back, 04:00", MIDNIGHT - 3653 * DAY + 4 * HOUR, {0, 255, 0}},
    };
    House house;
    house_start(&house, EVERY_DAY, MIDNIGHT + HOUR);
    for (size_t i = 0; i < sizeof STEPS / sizeof *STEPS; i++) {
        clock_fake_set(&house.fake, STEPS[i].utc - 2 * SECOND);
        player_turn(house.player);
        house_wait(&house, 2 * SECOND); /* the cross-fade takes one */
        if (memcmp(wire.bytes, STEPS[i].light, 3) != 0)
            fail_msg("%s: %d %d %d", STEPS[i].what, wire.bytes[0], wire.bytes[1], wire.bytes[2]);
        assert_int_equal(player_counts(house.player)->steps, i + 1);
        assert_int_equal(counts(&house)->dropped, 0);
    }
    tell_counts(&house, "15 steps of the clock");
    assert_int_equal(woken(&house, WAKE_CLOCK), sizeof STEPS / sizeof *STEPS);
    house_end(&house);
}

/* A clock that is set again and again, a little or much, while a dawn moves: time on the wire never
 * goes back, and when it is over all is as the clock says. */
static void test_a_storm_of_steps(void **unused) {
    (void)unused;
    House house;
    int64_t dawn = MIDNIGHT + 2 * HOUR + 55 * MINUTE;
    house_start(&house, BAKER, dawn);
    Held before = {0};
    for (int i = 0; i < 1000; i++) {
        int64_t by = (i * INT64_C(7919) % 2001 - 1000) * SECOND;
        uint64_t number = wire.number;
        clock_fake_set(&house.fake, dawn + by);
        player_turn(house.player);
        house_wait(&house, SECOND / 30);
        assert_true(wire.number >= number);
        if (i == 20)
            before = held_now();
    }
    clock_fake_set(&house.fake, MIDNIGHT - 2 * HOUR);
    player_turn(house.player);
    house_wait(&house, 3 * SECOND);
    assert_shows(BAKER, MIDNIGHT - 2 * HOUR);
    Held after = held_now();
    assert_int_equal(after.blocks, before.blocks);
    assert_int_equal(after.descriptors, before.descriptors);
    uint64_t woke = wakes(&house);
    house_wait(&house, HOUR);
    assert_int_equal(wakes(&house), woke);
    house_end(&house);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_an_hour_of_a_night_light),
        cmocka_unit_test(test_the_bakers_day),
        cmocka_unit_test(test_a_machine_that_is_too_slow),
        cmocka_unit_test(test_a_year_grows_nothing),
        cmocka_unit_test(test_a_storm_of_signals_and_changes),
        cmocka_unit_test(test_steps_over_changes_of_the_clocks),
        cmocka_unit_test(test_a_storm_of_steps),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
