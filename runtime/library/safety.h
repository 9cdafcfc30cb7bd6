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
    bool cut;      /* the work did not suffice for all of some */
} Safety;

/* Looks at all and adds warnings to the compilation's diagnostics: flashing, nights that are bright
 * or blue. A lamp that no entry plays a routine on is left out, unless no entry plays it at all.
 * False: out of memory; safety_free in either case. */
bool safety_look(Compilation *compilation, Safety *safety);
void safety_free(Safety *safety);

/* "0:12.500" */
void safety_time(int64_t microseconds, char *text, size_t size);

#endif
