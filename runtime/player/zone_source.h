/* Where the zone in force comes from: the name of the file's place, else the variable TZ, else the
 * machine's own. Reads no environment: the variable is handed in. */
#ifndef GLOAM_PLAYER_ZONE_SOURCE_H
#define GLOAM_PLAYER_ZONE_SOURCE_H

#include <stddef.h>

#include "runtime/library/zone_file.h"

/* Where the machine keeps its zones; tests have their own. */
typedef struct ZoneFolders {
    const char *database; /* folder of the zones by name */
    const char *machine;  /* file of the machine's zone */
} ZoneFolders;
extern const ZoneFolders zone_folders_system;

/* What names the zone. Both texts may be NULL; a name goes before the variable. */
typedef struct ZoneSource {
    const char *name;     /* of the time zone database */
    const char *variable; /* the value of TZ, read as tzset(3) has it */
} ZoneSource;

#define ZONE_SOURCE_BYTES 4096 /* a path, with its NUL */

/* The file that the source leads to, whether it is there or not; false where it needs none: UTC, or
 * a name or path that cannot be one. A variable that is no such file may still be a rule. */
bool zone_source_path(const ZoneSource *source, const ZoneFolders *folders,
                      char path[ZONE_SOURCE_BYTES]);

/* *zone is the caller's, to zone_free; NULL is UTC: where it is not ZONE_FILE_FINE, and where the
 * source says so (an empty variable, a machine without a zone). */
ZoneFileStatus zone_source_read(const ZoneSource *source, const ZoneFolders *folders, Zone **zone);

#endif
