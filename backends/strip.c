#include "backends/strip.h"

#include <string.h>

#include "runtime/core/memory.h"

bool strip_create(Strip *strip, uint32_t pixels, uint32_t rows, int width, int height) {
    *strip = (Strip){.width = width, .height = height, .pixels = pixels, .rows = rows};
    int cell = height / (int)rows;
    strip->gap = cell >= 16 ? 2 : cell >= 10 ? 1 : 0;
    strip->shown = memory_allocate(pixels, 3 * sizeof *strip->shown);
    strip->sums = memory_allocate(rows, 3 * sizeof *strip->sums);
    strip->means = memory_allocate(rows, 3 * sizeof *strip->means);
    strip->inks = memory_allocate(rows, 3);
    encode_screen_table(&strip->screen);
    return strip->shown != NULL && strip->sums != NULL && strip->means != NULL &&
           strip->inks != NULL;
}

void strip_release(Strip *strip) {
    memory_release(strip->shown);
    memory_release(strip->sums);
    memory_release(strip->means);
    memory_release(strip->inks);
}

/* The first line of a row, from the top of the strip. */
static int strip_line(const Strip *strip, uint32_t row) {
    return (int)((int64_t)row * strip->height / strip->rows);
}

static uint32_t strip_first(const Strip *strip, uint32_t row) {
    return (uint32_t)((uint64_t)row * strip->pixels / strip->rows);
}

/* Adds the frame that is shown to the sums. */
static void strip_add_shown(Strip *strip) {
    for (uint32_t row = 0; row < strip->rows; row++) {
        uint32_t first = strip_first(strip, row), end = strip_first(strip, row + 1);
        float *sum = strip->sums + 3 * (size_t)row;
        for (uint32_t pixel = first; pixel < end; pixel++)
            for (size_t channel = 0; channel < 3; channel++)
                sum[channel] += strip->shown[3 * (size_t)pixel + channel];
    }
    strip->frames++;
}

void strip_add(Strip *strip, const float *light) {
    encode_gamut(light, strip->pixels, strip->shown);
    strip_add_shown(strip);
}

void strip_column(Strip *strip, Canvas *canvas, int column) {
    if (strip->frames == 0)
        strip_add_shown(strip);
    for (uint32_t row = 0; row < strip->rows; row++) {
        uint32_t pixels = strip_first(strip, row + 1) - strip_first(strip, row);
        float count = (float)pixels * (float)strip->frames;
        for (size_t i = 3 * (size_t)row; i < 3 * (size_t)row + 3; i++)
            strip->means[i] = strip->sums[i] / count;
    }
    encode_screen(&strip->screen, strip->means, strip->rows, strip->inks);
    for (uint32_t row = 0; row < strip->rows; row++) {
        const uint8_t *ink = strip->inks + 3 * (size_t)row;
        int top = strip_line(strip, row), end = strip_line(strip, row + 1) - strip->gap;
        canvas_fill(canvas, strip->x + column, strip->y + top, 1, end - top,
                    (Ink){ink[0], ink[1], ink[2]});
    }
    memset(strip->sums, 0, strip->rows * 3 * sizeof *strip->sums);
    strip->frames = 0;
}
