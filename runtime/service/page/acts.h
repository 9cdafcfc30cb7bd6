/* What is done through the page: GET /v1/state, POST /v1/acts. */
#ifndef GLOAM_SERVICE_PAGE_ACTS_H
#define GLOAM_SERVICE_PAGE_ACTS_H

#include "runtime/service/page/request.h"

enum { ACTS_KEYS = 64, ACTS_KEY = 65, ACTS_REMEMBERED = 600 /* seconds */ };

Acts *acts_create(void); /* NULL: out of memory */
void acts_free(Acts *acts);

void acts_state(HttpRequest *request);
void acts_do(HttpRequest *request);

#endif
