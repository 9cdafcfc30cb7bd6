/* Light in a picture: a column is the mean of the frames that were added, pixels run from top to
 * bottom. Each pixel of the lamp has the same number of lines, or neighbours share a row. */
#ifndef GLOAM_BACKENDS_STRIP_H
#define GLOAM_BACKENDS_STRIP_H

#include "backends/canvas.h"
#include "runtime/light/encode.h"

typedef struct Strip {
    int x, y, width, height;
    uint32_t pixels, rows;
    int gap;         /* below each row */
    uint32_t frames; /* added since the last column */
    ScreenTable screen;
    float *shown; /* the last frame after the gamut step */
    float *sums;  /* of the frames, by row */
    float *means;
    uint8_t *inks;
} Strip;

/* So many rows that each has a line; x and y are the caller's to set. False: out of memory;
 * strip_release is fine in either case. */
bool strip_create(Strip *strip, uint32_t pixels, uint32_t rows, int width, int height);
void strip_release(Strip *strip);

/* 3 floats a pixel, linear. */
void strip_add(Strip *strip, const float *light);
/* Draws a column from what was added, else from the last frame before it, and begins the next. */
void strip_column(Strip *strip, Canvas *canvas, int column);

#endif
