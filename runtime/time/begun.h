/* When something began, kept so that its length is exact time: it is measured on the clock that
 * counts from the start of the machine, which is never set, and carried over a restart by the
 * calendar. A nap of 20 minutes begun on a clock that is 3 hours slow takes 20 minutes, also when
 * the clock is set meanwhile. Nothing here reads a clock. */
#ifndef GLOAM_TIME_BEGUN_H
#define GLOAM_TIME_BEGUN_H

#include <stdbool.h>
#include <stdint.h>

#define NOW_BOOT_BYTES 40 /* with the NUL */

/* The clocks at one moment, microseconds, within years 0 to 9999. */
typedef struct Now {
    int64_t utc;               /* since 1970, as the clock shows it */
    int64_t boottime;          /* since the start of the machine, suspend included */
    bool trusted;              /* utc is right */
    char boot[NOW_BOOT_BYTES]; /* which start that was; where the system does not tell, the player
                                  makes one for its run; never "" */
} Now;

/* That moment, later (or earlier) by so much. */
Now now_later(const Now *now, int64_t microseconds);

typedef struct Begun {
    int64_t utc;
    int64_t boottime; /* of the present start of the machine; may be below 0 */
    bool trusted;     /* utc is right */
    bool guessed;     /* boottime was reckoned with a clock that was not trusted: at least so much
                         has gone by, and the exact time is known when the clock is right */
} Begun;

/* What begins `after` microseconds from now. */
Begun begun_in(const Now *now, int64_t after);

/* How long ago that is, below 0 for what is yet to begin. The start of the machine is the one in
 * which it began or for which it was carried over. */
int64_t begun_ago(const Begun *begun, const Now *now);

/* The instant of the calendar, as well as it is known now. */
int64_t begun_utc(const Begun *begun, const Now *now);

/* Takes what is known now: the right instant once the clock is trusted, and the boot-time clock of
 * this start where `restarted`. */
void begun_settle(Begun *begun, const Now *now, bool restarted);

#endif
