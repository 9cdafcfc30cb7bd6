/* A home file with what was done by hand in it: for the commands that act on a state file. */
#ifndef GLOAM_COMMAND_HOME_H
#define GLOAM_COMMAND_HOME_H

#include "runtime/command/load.h"
#include "runtime/library/state_file.h"
#include "runtime/player/trust.h"

typedef struct Home {
    Loaded loaded;
    Zone *zone;
    World world;
    Now now;
    char trust[256]; /* a sentence on the clock */
    Overrides *overrides;
    const char *path; /* of the state file */
    int lock;         /* descriptor; -1: none */
} Home;

/* Reads --home and --state, says what was wrong with either, and locks the state file where it is
 * to be changed. With --clock the clock is that one, and trusted. home_close in either case. */
int home_open(Home *home, const Options *options, bool change);
/* Writes the state file. */
int home_save(Home *home);
void home_close(Home *home);

#endif
