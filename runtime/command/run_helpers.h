/* What `run` starts beside the player: the lamp's page, and its client of a broker. */
#ifndef GLOAM_COMMAND_RUN_HELPERS_H
#define GLOAM_COMMAND_RUN_HELPERS_H

#include "runtime/command/command.h"
#include "runtime/player/helper.h"
#include "runtime/player/names.h"

typedef struct RunHelpers {
    HelperRequest page_request, broker_request;
    Helper *page, *broker;
    char page_path[4096], broker_path[4096], home[4096], id[NAME_BYTES], listen[64];
    int handed; /* a socket that the service manager opened; -1 */
} RunHelpers;

/* Whether the options fit together: EXIT_DONE, or the exit status, said. To be asked before
 * anything is opened. */
int run_helpers_check(const Options *options);

/* Starts what is asked for and installed; what is not installed is said. `base` has what both need:
 * loop, player, socket, say, context. `shows`: the player stands in for a lamp on a terminal or in
 * a file, where there is a page only when it is asked for. */
void run_helpers_start(RunHelpers *helpers, const Options *options, const char *state, bool shows,
                       const HelperRequest *base);
void run_helpers_end(RunHelpers *helpers);

#endif
