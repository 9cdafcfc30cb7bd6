#include "backends/palette.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

PaletteEnvironment palette_environment(void) {
    return (PaletteEnvironment){getenv("NO_COLOR"), getenv("COLORTERM"), getenv("TERM")};
}

static bool palette_ends(const char *text, const char *end) {
    size_t length = strlen(text), tail = strlen(end);
    return length >= tail && strcmp(text + length - tail, end) == 0;
}

static Depth palette_depth_of_term(const PaletteEnvironment *environment) {
    const char *term = environment->term, *colorterm = environment->colorterm;
    if (term == NULL || *term == '\0' || strcmp(term, "dumb") == 0)
        return DEPTH_NONE;
    if (colorterm != NULL &&
        (strcmp(colorterm, "truecolor") == 0 || strcmp(colorterm, "24bit") == 0))
        return DEPTH_TRUE;
    if (palette_ends(term, "-direct"))
        return DEPTH_TRUE;
    return strstr(term, "256color") != NULL ? DEPTH_256 : DEPTH_16;
}

Depth palette_depth(ColourChoice choice, bool is_terminal, const PaletteEnvironment *environment) {
    bool refused = environment->no_color != NULL && *environment->no_color != '\0';
    Depth depth = palette_depth_of_term(environment);
    if (choice == COLOUR_NEVER || (choice == COLOUR_AUTO && (refused || !is_terminal)))
        return DEPTH_NONE;
    return choice == COLOUR_ALWAYS && depth == DEPTH_NONE ? DEPTH_256 : depth;
}

static int square_of(int value) {
    return value * value;
}

static int palette_apart(const uint8_t *a, int r, int g, int b) {
    return square_of(a[0] - r) + square_of(a[1] - g) + square_of(a[2] - b);
}

/* The nearest step of the cube of 6 by 6 by 6 colours. */
static int palette_step(uint8_t value) {
    static const uint8_t halves[] = {48, 115, 155, 195, 235};
    int step = 0;
    while (step < 5 && value >= halves[step])
        step++;
    return step;
}

static uint32_t palette_256(const uint8_t *colour) {
    static const uint8_t levels[] = {0, 95, 135, 175, 215, 255};
    int r = palette_step(colour[0]), g = palette_step(colour[1]), b = palette_step(colour[2]);
    int mean = (colour[0] + colour[1] + colour[2]) / 3;
    int grey = mean < 8 ? 0 : mean > 238 ? 23 : (mean - 3) / 10;
    int shade = 8 + 10 * grey;
    if (palette_apart(colour, shade, shade, shade) <
        palette_apart(colour, levels[r], levels[g], levels[b]))
        return (uint32_t)(232 + grey);
    return (uint32_t)(16 + 36 * r + 6 * g + b);
}

/* Colours 0 to 15 as terminals name them: black, red, green, yellow, blue, magenta, cyan, white,
 * then the same brighter. What they look like is the user's choice, so hue counts more than
 * distance. */
static uint32_t palette_16(const uint8_t *colour) {
    int most = 0, least = 255;
    for (int i = 0; i < 3; i++) {
        most = colour[i] > most ? colour[i] : most;
        least = colour[i] < least ? colour[i] : least;
    }
    if (most < 40)
        return 0;
    if (most - least < most / 4)
        return most < 90 ? 8 : most < 200 ? 7 : 15;
    int middle = (most + least) / 2;
    uint32_t hue = 0;
    for (int i = 0; i < 3; i++)
        hue |= (uint32_t)(colour[i] > middle) << i;
    return hue + (most >= 192 ? 8 : 0);
}

uint32_t palette_code(Depth depth, uint8_t r, uint8_t g, uint8_t b) {
    const uint8_t colour[3] = {r, g, b};
    switch (depth) {
    case DEPTH_NONE:
        break;
    case DEPTH_16:
        return palette_16(colour);
    case DEPTH_256:
        return palette_256(colour);
    case DEPTH_TRUE:
        return (uint32_t)r << 16 | (uint32_t)g << 8 | b;
    }
    return 0;
}

static char *palette_number(char *into, uint32_t value) {
    if (value >= 100)
        *into++ = (char)('0' + value / 100);
    if (value >= 10)
        *into++ = (char)('0' + value / 10 % 10);
    *into++ = (char)('0' + value % 10);
    return into;
}

size_t palette_sequence(Depth depth, bool ground, uint32_t code, char *into) {
    char *next = into;
    if (depth == DEPTH_NONE)
        return 0;
    *next++ = '\x1b';
    *next++ = '[';
    if (depth == DEPTH_16) {
        next = palette_number(next, (code < 8 ? 30 : 82) + code + (ground ? 10 : 0));
    } else {
        next = palette_number(next, ground ? 48 : 38);
        *next++ = ';';
        *next++ = depth == DEPTH_TRUE ? '2' : '5';
        for (int shift = depth == DEPTH_TRUE ? 16 : 0; shift >= 0; shift -= 8) {
            *next++ = ';';
            next = palette_number(next, code >> shift & 255);
        }
    }
    *next++ = 'm';
    return (size_t)(next - into);
}

char palette_letter(uint8_t r, uint8_t g, uint8_t b) {
    static const char letters[] = ".:-=+*#%@";
    /* Weights of light on encoded values: good enough to order nine shades. */
    int bright = (54 * r + 183 * g + 19 * b) / 256;
    int shade = (bright * 8 + 127) / 255;
    /* The faintest night light is not told as darkness. */
    return letters[shade == 0 && (r || g || b) ? 1 : shade];
}
