/* Where a run keeps what it must know after a restart, and who started it. */
#ifndef GLOAM_COMMAND_RUN_PLACE_H
#define GLOAM_COMMAND_RUN_PLACE_H

#include "backends/e131_packet.h"
#include "runtime/command/command.h"

typedef struct RunPlace {
    char *state;    /* the state file; NULL: nothing is kept */
    int lock;       /* descriptor; -1 */
    char *socket;   /* where others may tell the player; NULL: nowhere */
    char mute[256]; /* why nowhere, where there should be a place; "" */
    uint8_t cid[E131_CID_BYTES];
    const char *notify; /* NOTIFY_SOCKET, or NULL */
    int64_t watchdog;   /* microseconds; 0: none */
} RunPlace;

/* --state, else the folder of the service manager, else that of the user; with `trying` only what
 * --state says. The state file is locked: one player at a time. run_place_end in either case. */
int run_place(RunPlace *place, const Options *options, bool trying);
void run_place_end(RunPlace *place);

/* Whether what --state names may become a state: it is not the home file, nor any other file that
 * is no state. What is wrong has been said. */
int run_state_check(const char *state, const char *home);

/* The usual place of a player's socket, for the player itself (its folder is made) or for whoever
 * looks for one; false: there is none. */
enum { RUN_SOCKET_BYTES = 108 };
bool run_socket(char path[RUN_SOCKET_BYTES], bool own);
/* Whether the environment names a folder for it. */
bool run_socket_is_named(void);

/* Takes the lock that is on a file beside the state, since the state itself is replaced: a player
 * holds it as long as it runs, who changes the state for a moment. *lock is a descriptor, or -1.
 * `advice` is what to do where a player runs. */
int run_lock(const char *state, const char *advice, int *lock);

#endif
