/* One request and what is answered to it. A handler answers once: at once, or later when the
 * player has; or it opens a stream. */
#ifndef GLOAM_SERVICE_PAGE_REQUEST_H
#define GLOAM_SERVICE_PAGE_REQUEST_H

#include "runtime/service/page/page.h"

struct MHD_Connection;
struct Seat;

typedef enum Role { ROLE_NOBODY, ROLE_GUEST, ROLE_OWNER } Role;

enum { REQUEST_PARTS = 2, REQUEST_PART = 128, REQUEST_MOST = 1200000 };

typedef struct Route Route;

typedef struct HttpRequest {
    Page *page;
    struct MHD_Connection *connection;
    struct Seat *seat; /* of that connection, in the server */
    const Route *route;
    const struct Asset *asset;               /* a file of the page, instead of a route */
    char parts[REQUEST_PARTS][REQUEST_PART]; /* what stands for the `*` of the route's path */
    const char *query[16][2];                /* NULL name at the end; values may be "" */
    json_t *body;                            /* an object; NULL: the method has none */
    Role role;
    char session[40]; /* its id; "": none */
    char address[64]; /* who asks */

    /* The answer. */
    bool answered, later, suspended;
    unsigned status;
    const char *type;
    char *bytes; /* memory_allocate'd */
    size_t length;
    char cookie[200]; /* Set-Cookie; "": none */
    char allow[64];   /* methods, of a 405 */
    int retry_after;  /* seconds; 0: none */
    Stream *stream;   /* instead of bytes */

    char *upload; /* the body as it comes */
    size_t uploaded, expected;
    void *own; /* of a handler that answers later; memory_allocate'd, released with the request */
    struct HttpRequest *next; /* who waits for the same answer of the player */
} HttpRequest;

/* The value of a query word; NULL: it is not there. */
const char *request_query(const HttpRequest *request, const char *name);
/* A number of the query, within its range; `usual` where it is not there. False: answered, 400. */
bool request_number(HttpRequest *request, const char *name, double least, double most, double usual,
                    double *value);
/* A text of the body; NULL where it is not there. False: answered, 400. */
bool request_text(HttpRequest *request, const char *name, bool needed, size_t most,
                  const char **text);

/* Each gives up what it is given. */
void reply_json(HttpRequest *request, unsigned status, json_t *object);
void reply_bytes(HttpRequest *request, const char *type, char *bytes, size_t length);
void reply_said(HttpRequest *request, unsigned status, const char *said);
/* What the player answers to an act: said, or refused with 422. */
void reply_answer(HttpRequest *request, bool done, const char *text);
/* Problems that each handler may have: 503. */
void reply_no_memory(HttpRequest *request);
void reply_no_player(HttpRequest *request);
/* RFC 9457. `code` is a word that stays; `object` may have more members, or be NULL. */
#if defined(__GNUC__)
__attribute__((format(printf, 5, 6)))
#endif
void reply_problem(HttpRequest *request, unsigned status, const char *code, json_t *object,
                   const char *format, ...);

/* The answer comes later: from a callback, by one of the above, then request_ready. Until then the
 * request stays, even where its connection has gone. */
void request_later(HttpRequest *request);
void request_ready(HttpRequest *request);

/* -------- routes -------- */

typedef void (*Handler)(HttpRequest *request);

struct Route {
    const char *method; /* GET, POST, PUT, DELETE */
    const char *path;   /* below /v1, `*` for one part: "/drafts/" "*" "/light" */
    Role role;          /* the least that may */
    unsigned cost;      /* in requests, for the limit of an address */
    Handler handler;
};

/* Ends with a NULL method. */
extern const Route ROUTES[];

/* The route of a method and a path (behind /v1), its parts copied. NULL: there is none; *allowed
 * then has the methods of that path, separated by commas, or is "". */
const Route *route_find(const char *method, const char *path,
                        char parts[REQUEST_PARTS][REQUEST_PART], char allowed[64]);

#endif
