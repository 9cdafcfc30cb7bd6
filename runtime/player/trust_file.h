/* Why the clock is trusted, for a player that is started again on the same start of the machine: a
 * line in a file beside the state. */
#ifndef GLOAM_PLAYER_TRUST_FILE_H
#define GLOAM_PLAYER_TRUST_FILE_H

#include "runtime/library/state_file.h"
#include "runtime/player/trust.h"

/* Not trusted where there is no such file, or it is none. */
Trust trust_file_read(const char *path);
/* False: errno in *error. */
bool trust_file_write(const StateDisk *disk, const char *path, const Trust *trust, int *error);

#endif
