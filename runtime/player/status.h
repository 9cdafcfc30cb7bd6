/* What plays on each lamp and why, what lies on the timetable, and how far the clock is trusted:
 * for people and for programs (spec/commands.md, `status`). */
#ifndef GLOAM_PLAYER_STATUS_H
#define GLOAM_PLAYER_STATUS_H

#include "runtime/time/playing.h"

typedef struct StatusRequest {
    const World *world;
    const Overrides *overrides; /* settled */
    const Now *now;
    const char *trust;   /* a sentence on the clock */
    const char *release; /* of the time zone database */
} StatusRequest;

/* memory_allocate'd, NUL-terminated; NULL: out of memory. */
char *status_text(const StatusRequest *request);
/* One JSON object. */
char *status_json(const StatusRequest *request);

#endif
