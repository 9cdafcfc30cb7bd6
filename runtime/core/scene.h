/* What a routine is a function of, besides its dials: the moment and the lamp. */
#ifndef GLOAM_CORE_SCENE_H
#define GLOAM_CORE_SCENE_H

#include "runtime/core/program.h"

/* The inputs of one frame, by Input; INPUT_PIXELS is filled in by the machine. */
typedef struct Moment {
    double input[INPUT_COUNT];
} Moment;

/* Where the pixels of a lamp sit. Arrays have `pixels` entries, by Field; the scene is read only
 * and outlives the machine. `groups[g]` is an array of truths for the g-th name that the program
 * asks for, or NULL where the lamp has no such name. */
typedef struct Scene {
    uint32_t pixels;
    const double *field[FIELD_COUNT];
    uint32_t group_count;
    const unsigned char *const *groups;
} Scene;

#endif
