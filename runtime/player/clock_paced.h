/* A clock that begins at an instant of one's choice and runs so many times as fast as the
 * machine's, for trying a day in front of a terminal. Nobody sets it, and it is trusted. */
#ifndef GLOAM_PLAYER_CLOCK_PACED_H
#define GLOAM_PLAYER_CLOCK_PACED_H

#include "runtime/player/clock.h"

/* `speed` above 0. False: no timers, errno says why. */
bool clock_open_paced(Clock *clock, int64_t utc, double speed);

#endif
