/* Texts that somebody writes: checked, looked at, tried, kept. */
#ifndef GLOAM_SERVICE_PAGE_DRAFTS_H
#define GLOAM_SERVICE_PAGE_DRAFTS_H

#include "runtime/service/page/request.h"

enum { DRAFTS = 16, DRAFT_ID = 17, DRAFT_BYTES = 4 << 20 /* of all texts */ };

Drafts *drafts_create(void); /* NULL: out of memory */
void drafts_free(Page *page);

void drafts_make(HttpRequest *request);   /* POST /v1/drafts */
void drafts_light(HttpRequest *request);  /* GET /v1/drafts/ID/light */
void drafts_events(HttpRequest *request); /* GET /v1/drafts/ID/events */
void drafts_try(HttpRequest *request);    /* POST /v1/trials */
void drafts_try_end(HttpRequest *request);

/* "tokens" (three numbers each: first, length, kind; in UTF-16 units) and "kinds" of a text. False:
 * out of memory. */
bool drafts_tokens(const char *text, size_t length, json_t *into);

#endif
