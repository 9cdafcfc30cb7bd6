/* As much of a terminal as the tests of the preview need: it takes what a program writes and knows
 * what is on the screen. Sequences as in ECMA-48 and xterm's list of control sequences. */
#ifndef GLOAM_TESTS_SCREEN_H
#define GLOAM_TESTS_SCREEN_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { SCREEN_COLUMNS = 200, SCREEN_ROWS = 100 };

/* Colours are 0xRRGGBB, or SCREEN_INDEX + the number of a palette, or SCREEN_DEFAULT. */
#define SCREEN_INDEX 0x1000000u
#define SCREEN_DEFAULT 0x2000000u

typedef struct ScreenCell {
    uint32_t letter, front, ground;
} ScreenCell;

typedef struct Screen {
    int column, row;
    uint32_t front, ground;
    bool alternate, cursor, together; /* modes 1049, 25, 2026 */
    size_t frames;                    /* how often mode 2026 ended */
    size_t unknown;                   /* sequences that mean nothing here, places off the screen */
    char pending[64];
    size_t held;
    ScreenCell cells[SCREEN_ROWS][SCREEN_COLUMNS];
} Screen;

void screen_start(Screen *screen);
void screen_take(Screen *screen, const char *bytes, size_t length);

/* The text of the first columns of a row, `?` for what is not ASCII, without spaces behind; `into`
 * has room for one more than the columns. */
void screen_text(const Screen *screen, int row, int columns, char *into);

#endif
