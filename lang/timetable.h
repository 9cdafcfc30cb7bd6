/* The timetable as data (runtime/core/timetable.h), from the tree. */
#ifndef GLOAM_LANG_TIMETABLE_H
#define GLOAM_LANG_TIMETABLE_H

#include "lang/checks.h"
#include "runtime/core/timetable.h"

/* After all checks, and only where they found no error. NULL where the main file has no timetable,
 * or memory ran out (then the arena knows). It is in the arena, but for what the codes of its
 * conditions own: timetable_release frees that. What does not fit the limits of a code is
 * reported. */
Timetable *timetable_build(Checks *checks);
void timetable_release(Timetable *table); /* NULL is fine */

#endif
