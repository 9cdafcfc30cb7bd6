#include "backends/layout.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "runtime/core/memory.h"

#define NOWHERE UINT32_MAX

enum {
    BAND = 4,          /* dots across the band of a ring of many pixels */
    STRIP_TALLEST = 6, /* dots of a line of a strip */
    STRIP_LINE = 4,    /* where there are several lines */
    STRIP_BETWEEN = 2, /* between lines */
    GAP_FROM = 4,      /* pixels so many dots wide have a dot of ground between them */
    SAMPLES = 256      /* pixels whose neighbours are looked for */
};

/* Spots nearly touch: their radius is this share of the distance of neighbours. */
#define SPOT_SHARE 0.42
#define SPOT_SMALL 1.5   /* dots: smaller spots may grow into the gaps between them */
#define SPOT_LARGEST 0.3 /* of half the raster */
#define WORK_MOST 1e8    /* comparisons for a ball: a tenth of a second */
#define SEAM_LIGHT 0.35  /* how much of a pixel is left on the seam to the next one */

/* A place for each pixel, in dots, before it becomes a raster. */
typedef struct Spots {
    uint32_t count;
    double *x, *y;
} Spots;

static bool spots_create(Spots *spots, uint32_t count) {
    spots->count = count;
    spots->x = memory_allocate(count, sizeof *spots->x);
    spots->y = memory_allocate(count, sizeof *spots->y);
    return spots->x != NULL && spots->y != NULL;
}

static void spots_release(Spots *spots) {
    memory_release(spots->x);
    memory_release(spots->y);
}

static int compare_numbers(const void *left, const void *right) {
    double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
}

/* The distance that a quarter of the pixels keeps from its nearest one; 0 where there is none. */
static double spots_apart(const Spots *spots) {
    double nearest[SAMPLES];
    size_t samples = 0;
    uint32_t step = spots->count / SAMPLES + 1;
    for (uint32_t i = 0; i < spots->count && samples < SAMPLES; i += step) {
        double best = INFINITY;
        for (uint32_t j = 0; j < spots->count; j++) {
            double x = spots->x[i] - spots->x[j], y = spots->y[i] - spots->y[j];
            double square = x * x + y * y;
            if (square > 1e-12 && square < best)
                best = square;
        }
        if (isfinite(best))
            nearest[samples++] = sqrt(best);
    }
    if (samples == 0)
        return 0.0;
    qsort(nearest, samples, sizeof *nearest, compare_numbers);
    return nearest[samples / 4];
}

static bool layout_allocate(Layout *layout, uint32_t pixels) {
    size_t dots = (size_t)layout->width * (size_t)layout->height;
    size_t places = (size_t)pixels * BAND;
    size_t most = dots > places ? dots : places;
    layout->first = memory_allocate(dots + 1, sizeof *layout->first);
    layout->pixels = memory_allocate(most, sizeof *layout->pixels);
    layout->cover = memory_allocate(dots, sizeof *layout->cover);
    return layout->first != NULL && layout->pixels != NULL && layout->cover != NULL;
}

/* Dots that show one pixel or none: owners[dot]. */
static void layout_take_owners(Layout *layout, const uint32_t *owners) {
    size_t dots = (size_t)layout->width * (size_t)layout->height;
    uint32_t used = 0;
    for (size_t dot = 0; dot < dots; dot++) {
        layout->first[dot] = used;
        if (owners[dot] != NOWHERE)
            layout->pixels[used++] = owners[dot];
    }
    layout->first[dots] = used;
}

/* Each place is a dot that its pixel covers wholly: places[i] is of the pixel i modulo `pixels`. */
static void layout_take_places(Layout *layout, const uint32_t *places, uint32_t count,
                               uint32_t pixels) {
    size_t dots = (size_t)layout->width * (size_t)layout->height;
    for (uint32_t i = 0; i < count; i++)
        layout->first[places[i] + 1]++;
    for (size_t dot = 0; dot < dots; dot++) {
        layout->cover[dot] = layout->first[dot + 1] > 0 ? 255 : 0;
        layout->first[dot + 1] += layout->first[dot];
    }
    /* Filled from the back: first[dot + 1] walks down to where the dot begins ... */
    for (uint32_t i = count; i-- > 0;)
        layout->pixels[--layout->first[places[i] + 1]] = i % pixels;
    /* ... so each entry stands one place too far. */
    memmove(layout->first, layout->first + 1, dots * sizeof *layout->first);
    layout->first[dots] = count;
}

static int within(int value, int least, int most) {
    return value < least ? least : value > most ? most : value;
}

static uint32_t layout_dot(const Layout *layout, double x, double y) {
    int column = within((int)floor(x), 0, layout->width - 1);
    int row = within((int)floor(y), 0, layout->height - 1);
    return (uint32_t)row * (uint32_t)layout->width + (uint32_t)column;
}

/* More pixels than dots: each dot is the mean of those in it. */
static bool layout_dense(Layout *layout, const Spots *spots) {
    uint32_t *places = memory_allocate(spots->count, sizeof *places);
    if (places == NULL)
        return false;
    for (uint32_t i = 0; i < spots->count; i++)
        places[i] = layout_dot(layout, spots->x[i], spots->y[i]);
    layout_take_places(layout, places, spots->count, spots->count);
    memory_release(places);
    return true;
}

/* One round spot: it takes the dots of which it covers more than the spots before. */
static void layout_spot(Layout *layout, uint32_t *owners, uint32_t pixel, double x, double y,
                        double radius) {
    int left = within((int)floor(x - radius), 0, layout->width - 1);
    int right = within((int)floor(x + radius), 0, layout->width - 1);
    int top = within((int)floor(y - radius), 0, layout->height - 1);
    int bottom = within((int)floor(y + radius), 0, layout->height - 1);
    for (int row = top; row <= bottom; row++)
        for (int column = left; column <= right; column++) {
            double far = hypot(column + 0.5 - x, row + 0.5 - y);
            double share = fmin(1.0, radius - far + 0.5);
            int cover = share > 0.0 ? (int)(255.0 * share + 0.5) : 0;
            size_t dot = (size_t)row * (size_t)layout->width + (size_t)column;
            if (cover > layout->cover[dot]) {
                layout->cover[dot] = (uint8_t)cover;
                owners[dot] = pixel;
            }
        }
}

static uint32_t *layout_owners(const Layout *layout) {
    size_t dots = (size_t)layout->width * (size_t)layout->height;
    uint32_t *owners = memory_allocate(dots, sizeof *owners);
    for (size_t dot = 0; owners != NULL && dot < dots; dot++)
        owners[dot] = NOWHERE;
    return owners;
}

static bool layout_spots(Layout *layout, const Spots *spots, double radius) {
    if (radius < 0.7)
        return layout_dense(layout, spots);
    uint32_t *owners = layout_owners(layout);
    if (owners == NULL)
        return false;
    for (uint32_t i = 0; i < spots->count; i++)
        layout_spot(layout, owners, i, spots->x[i], spots->y[i], radius);
    layout_take_owners(layout, owners);
    memory_release(owners);
    return true;
}

/* Spots at x and y, as large as their neighbours allow. */
static bool layout_flat(Layout *layout, const LayoutRequest *request) {
    Spots spots = {request->pixels, NULL, NULL};
    bool fine = spots_create(&spots, request->pixels);
    double wide = 1e-9, high = 1e-9;
    for (uint32_t i = 0; fine && i < spots.count; i++) {
        spots.x[i] = request->x[i];
        spots.y[i] = request->y[i];
        wide = fmax(wide, fabs(spots.x[i]));
        high = fmax(high, fabs(spots.y[i]));
    }
    double unit = 0.0, scale = 0.0;
    if (fine) {
        double apart = spots_apart(&spots);
        unit = apart > 0.0 ? fmin(SPOT_SHARE * apart, SPOT_LARGEST) : SPOT_LARGEST;
        scale = fmin(layout->width / (2.0 * (wide + unit)), layout->height / (2.0 * (high + unit)));
        if (unit * scale < SPOT_SMALL)
            unit = fmin(SPOT_SMALL / scale, 1.5 * unit);
    }
    for (uint32_t i = 0; fine && i < spots.count; i++) {
        spots.x[i] = layout->width / 2.0 + scale * spots.x[i];
        spots.y[i] = layout->height / 2.0 - scale * spots.y[i];
    }
    fine = fine && layout_spots(layout, &spots, unit * scale);
    spots_release(&spots);
    return fine;
}

typedef struct Direction {
    double x, y, z;
} Direction;

/* The two pixels nearest to a direction, as chords. */
typedef struct Nearest {
    uint32_t pixel;
    double chord, second;
} Nearest;

static Nearest layout_nearest(const LayoutRequest *request, Direction to) {
    double best = -2.0, second = -2.0;
    Nearest nearest = {0, 0.0, 0.0};
    bool flat = request->z == NULL;
    for (uint32_t i = 0; i < request->pixels; i++) {
        double cosine = to.x * request->x[i] + to.y * request->y[i];
        cosine += flat ? 0.0 : to.z * request->z[i];
        if (cosine > best) {
            second = best;
            best = cosine;
            nearest.pixel = i;
        } else if (cosine > second) {
            second = cosine;
        }
    }
    nearest.chord = sqrt(fmax(0.0, 2.0 - 2.0 * best));
    nearest.second = sqrt(fmax(0.0, 2.0 - 2.0 * second));
    return nearest;
}

/* A ring of more pixels than dots: each pixel has a dot on each of the circles of the band. */
static bool ring_dense(Layout *layout, const LayoutRequest *request, double radius) {
    uint32_t count = request->pixels * BAND;
    uint32_t *places = memory_allocate(count, sizeof *places);
    if (places == NULL)
        return false;
    for (uint32_t i = 0; i < count; i++) {
        uint32_t pixel = i % request->pixels;
        double far = radius - 0.5 - i / request->pixels;
        places[i] = layout_dot(layout, layout->width / 2.0 + far * request->x[pixel],
                               layout->height / 2.0 - far * request->y[pixel]);
    }
    layout_take_places(layout, places, count, request->pixels);
    memory_release(places);
    return true;
}

/* A ring of many pixels: a band of which each dot shows the pixel nearest to it. */
static bool ring_band(Layout *layout, const LayoutRequest *request, double radius) {
    uint32_t *owners = layout_owners(layout);
    size_t dots = (size_t)layout->width * (size_t)layout->height;
    for (size_t dot = 0; owners != NULL && dot < dots; dot++) {
        double x = (double)(dot % (size_t)layout->width) + 0.5 - layout->width / 2.0;
        double y = layout->height / 2.0 - (double)(dot / (size_t)layout->width) - 0.5;
        double far = hypot(x, y);
        double inside = fmin(radius - far, far - radius + BAND) + 0.5;
        if (inside <= 0.0)
            continue;
        layout->cover[dot] = (uint8_t)(255.0 * fmin(inside, 1.0) + 0.5);
        owners[dot] = layout_nearest(request, (Direction){x / far, y / far, 0.0}).pixel;
    }
    if (owners != NULL)
        layout_take_owners(layout, owners);
    memory_release(owners);
    return owners != NULL;
}

static bool layout_ring(Layout *layout, const LayoutRequest *request) {
    double radius = fmin(layout->width, layout->height) / 2.0;
    double apart = 6.28318531 * (radius - BAND / 2.0) / request->pixels;
    if (radius <= BAND || apart >= BAND)
        return layout_flat(layout, request);
    return apart < 1.0 ? ring_dense(layout, request, radius) : ring_band(layout, request, radius);
}

/* A rectangle of dots for a pixel. */
static void layout_block(Layout *layout, uint32_t *owners, uint32_t pixel, int x, int y, int width,
                         int height) {
    for (int row = within(y, 0, layout->height); row < within(y + height, 0, layout->height); row++)
        for (int column = within(x, 0, layout->width); column < within(x + width, 0, layout->width);
             column++) {
            size_t dot = (size_t)row * (size_t)layout->width + (size_t)column;
            owners[dot] = pixel;
            layout->cover[dot] = 255;
        }
}

/* Where a pixel of a grid is in halves of its spacing; false: it was turned out of line. */
static bool grid_place(const LayoutRequest *request, uint32_t pixel, double *x, double *y) {
    double half = request->across > request->up ? request->across : request->up;
    *x = request->x[pixel] * half;
    *y = request->y[pixel] * half;
    return fabs(*x - nearbyint(*x)) < 1e-6 && fabs(*y - nearbyint(*y)) < 1e-6;
}

/* Columns and rows as they are seen, after turning. */
static bool grid_span(const LayoutRequest *request, int *across, int *up) {
    double wide = 0.0, high = 0.0, x, y;
    for (uint32_t i = 0; i < request->pixels; i++) {
        if (!grid_place(request, i, &x, &y))
            return false;
        wide = fmax(wide, fabs(x));
        high = fmax(high, fabs(y));
    }
    *across = (int)nearbyint(wide) + 1;
    *up = (int)nearbyint(high) + 1;
    return true;
}

static bool grid_blocks(Layout *layout, const LayoutRequest *request, int across, int up,
                        int scale) {
    uint32_t *owners = layout_owners(layout);
    if (owners == NULL)
        return false;
    int gap = scale >= GAP_FROM ? 1 : 0;
    int left = (layout->width - across * scale + gap) / 2;
    int top = (layout->height - up * scale + gap) / 2;
    for (uint32_t i = 0; i < request->pixels; i++) {
        double x, y;
        grid_place(request, i, &x, &y);
        int column = ((int)nearbyint(x) + across - 1) / 2;
        int row = (up - 1 - (int)nearbyint(y)) / 2;
        layout_block(layout, owners, i, left + column * scale, top + row * scale, scale - gap,
                     scale - gap);
    }
    layout_take_owners(layout, owners);
    memory_release(owners);
    return true;
}

static bool layout_grid(Layout *layout, const LayoutRequest *request) {
    int across, up;
    if (!grid_span(request, &across, &up))
        return layout_flat(layout, request);
    int scale = layout->width / across;
    scale = layout->height / up < scale ? layout->height / up : scale;
    if (scale >= 1)
        return grid_blocks(layout, request, across, up, scale);
    Spots spots = {request->pixels, NULL, NULL};
    bool fine = spots_create(&spots, request->pixels);
    double shrink = fmin((double)layout->width / across, (double)layout->height / up);
    for (uint32_t i = 0; fine && i < spots.count; i++) {
        double x, y;
        grid_place(request, i, &x, &y);
        spots.x[i] = layout->width / 2.0 + x / 2.0 * shrink;
        spots.y[i] = layout->height / 2.0 - y / 2.0 * shrink;
    }
    fine = fine && layout_dense(layout, &spots);
    spots_release(&spots);
    return fine;
}

typedef struct Fold {
    int lines, a_line; /* pixels, or groups of them, in a line */
    int wide, tall;    /* dots of one */
    uint32_t shared;   /* pixels of a group */
} Fold;

/* As wide as there is room; in several lines where a line is too short for all. */
static Fold strip_fold(const Layout *layout, uint32_t pixels) {
    Fold fold = {1, (int)pixels, 1, STRIP_TALLEST, 1};
    if ((uint32_t)layout->width >= pixels) {
        fold.wide = layout->width / (int)pixels;
        fold.wide = fold.wide > 2 * STRIP_TALLEST ? 2 * STRIP_TALLEST : fold.wide;
    } else {
        int most = (layout->height + STRIP_BETWEEN) / (STRIP_LINE + STRIP_BETWEEN);
        most = most < 1 ? 1 : most;
        uint32_t room = (uint32_t)most * (uint32_t)layout->width;
        fold.shared = (pixels + room - 1) / room;
        uint32_t groups = (pixels + fold.shared - 1) / fold.shared;
        uint32_t width = (uint32_t)layout->width;
        fold.lines = (int)((groups + width - 1) / width);
        fold.a_line = (int)((groups + (uint32_t)fold.lines - 1) / (uint32_t)fold.lines);
        fold.tall = fold.lines > 1 ? STRIP_LINE : STRIP_TALLEST;
    }
    fold.tall = within(fold.tall, 1, layout->height);
    return fold;
}

/* The mean of a group is shown by every dot of its block, so the list of a dot is repeated. */
static bool strip_take(Layout *layout, const uint32_t *owners, uint32_t shared, uint32_t pixels) {
    size_t dots = (size_t)layout->width * (size_t)layout->height, used = 0;
    uint32_t *list = memory_allocate(dots * shared + 1, sizeof *list);
    if (list == NULL)
        return false;
    for (size_t dot = 0; dot < dots; dot++) {
        layout->first[dot] = (uint32_t)used;
        uint32_t from = owners[dot] == NOWHERE ? pixels : owners[dot] * shared;
        for (uint32_t i = from; i < pixels && i < from + shared; i++)
            list[used++] = i;
    }
    layout->first[dots] = (uint32_t)used;
    memory_release(layout->pixels);
    layout->pixels = list;
    return true;
}

static bool layout_strip(Layout *layout, const LayoutRequest *request) {
    uint32_t *owners = layout_owners(layout);
    if (owners == NULL)
        return false;
    Fold fold = strip_fold(layout, request->pixels);
    int gap = fold.wide >= GAP_FROM ? 1 : 0;
    int left = (layout->width - fold.a_line * fold.wide + gap) / 2;
    int high = fold.lines * (fold.tall + STRIP_BETWEEN) - STRIP_BETWEEN;
    int top = (layout->height - high) / 2;
    top -= top % 2; /* on the edge of a cell of two dots */
    uint32_t groups = (request->pixels + fold.shared - 1) / fold.shared;
    for (uint32_t i = 0; i < groups; i++) {
        int line = (int)i / fold.a_line, place = (int)i % fold.a_line;
        layout_block(layout, owners, i, left + place * fold.wide,
                     top + line * (fold.tall + STRIP_BETWEEN), fold.wide - gap, fold.tall);
    }
    bool fine = strip_take(layout, owners, fold.shared, request->pixels);
    memory_release(owners);
    return fine;
}

/* Two discs, each half a ball in Lambert's azimuthal projection: equal areas, so that pixels are as
 * large at the rim as in the middle. The back is as seen from behind. */
typedef struct Discs {
    double centre[2], middle, radius;
    bool seams;
} Discs;

static Discs ball_discs(const Layout *layout) {
    double room = fmin(layout->width / 4.0 - 1.0, (layout->height - 3) / 2.0);
    Discs discs = {.radius = fmax(room, 1.0), .middle = (layout->height - 2) / 2.0};
    discs.centre[0] = layout->width / 2.0 - discs.radius - 1.0;
    discs.centre[1] = layout->width / 2.0 + discs.radius + 1.0;
    return discs;
}

static bool ball_dense(Layout *layout, const LayoutRequest *request, const Discs *discs) {
    Spots spots = {request->pixels, NULL, NULL};
    bool fine = spots_create(&spots, request->pixels);
    for (uint32_t i = 0; fine && i < spots.count; i++) {
        bool back = request->z[i] < 0.0;
        double stretch = discs->radius / sqrt(1.0 + fabs(request->z[i]));
        double x = back ? -request->x[i] : request->x[i];
        spots.x[i] = discs->centre[back] + stretch * x;
        spots.y[i] = discs->middle - stretch * request->y[i];
    }
    fine = fine && layout_dense(layout, &spots);
    spots_release(&spots);
    return fine;
}

/* A dot of a disc shows the pixel nearest to it; a seam of ground runs between pixels. */
static void ball_dot(Layout *layout, const LayoutRequest *request, const Discs *discs,
                     uint32_t *owners, size_t dot) {
    double column = (double)(dot % (size_t)layout->width) + 0.5;
    double row = (double)(dot / (size_t)layout->width) + 0.5;
    int back = column > layout->width / 2.0;
    double x = (column - discs->centre[back]) / discs->radius;
    double y = (discs->middle - row) / discs->radius;
    double square = x * x + y * y;
    double inside = (1.0 - sqrt(square)) * discs->radius + 0.5;
    if (inside <= 0.0)
        return;
    square = fmin(square, 1.0);
    double stretch = sqrt(2.0 - square);
    Direction to = {(back ? -x : x) * stretch, y * stretch, back ? square - 1.0 : 1.0 - square};
    Nearest nearest = layout_nearest(request, to);
    double seam = discs->seams ? (nearest.second - nearest.chord) * discs->radius / sqrt(2.0) : 1.0;
    double share = fmin(1.0, SEAM_LIGHT + seam) * fmin(1.0, inside);
    owners[dot] = nearest.pixel;
    layout->cover[dot] = (uint8_t)(255.0 * share + 0.5);
}

static bool ball_tiles(Layout *layout, const LayoutRequest *request, const Discs *discs) {
    size_t dots = (size_t)layout->width * (size_t)layout->height;
    uint32_t *owners = layout_owners(layout);
    if (owners == NULL)
        return false;
    for (size_t dot = 0; dot < dots; dot++)
        ball_dot(layout, request, discs, owners, dot);
    layout_take_owners(layout, owners);
    memory_release(owners);
    return true;
}

static bool layout_ball(Layout *layout, const LayoutRequest *request) {
    Discs discs = ball_discs(layout);
    /* How wide a pixel's share of a disc is, in dots. */
    double wide = discs.radius * sqrt(2.0 * 3.14159265 / request->pixels);
    double work = (double)request->pixels * layout->width * layout->height;
    bool dense = wide < 0.6 || work > WORK_MOST;
    discs.seams = wide >= 3.0;
    int below = (int)(discs.middle + discs.radius) + 1;
    layout->label_count = 2;
    layout->labels[0] = (LayoutLabel){"front", (int)discs.centre[0], below};
    layout->labels[1] = (LayoutLabel){"back", (int)discs.centre[1], below};
    return dense ? ball_dense(layout, request, &discs) : ball_tiles(layout, request, &discs);
}

static bool strip_along(const LayoutRequest *request) {
    for (uint32_t i = 0; i < request->pixels && request->y != NULL; i++)
        if (fabs(request->y[i]) > 1e-9)
            return false;
    return true;
}

static bool layout_fill(Layout *layout, const LayoutRequest *request) {
    switch (request->arrangement) {
    case ARRANGE_STRIP:
        return strip_along(request) ? layout_strip(layout, request) : layout_flat(layout, request);
    case ARRANGE_GRID:
        return layout_grid(layout, request);
    case ARRANGE_BALL:
        return layout_ball(layout, request);
    case ARRANGE_RING:
        return layout_ring(layout, request);
    case ARRANGE_POINTS:
        break;
    }
    return layout_flat(layout, request);
}

bool layout_create(Layout *layout, const LayoutRequest *request) {
    *layout = (Layout){.width = request->width, .height = request->height};
    if (layout_allocate(layout, request->pixels) && layout_fill(layout, request))
        return true;
    layout_release(layout);
    return false;
}

void layout_release(Layout *layout) {
    memory_release(layout->first);
    memory_release(layout->pixels);
    memory_release(layout->cover);
    *layout = (Layout){0};
}
