/* What plays on each lamp and why, what lies on the timetable, and how far the clock is trusted:
 * for people and for programs (spec/commands.md, `status`). */
#ifndef GLOAM_PLAYER_STATUS_H
#define GLOAM_PLAYER_STATUS_H

#include <jansson.h>
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
/* As a JSON object, to which a running player adds what it has; what there was no memory for is
 * missing in it, which state_json_failed tells, or all is NULL. state_json_begin goes before it. */
json_t *status_object(const StatusRequest *request);
/* Writes such an object (or NULL), and gives it up. False: out of memory; nothing is written. */
bool status_write(json_t *object, FILE *out);
/* Both. */
bool status_json(const StatusRequest *request, FILE *out);
/* "2026-03-31T01:40:00Z"; null for never. */
json_t *status_instant(int64_t utc);

#endif
