/* Entries and ceilings of which nothing ever comes: what only the calendar and the sun can tell. */
#ifndef GLOAM_LIBRARY_NEVER_H
#define GLOAM_LIBRARY_NEVER_H

#include "lang/compile.h"

/* Reports an error for each whose days no date fulfils, and for each whose times of the sun come on
 * none of its dates, with no `else`. */
void never_find(Compilation *compilation);

#endif
