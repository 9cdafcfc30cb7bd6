/* The colours a terminal has. */
#ifndef GLOAM_BACKENDS_PALETTE_H
#define GLOAM_BACKENDS_PALETTE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef enum Depth {
    DEPTH_NONE, /* no colours: brightness as ASCII characters */
    DEPTH_16,
    DEPTH_256,
    DEPTH_TRUE
} Depth;

typedef enum ColourChoice { COLOUR_AUTO, COLOUR_ALWAYS, COLOUR_NEVER } ColourChoice;

/* What the environment says; NULL where a variable is not set. */
typedef struct PaletteEnvironment {
    const char *no_color, *colorterm, *term;
} PaletteEnvironment;

PaletteEnvironment palette_environment(void);

/* NO_COLOR that is not empty means no colours, unless they were asked for (no-color.org). */
Depth palette_depth(ColourChoice choice, bool is_terminal, const PaletteEnvironment *environment);

/* A colour of sRGB bytes as the code of a depth: 0xRRGGBB, the number of the palette of 256 or 16
 * colours, 0 without colours. */
uint32_t palette_code(Depth depth, uint8_t r, uint8_t g, uint8_t b);

/* Writes the sequence that sets the colour of letters or of the ground; gives its length, at most
 * PALETTE_LONGEST. */
enum { PALETTE_LONGEST = 20 };
size_t palette_sequence(Depth depth, bool ground, uint32_t code, char *into);

/* A character as bright as the colour, from `.` to `@`. */
char palette_letter(uint8_t r, uint8_t g, uint8_t b);

#endif
