/* Zones by their name, from the time zone database of the machine. */
#ifndef GLOAM_LIBRARY_ZONE_FILE_H
#define GLOAM_LIBRARY_ZONE_FILE_H

#include "runtime/time/zone.h"

typedef enum ZoneFileStatus {
    ZONE_FILE_FINE,
    ZONE_FILE_NAME,    /* no name of the database: it would lead elsewhere */
    ZONE_FILE_MISSING, /* the database has no such zone, or there is no database */
    ZONE_FILE_BROKEN,  /* unreadable, too large, or no file of a zone */
    ZONE_FILE_NO_MEMORY
} ZoneFileStatus;

/* The environment (TZ, TZDIR) is not asked. A name that is NULL is the zone of the machine,
 * /etc/localtime. *zone is the caller's, to zone_free; NULL (UTC) unless ZONE_FILE_FINE. */
ZoneFileStatus zone_file_read(const char *name, Zone **zone);

/* The same of any file. */
ZoneFileStatus zone_file_read_path(const char *path, Zone **zone);

#define ZONE_FILE_DATABASE "/usr/share/zoneinfo"
#define ZONE_FILE_MACHINE "/etc/localtime"
#define ZONE_FILE_RELEASE_BYTES 24

/* The release of a database, such as `2026f`, out of its files tzdata.zi or +VERSION; "unknown"
 * where neither says. Returns `release`. */
char *zone_file_release(const char *database, char release[ZONE_FILE_RELEASE_BYTES]);

/* What is wrong, as a sentence that says what to do. */
const char *zone_file_sentence(ZoneFileStatus status);

#endif
