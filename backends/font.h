/* The letters of pictures: rendered from a font file when Gloam is built, by font/render.c. */
#ifndef GLOAM_BACKENDS_FONT_H
#define GLOAM_BACKENDS_FONT_H

#include <stdint.h>

enum { FONT_FIRST = 32, FONT_LAST = 126, FONT_GLYPHS = FONT_LAST - FONT_FIRST + 1 };

typedef struct Glyph {
    int16_t left, top;      /* of the bitmap from the pen; top upward from the base line */
    uint16_t width, height; /* of the bitmap */
    uint16_t advance;       /* 1/64 pixels */
    uint32_t first;         /* index of its first byte in `shades`, row by row, 0..255 */
} Glyph;

typedef struct Font {
    int16_t ascent, descent; /* pixels above and below the base line, both positive */
    const uint8_t *shades;
    const Glyph *glyphs; /* ASCII from FONT_FIRST on */
} Font;

extern const Font font_label, font_title;

#endif
