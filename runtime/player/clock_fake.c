#include "runtime/player/clock_fake.h"

#include <stddef.h>

static ClockNow fake_now(void *context) {
    return ((const ClockFake *)context)->now;
}

static ClockSigns fake_signs(void *context) {
    return ((const ClockFake *)context)->signs;
}

static int fake_descriptor(void *context, ClockTimer timer) {
    (void)context;
    (void)timer;
    return -1;
}

static bool fake_arm(void *context, ClockTimer timer, int64_t due) {
    ((ClockFake *)context)->due[timer] = due;
    return true;
}

static int64_t fake_left(const ClockFake *fake, ClockTimer timer) {
    int64_t due = fake->due[timer];
    int64_t now = timer == CLOCK_FRAME ? fake->now.monotonic : fake->now.utc;
    if (due == CLOCK_NEVER)
        return CLOCK_NEVER;
    return due <= now ? 0 : due - now;
}

static ClockWake fake_take(void *context, ClockTimer timer) {
    ClockFake *fake = context;
    ClockWake wake = CLOCK_QUIET;
    if (timer == CLOCK_TIMETABLE && fake->was_set)
        wake = CLOCK_WAS_SET;
    else if (fake_left(fake, timer) == 0)
        wake = CLOCK_DUE;
    if (wake == CLOCK_WAS_SET)
        fake->was_set = false;
    if (wake != CLOCK_QUIET)
        fake->due[timer] = CLOCK_NEVER; /* spent, so that who forgets to arm is found out */
    return wake;
}

static void fake_close(void *context) {
    (void)context;
}

Clock clock_fake_start(ClockFake *fake, int64_t utc, int64_t boottime) {
    static const ClockOperations operations = {fake_now, fake_signs, fake_descriptor,
                                               fake_arm, fake_take,  fake_close};
    *fake = (ClockFake){.now = {.utc = utc, .monotonic = boottime, .boottime = boottime},
                        .signs = {.most_error = CLOCK_NEVER},
                        .due = {CLOCK_NEVER, CLOCK_NEVER}};
    return (Clock){&operations, fake};
}

void clock_fake_advance(ClockFake *fake, int64_t microseconds) {
    fake->now.utc += microseconds;
    fake->now.monotonic += microseconds;
    fake->now.boottime += microseconds;
}

void clock_fake_set(ClockFake *fake, int64_t utc) {
    fake->was_set = fake->was_set || utc != fake->now.utc;
    fake->now.utc = utc;
}

void clock_fake_suspend(ClockFake *fake, int64_t microseconds) {
    fake->now.utc += microseconds;
    fake->now.boottime += microseconds;
    fake->was_set = true;
}

int64_t clock_fake_next(const ClockFake *fake) {
    int64_t timetable = fake->was_set ? 0 : fake_left(fake, CLOCK_TIMETABLE);
    int64_t frame = fake_left(fake, CLOCK_FRAME);
    return timetable < frame ? timetable : frame;
}
