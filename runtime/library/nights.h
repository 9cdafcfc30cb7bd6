/* Which routines are night lights: those that the timetable plays at 02:00 on the local clock of
 * any of the coming seven days, and that of `until clock is set`. */
#ifndef GLOAM_LIBRARY_NIGHTS_H
#define GLOAM_LIBRARY_NIGHTS_H

#include "lang/compile.h"

typedef struct Night {
    bool plays;
    bool clockless; /* `until clock is set` plays it, when no ceiling is known to hold */
    int64_t start;  /* how long it has played by then at least, microseconds */
    double ceiling; /* that holds whenever it plays then; LEVEL_NO_CEILING where not always one */
} Night;

/* nights[routine * lamps + lamp], lamps being those declared, or 1 where none is; `now` in
 * microseconds UTC. Without a timetable none plays. *cut: it is so large that not all nights were
 * looked at. False: out of memory. */
bool nights_find(const Compilation *compilation, int64_t now, Night *nights, bool *cut);

#endif
