/* Renders the letters of pictures from font files into a C table on standard output. Runs while
 * Gloam is built; only its output becomes part of the program.
 * render LABEL.ttf PIXELS TITLE.ttf PIXELS */
#include <ft2build.h>
#include FT_FREETYPE_H

#include <stdio.h>
#include <stdlib.h>

#include "backends/font.h"

static int trouble(const char *what, const char *path) {
    fprintf(stderr, "render: %s: %s\n", path, what);
    return 1;
}

static int render_glyph(FT_Face face, int letter, unsigned *count, Glyph *glyph) {
    if (FT_Load_Char(face, (FT_ULong)letter, FT_LOAD_RENDER | FT_LOAD_TARGET_LIGHT))
        return 1;
    const FT_GlyphSlot slot = face->glyph;
    const FT_Bitmap *bitmap = &slot->bitmap;
    *glyph = (Glyph){(int16_t)slot->bitmap_left, (int16_t)slot->bitmap_top, (uint16_t)bitmap->width,
                     (uint16_t)bitmap->rows,     (uint16_t)slot->advance.x, *count};
    for (unsigned row = 0; row < bitmap->rows; row++)
        for (unsigned column = 0; column < bitmap->width; column++)
            printf("%s%d,", (*count)++ % 24 == 0 ? "\n    " : "",
                   bitmap->buffer[row * (unsigned)bitmap->pitch + column]);
    return 0;
}

static int render_font(FT_Library library, const char *name, const char *path, unsigned pixels) {
    FT_Face face;
    Glyph glyphs[FONT_GLYPHS];
    unsigned count = 0;
    if (FT_New_Face(library, path, 0, &face))
        return trouble("cannot be read as a font", path);
    if (FT_Set_Pixel_Sizes(face, 0, pixels))
        return trouble("has no such size", path);
    printf("/* %s %s, %u pixels */\nstatic const uint8_t %s_shades[] = {", face->family_name,
           face->style_name, pixels, name);
    for (int i = 0; i < FONT_GLYPHS; i++)
        if (render_glyph(face, FONT_FIRST + i, &count, &glyphs[i]))
            return trouble("lacks a letter of ASCII", path);
    printf("};\nstatic const Glyph %s_glyphs[] = {\n", name);
    for (int i = 0; i < FONT_GLYPHS; i++)
        printf("    {%d, %d, %u, %u, %u, %u},\n", glyphs[i].left, glyphs[i].top, glyphs[i].width,
               glyphs[i].height, glyphs[i].advance, (unsigned)glyphs[i].first);
    printf("};\nconst Font %s = {%ld, %ld, %s_shades, %s_glyphs};\n\n", name,
           face->size->metrics.ascender / 64, -face->size->metrics.descender / 64, name, name);
    FT_Done_Face(face);
    return 0;
}

int main(int count, char **words) {
    FT_Library library;
    if (count != 5 || FT_Init_FreeType(&library)) {
        fprintf(stderr, "render LABEL.ttf PIXELS TITLE.ttf PIXELS\n");
        return 2;
    }
    printf("#include \"backends/font.h\"\n\n");
    int status = render_font(library, "font_label", words[1], (unsigned)atoi(words[2]));
    if (status == 0)
        status = render_font(library, "font_title", words[3], (unsigned)atoi(words[4]));
    FT_Done_FreeType(library);
    return status || fflush(stdout) != 0;
}
