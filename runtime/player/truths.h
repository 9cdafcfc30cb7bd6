/* The truths of `when TRUTH play` as they are now. */
#ifndef GLOAM_PLAYER_TRUTHS_H
#define GLOAM_PLAYER_TRUTHS_H

#include "runtime/time/act.h"

/* Works out the conditions of the timetable with the dials as set by hand, else their defaults, and
 * tells the overrides: what turned true begins. False: out of memory, nothing is changed. */
bool truths_tell(Overrides *overrides, const World *world, const Now *now);

#endif
