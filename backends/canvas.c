#include "backends/canvas.h"

#include "runtime/core/memory.h"

const Ink ink_ground = {0x16, 0x18, 0x1d}, ink_title = {0xf2, 0xf3, 0xf5};
const Ink ink_label = {0xa7, 0xad, 0xb8}, ink_mark = {0x5d, 0x63, 0x6e};

bool canvas_create(Canvas *canvas, int width, int height, Ink ink) {
    canvas->width = width;
    canvas->height = height;
    canvas->bytes = memory_allocate((size_t)width * (size_t)height, 3);
    if (canvas->bytes == NULL)
        return false;
    canvas_fill(canvas, 0, 0, width, height, ink);
    return true;
}

void canvas_release(Canvas *canvas) {
    memory_release(canvas->bytes);
    canvas->bytes = NULL;
}

static uint8_t *canvas_at(Canvas *canvas, int x, int y) {
    return canvas->bytes + 3 * ((size_t)y * (size_t)canvas->width + (size_t)x);
}

static int canvas_within(int value, int most) {
    return value < 0 ? 0 : value > most ? most : value;
}

void canvas_fill(Canvas *canvas, int x, int y, int width, int height, Ink ink) {
    int left = canvas_within(x, canvas->width), right = canvas_within(x + width, canvas->width);
    int top = canvas_within(y, canvas->height), end = canvas_within(y + height, canvas->height);
    for (int row = top; row < end; row++) {
        uint8_t *byte = canvas_at(canvas, left, row);
        for (int column = left; column < right; column++) {
            *byte++ = ink.r;
            *byte++ = ink.g;
            *byte++ = ink.b;
        }
    }
}

static uint8_t canvas_mix(uint8_t below, uint8_t above, int shade) {
    return (uint8_t)((below * (255 - shade) + above * shade + 127) / 255);
}

static void canvas_glyph(Canvas *canvas, const Font *font, const Glyph *glyph, int x, int base,
                         Ink ink) {
    for (int row = 0; row < glyph->height; row++)
        for (int column = 0; column < glyph->width; column++) {
            int across = x + glyph->left + column, down = base - glyph->top + row;
            if (across < 0 || across >= canvas->width || down < 0 || down >= canvas->height)
                continue;
            int shade = font->shades[glyph->first + (uint32_t)(row * glyph->width + column)];
            uint8_t *byte = canvas_at(canvas, across, down);
            byte[0] = canvas_mix(byte[0], ink.r, shade);
            byte[1] = canvas_mix(byte[1], ink.g, shade);
            byte[2] = canvas_mix(byte[2], ink.b, shade);
        }
}

/* The next letter; NULL at the end. */
static const Glyph *canvas_next(const Font *font, const char **text) {
    unsigned char letter = (unsigned char)*(*text)++;
    if (letter == '\0')
        return NULL;
    while ((**text & 0xC0) == 0x80)
        (*text)++;
    bool known = letter >= FONT_FIRST && letter <= FONT_LAST;
    return &font->glyphs[(known ? letter : '?') - FONT_FIRST];
}

int canvas_text_width(const Font *font, const char *text) {
    int width = 0;
    for (const Glyph *glyph; (glyph = canvas_next(font, &text)) != NULL;)
        width += glyph->advance;
    return (width + 63) / 64;
}

void canvas_text(Canvas *canvas, const Font *font, int x, int base, const char *text, Ink ink) {
    int pen = x * 64;
    for (const Glyph *glyph; (glyph = canvas_next(font, &text)) != NULL;) {
        canvas_glyph(canvas, font, glyph, (pen + 32) / 64, base, ink);
        pen += glyph->advance;
    }
}
