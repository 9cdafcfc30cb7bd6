/* Whether a request may come in at all: pure functions of its headers. */
#ifndef GLOAM_SERVICE_PAGE_GUARD_H
#define GLOAM_SERVICE_PAGE_GUARD_H

#include <stdbool.h>
#include <stdint.h>

/* The defence against a name of somebody else's that leads here: `host` (a header; NULL is no) is
 * `name`, NAME.local, NAME-2.local (as a second lamp of that name is called), localhost, or the
 * address `own` at which the request came in; with `port`, which may be left out where it is 80. */
bool guard_host(const char *host, const char *name, const char *own, uint16_t port);

/* Whether a request that changes something comes from the lamp's own page, or from a program that
 * is no browser. NULL where a header is missing. */
bool guard_origin(const char *origin, const char *site, const char *host);

/* application/json, whatever its parameters. */
bool guard_json(const char *type);

/* Whether an answer may be packed by gzip: Accept-Encoding names gzip or `*`, not with `q=0` (RFC
 * 9110, 12.5.3). NULL: it is not there. */
bool guard_packed(const char *encodings);

/* -------- how much -------- */

/* What an address has, and comes back to it in a second; what all have together. */
enum {
    GUARD_ADDRESSES = 64,
    GUARD_BURST = 400,
    GUARD_RATE = 60,
    GUARD_BURST_ALL = 1600,
    GUARD_RATE_ALL = 240
};

typedef struct GuardBucket {
    int64_t last; /* microseconds */
    double left;
    bool used; /* it is full before it is used */
} GuardBucket;

typedef struct GuardAddress {
    char address[64];
    GuardBucket bucket;
} GuardAddress;

typedef struct Guard {
    GuardAddress list[GUARD_ADDRESSES]; /* the one that asked longest ago makes room */
    GuardBucket all;                    /* so that many addresses get no further than a few */
} Guard;

/* Takes `cost` from what an address has left, and from what all have; false: it is not enough, and
 * nothing is taken. */
bool guard_take(Guard *guard, const char *address, unsigned cost, int64_t monotonic);

#endif
