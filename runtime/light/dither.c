#include "runtime/light/dither.h"

#include "runtime/core/memory.h"
#include "runtime/core/number.h"
#include "runtime/core/program.h"

/* The turn of place `index` of a row of `count`: its two halves take turns, and so do the halves of
 * each. In every second depth the half behind begins, so that a row does not begin at its end. A
 * row that is odd has the larger half where it begins. After any number of turns each half,
 * quarter, ... of the row has had its share of them, to within one. */
static uint32_t dither_turn(uint32_t index, uint32_t count) {
    uint32_t turn = 0;
    for (unsigned depth = 0; count > 1; depth++) {
        const uint32_t larger = count - count / 2, smaller = count / 2;
        const bool front_begins = depth % 2 == 0;
        const uint32_t front = front_begins ? larger : smaller;
        const bool begins = (index < front) == front_begins;
        turn += begins ? 0u : 1u << depth;
        index -= index < front ? 0u : front;
        count = begins ? larger : smaller;
    }
    return turn;
}

/* -------- a row through the places of a lamp: a Hilbert curve -------- */

enum { DITHER_BITS = 16 }; /* of a coordinate */

typedef struct DitherPlace {
    uint64_t key;
    uint32_t pixel;
} DitherPlace;

/* The axes along which the places differ. */
static unsigned dither_axes(const double *const *fields, uint32_t pixels, unsigned axes[3]) {
    static const unsigned all[3] = {FIELD_X, FIELD_Y, FIELD_Z};
    unsigned count = 0;
    for (unsigned i = 0; i < 3; i++) {
        const double *field = fields[all[i]];
        uint32_t pixel = 1;
        while (pixel < pixels && field[pixel] == field[0])
            pixel++;
        if (pixel < pixels)
            axes[count++] = all[i];
    }
    return count;
}

/* How far along the curve a cell lies: J. Skilling, Programming the Hilbert curve, AIP Conference
 * Proceedings 707 (2004), 381-387. */
static uint64_t dither_along(uint32_t *cell, unsigned axes) {
    for (uint32_t bit = 1u << (DITHER_BITS - 1); bit > 1; bit >>= 1)
        for (unsigned i = 0; i < axes; i++) {
            const uint32_t swap = (cell[0] ^ cell[i]) & (bit - 1);
            cell[0] ^= cell[i] & bit ? bit - 1 : swap;
            cell[i] ^= cell[i] & bit || i == 0 ? 0 : swap;
        }
    for (unsigned i = 1; i < axes; i++)
        cell[i] ^= cell[i - 1];
    uint32_t turned = 0;
    for (uint32_t bit = 1u << (DITHER_BITS - 1); bit > 1; bit >>= 1)
        turned ^= cell[axes - 1] & bit ? bit - 1 : 0;
    uint64_t along = 0;
    for (int bit = DITHER_BITS - 1; bit >= 0; bit--)
        for (unsigned i = 0; i < axes; i++)
            along = along << 1 | ((cell[i] ^ turned) >> bit & 1);
    return along;
}

static uint64_t dither_key(const double *const *fields, const unsigned *axes, unsigned count,
                           uint32_t pixel) {
    uint32_t cell[3];
    for (unsigned i = 0; i < count; i++) {
        const double place = number_unit(fields[axes[i]][pixel] / 2.0 + 0.5);
        const uint32_t last = (1u << DITHER_BITS) - 1;
        const uint32_t at = (uint32_t)(place * (double)(1u << DITHER_BITS));
        cell[i] = at < last ? at : last;
    }
    return count > 0 ? dither_along(cell, count) : 0;
}

/* By key, places of equal keys as they were: eight bits at a time, an even number of times. */
static void dither_sort(DitherPlace *places, DitherPlace *spare, uint32_t count) {
    for (unsigned shift = 0; shift < 3 * DITHER_BITS; shift += 8) {
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
    unsigned axes[3];
    const unsigned count = dither_axes(fields, pixels, axes);
    for (uint32_t pixel = 0; pixel < pixels; pixel++) {
        places[pixel].key = dither_key(fields, axes, count, pixel);
        places[pixel].pixel = pixel;
    }
    dither_sort(places, places + pixels, pixels);
    for (uint32_t i = 0; i < pixels; i++)
        ranks[places[i].pixel] = dither_turn(i, pixels);
    memory_release(places);
    return true;
}
