/* The one door through which the runtime learns the time. Behind it is the system's clock or one
 * that a test sets (clock_fake.h), so that a test of a year takes milliseconds.
 *
 * All times are microseconds. utc: since 1970-01-01 without leap seconds; it can be set, and then
 * jumps. monotonic: since some start; never jumps, stands still in suspend. boottime: the same with
 * suspend, counted from the start of the machine. utc and boottime run at one rate (NTP slews
 * both), so their difference changes when, and only when, the clock is set. */
#ifndef GLOAM_PLAYER_CLOCK_H
#define GLOAM_PLAYER_CLOCK_H

#include <stdbool.h>
#include <stdint.h>

/* No instant: a timer that is armed for it wakes only when the clock is set, or never. */
#define CLOCK_NEVER INT64_MAX

/* The three clocks at one moment, up to `doubt`: how long the reading took. */
typedef struct ClockNow {
    int64_t utc, monotonic, boottime;
    int64_t doubt;
} ClockNow;

typedef enum ClockTimer {
    CLOCK_TIMETABLE, /* wakes at an instant of utc, and at once when the clock is set */
    CLOCK_FRAME      /* wakes at an instant of the monotonic clock */
} ClockTimer;
#define CLOCK_TIMERS 2

typedef enum ClockWake {
    CLOCK_QUIET,  /* nothing: wait on */
    CLOCK_DUE,    /* the instant has come */
    CLOCK_WAS_SET /* utc has jumped: what was planned by it is to be planned again */
} ClockWake;

#define CLOCK_BOOT_BYTES 40 /* an id of a boot, with its NUL */

/* What the system says of its clock. */
typedef struct ClockSigns {
    bool synchronised;  /* a time service says that it set the clock since the start (trust.h) */
    int64_t most_error; /* the kernel's bound of the error; CLOCK_NEVER: it tells none */
    char boot[CLOCK_BOOT_BYTES]; /* which boot this is; "": not told */
} ClockSigns;

typedef struct ClockOperations {
    ClockNow (*now)(void *context);
    ClockSigns (*signs)(void *context);
    int (*descriptor)(void *context, ClockTimer timer);
    bool (*arm)(void *context, ClockTimer timer, int64_t due);
    ClockWake (*take)(void *context, ClockTimer timer);
    void (*close)(void *context);
} ClockOperations;

typedef struct Clock {
    const ClockOperations *operations;
    void *context;
} Clock;

/* The system's. False: no timers, errno says why. clock_close releases it. */
bool clock_open_system(Clock *clock);

/* The system's clock for those who need no timers. */
ClockNow clock_system_now(void);

static inline ClockNow clock_now(const Clock *clock) {
    return clock->operations->now(clock->context);
}
static inline ClockSigns clock_signs(const Clock *clock) {
    return clock->operations->signs(clock->context);
}

/* For epoll (EPOLLIN): readable when clock_take has something to tell. -1: a clock of a test. */
static inline int clock_descriptor(const Clock *clock, ClockTimer timer) {
    return clock->operations->descriptor(clock->context, timer);
}

/* One wake at `due`; at once where that has passed. Replaces what was armed. False: the system
 * refused, errno says why. A set of the clock that nobody took yet is not lost: the timer wakes at
 * once, and clock_take tells it. */
static inline bool clock_arm(const Clock *clock, ClockTimer timer, int64_t due) {
    return clock->operations->arm(clock->context, timer, due);
}

/* Why the timer woke. After CLOCK_DUE and CLOCK_WAS_SET it counts as spent: arm it again. Never
 * waits. */
static inline ClockWake clock_take(const Clock *clock, ClockTimer timer) {
    return clock->operations->take(clock->context, timer);
}

static inline void clock_close(Clock *clock) {
    if (clock->operations)
        clock->operations->close(clock->context);
    *clock = (Clock){0};
}

#endif
