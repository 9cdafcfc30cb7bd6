/* The programs beside this one that it starts or becomes: gloam-page, gloam-mqtt, gloam-call. */
#ifndef GLOAM_COMMAND_PROGRAMS_H
#define GLOAM_COMMAND_PROGRAMS_H

#include <stdbool.h>

enum { PROGRAM_PATH_BYTES = 4096 };

/* Where it lies: beside this program, as in a build tree, else in ../libexec/gloam/. False: it is
 * not installed. */
bool program_path(const char *name, char path[PROGRAM_PATH_BYTES]);

#endif
