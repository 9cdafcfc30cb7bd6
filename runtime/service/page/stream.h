/* Server-sent events: state and light as they change, and drafts as they move. A stream holds no
 * queue: when it can take something it gets what is newest, and a sign of life where there is
 * nothing: browsers tell a page of events only. */
#ifndef GLOAM_SERVICE_PAGE_STREAM_H
#define GLOAM_SERVICE_PAGE_STREAM_H

#include "runtime/service/page/request.h"

enum { STREAMS = 48, STREAM_RATE = 30, STREAM_USUAL = 15, STREAM_SIGN = 15 /* seconds */ };

/* Makes the next piece: `into` holds `size` bytes. 0: nothing now, look again at *due
 * (microseconds, page_monotonic) or when something changes; -1: it is over. */
typedef long (*StreamMaking)(void *own, Page *page, int64_t now, char *into, size_t size,
                             int64_t *due);

/* Answers the request with a stream; `own` is released with memory_release after `end` (which may
 * be NULL). False: there are too many, or no memory: the request is answered with a problem. */
bool stream_begin(HttpRequest *request, StreamMaking make, void (*end)(void *own), void *own);

/* GET /v1/events */
void stream_events(HttpRequest *request);

/* State or light have changed: whoever waits looks again. */
void streams_wake(Page *page);
/* Those that are due look again; both are done in the next server_run. */
void streams_resume(Page *page, int64_t now);
/* Milliseconds until the next is due; -1: none. */
int streams_patience(const Page *page, int64_t now);
/* All end: before the server is closed. */
void streams_end(Page *page);

/* What the player is to tell of light follows what streams want. */
void streams_watch(Page *page);

/* For the server. */
struct MHD_Response *stream_response(Stream *stream);
void stream_gone(Stream *stream);
/* One event of some kind with a JSON object, which is given up; its length, 0: it does not fit. */
size_t stream_event(char *into, size_t size, const char *kind, const char *id, json_t *object);

#endif
