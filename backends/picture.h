/* Light as one PNG: time from left to right, pixels from top to bottom, as a screen shows it. */
#ifndef GLOAM_BACKENDS_PICTURE_H
#define GLOAM_BACKENDS_PICTURE_H

#include "backends/backend.h"

enum {
    PICTURE_SMALLEST_WIDTH = 240,
    PICTURE_SMALLEST_HEIGHT = 160,
    PICTURE_LARGEST = 8192 /* of either */
};

/* `own` of the options: needed. */
typedef struct PictureOptions {
    int64_t start, length; /* microseconds: what the time axis shows; length at least 0 */
    double fps;            /* frames a second that a lamp would show; at least 1 */
    int width, height;     /* of the whole picture, 0: chosen; else from the smallest to the
                              largest above */
    const char *note;      /* small, to the right of the title, or NULL: "ring of 16" */
    bool clock;            /* the time axis has clock readings instead of durations */
    int64_t midnight;      /* clock: microseconds from local midnight to `start` */
} PictureOptions;

/* Takes frames whose time never falls. A column is the mean of the light of its frames, each after
 * the gamut step; a column without a frame shows the one before. The file is written by close. */
extern const BackendKind picture_backend;

/* The light at a time of the axis: 3 floats a pixel, valid until the next call; NULL: trouble. */
typedef const float *(*PictureRender)(void *context, int64_t microseconds);

/* The whole picture: asks for as many moments a column as a lamp shows frames, at most 64, spread
 * evenly. False: *error has the sentence. */
bool picture_draw(const BackendOptions *options, PictureRender render, void *context,
                  BackendError *error);

#endif
