/* The door of the page: HTTP by libmicrohttpd in this program's own loop. Every request is looked
 * at here for its size, its name of the lamp, where it comes from and who asks, before a handler
 * sees it. */
#ifndef GLOAM_SERVICE_PAGE_SERVER_H
#define GLOAM_SERVICE_PAGE_SERVER_H

#include "runtime/service/page/request.h"

enum {
    SERVER_CONNECTIONS = 64,
    SERVER_OF_ONE = 32,      /* connections of one address */
    SERVER_PATIENCE = 30,    /* seconds without a byte */
    SERVER_WHOLE = 60,       /* seconds for a request and its answer, streams apart */
    SERVER_FREE = 8,         /* while fewer places are free, who asks nothing has */
    SERVER_HASTE = 3,        /* seconds */
    SERVER_MEMORY = 32768,   /* bytes a connection, beside bodies */
    SERVER_UPLOADS = 6 << 20 /* bytes of all bodies that are on their way */
};

typedef struct Server Server;

/* Listens on that socket, which becomes its own. NULL: `said`. */
Server *server_open(Page *page, int listening, char *said, size_t size);
/* Streams are ended first (streams_end). */
void server_close(Server *server);

int server_descriptor(const Server *server);
/* Milliseconds until server_run at the latest; -1: no limit. */
int server_patience(Server *server);
/* At each turn of the loop. */
void server_run(Server *server);

#endif
