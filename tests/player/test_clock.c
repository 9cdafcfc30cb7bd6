/* The clock behind its interface: one that is moved by hand, and the system's, whose timers are
 * those of timerfd_create(2). Expected values are the times that the test itself sets, and the
 * behaviour that the manual page has. */
#include <errno.h>
#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/timex.h>
#include <time.h>

#include <cmocka.h>

#include "runtime/core/memory.h"
#include "runtime/player/clock_fake.h"

#define SECOND 1000000LL
#define HOUR (3600 * SECOND)
#define DAY (24 * HOUR)

static void test_fake_moves(void **state) {
    (void)state;
    ClockFake fake;
    Clock clock = clock_fake_start(&fake, 1000 * DAY, HOUR);
    clock_fake_advance(&fake, 5 * SECOND);
    clock_fake_suspend(&fake, 7 * SECOND);
    ClockNow now = clock_now(&clock);
    assert_int_equal(now.utc, 1000 * DAY + 12 * SECOND);
    assert_int_equal(now.monotonic, HOUR + 5 * SECOND);
    assert_int_equal(now.boottime, HOUR + 12 * SECOND);
    clock_fake_set(&fake, 3);
    now = clock_now(&clock);
    assert_int_equal(now.utc, 3);
    assert_int_equal(now.monotonic, HOUR + 5 * SECOND);
    assert_int_equal(now.boottime, HOUR + 12 * SECOND);
    assert_int_equal(clock_descriptor(&clock, CLOCK_FRAME), -1);
    clock_close(&clock);
}

static void test_fake_timers(void **state) {
    (void)state;
    ClockFake fake;
    Clock clock = clock_fake_start(&fake, 1000 * DAY, 0);
    assert_true(clock_fake_next(&fake) == CLOCK_NEVER);
    assert_int_equal(clock_take(&clock, CLOCK_TIMETABLE), CLOCK_QUIET);
    assert_true(clock_arm(&clock, CLOCK_TIMETABLE, 1000 * DAY + HOUR));
    assert_true(clock_arm(&clock, CLOCK_FRAME, 20000));
    assert_int_equal(clock_fake_next(&fake), 20000);
    clock_fake_advance(&fake, 20000);
    assert_int_equal(clock_fake_next(&fake), 0);
    assert_int_equal(clock_take(&clock, CLOCK_TIMETABLE), CLOCK_QUIET);
    assert_int_equal(clock_take(&clock, CLOCK_FRAME), CLOCK_DUE);
    assert_int_equal(clock_take(&clock, CLOCK_FRAME), CLOCK_QUIET);
    assert_int_equal(clock_fake_next(&fake), HOUR - 20000);
    /* In the past: at once, once. */
    assert_true(clock_arm(&clock, CLOCK_TIMETABLE, 5));
    assert_int_equal(clock_fake_next(&fake), 0);
    assert_int_equal(clock_take(&clock, CLOCK_TIMETABLE), CLOCK_DUE);
    assert_int_equal(clock_take(&clock, CLOCK_TIMETABLE), CLOCK_QUIET);
    assert_true(clock_fake_next(&fake) == CLOCK_NEVER);
}

static void test_fake_set(void **state) {
    (void)state;
    ClockFake fake;
    Clock clock = clock_fake_start(&fake, 1000 * DAY, 0);
    clock_fake_set(&fake, 1000 * DAY); /* what it shows already */
    assert_true(clock_fake_next(&fake) == CLOCK_NEVER);
    assert_true(clock_arm(&clock, CLOCK_TIMETABLE, 1000 * DAY + HOUR));
    clock_fake_set(&fake, 1000 * DAY + 2 * HOUR);
    /* Armed again before anybody took it: told all the same. */
    assert_true(clock_arm(&clock, CLOCK_TIMETABLE, 1000 * DAY + 3 * HOUR));
    assert_int_equal(clock_fake_next(&fake), 0);
    assert_int_equal(clock_take(&clock, CLOCK_FRAME), CLOCK_QUIET);
    assert_int_equal(clock_take(&clock, CLOCK_TIMETABLE), CLOCK_WAS_SET);
    assert_int_equal(clock_take(&clock, CLOCK_TIMETABLE), CLOCK_QUIET);
    assert_true(clock_fake_next(&fake) == CLOCK_NEVER);
    assert_true(clock_arm(&clock, CLOCK_TIMETABLE, 1000 * DAY + 3 * HOUR));
    assert_int_equal(clock_fake_next(&fake), HOUR);
}

/* A wake each day for a year at 03:10 UTC, the clock put back by an hour in the middle of it. */
static void test_fake_year(void **state) {
    (void)state;
    ClockFake fake;
    Clock clock = clock_fake_start(&fake, 0, 0);
    int64_t first = 3 * HOUR + 10 * 60 * SECOND, boot = 0;
    int due = 0, set = 0;
    while (due < 365) {
        int64_t next = fake.now.utc - fake.now.utc % DAY + first;
        assert_true(clock_arm(&clock, CLOCK_TIMETABLE, next > fake.now.utc ? next : next + DAY));
        clock_fake_advance(&fake, clock_fake_next(&fake));
        ClockWake wake = clock_take(&clock, CLOCK_TIMETABLE);
        if (wake == CLOCK_WAS_SET) {
            set++;
            continue;
        }
        assert_int_equal(wake, CLOCK_DUE);
        assert_int_equal(fake.now.utc % DAY, first);
        boot = fake.now.boottime;
        if (++due == 180) {
            clock_fake_advance(&fake, 2 * HOUR);
            clock_fake_set(&fake, fake.now.utc - HOUR);
        }
    }
    assert_int_equal(set, 1);
    assert_int_equal(fake.now.utc, 364 * DAY + first);
    assert_int_equal(boot, 364 * DAY + first + HOUR);
}

/* -------- the system's -------- */

enum { PATIENCE = 20000 }; /* in milliseconds: only against hanging */

static bool readable(const Clock *clock, ClockTimer timer, int milliseconds) {
    struct pollfd one = {.fd = clock_descriptor(clock, timer), .events = POLLIN};
    return poll(&one, 1, milliseconds) == 1 && (one.revents & POLLIN) != 0;
}

static int64_t asked(clockid_t id) {
    struct timespec time;
    assert_int_equal(clock_gettime(id, &time), 0);
    return (int64_t)time.tv_sec * SECOND + time.tv_nsec / 1000;
}

static void test_system_now(void **state) {
    (void)state;
    Clock clock;
    assert_true(clock_open_system(&clock));
    int64_t monotonic = asked(CLOCK_MONOTONIC), boottime = asked(CLOCK_BOOTTIME);
    ClockNow now = clock_now(&clock);
    assert_in_range(now.monotonic, monotonic, asked(CLOCK_MONOTONIC));
    assert_in_range(now.boottime, boottime, asked(CLOCK_BOOTTIME));
    assert_in_range(now.doubt, 0, asked(CLOCK_BOOTTIME) - boottime);
    assert_true(llabs(now.utc - asked(CLOCK_REALTIME)) < 10 * SECOND);
    ClockNow other = clock_system_now();
    assert_true(other.monotonic >= now.monotonic && other.boottime >= now.boottime);
    clock_close(&clock);
    assert_null(clock.operations);
}

static int64_t of_timer(ClockTimer timer, ClockNow now) {
    return timer == CLOCK_FRAME ? now.monotonic : now.utc;
}

static void test_system_timers(void **state) {
    (void)state;
    Clock clock;
    assert_true(clock_open_system(&clock));
    for (ClockTimer timer = CLOCK_TIMETABLE; timer <= CLOCK_FRAME; timer++) {
        assert_int_equal(clock_take(&clock, timer), CLOCK_QUIET);
        assert_true(clock_arm(&clock, timer, CLOCK_NEVER));
        assert_false(readable(&clock, timer, 0));
        static const int64_t past[] = {INT64_MIN, -1, 0, 1, SECOND};
        for (size_t i = 0; i < sizeof past / sizeof *past; i++) {
            assert_true(clock_arm(&clock, timer, past[i]));
            assert_true(readable(&clock, timer, PATIENCE));
            assert_int_equal(clock_take(&clock, timer), CLOCK_DUE);
            assert_int_equal(clock_take(&clock, timer), CLOCK_QUIET);
        }
        /* Not before it is due; once more where others had the machine for all that time. */
        int64_t due;
        ClockWake early;
        do {
            due = of_timer(timer, clock_now(&clock)) + 20000;
            assert_true(clock_arm(&clock, timer, due));
            early = clock_take(&clock, timer);
        } while (early == CLOCK_DUE && of_timer(timer, clock_now(&clock)) >= due);
        assert_int_equal(early, CLOCK_QUIET);
        assert_true(readable(&clock, timer, PATIENCE));
        assert_true(of_timer(timer, clock_now(&clock)) >= due);
        assert_int_equal(clock_take(&clock, timer), CLOCK_DUE);
        /* What is armed later replaces it, also after it has become due. */
        assert_true(clock_arm(&clock, timer, 1));
        assert_true(readable(&clock, timer, PATIENCE));
        assert_true(clock_arm(&clock, timer, of_timer(timer, clock_now(&clock)) + HOUR));
        assert_false(readable(&clock, timer, 0));
        assert_int_equal(clock_take(&clock, timer), CLOCK_QUIET);
    }
    clock_close(&clock);
}

/* Beyond 2038-01-19, where times of 32 bits end: as near in the future as any other. */
static void test_system_far(void **state) {
    (void)state;
    Clock clock;
    assert_true(clock_open_system(&clock));
    static const int64_t far[] = {2147483648LL * SECOND, 4294967296LL * SECOND,
                                  253402300799LL * SECOND, INT64_MAX - 1};
    for (size_t i = 0; i < sizeof far / sizeof *far; i++)
        for (ClockTimer timer = CLOCK_TIMETABLE; timer <= CLOCK_FRAME; timer++) {
            assert_true(clock_arm(&clock, timer, far[i]));
            assert_false(readable(&clock, timer, 1));
            assert_int_equal(clock_take(&clock, timer), CLOCK_QUIET);
        }
    clock_close(&clock);
}

/* Puts the clock by so many microseconds: ADJ_SETOFFSET of adjtimex(2). */
static bool put(int microseconds) {
    struct timex change = {.modes = ADJ_SETOFFSET};
    change.time.tv_sec = microseconds < 0 ? -1 : 0;
    change.time.tv_usec = microseconds < 0 ? SECOND + microseconds : microseconds;
    return adjtimex(&change) >= 0;
}

/* A set of the clock takes away the kernel's knowledge that it is synchronised, so it is done only
 * where there is no such knowledge to lose, or where the variable allows it. */
static const char *why_not_set(void) {
    struct timex kernel = {.modes = 0};
    const char *allowed = getenv("GLOAM_TEST_SETS_CLOCK");
    if (adjtimex(&kernel) < 0)
        return "the kernel does not tell its state";
    if (!(kernel.status & STA_UNSYNC) && !(allowed && strcmp(allowed, "1") == 0))
        return "the clock of this machine is synchronised, and setting it would undo that; "
               "GLOAM_TEST_SETS_CLOCK=1 allows it";
    if (!put(1))
        return "only root may set the clock";
    put(-1);
    return NULL;
}

static void test_system_set(void **state) {
    (void)state;
    const char *reason = why_not_set();
    if (reason) {
        print_message("skipped: a real set of the clock: %s\n", reason);
        skip();
    }
    Clock clock;
    assert_true(clock_open_system(&clock));
    int64_t later = clock_now(&clock).utc + HOUR;
    const int64_t dues[] = {later, CLOCK_NEVER};
    for (size_t i = 0; i < 2; i++) {
        assert_true(clock_arm(&clock, CLOCK_TIMETABLE, dues[i]));
        assert_true(clock_arm(&clock, CLOCK_FRAME, dues[i]));
        assert_false(readable(&clock, CLOCK_TIMETABLE, 0));
        assert_true(put(1) && put(-1) && put(1));
        assert_true(readable(&clock, CLOCK_TIMETABLE, PATIENCE));
        assert_false(readable(&clock, CLOCK_FRAME, 0));
        assert_int_equal(clock_take(&clock, CLOCK_FRAME), CLOCK_QUIET);
        assert_int_equal(clock_take(&clock, CLOCK_TIMETABLE), CLOCK_WAS_SET);
        assert_int_equal(clock_take(&clock, CLOCK_TIMETABLE), CLOCK_QUIET);
        /* Armed again before it was taken: the set is not lost, and told once. */
        assert_true(clock_arm(&clock, CLOCK_TIMETABLE, later));
        assert_true(put(-1));
        assert_true(clock_arm(&clock, CLOCK_TIMETABLE, later));
        assert_true(clock_arm(&clock, CLOCK_TIMETABLE, later));
        assert_true(readable(&clock, CLOCK_TIMETABLE, PATIENCE));
        assert_int_equal(clock_take(&clock, CLOCK_TIMETABLE), CLOCK_WAS_SET);
        assert_true(clock_arm(&clock, CLOCK_TIMETABLE, later));
        assert_false(readable(&clock, CLOCK_TIMETABLE, 0));
        assert_int_equal(clock_take(&clock, CLOCK_TIMETABLE), CLOCK_QUIET);
    }
    clock_close(&clock);
}

static void test_no_memory(void **state) {
    (void)state;
    Clock clock;
    memory_fail_at(1);
    bool opened = clock_open_system(&clock);
    int error = errno;
    memory_fail_at(0);
    assert_false(opened);
    assert_int_equal(error, ENOMEM);
    clock_close(&clock);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_fake_moves), cmocka_unit_test(test_fake_timers),
        cmocka_unit_test(test_fake_set),   cmocka_unit_test(test_fake_year),
        cmocka_unit_test(test_system_now), cmocka_unit_test(test_system_timers),
        cmocka_unit_test(test_system_far), cmocka_unit_test(test_system_set),
        cmocka_unit_test(test_no_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
