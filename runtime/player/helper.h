/* A program that the player starts and talks with over a socket of its own: started again when it
 * ends, after a pause that grows, and never waited for. */
#ifndef GLOAM_PLAYER_HELPER_H
#define GLOAM_PLAYER_HELPER_H

#include "runtime/player/socket.h"

enum {
    HELPER_WORDS = 64,
    HELPER_LINK = 3,  /* the descriptor at which it finds its end of the socket */
    HELPER_PASSED = 4 /* and what else is handed to it */
};
#define HELPER_PAUSE_FIRST INT64_C(1000000)
#define HELPER_PAUSE_MOST INT64_C(60000000)
/* One that lived so long was a good one: the pause begins anew. */
#define HELPER_STEADY INT64_C(60000000)

typedef struct HelperRequest {
    const char *path;                /* of the program */
    const char *words[HELPER_WORDS]; /* its own name first, NULL at the end; outlive it */
    int passed;                      /* a descriptor; -1: none. Stays the caller's */
    Loop *loop;
    Player *player;
    PlayerSocket *socket;
    void (*say)(void *context, PlayerGravity gravity, const char *sentence);
    void *context;
} HelperRequest;

typedef struct Helper Helper;

/* Starts it; where that fails it is said, and tried again like one that ended. NULL: out of memory
 * or descriptors. */
Helper *helper_start(const HelperRequest *request);
/* Asks it to end, by SIGTERM, and does not wait. NULL is fine. */
void helper_ask(Helper *helper);
/* Ends it: asks, and SIGKILL a second after it was asked. NULL is fine. */
void helper_end(Helper *helper);

#endif
