/* Reads the CSS colours of the check tables, as much of the syntax as they use, and makes them
 * with the functions under test. */
#ifndef GLOAM_TESTS_CSS_COLOUR_H
#define GLOAM_TESTS_CSS_COLOUR_H

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "runtime/core/colour.h"

typedef struct CssColour {
    Colour light;
    bool alpha;   /* has an alpha below 1 */
    bool missing; /* has a component `none` (taken as 0) */
    int decimals; /* of the first number */
    char kind[16];
} CssColour;

typedef struct CssNumber {
    double value;
    char unit[8];
} CssNumber;

static inline int css_hex_digit(char c) {
    const char *digits = "0123456789abcdef";
    const char *at = c ? strchr(digits, c) : NULL;
    return at ? (int)(at - digits) : -1;
}

/* #rgb, #rgba, #rrggbb, #rrggbbaa */
static inline bool css_read_hex(const char *text, CssColour *out) {
    const size_t length = strspn(text + 1, "0123456789abcdef");
    if (length != 3 && length != 4 && length != 6 && length != 8)
        return false;
    int channels[4] = {0, 0, 0, 255};
    const bool two = length > 4;
    for (size_t i = 0; i < length / (two ? 2 : 1); i++) {
        const int high = css_hex_digit(text[1 + (two ? 2 * i : i)]);
        const int low = css_hex_digit(text[1 + (two ? 2 * i + 1 : i)]);
        channels[i] = 16 * high + low;
    }
    out->light = colour_rgb(channels[0], channels[1], channels[2]);
    out->alpha = channels[3] < 255;
    strcpy(out->kind, "hex");
    return true;
}

static inline bool css_word(char c) {
    return (c >= 'a' && c <= 'z') || c == '(';
}

static inline bool css_read_name(const char *text, CssColour *out) {
    static const char *const names[][2] = {{"red", "#ff0000"},   {"white", "#ffffff"},
                                           {"black", "#000000"}, {"blue", "#0000ff"},
                                           {"lime", "#00ff00"},  {"yellow", "#ffff00"}};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        const size_t length = strlen(names[i][0]);
        if (strncmp(text, names[i][0], length) == 0 && !css_word(text[length]))
            return css_read_hex(names[i][1], out);
    }
    return false;
}

/* A number times `whole` where it is a percentage. */
static inline double css_part(CssNumber number, double whole) {
    return number.unit[0] == '%' ? number.value / 100.0 * whole : number.value;
}

/* A percentage that CSS lets be written without its sign. */
static inline double css_percent(CssNumber number) {
    return number.value / 100.0;
}

static inline double css_turns(CssNumber number) {
    if (strcmp(number.unit, "rad") == 0)
        return number.value / 6.283185307179586;
    return number.value / 360.0;
}

static inline bool css_make(const char *name, const CssNumber *n, CssColour *out) {
    if (strcmp(name, "rgb") == 0)
        out->light =
            colour_rgb(css_part(n[0], 255.0), css_part(n[1], 255.0), css_part(n[2], 255.0));
    else if (strcmp(name, "hsl") == 0)
        out->light = colour_hsl(css_turns(n[0]), css_percent(n[1]), css_percent(n[2]));
    else if (strcmp(name, "hwb") == 0)
        out->light = colour_hwb(css_turns(n[0]), css_percent(n[1]), css_percent(n[2]));
    else if (strcmp(name, "oklab") == 0)
        out->light = colour_oklab(css_part(n[0], 1.0), css_part(n[1], 0.4), css_part(n[2], 0.4));
    else if (strcmp(name, "oklch") == 0)
        out->light = colour_oklch(css_part(n[0], 1.0), css_part(n[1], 0.4), css_turns(n[2]));
    else
        return false;
    return true;
}

/* One colour at the start of text. False: not read. */
static inline bool css_read(const char *text, CssColour *out) {
    memset(out, 0, sizeof *out);
    if (text[0] == '#')
        return css_read_hex(text, out);
    if (css_read_name(text, out))
        return true;
    const size_t length = strcspn(text, "(");
    if (length >= sizeof out->kind || text[length] != '(')
        return false;
    memcpy(out->kind, text, length);
    if (strcmp(out->kind, "rgba") == 0)
        out->kind[3] = '\0';
    CssNumber numbers[4] = {0};
    int count = 0;
    const char *at = text + length + 1;
    while (*(at += strspn(at, " ,/")) != ')') {
        if (count == 4)
            return false;
        CssNumber *number = &numbers[count++];
        char *end;
        number->value = strtod(at, &end);
        if (strncmp(at, "none", 4) == 0) {
            out->missing = true;
            end = (char *)at + 4;
        } else if (end == at) {
            return false;
        }
        if (count == 1 && memchr(at, '.', (size_t)(end - at)))
            out->decimals = (int)(end - (const char *)memchr(at, '.', (size_t)(end - at))) - 1;
        const size_t unit = strcspn(end, " ,/)");
        if (unit >= sizeof number->unit)
            return false;
        memcpy(number->unit, end, unit);
        at = end + unit;
    }
    out->alpha = count == 4 && css_part(numbers[3], 1.0) < 1.0;
    return count >= 3 && css_make(out->kind, numbers, out);
}

#endif
