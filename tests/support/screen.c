#include "tests/support/screen.h"

#include <stdlib.h>
#include <string.h>

void screen_start(Screen *screen) {
    memset(screen, 0, sizeof *screen);
    screen->front = screen->ground = SCREEN_DEFAULT;
    screen->cursor = true;
}

static void screen_clear(Screen *screen) {
    for (int row = 0; row < SCREEN_ROWS; row++)
        for (int column = 0; column < SCREEN_COLUMNS; column++)
            screen->cells[row][column] = (ScreenCell){' ', SCREEN_DEFAULT, screen->ground};
}

static void screen_mode(Screen *screen, int mode, bool on) {
    if (mode == 1049) {
        screen->alternate = on;
    } else if (mode == 25) {
        screen->cursor = on;
    } else if (mode == 2026) {
        screen->frames += screen->together && !on;
        screen->together = on;
    } else {
        screen->unknown++;
    }
}

static void screen_colour(Screen *screen, const int *numbers, int count) {
    uint32_t *part =
        numbers[0] % 100 / 10 == 4 || numbers[0] / 10 == 10 ? &screen->ground : &screen->front;
    int first = numbers[0];
    if (first == 0) {
        screen->front = screen->ground = SCREEN_DEFAULT;
    } else if ((first == 38 || first == 48) && count == 5 && numbers[1] == 2) {
        *part = (uint32_t)(numbers[2] << 16 | numbers[3] << 8 | numbers[4]);
    } else if ((first == 38 || first == 48) && count == 3 && numbers[1] == 5) {
        *part = SCREEN_INDEX + (uint32_t)numbers[2];
    } else if ((first >= 30 && first < 38) || (first >= 40 && first < 48)) {
        *part = SCREEN_INDEX + (uint32_t)(first % 10);
    } else if ((first >= 90 && first < 98) || (first >= 100 && first < 108)) {
        *part = SCREEN_INDEX + 8 + (uint32_t)(first % 10);
    } else {
        screen->unknown++;
    }
}

/* A whole sequence ESC [ .. letter. */
static void screen_sequence(Screen *screen, const char *text, size_t length) {
    int numbers[8] = {0}, count = 1;
    bool private = text[2] == '?';
    for (size_t i = private ? 3 : 2; i + 1 < length; i++) {
        if (text[i] == ';' && count < 8)
            count++;
        else if (text[i] >= '0' && text[i] <= '9')
            numbers[count - 1] = numbers[count - 1] * 10 + (text[i] - '0');
        else
            screen->unknown++;
    }
    char end = text[length - 1];
    if (private && (end == 'h' || end == 'l')) {
        screen_mode(screen, numbers[0], end == 'h');
    } else if (!private && end == 'm') {
        screen_colour(screen, numbers, count);
    } else if (!private && end == 'H') {
        screen->row = numbers[0] - 1;
        screen->column = numbers[1] - 1;
    } else if (!private && end == 'J' && numbers[0] == 2) {
        screen_clear(screen);
    } else {
        screen->unknown++;
    }
}

static void screen_letter(Screen *screen, uint32_t letter) {
    if (screen->row < 0 || screen->row >= SCREEN_ROWS || screen->column < 0 ||
        screen->column >= SCREEN_COLUMNS || letter < 32) {
        screen->unknown++;
        return;
    }
    screen->cells[screen->row][screen->column++] =
        (ScreenCell){letter, screen->front, screen->ground};
}

/* Deals with what is held as soon as it is whole. */
static void screen_held(Screen *screen) {
    const unsigned char *byte = (const unsigned char *)screen->pending;
    size_t count = screen->held;
    if (byte[0] == 0x1b) {
        if (count < 3 || byte[count - 1] < 0x40)
            return;
        screen_sequence(screen, screen->pending, count);
    } else {
        size_t whole = byte[0] < 0x80 ? 1 : byte[0] < 0xE0 ? 2 : byte[0] < 0xF0 ? 3 : 4;
        if (count < whole)
            return;
        uint32_t letter = byte[0] & (whole == 1 ? 0x7Fu : 0xFFu >> (whole + 1));
        for (size_t i = 1; i < whole; i++)
            letter = letter << 6 | (byte[i] & 0x3Fu);
        screen_letter(screen, letter);
    }
    screen->held = 0;
}

void screen_take(Screen *screen, const char *bytes, size_t length) {
    for (size_t i = 0; i < length; i++) {
        if (screen->held == sizeof screen->pending) {
            screen->unknown++;
            screen->held = 0;
        }
        screen->pending[screen->held++] = bytes[i];
        screen_held(screen);
    }
}

void screen_text(const Screen *screen, int row, int columns, char *into) {
    size_t used = 0, end = 0;
    for (int column = 0; column < columns; column++) {
        uint32_t letter = screen->cells[row][column].letter;
        into[used++] = letter >= 32 && letter < 127 ? (char)letter : letter == 0 ? ' ' : '?';
        if (into[used - 1] != ' ')
            end = used;
    }
    into[end] = '\0';
}
