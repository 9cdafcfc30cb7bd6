/* Who may, as requests: GET /v1/me, the code, sessions, invitations. */
#ifndef GLOAM_SERVICE_PAGE_DOOR_H
#define GLOAM_SERVICE_PAGE_DOOR_H

#include "runtime/service/page/request.h"

void door_me(HttpRequest *request);
void door_show(HttpRequest *request);
void door_begin(HttpRequest *request);
void door_sessions(HttpRequest *request);
void door_end(HttpRequest *request);
void door_invite(HttpRequest *request);

/* The routine that shows a code in the light, as a text of the language; memory_allocate'd, NULL:
 * out of memory. Each digit is so many pixels, one digit after the other, faint and warm; where a
 * lamp has fewer than nine pixels, so many slow pulses. The whole comes twice where the code is
 * good for so long; it takes *seconds. */
char *door_light(const char *code, uint32_t pixels, double *seconds);

#endif
