/* What is in the home and what it will do, as objects: functions of a score alone, and the requests
 * for them. */
#ifndef GLOAM_SERVICE_PAGE_CONTENT_H
#define GLOAM_SERVICE_PAGE_CONTENT_H

#include "runtime/service/page/request.h"

/* -------- objects; NULL: out of memory -------- */

/* Lamps with the places of their pixels, routines, dials, events (spec/http.yaml, Home). */
json_t *content_home(const Score *score);
json_t *content_lamps(const Score *score);
json_t *content_routines(const Score *score);
/* All that is said of a text. */
json_t *content_diagnostics(Compilation *compilation);
/* Days from a local date on, of one lamp: sun, clock changes, colours, what plays. `date` counts
 * days since 1970-01-01. `now` in microseconds: of what the routines are to show nothing before it
 * is known. */
json_t *content_week(const Score *score, int lamp, int32_t date, int days, int64_t now);

/* -------- requests -------- */

void content_get_home(HttpRequest *request);
void content_get_light(HttpRequest *request); /* of a routine of the home */
void content_get_week(HttpRequest *request);
void content_get_calendar(HttpRequest *request);

/* Frames of a routine as the query asks; answers. */
void content_frames(HttpRequest *request, const Score *score, const char *routine);
/* Whether so many frames may be worked out for one request. False: answered. */
bool content_afford(HttpRequest *request, const Score *score, int lamp, uint16_t routine,
                    int frames);
/* The lamp of the query. False: answered. */
bool content_lamp(HttpRequest *request, const Score *score, int *lamp);

#endif
