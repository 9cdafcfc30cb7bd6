/* What is said while light covers the terminal: the player's own sentences and those of programs
 * that it started are kept back, the newest are shown below the light, and all are given when the
 * terminal is free again. */
#ifndef GLOAM_COMMAND_RUN_SAID_H
#define GLOAM_COMMAND_RUN_SAID_H

#include "runtime/player/player.h"

enum {
    RUN_SAID_KEPT = 16384, /* bytes of what was said last */
    RUN_SAID_LINE = 256    /* bytes that are shown at once */
};

typedef struct RunSaid {
    Loop *loop;
    Player *player;
    int own;    /* standard error as it was; -1: it was left as it is */
    int source; /* what is written to standard error comes out here */
    char kept[RUN_SAID_KEPT];
    size_t length;
    uint64_t left_out; /* lines that there was no room for */
} RunSaid;

/* Only where standard error is a terminal: a file or a pipe gets what is said at once, as ever.
 * False: errno; nothing has changed. The loop lives until run_said_end, the player as long as the
 * loop is waited for. */
bool run_said_begin(RunSaid *said, Loop *loop, Player *player);
/* After the light has left the terminal. Fine without a begin, of one that is `{.own = -1}`. */
void run_said_end(RunSaid *said);

#endif
