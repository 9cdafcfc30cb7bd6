/* Days as one PNG: a row a day, its 24 hours by the clock from left to right, the pixels of the
 * lamp from top to bottom; over the light the names of what begins, under it the daylight. */
#ifndef GLOAM_BACKENDS_DAYS_H
#define GLOAM_BACKENDS_DAYS_H

#include "backends/backend.h"

enum {
    DAYS_LIGHTS = 3,
    DAYS_SMALLEST_WIDTH = 640,
    DAYS_SMALLEST_HEIGHT = 240, /* of one row; each other needs DAYS_ROW_HEIGHT more */
    DAYS_ROW_HEIGHT = 80
};

/* Hours are readings of the clock, 0 to 24. */
typedef struct DaysName {
    double hour;
    const char *text;
} DaysName;

typedef struct DaysRow {
    const char *label; /* left of the row, or NULL */
    const char *note;  /* of the day, over its right end, or NULL: "clocks go forward" */
    bool sun;          /* it is known when it is light */
    uint32_t light_count;
    double light[DAYS_LIGHTS][2]; /* daylight, from and to */
    /* Said at the hours at which they happen, or beside the row where there are several. */
    double rises, sets;
    const char *rise_text, *set_text; /* or NULL */
    uint32_t name_count;
    const DaysName *names; /* in the order of their hours */
} DaysRow;

/* `own` of the options: needed. */
typedef struct DaysOptions {
    int width, height; /* of the whole picture, 0: chosen */
    const char *note;  /* small, to the right of the title, or NULL */
    uint32_t row_count;
    const DaysRow *rows;
    int moments; /* that a column shows, at least 1 */
} DaysOptions;

/* The light at an hour of a row, until the next call; *none: the clock does not show that hour.
 * NULL without *none: trouble. */
typedef const float *(*DaysRender)(void *context, uint32_t row, double hour, bool *none);

/* Names that find no room, because others stand too near, are left out. False: *error has the
 * sentence. */
bool days_draw(const BackendOptions *options, DaysRender render, void *context,
               BackendError *error);

#endif
