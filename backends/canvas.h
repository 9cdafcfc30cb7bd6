/* A picture in memory: rows of 8-bit sRGB from the top, filled rectangles, text. What lies outside
 * is not drawn. */
#ifndef GLOAM_BACKENDS_CANVAS_H
#define GLOAM_BACKENDS_CANVAS_H

#include <stdbool.h>
#include <stdint.h>

#include "backends/font.h"

typedef struct Ink {
    uint8_t r, g, b;
} Ink;

/* Of all pictures. */
extern const Ink ink_ground, ink_title, ink_label, ink_mark;

typedef struct Canvas {
    int width, height;
    uint8_t *bytes; /* 3 * width * height */
} Canvas;

/* False: out of memory. */
bool canvas_create(Canvas *canvas, int width, int height, Ink ink);
void canvas_release(Canvas *canvas);

void canvas_fill(Canvas *canvas, int x, int y, int width, int height, Ink ink);

/* Letters outside ASCII are drawn as `?`, one a character of UTF-8. */
int canvas_text_width(const Font *font, const char *text);
void canvas_text(Canvas *canvas, const Font *font, int x, int base, const char *text, Ink ink);

#endif
