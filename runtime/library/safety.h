/* What `check` finds out by looking at every routine on the lamps that may play it. */
#ifndef GLOAM_LIBRARY_SAFETY_H
#define GLOAM_LIBRARY_SAFETY_H

#include "runtime/library/examine.h"

/* One routine on one lamp. */
typedef struct Sight {
    uint16_t routine;
    const LampInfo *lamp; /* NULL: the ring of 16 that stands in where none is declared */
    Examined examined;
} Sight;

typedef struct Safety {
    size_t count;
    Sight *sights; /* by routine, then by lamp */
    size_t night_count;
    Sight *nights; /* the same of those that are night lights, under the ceiling that is on then */
    bool cut;      /* the work did not suffice for all of some */
} Safety;

/* Looks at all and adds warnings to the compilation's diagnostics: flashing, nights that are bright
 * or blue. A lamp that no entry plays a routine on is left out, unless no entry plays it at all.
 * Nights are those of the week that begins `now`, microseconds UTC. False: out of memory;
 * safety_free in either case. */
bool safety_look(Compilation *compilation, int64_t now, Safety *safety);
/* The same with another amount of work than EXAMINE_WORK. */
bool safety_look_within(Compilation *compilation, int64_t now, double work, Safety *safety);
void safety_free(Safety *safety);

/* A share as per cent in two digits: "70 %", "0.49 %". */
enum { SAFETY_PERCENT = 16 };
const char *safety_percent(double share, char text[SAFETY_PERCENT]);

/* "0:12.500" */
void safety_time(int64_t microseconds, char *text, size_t size);

#endif
