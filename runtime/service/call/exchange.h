/* One request to another lamp's interface (spec/http.yaml) and its answer. */
#ifndef GLOAM_SERVICE_CALL_EXCHANGE_H
#define GLOAM_SERVICE_CALL_EXCHANGE_H

#include <stdbool.h>
#include <stddef.h>

enum { EXCHANGE_MOST = 1 << 20, EXCHANGE_SENTENCE = 512 };

typedef struct Exchange {
    const char *url;     /* of the lamp, without an end of `/` */
    const char *path;    /* "/v1/state" */
    const char *token;   /* of a session; NULL: none */
    const char *accepts; /* a media type; NULL: JSON */
    const char *body;    /* JSON: it is a POST; NULL: a GET */

    long status; /* of the answer; 0: there was none, `said` tells why */
    char *text;  /* its body, memory_allocate'd, NUL-terminated, EXCHANGE_MOST bytes at most */
    size_t length;
    char said[EXCHANGE_SENTENCE];
} Exchange;

/* Waits for 10 s at most. A request that got no answer may have been done. */
void exchange_do(Exchange *exchange);
void exchange_end(Exchange *exchange);

/* `lantern.local`, `http://lantern.local:8080/` -> `http://lantern.local:8080`. False: it is no
 * address of a page. */
bool exchange_url(const char *given, char *url, size_t size);

#endif
