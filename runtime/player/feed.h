/* What one caller watches: the state of the player, and the light of lamps. It is told of changes,
 * the newest and not too often; nobody watches, nothing is done. */
#ifndef GLOAM_PLAYER_FEED_H
#define GLOAM_PLAYER_FEED_H

#include "runtime/player/caller.h"
#include "runtime/player/player.h"

enum {
    FEED_LAMPS = 16,
    FEED_NAME = 128,
    FEED_PIXELS = 2048, /* of a larger lamp every k-th goes out */
    FEED_RATE = 30,     /* frames a second at most */
    FEED_USUAL = 15
};
#define FEED_STATE_EVERY INT64_C(100000)
#define FEED_NEVER INT64_MAX

typedef struct FeedLamp {
    char name[FEED_NAME]; /* "": the one that is not declared */
    int64_t period, next;
    bool told;
    uint64_t frame; /* that was told last */
} FeedLamp;

typedef struct Feed {
    bool state, told;
    uint64_t version;
    int64_t next;  /* monotonic: not before */
    int64_t stale; /* utc: from then on it is another */
    uint32_t count;
    FeedLamp lamps[FEED_LAMPS];
} Feed;

/* The words behind `watch`: `state`, `light [on lamp NAME] [at F]`, `nothing`. False: `said`. */
bool feed_watch(Feed *feed, const Player *player, const char *words, char *said, size_t size);

/* Tells what is due. Returns when it is to be asked again at the latest, by the system's monotonic
 * clock; FEED_NEVER: after the player's next turn. */
int64_t feed_turn(Feed *feed, Caller *caller, const Player *player, int64_t monotonic);

/* Every how many pixels one is told, of a lamp with so many. */
uint32_t feed_step(uint32_t pixels);

/* The answer to `status`, memory_allocate'd, of any length; NULL: out of memory. */
char *feed_status(const Player *player, bool json, size_t *length);

#endif
