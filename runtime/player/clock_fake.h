/* A clock that stands still until it is moved, for tests and for playing ahead. The Clock it gives
 * belongs to the ClockFake, which may be moved while the Clock is in use. */
#ifndef GLOAM_PLAYER_CLOCK_FAKE_H
#define GLOAM_PLAYER_CLOCK_FAKE_H

#include "runtime/player/clock.h"

typedef struct ClockFake {
    ClockNow now;
    ClockSigns signs; /* set them at will */
    int64_t due[CLOCK_TIMERS];
    bool was_set; /* and nobody took it yet */
} ClockFake;

/* Signs: not synchronised, no bound of the error, no boot. */
Clock clock_fake_start(ClockFake *fake, int64_t utc, int64_t boottime);

/* Time goes by: all three clocks go on by the same; not below 0. */
void clock_fake_advance(ClockFake *fake, int64_t microseconds);

/* The clock is set. To what it shows already: nothing happens. */
void clock_fake_set(ClockFake *fake, int64_t utc);

/* The machine sleeps: the monotonic clock stands still. It counts as a set of the clock, as the
 * kernel has it. */
void clock_fake_suspend(ClockFake *fake, int64_t microseconds);

/* How long to the next wake of a timer: 0 where clock_take has something to tell, CLOCK_NEVER where
 * none is armed. Never takes anything. */
int64_t clock_fake_next(const ClockFake *fake);

#endif
