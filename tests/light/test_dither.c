/* The order in which pixels step: a permutation whose every first part is spread over the lamp. The
 * bounds on a row follow from the halves that take turns; what is only measured is printed. No
 * outside source: evenness is our own demand. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/core/memory.h"
#include "runtime/core/program.h"
#include "runtime/light/dither.h"
#include "tests/support/chance.h"

/* order[r]: the r-th pixel to step; checked to be each pixel once. The caller frees. */
static uint32_t *order_of(const ShapeRequest *request) {
    Shape *shape = shape_create(request);
    assert_non_null(shape);
    uint32_t pixels = shape_pixels(shape);
    uint32_t *ranks = calloc(pixels, sizeof *ranks), *order = calloc(pixels, sizeof *order);
    assert_non_null(ranks);
    assert_non_null(order);
    assert_true(dither_ranks(shape, ranks));
    memset(order, 0xFF, pixels * sizeof *order);
    for (uint32_t i = 0; i < pixels; i++) {
        assert_true(ranks[i] < pixels && order[ranks[i]] == UINT32_MAX);
        order[ranks[i]] = i;
    }
    free(ranks);
    shape_free(shape);
    return order;
}

static ShapeRequest wire(ShapeForm form, uint32_t pixels) {
    return (ShapeRequest){.form = form, .pixels = pixels};
}

/* -------- along a wire -------- */

/* The most by which the lit of the first `turns` differ from their share, over all stretches (round
 * the ring): the extent of the running sum of lit - turns / pixels. */
static double unevenness(const bool *lit, uint32_t pixels, uint32_t turns) {
    double sum = 0.0, low = 0.0, high = 0.0;
    for (uint32_t i = 0; i < pixels; i++) {
        sum += (lit[i] ? 1.0 : 0.0) - (double)turns / pixels;
        low = fmin(low, sum);
        high = fmax(high, sum);
    }
    return high - low;
}

/* The longest way between lit pixels; at the ends of a strip twice the way to the end. */
static uint32_t largest_gap(const bool *lit, uint32_t pixels, bool ring) {
    uint32_t first = 0, largest = 0;
    while (!lit[first])
        first++;
    uint32_t last = first;
    for (uint32_t i = first + 1; i < pixels; i++)
        if (lit[i]) {
            largest = i - last > largest ? i - last : largest;
            last = i;
        }
    uint32_t round = first + pixels - last;
    uint32_t ends =
        2 * first + 1 > 2 * (pixels - last) - 1 ? 2 * first + 1 : 2 * (pixels - last) - 1;
    uint32_t outer = ring ? round : ends;
    return outer > largest ? outer : largest;
}

typedef struct Spread {
    double gap, gap_mean, uneven, uneven_mean;
} Spread;

static Spread spread_along(ShapeForm form, uint32_t pixels) {
    ShapeRequest request = wire(form, pixels);
    uint32_t *order = order_of(&request);
    bool *lit = calloc(pixels, sizeof *lit);
    assert_non_null(lit);
    Spread it = {0};
    for (uint32_t turns = 1; turns <= pixels; turns++) {
        lit[order[turns - 1]] = true;
        double ideal = (double)((pixels + turns - 1) / turns);
        double gap = largest_gap(lit, pixels, form == FORM_RING) / ideal;
        double uneven = unevenness(lit, pixels, turns);
        it.gap = fmax(it.gap, gap);
        it.uneven = fmax(it.uneven, uneven);
        it.gap_mean += gap / pixels;
        it.uneven_mean += uneven / pixels;
    }
    free(lit);
    free(order);
    return it;
}

static void test_wires(void **state) {
    (void)state;
    static const struct {
        const char *name;
        ShapeForm form;
        uint32_t pixels;
    } lamps[] = {{"ring 16", FORM_RING, 16},
                 {"ring 60", FORM_RING, 60},
                 {"strip 60", FORM_STRIP, 60},
                 {"strip 144", FORM_STRIP, 144},
                 {"strip 300", FORM_STRIP, 300}};
    for (size_t i = 0; i < sizeof lamps / sizeof *lamps; i++) {
        Spread it = spread_along(lamps[i].form, lamps[i].pixels);
        printf("measured %s: largest gap %.2f of the ideal (mean over the turns %.2f); any stretch "
               "within %.2f pixels of its share (mean %.2f)\n",
               lamps[i].name, it.gap, it.gap_mean, it.uneven, it.uneven_mean);
    }
}

/* The parts of a row after `depth` halvings, by the sizes of their halves: start[0] = 0 ..
 * start[2^depth] = pixels. */
static void halved(uint32_t *start, uint32_t pixels, unsigned depth) {
    start[0] = 0;
    start[1] = pixels;
    for (unsigned d = 0; d < depth; d++)
        for (uint32_t part = 1u << d; part-- > 0;) {
            uint32_t low = start[part], size = start[part + 1] - low;
            uint32_t front = d % 2 == 0 ? size - size / 2 : size / 2;
            start[2 * part + 2] = low + size;
            start[2 * part + 1] = low + front;
            start[2 * part] = low;
        }
}

/* What the halves that take turns promise. After 2^d turns each part of depth d has a lit pixel, so
 * no gap is longer than two such parts. Each part has its share to within one. */
static void test_halves(void **state) {
    (void)state;
    static uint32_t start[513];
    double worst = 0.0;
    for (uint32_t pixels = 1; pixels <= 150; pixels++) {
        ShapeRequest request = wire(FORM_STRIP, pixels);
        uint32_t *order = order_of(&request);
        bool lit[150] = {false};
        for (uint32_t turns = 1; turns <= pixels; turns++) {
            lit[order[turns - 1]] = true;
            for (unsigned depth = 0; 1u << depth <= pixels; depth++) {
                halved(start, pixels, depth);
                uint32_t size = 0;
                for (uint32_t part = 0; part < 1u << depth; part++) {
                    uint32_t count = 0, length = start[part + 1] - start[part];
                    for (uint32_t i = start[part]; i < start[part + 1]; i++)
                        count += lit[i];
                    size = length > size ? length : size;
                    worst = fmax(worst, fabs(count - (double)turns * length / pixels));
                }
                if (turns >= 1u << depth)
                    assert_true(largest_gap(lit, pixels, true) < 2 * size &&
                                largest_gap(lit, pixels, false) < 2 * size + (size == 1));
            }
        }
        free(order);
    }
    printf("measured rows of 1 to 150: every half, quarter, ... within %.2f of its share\n", worst);
    assert_true(worst < 1.0);
}

/* The turn of a place, as spec/dithering.md writes it. */
static uint32_t turn(uint32_t place, uint32_t size, uint32_t depth) {
    if (size == 1)
        return 0;
    bool front_begins = depth % 2 == 0;
    uint32_t begins = (size + 1) / 2, front = front_begins ? begins : size - begins;
    bool in_front = place < front;
    uint32_t within = in_front ? place : place - front;
    uint32_t half = in_front ? front : size - front;
    return 2 * turn(within, half, depth + 1) + (in_front == front_begins ? 0 : 1);
}

static void test_turns(void **state) {
    (void)state;
    for (uint32_t pixels = 1; pixels < 2000; pixels += 1 + pixels / 50) {
        ShapeRequest request = wire(FORM_STRIP, pixels);
        uint32_t *order = order_of(&request);
        for (uint32_t i = 0; i < pixels; i++)
            assert_int_equal(order[turn(i, pixels, 0)], i);
        free(order);
    }
}

/* The row through a square grid and through a cube never leaps: each pixel is beside the one
 * before. That is what makes the curve one of Hilbert's kind. */
static void test_row(void **state) {
    (void)state;
    static ShapePoint points[512];
    for (int i = 0; i < 512; i++)
        points[i] = (ShapePoint){i % 8 + 0.5, i / 8 % 8 + 0.5, i / 64 + 0.5};
    ShapeRequest lamps[] = {{.form = FORM_GRID, .across = 16, .up = 16},
                            {.form = FORM_GRID, .across = 64, .up = 64},
                            {.form = FORM_POINTS, .point_count = 512, .points = points}};
    const double beside[] = {2.0 / 16, 2.0 / 64, 2.0 / 7};
    for (int i = 0; i < 3; i++) {
        Shape *shape = shape_create(&lamps[i]);
        assert_non_null(shape);
        const double *const *fields = shape_fields(shape);
        uint32_t *order = order_of(&lamps[i]), pixels = shape_pixels(shape);
        for (uint32_t place = 1; place < pixels; place++) {
            uint32_t a = order[turn(place - 1, pixels, 0)], b = order[turn(place, pixels, 0)];
            double way = 0.0;
            for (int field = FIELD_X; field <= FIELD_Z; field++)
                way += fabs(fields[field][a] - fields[field][b]);
            assert_true(fabs(way - beside[i]) < 1e-9);
        }
        free(order);
        shape_free(shape);
    }
}

/* With a power of two the first 2^k turns are exactly even: the van der Corput sequence. */
static void test_powers_of_two(void **state) {
    (void)state;
    for (uint32_t pixels = 1; pixels <= 1024; pixels *= 2) {
        ShapeRequest request = wire(FORM_RING, pixels);
        uint32_t *order = order_of(&request);
        bool lit[1024] = {false};
        for (uint32_t turns = 1; turns <= pixels; turns++) {
            lit[order[turns - 1]] = true;
            if ((turns & (turns - 1)) == 0)
                assert_int_equal(largest_gap(lit, pixels, true), pixels / turns);
        }
        free(order);
    }
}

/* -------- over places -------- */

static double apart(const double *const *fields, uint32_t a, uint32_t b) {
    double x = fields[FIELD_X][a] - fields[FIELD_X][b], y = fields[FIELD_Y][a] - fields[FIELD_Y][b];
    double z = fields[FIELD_Z][a] - fields[FIELD_Z][b];
    return x * x + y * y + z * z;
}

static int by_size(const void *a, const void *b) {
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

enum { NEAR = 16 };

/* The NEAR pixels nearest to each, itself among them; and the mean distance of each of them. */
static void neighbours(const double *const *fields, uint32_t pixels, uint32_t *near, double *way) {
    double(*sorted)[2] = calloc(pixels, sizeof *sorted);
    assert_non_null(sorted);
    memset(way, 0, pixels * sizeof *way);
    for (uint32_t i = 0; i < pixels; i++) {
        for (uint32_t j = 0; j < pixels; j++) {
            sorted[j][0] = apart(fields, i, j);
            sorted[j][1] = j;
        }
        qsort(sorted, pixels, sizeof *sorted, by_size);
        for (uint32_t k = 0; k < NEAR; k++)
            near[i * NEAR + k] = (uint32_t)sorted[k][1];
        for (uint32_t k = 0; k < pixels; k++)
            way[k] += sqrt(sorted[k][0]) / pixels;
    }
    free(sorted);
}

typedef struct Cover {
    double hole, hole_mean, uneven, uneven_mean;
} Cover;

/* hole: the longest way from a pixel to a lit one, against the mean radius within which a pixel has
 * one lit of its share; uneven: of any pixel's NEAR nearest, lit against their share. */
static Cover cover_of(const Shape *shape, const uint32_t *order) {
    uint32_t pixels = shape_pixels(shape);
    const double *const *fields = shape_fields(shape);
    uint32_t *near = calloc((size_t)pixels * NEAR, sizeof *near);
    double *way = calloc(pixels, sizeof *way), *close = calloc(pixels, sizeof *close);
    bool *lit = calloc(pixels, sizeof *lit);
    assert_true(near && way && close && lit);
    neighbours(fields, pixels, near, way);
    Cover it = {0};
    for (uint32_t turns = 1; turns < pixels; turns++) {
        double hole = 0.0, uneven = 0.0;
        lit[order[turns - 1]] = true;
        for (uint32_t i = 0; i < pixels; i++) {
            double now = sqrt(apart(fields, i, order[turns - 1])), sum = 0.0;
            close[i] = turns == 1 ? now : fmin(close[i], now);
            hole = fmax(hole, close[i]);
            for (int k = 0; k < NEAR; k++)
                sum += (lit[near[i * NEAR + k]] ? 1.0 : 0.0) - (double)turns / pixels;
            uneven = fmax(uneven, fabs(sum));
        }
        double ideal = way[(pixels + turns - 1) / turns - 1];
        it.hole = fmax(it.hole, ideal > 0.0 ? hole / ideal : 0.0);
        it.hole_mean += ideal > 0.0 ? hole / ideal / pixels : 0.0;
        it.uneven = fmax(it.uneven, uneven);
        it.uneven_mean += uneven / pixels;
    }
    free(near);
    free(way);
    free(close);
    free(lit);
    return it;
}

/* Any shuffle, for comparison. */
static void shuffle(uint32_t *order, uint32_t pixels) {
    for (uint32_t i = pixels; i > 1; i--) {
        uint32_t j = (uint32_t)(chance() % i), swap = order[i - 1];
        order[i - 1] = order[j];
        order[j] = swap;
    }
}

/* Better on average than each of ten shuffles; of holes not where the places themselves are uneven,
 * since then the loneliest pixels make them. */
static void check_cover(const char *name, const ShapeRequest *request, bool even) {
    Shape *shape = shape_create(request);
    uint32_t *order = order_of(request), pixels = shape_pixels(shape);
    Cover ours = cover_of(shape, order), best = {.hole_mean = 1e9, .uneven_mean = 1e9};
    for (int i = 0; i < 10; i++) {
        shuffle(order, pixels);
        Cover one = cover_of(shape, order);
        best.hole_mean = fmin(best.hole_mean, one.hole_mean);
        best.uneven_mean = fmin(best.uneven_mean, one.uneven_mean);
    }
    printf(
        "measured %s: largest hole %.2f of the ideal (mean over the turns %.2f; the best of ten "
        "shuffles %.2f); any %d neighbours within %.2f pixels of their share (mean %.2f; %.2f)\n",
        name, ours.hole, ours.hole_mean, best.hole_mean, NEAR, ours.uneven, ours.uneven_mean,
        best.uneven_mean);
    assert_true(ours.hole_mean < best.hole_mean || !even);
    assert_true(ours.uneven_mean < best.uneven_mean);
    free(order);
    shape_free(shape);
}

static void test_places(void **state) {
    (void)state;
    chance_state = 1601;
    ShapeRequest grid = {.form = FORM_GRID, .across = 16, .up = 16};
    check_cover("grid 16x16", &grid, true);
    ShapeRequest wide = {.form = FORM_GRID, .across = 20, .up = 12};
    check_cover("grid 20x12", &wide, true);
    ShapeRequest ball = {.form = FORM_BALL, .frequency = 4};
    check_cover("ball 4", &ball, true);
    static ShapePoint points[200];
    for (int i = 0; i < 200; i++)
        points[i] = (ShapePoint){chance_unit(), chance_unit(), chance_unit()};
    ShapeRequest own = {.form = FORM_POINTS, .point_count = 200, .points = points};
    check_cover("200 points", &own, false);
}

/* A grid is dithered by its places, however it is wired. */
static void test_wiring(void **state) {
    (void)state;
    ShapeRequest rows = {.form = FORM_GRID, .across = 16, .up = 16}, zigzag = rows;
    zigzag.zigzag = true;
    uint32_t *straight = order_of(&rows), *folded = order_of(&zigzag);
    for (int turn = 0; turn < 256; turn++) {
        uint32_t row = folded[turn] / 16, step = folded[turn] % 16;
        assert_int_equal(straight[turn], 16 * row + (row % 2 ? 15 - step : step));
    }
    free(straight);
    free(folded);
}

/* Pixels in one place, one pixel, flat and straight lamps; memory that ran out. */
static void test_edges(void **state) {
    (void)state;
    ShapePoint points[40] = {{0, 0, 0}};
    for (uint32_t count = 1; count <= 40; count++) {
        ShapeRequest heap = {.form = FORM_POINTS, .point_count = count, .points = points};
        free(order_of(&heap));
    }
    for (int i = 0; i < 40; i++)
        points[i] = (ShapePoint){0, 0, i};
    ShapeRequest pole = {.form = FORM_POINTS, .point_count = 40, .points = points};
    ShapeRequest strip = wire(FORM_STRIP, 40);
    uint32_t *up = order_of(&pole), *along = order_of(&strip);
    assert_memory_equal(up, along, 40 * sizeof *up);
    free(up);
    free(along);
    Shape *shape = shape_create(&pole);
    uint32_t ranks[40];
    unsigned long live = memory_live();
    memory_fail_at(1);
    assert_false(dither_ranks(shape, ranks));
    memory_fail_at(0);
    assert_int_equal(memory_live(), live);
    shape_free(shape);
}

static void test_large(void **state) {
    (void)state;
    ShapeRequest large[] = {wire(FORM_STRIP, 100000),
                            wire(FORM_RING, 99991),
                            {.form = FORM_GRID, .across = 400, .up = 250}};
    for (size_t i = 0; i < sizeof large / sizeof *large; i++)
        free(order_of(&large[i]));
}

/* Thresholds are inside 0..1, evenly, the first to step the highest. */
static void test_thresholds(void **state) {
    (void)state;
    for (uint32_t pixels = 1; pixels <= 100000; pixels = pixels * 3 + 1)
        for (uint32_t rank = 0; rank < pixels; rank++) {
            double threshold = dither_threshold(rank, pixels);
            assert_true(threshold > 0.0 && threshold < 1.0);
            assert_true(fabs(threshold * pixels - (pixels - rank - 0.5)) < 1e-9);
        }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_wires),         cmocka_unit_test(test_halves),
        cmocka_unit_test(test_turns),         cmocka_unit_test(test_row),
        cmocka_unit_test(test_powers_of_two), cmocka_unit_test(test_places),
        cmocka_unit_test(test_wiring),        cmocka_unit_test(test_edges),
        cmocka_unit_test(test_large),         cmocka_unit_test(test_thresholds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
