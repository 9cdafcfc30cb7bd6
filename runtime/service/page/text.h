/* The home file: read, kept, taken back, and its versions. */
#ifndef GLOAM_SERVICE_PAGE_TEXT_H
#define GLOAM_SERVICE_PAGE_TEXT_H

#include "runtime/service/page/request.h"

void text_get(HttpRequest *request);      /* GET /v1/home/text */
void text_keep(HttpRequest *request);     /* PUT /v1/home/text */
void text_versions(HttpRequest *request); /* GET /v1/home/versions */
void text_version(HttpRequest *request);  /* GET /v1/home/versions/N */
void text_undo(HttpRequest *request);     /* POST /v1/home/undo */

#endif
