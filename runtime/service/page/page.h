/* What the parts of the page's server share. One process, one thread, one loop; the player is at
 * the other end of the link. spec/page.md has the rules, spec/http.yaml the interface. */
#ifndef GLOAM_SERVICE_PAGE_PAGE_H
#define GLOAM_SERVICE_PAGE_PAGE_H

#include <jansson.h>
#include <stdbool.h>
#include <stdint.h>

#include "runtime/player/feed.h"
#include "runtime/player/score.h"
#include "runtime/service/link/link.h"

enum { PAGE_LAMPS = FEED_LAMPS, PAGE_PATH = 4096, PAGE_NAME = FEED_NAME };

typedef struct Access Access;
typedef struct Drafts Drafts;
typedef struct Stream Stream;
typedef struct Acts Acts;

/* The light of one lamp as it was told last. */
typedef struct PageLight {
    uint64_t version; /* grows with each; 0: none yet */
    size_t length;
    uint8_t rgb[3 * FEED_PIXELS];
} PageLight;

typedef struct Page {
    const char *home;     /* path of the home file */
    const char *state;    /* path of the player's state file; NULL: nothing is kept */
    bool open;            /* whoever comes is an owner: --pairing none */
    bool guests;          /* who is not paired may look */
    char host[PAGE_NAME]; /* the name of the machine, without a domain */
    uint16_t port;

    Link *link;
    uint64_t version; /* of the state; 0: none yet */
    json_t *told;     /* the state as the player told it; NULL: none yet */
    char *state_text; /* the same as JSON in one line */
    uint64_t taken;   /* its number of home files taken */
    bool unkept;      /* the copy that lies there is not what plays */
    PageLight *lights[PAGE_LAMPS];
    int rates[PAGE_LAMPS]; /* frames a second that are asked of the player */
    uint64_t watched;      /* `score_taken` of the home whose lamps they are */

    bool keeping; /* a text is in the home file that the player has not answered for */
    bool showing; /* a code is in a file that the player has not read yet */

    Score *score; /* the home that plays, as the player accepted it; NULL: not known */
    uint64_t score_taken;

    Access *access;
    Drafts *drafts;
    Acts *acts;
    Stream *streams;
} Page;

/* Microseconds of a monotonic clock; seconds of UTC. */
int64_t page_monotonic(void);
int64_t page_utc(void);

/* The home that plays: read anew when the player has taken another. NULL: there is none to be had.
 */
const Score *page_score(Page *page);

/* A lamp of the home by its name; NULL or "" is the first. -1: there is none of that name. */
int page_lamp(const Score *score, const char *name);
const char *page_lamp_name(const Score *score, int lamp); /* "" where none is declared */

/* Hidden files, each for as long as the player reads it: a draft that is tried, beside the home
 * file; the routine that shows the code, beside the state file. False: the name is too long, or
 * there is no state file. */
bool page_trial(const Page *page, char path[PAGE_PATH]);
bool page_code(const Page *page, char path[PAGE_PATH]);

/* "2026-03-31T01:40:00Z" */
json_t *page_instant(int64_t utc_seconds);

#endif
