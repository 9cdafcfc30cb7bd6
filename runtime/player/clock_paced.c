#include "runtime/player/clock_paced.h"

#include <errno.h>

#include "runtime/core/memory.h"
#include "runtime/core/number.h"

/* Timers are the machine's; what they are armed for is reckoned into its monotonic time. */
typedef struct PacedClock {
    Clock machine[CLOCK_TIMERS]; /* the frame timer of each is used */
    int64_t began;               /* monotonic */
    int64_t utc;                 /* then */
    double speed;
} PacedClock;

static ClockNow paced_now(void *context) {
    const PacedClock *paced = context;
    int64_t since = clock_now(&paced->machine[0]).monotonic - paced->began;
    int64_t gone = (int64_t)number_microseconds((double)since * paced->speed);
    return (ClockNow){.utc = paced->utc + gone, .monotonic = gone, .boottime = gone};
}

static ClockSigns paced_signs(void *context) {
    (void)context;
    return (ClockSigns){.synchronised = true, .most_error = 0, .boot = "paced"};
}

static int paced_descriptor(void *context, ClockTimer timer) {
    const PacedClock *paced = context;
    return clock_descriptor(&paced->machine[timer], CLOCK_FRAME);
}

/* One microsecond later than reckoned, so that it has come when it wakes. */
static bool paced_arm(void *context, ClockTimer timer, int64_t due) {
    const PacedClock *paced = context;
    if (due == CLOCK_NEVER)
        return clock_arm(&paced->machine[timer], CLOCK_FRAME, CLOCK_NEVER);
    double gone = (double)due - (timer == CLOCK_TIMETABLE ? (double)paced->utc : 0.0);
    int64_t real = (int64_t)number_microseconds(gone / paced->speed);
    return clock_arm(&paced->machine[timer], CLOCK_FRAME, paced->began + real + 1);
}

static ClockWake paced_take(void *context, ClockTimer timer) {
    const PacedClock *paced = context;
    return clock_take(&paced->machine[timer], CLOCK_FRAME);
}

static void paced_close(void *context) {
    PacedClock *paced = context;
    for (int i = 0; i < CLOCK_TIMERS; i++)
        clock_close(&paced->machine[i]);
    memory_release(paced);
}

bool clock_open_paced(Clock *clock, int64_t utc, double speed) {
    static const ClockOperations operations = {paced_now, paced_signs, paced_descriptor,
                                               paced_arm, paced_take,  paced_close};
    PacedClock *paced = memory_allocate(1, sizeof *paced);
    *clock = (Clock){0};
    if (!paced) {
        errno = ENOMEM;
        return false;
    }
    *paced = (PacedClock){.utc = utc, .speed = speed};
    for (int i = 0; i < CLOCK_TIMERS; i++)
        if (!clock_open_system(&paced->machine[i])) {
            int error = errno;
            paced_close(paced);
            errno = error;
            return false;
        }
    paced->began = clock_now(&paced->machine[0]).monotonic;
    *clock = (Clock){&operations, paced};
    return true;
}
