/* Which entries a ceiling cuts (rule Z10), for `check`. */
#ifndef GLOAM_COMMAND_CUTS_H
#define GLOAM_COMMAND_CUTS_H

#include "runtime/command/load.h"

/* Notes, in the sink of the compilation, each entry of `at` or `by` whose light a ceiling would dim
 * in the week from --clock, else from now, on: dials at their defaults, sixteen moments of each
 * stretch looked at, as long as that takes no more than about a second. Needs a program. False: out
 * of memory. */
bool cuts_find(const Loaded *loaded, const Options *options);

#endif
