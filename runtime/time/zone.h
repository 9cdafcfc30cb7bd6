/* Time zones: what a local clock shows at an instant, and which instant a local time is. Made of
 * the bytes of a TZif file (RFC 9636) or of a POSIX TZ string; reads no file and no environment. A
 * Zone does not change, so threads may share it. Instants are seconds UTC since 1970-01-01; wall
 * readings are the same count as if the clock were in UTC. */
#ifndef GLOAM_TIME_ZONE_H
#define GLOAM_TIME_ZONE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef struct Zone Zone;

typedef enum ZoneStatus {
    ZONE_FINE,
    ZONE_BROKEN,       /* no such file or string */
    ZONE_LEAP_SECONDS, /* its times count leap seconds: no POSIX time */
    ZONE_NO_MEMORY
} ZoneStatus;

/* Any bytes may come in. *zone is the caller's, to zone_free; NULL unless ZONE_FINE. */
ZoneStatus zone_from_bytes(const void *bytes, size_t size, Zone **zone);
ZoneStatus zone_from_rule(const char *text, Zone **zone);
void zone_free(Zone *zone); /* NULL is fine */

typedef struct ZoneOffset {
    int32_t offset;           /* seconds to add to UTC: east positive */
    bool summer;              /* the flag of the data: Dublin's is set in winter */
    const char *abbreviation; /* lives as long as the zone */
} ZoneOffset;

/* A zone that is NULL is UTC, here and below. */
ZoneOffset zone_offset(const Zone *zone, int64_t utc_seconds);

/* The first second of another offset between two instants. False: it is the same at both. */
bool zone_change(const Zone *zone, int64_t first, int64_t last, int64_t *utc_seconds);

typedef enum ZoneCase {
    ZONE_ONCE,
    ZONE_GAP,    /* the clock never shows it: the instant by the offset before the gap */
    ZONE_OVERLAP /* the clock shows it twice: the first of them */
} ZoneCase;

/* The instant of a wall reading by RFC 5545 section 3.3.5. */
ZoneCase zone_to_utc(const Zone *zone, int64_t wall_seconds, int64_t *utc_seconds);

#endif
