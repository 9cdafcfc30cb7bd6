/* What plays on each lamp and why, what lies on the timetable, and how far the clock is trusted:
 * for people and for programs (spec/commands.md, `status`). */
#ifndef GLOAM_PLAYER_STATUS_H
#define GLOAM_PLAYER_STATUS_H

#include <stdio.h>

#include "runtime/time/playing.h"

typedef struct StatusRequest {
    const World *world;
    const Overrides *overrides; /* settled */
    const Now *now;
    const char *trust;   /* a sentence on the clock */
    const char *release; /* of the time zone database */
} StatusRequest;

void status_text(const StatusRequest *request, FILE *out);
/* One JSON object. False: out of memory; nothing is written. */
bool status_json(const StatusRequest *request, FILE *out);

#endif
