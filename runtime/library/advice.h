/* What only the light itself can tell of a timetable (rule Z13). */
#ifndef GLOAM_LIBRARY_ADVICE_H
#define GLOAM_LIBRARY_ADVICE_H

#include "lang/compile.h"

/* A routine counts as bright where its mean relative luminance reaches this part of full white, and
 * as dark where it stays below the other: common practice, no source. */
#define ADVICE_BRIGHT 0.1
#define ADVICE_DARK 0.001

/* Warns, in the sink of the compilation, of an entry whose bright routine would play round the
 * clock because nothing else begins before it comes again, and of `by` on a routine that ends dark.
 * Renders with the dials at their defaults, on the lamp of the entry, else on a ring of 16; of what
 * goes on, 64 moments of ten minutes. Says nothing where the program has errors.
 *
 * Then never.h, whose errors leave no program: ask for it again. */
void advice_give(Compilation *compilation);

#endif
