#include "runtime/light/dither.h"

#include "runtime/core/memory.h"
#include "runtime/core/number.h"
#include "runtime/core/program.h"

/* The turn of place `index` of a row of `count`: each half of the row takes every other turn, and
 * so within the halves; the half behind begins in every second depth, so that a row does not begin
 * at its end. Whatever share of the turns has come, each half, quarter, ... of the row has had that
 * share of its own, but for one. */
static uint32_t dither_turn(uint32_t index, uint32_t count) {
    uint32_t turn = 0;
    for (unsigned depth = 0; count > 1; depth++) {
        const uint32_t larger = count - count / 2, smaller = count / 2;
        const uint32_t place = depth % 2 == 0 ? index : count - 1 - index;
        const bool first = place < larger;
        turn += first ? 0u : 1u << depth;
        index =
            depth % 2 == 0 ? (first ? index : index - larger) : (first ? index - smaller : index);
        count = first ? larger : smaller;
    }
    return turn;
}

/* -------- a row through the places of a lamp -------- */

typedef struct DitherPlace {
    uint64_t key;
    uint32_t pixel;
} DitherPlace;

/* Every third bit. */
static uint64_t dither_apart(uint64_t bits) {
    bits = (bits | bits << 32) & 0x001F00000000FFFFu;
    bits = (bits | bits << 16) & 0x001F0000FF0000FFu;
    bits = (bits | bits << 8) & 0x100F00F00F00F00Fu;
    bits = (bits | bits << 4) & 0x10C30C30C30C30C3u;
    return (bits | bits << 2) & 0x1249249249249249u;
}

/* A coordinate within -1..1 as 21 bits. */
static uint64_t dither_cell(double coordinate) {
    return (uint64_t)(number_unit(coordinate / 2.0 + 0.5) * 2097151.0);
}

/* By key, places of equal keys as they were: eight bits at a time. */
static void dither_sort(DitherPlace *places, DitherPlace *spare, uint32_t count) {
    for (unsigned shift = 0; shift < 64; shift += 8) {
        uint32_t from[257] = {0};
        for (uint32_t i = 0; i < count; i++)
            from[(places[i].key >> shift & 255) + 1]++;
        for (int i = 0; i < 256; i++)
            from[i + 1] += from[i];
        for (uint32_t i = 0; i < count; i++)
            spare[from[places[i].key >> shift & 255]++] = places[i];
        DitherPlace *swap = places;
        places = spare;
        spare = swap;
    }
}

bool dither_ranks(const Shape *shape, uint32_t *ranks) {
    const uint32_t pixels = shape_pixels(shape);
    if (shape_form(shape) == FORM_STRIP || shape_form(shape) == FORM_RING) {
        for (uint32_t pixel = 0; pixel < pixels; pixel++)
            ranks[pixel] = dither_turn(pixel, pixels);
        return true;
    }
    DitherPlace *places = memory_allocate(2 * (size_t)pixels, sizeof *places);
    if (places == NULL)
        return false;
    const double *const *fields = shape_fields(shape);
    for (uint32_t pixel = 0; pixel < pixels; pixel++) {
        places[pixel].key = dither_apart(dither_cell(fields[FIELD_X][pixel])) << 2 |
                            dither_apart(dither_cell(fields[FIELD_Y][pixel])) << 1 |
                            dither_apart(dither_cell(fields[FIELD_Z][pixel]));
        places[pixel].pixel = pixel;
    }
    dither_sort(places, places + pixels, pixels);
    for (uint32_t i = 0; i < pixels; i++)
        ranks[places[i].pixel] = dither_turn(i, pixels);
    memory_release(places);
    return true;
}
