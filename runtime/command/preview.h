/* The player in a terminal. It knows nothing of files and programs: light comes from functions that
 * are given what is shown, a routine or a timetable, by its number. */
#ifndef GLOAM_COMMAND_PREVIEW_H
#define GLOAM_COMMAND_PREVIEW_H

#include "backends/palette.h"
#include "runtime/light/shape.h"

typedef struct PreviewRoutine {
    const char *name;
    int64_t lasts;  /* microseconds; 0: goes on */
    bool timetable; /* time is the clock's: it goes on though nothing moves, and far back */
} PreviewRoutine;

enum { PREVIEW_WORDS = 192 };

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
    int64_t start;  /* position: microseconds of the routine, or since the clock's beginning */
    int64_t length; /* it ends by itself after so much of that; -1: only with a key */
    ColourChoice colour;
    bool ascii;

    void *context;
    /* Fills 3 floats a pixel with the light of a routine as the lamp shows it at `shown`, which
     * never falls. FAILED: out of memory. */
    Rendered (*render)(void *context, int routine, int64_t microseconds, int64_t shown,
                       float *light);
    /* The first position at which its light can differ from that at `position`, which is that where
     * something moves; INT64_MAX: it rests for good. NULL: it always moves. */
    int64_t (*changes)(void *context, int routine, int64_t position);
    /* Of a timetable: what plays and why, and what the clock on the wall shows. */
    void (*describe)(void *context, int64_t position, char title[PREVIEW_WORDS],
                     char clock[PREVIEW_WORDS]);
} PreviewOptions;

/* Plays until the end or `q`; the terminal is put back on every way out, also by signals. An exit
 * status of command.h; what was wrong is said. A signal that asked to end is raised again after all
 * is put back. */
int preview_run(const PreviewOptions *options);

#endif
