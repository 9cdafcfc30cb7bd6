/* A disk that fails, or whose power goes, at a step: each call of a StateDisk is one. */
#ifndef GLOAM_TESTS_SUPPORT_STEP_DISK_H
#define GLOAM_TESTS_SUPPORT_STEP_DISK_H

#include <stdbool.h>
#include <stddef.h>

#include "runtime/library/state_file.h"

/* KILLED: the process ends by SIGKILL before the step is done, or after it. */
typedef enum StepTrouble { STEP_FAILS, STEP_KILLED_BEFORE, STEP_KILLED_AFTER } StepTrouble;

typedef struct StepDisk {
    const StateDisk *beneath; /* does what does not fail; NULL: state_disk */
    StepTrouble trouble;
    int at;           /* the step at which it comes, from 1; 0: never */
    bool lasting;     /* all that follow fail too */
    int error;        /* errno of what fails */
    size_t most;      /* what a write takes at once; 0: all */
    size_t part;      /* what a write at step `at` has written before it fails */
    bool interrupted; /* each write is interrupted once before it is done */
    /* Since it was set: steps, and a letter for each of the first. c creates, w writes, s syncs,
     * x closes, r renames, d removes, f syncs the folder. */
    int done;
    char trace[128];
} StepDisk;

extern StepDisk stepped; /* set by the test: what step_disk does from then on */
extern const StateDisk step_disk;

#endif
