/* Where a run keeps what it must know after a restart, and who started it. */
#ifndef GLOAM_COMMAND_RUN_PLACE_H
#define GLOAM_COMMAND_RUN_PLACE_H

#include "backends/e131_packet.h"
#include "runtime/command/command.h"

typedef struct RunPlace {
    char *state; /* the state file; NULL: nothing is kept */
    int lock;    /* descriptor; -1 */
    uint8_t cid[E131_CID_BYTES];
    const char *notify; /* NOTIFY_SOCKET, or NULL */
    int64_t watchdog;   /* microseconds; 0: none */
} RunPlace;

/* --state, else the folder of the service manager, else that of the user; with `trying` only what
 * --state says. The state file is locked: one player at a time. run_place_end in either case. */
int run_place(RunPlace *place, const Options *options, bool trying);
void run_place_end(RunPlace *place);

#endif
