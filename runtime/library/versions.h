/* The home files that played before: the ten last that the player took, each whole, in a folder
 * beside the state, NNNNNN.gloam with ascending numbers. */
#ifndef GLOAM_LIBRARY_VERSIONS_H
#define GLOAM_LIBRARY_VERSIONS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "runtime/library/state_file.h"

enum { VERSIONS_KEPT = 10 };

typedef struct Version {
    uint32_t number; /* 1 to 999999 */
    int64_t kept;    /* when, in seconds of UTC as the clock was then */
    uint64_t bytes;
} Version;

/* The newest first; how many there are. Other files in the folder are passed over. */
size_t versions_list(const char *folder, Version list[VERSIONS_KEPT]);

/* memory_allocate'd, NUL-terminated. False: there is none of that number, or no memory. */
bool versions_read(const char *folder, uint32_t number, char **text, size_t *length);

/* Keeps a text, unless it is that of the newest; those before the ten newest go. The folder is
 * made. False: *error is errno; then those that were kept are. */
bool versions_keep(const StateDisk *disk, const char *folder, const char *text, size_t length,
                   int *error);

#endif
