/* The player in a terminal. It knows nothing of files and programs: light comes from a function. */
#ifndef GLOAM_COMMAND_PREVIEW_H
#define GLOAM_COMMAND_PREVIEW_H

#include "backends/palette.h"
#include "runtime/light/shape.h"

typedef struct PreviewRoutine {
    const char *name;
    int64_t lasts; /* microseconds; 0: goes on */
} PreviewRoutine;

/* HELD: the flash guard shows less than this light; the same light must be shown again. */
typedef enum Rendered { RENDER_FAILED, RENDER_FINE, RENDER_HELD } Rendered;

typedef struct PreviewOptions {
    int input, output; /* descriptors: keys are taken where input is a terminal; where output is
                          none, a few still lines are printed instead of playing */
    const Shape *shape;
    const PreviewRoutine *routines;
    int routine_count, routine; /* how many; which one first */
    double fps;                 /* at least 1 */
    double speed;
    int64_t start;  /* microseconds of the routine */
    int64_t length; /* it ends by itself after so much of the routine; -1: only with a key */
    ColourChoice colour;
    bool ascii;

    void *context;
    /* Fills 3 floats a pixel with the light of a routine as the lamp shows it at `shown`, which
     * never falls. FAILED: out of memory. */
    Rendered (*render)(void *context, int routine, int64_t microseconds, int64_t shown,
                       float *light);
    /* From when on the routine's light rests; INT64_MAX: never. NULL: it never does. */
    int64_t (*still_from)(void *context, int routine);
} PreviewOptions;

/* Plays until the end or `q`; the terminal is put back on every way out, also by signals. An exit
 * status of command.h; what was wrong is said. A signal that asked to end is raised again after all
 * is put back. */
int preview_run(const PreviewOptions *options);

#endif
