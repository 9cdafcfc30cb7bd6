/* The zone in force, read anew when its file is replaced or a link to it is swapped. A new one that
 * is broken or gone leaves the old one in force. */
#ifndef GLOAM_PLAYER_ZONE_WATCH_H
#define GLOAM_PLAYER_ZONE_WATCH_H

#include "runtime/player/zone_source.h"

typedef struct ZoneWatch ZoneWatch;

typedef enum ZoneNews {
    ZONE_NEWS_NONE,
    ZONE_NEWS_ZONE, /* another zone, perhaps the same as before: plan again by it */
    ZONE_NEWS_WRONG /* the new one cannot be used, see zone_watch_wrong; the old one stays */
} ZoneNews;

/* Takes copies of what it is given. *watch is the caller's, to zone_watch_close. False: no memory.
 * A zone that cannot be read is UTC until it can be, and zone_watch_wrong says so. */
bool zone_watch_open(const ZoneSource *source, const ZoneFolders *folders, ZoneWatch **watch);
void zone_watch_close(ZoneWatch *watch); /* NULL is fine */

/* For epoll (EPOLLIN); -1 where there is no file to watch, or where it cannot be watched. */
int zone_watch_descriptor(const ZoneWatch *watch);

/* Takes what was reported. Only changes are told: what stays wrong in the same way is told once. */
ZoneNews zone_watch_look(ZoneWatch *watch);

/* NULL is UTC. It lives until zone_watch_look tells ZONE_NEWS_ZONE, or the end of the watch. */
const Zone *zone_watch_zone(const ZoneWatch *watch);

/* A sentence: which zone cannot be read or watched, why, and what is in force instead; "": all is
 * well. */
const char *zone_watch_wrong(const ZoneWatch *watch);

#endif
