#include "runtime/player/clock.h"

#include <errno.h>
#include <sys/timerfd.h>
#include <time.h>
#include <unistd.h>

#include "runtime/core/memory.h"
#include "runtime/player/trust.h"

/* 32-bit systems: -D_TIME_BITS=64, else the clock ends on 2038-01-19. */
_Static_assert(sizeof(time_t) == 8, "time_t must have 64 bits");

#define SECOND 1000000LL
/* The kernel counts nanoseconds in 63 bits, until 2262; no clock can be set to later than 2232. */
#define LATEST (9223372035LL * SECOND)
#define QUICK 50 /* a reading that took longer is tried again */
#define TRIES 8

typedef struct SystemClock {
    int timers[CLOCK_TIMERS];
    bool was_set; /* noticed while arming, not yet taken */
} SystemClock;

/* Down to the microsecond. */
static int64_t microseconds(clockid_t id) {
    struct timespec time = {0};
    clock_gettime(id, &time);
    return (int64_t)time.tv_sec * SECOND + time.tv_nsec / 1000;
}

ClockNow clock_system_now(void) {
    ClockNow best = {.doubt = CLOCK_NEVER};
    for (int i = 0; i < TRIES && best.doubt > QUICK; i++) {
        int64_t before = microseconds(CLOCK_BOOTTIME);
        int64_t utc = microseconds(CLOCK_REALTIME);
        int64_t monotonic = microseconds(CLOCK_MONOTONIC);
        int64_t doubt = microseconds(CLOCK_BOOTTIME) - before;
        if (doubt < best.doubt)
            best = (ClockNow){utc, monotonic, before, doubt};
    }
    return best;
}

static ClockNow system_now(void *context) {
    (void)context;
    return clock_system_now();
}

static ClockSigns system_signs(void *context) {
    (void)context;
    return trust_signs_read(TRUST_FILE);
}

static int system_descriptor(void *context, ClockTimer timer) {
    const SystemClock *clock = context;
    return clock->timers[timer];
}

/* An instant of zero or before would disarm: the first nanosecond has passed just as well. */
static struct itimerspec system_instant(int64_t due) {
    struct itimerspec instant = {0};
    if (due > LATEST)
        due = LATEST;
    if (due <= 0)
        instant.it_value.tv_nsec = 1;
    else
        instant.it_value = (struct timespec){.tv_sec = (time_t)(due / SECOND),
                                             .tv_nsec = (long)(due % SECOND) * 1000};
    return instant;
}

static bool system_arm(void *context, ClockTimer timer, int64_t due) {
    SystemClock *clock = context;
    int flags = TFD_TIMER_ABSTIME;
    struct itimerspec instant = {0};
    if (timer == CLOCK_TIMETABLE) {
        flags |= TFD_TIMER_CANCEL_ON_SET;
        instant = system_instant(clock->was_set ? 0 : due);
    } else if (due != CLOCK_NEVER) {
        instant = system_instant(due);
    }
    if (timerfd_settime(clock->timers[timer], flags, &instant, NULL) == 0)
        return true;
    if (timer != CLOCK_TIMETABLE || errno != ECANCELED)
        return false;
    /* The clock was set since the last read; the kernel armed the timer and forgot the set. */
    clock->was_set = true;
    instant = system_instant(0);
    return timerfd_settime(clock->timers[timer], flags, &instant, NULL) == 0 || errno == ECANCELED;
}

static ClockWake system_take(void *context, ClockTimer timer) {
    SystemClock *clock = context;
    uint64_t times;
    ssize_t got;
    do
        got = read(clock->timers[timer], &times, sizeof times);
    while (got < 0 && errno == EINTR);
    bool cancelled = got < 0 && errno == ECANCELED;
    if (timer == CLOCK_TIMETABLE && (cancelled || clock->was_set)) {
        clock->was_set = false;
        return CLOCK_WAS_SET;
    }
    /* 0 bytes: due, but then the clock went back. */
    return got == sizeof times ? CLOCK_DUE : CLOCK_QUIET;
}

static void system_close(void *context) {
    SystemClock *clock = context;
    for (int i = 0; i < CLOCK_TIMERS; i++)
        if (clock->timers[i] >= 0)
            close(clock->timers[i]);
    memory_release(clock);
}

bool clock_open_system(Clock *clock) {
    static const ClockOperations operations = {system_now, system_signs, system_descriptor,
                                               system_arm, system_take,  system_close};
    *clock = (Clock){0};
    SystemClock *system = memory_allocate(1, sizeof *system);
    if (!system) {
        errno = ENOMEM;
        return false;
    }
    int flags = TFD_NONBLOCK | TFD_CLOEXEC;
    system->timers[CLOCK_TIMETABLE] = timerfd_create(CLOCK_REALTIME, flags);
    system->timers[CLOCK_FRAME] = timerfd_create(CLOCK_MONOTONIC, flags);
    if (system->timers[CLOCK_TIMETABLE] < 0 || system->timers[CLOCK_FRAME] < 0) {
        int error = errno;
        system_close(system);
        errno = error;
        return false;
    }
    *clock = (Clock){&operations, system};
    return true;
}
