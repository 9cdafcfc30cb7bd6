#include "runtime/light/shape.h"

#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/core/number.h"
#include "runtime/core/program.h"
#include "runtime/light/geodesic.h"

struct Shape {
    ShapeForm form;
    uint32_t pixels, across, up;
    double *storage;
    const double *field[FIELD_COUNT];
};

/* Coordinates closer to 0 than this are 0: what sines and turning leave over must not decide on
 * which side of the middle a pixel is. */
#define SHAPE_DUST 0x1p-48

uint32_t shape_count(const ShapeRequest *request) {
    uint64_t count = 0;
    uint64_t frequency = request->frequency;
    switch (request->form) {
    case FORM_STRIP:
    case FORM_RING:
        count = request->pixels;
        break;
    case FORM_GRID:
        count = (uint64_t)request->across * request->up;
        break;
    case FORM_BALL:
        if (frequency >= 1 && frequency <= LIMIT_PIXELS)
            count = geodesic_count(request->frequency, request->faces);
        break;
    case FORM_POINTS:
        count = request->point_count;
        break;
    }
    return count > LIMIT_PIXELS ? 0 : (uint32_t)count;
}

static void shape_strip(const Shape *shape, double *x) {
    for (uint32_t i = 0; i < shape->pixels; i++)
        x[i] = (2.0 * i + 1.0 - shape->pixels) / shape->pixels;
}

static void shape_grid(const ShapeRequest *request, double *x, double *y) {
    double across = request->across, up = request->up;
    double longer = across > up ? across : up;
    for (uint32_t row = 0, i = 0; row < request->up; row++) {
        bool back = request->zigzag && row % 2 == 1;
        for (uint32_t step = 0; step < request->across; step++, i++) {
            uint32_t column = back ? request->across - 1 - step : step;
            x[i] = (2.0 * column + 1.0 - across) / longer;
            y[i] = (2.0 * row + 1.0 - up) / longer;
        }
    }
}

typedef struct Extent {
    double low, high;
} Extent;

static void extent_add(Extent *extent, double value) {
    extent->low = value < extent->low ? value : extent->low;
    extent->high = value > extent->high ? value : extent->high;
}

/* Halves before the sum and the difference: no overflow whatever the file says. */
static double extent_middle(Extent extent) {
    return extent.low / 2.0 + extent.high / 2.0;
}
static double extent_half(Extent extent) {
    return extent.high / 2.0 - extent.low / 2.0;
}

static double shape_scaled(double value, double middle, double half) {
    return half > 0.0 ? (value - middle) / half : 0.0;
}

static void shape_points(const ShapeRequest *request, double *x, double *y, double *z) {
    const ShapePoint *points = request->points;
    Extent wide = {points[0].x, points[0].x}, high = {points[0].y, points[0].y};
    Extent deep = {points[0].z, points[0].z};
    for (uint32_t i = 1; i < request->point_count; i++) {
        extent_add(&wide, points[i].x);
        extent_add(&high, points[i].y);
        extent_add(&deep, points[i].z);
    }
    double half = extent_half(wide);
    half = extent_half(high) > half ? extent_half(high) : half;
    half = extent_half(deep) > half ? extent_half(deep) : half;
    for (uint32_t i = 0; i < request->point_count; i++) {
        x[i] = shape_scaled(points[i].x, extent_middle(wide), half);
        y[i] = shape_scaled(points[i].y, extent_middle(high), half);
        z[i] = shape_scaled(points[i].z, extent_middle(deep), half);
    }
}

static double shape_dusted(double value) {
    return value < SHAPE_DUST && value > -SHAPE_DUST ? 0.0 : value;
}

static void shape_turn(const ShapeRequest *request, uint32_t pixels, double *x, double *y) {
    double turned = number_modulo(request->turned, 1.0);
    double sine = number_sine(turned), cosine = number_cosine(turned);
    for (uint32_t i = 0; i < pixels; i++) {
        double across = request->mirrored ? -x[i] : x[i];
        double up = y[i];
        x[i] = shape_dusted(across * cosine + up * sine);
        y[i] = shape_dusted(up * cosine - across * sine);
    }
}

static void shape_polar(const Shape *shape, const double *x, const double *y, double *radius,
                        double *angle) {
    for (uint32_t i = 0; i < shape->pixels; i++) {
        double far = number_square_root(x[i] * x[i] + y[i] * y[i]);
        radius[i] = shape->form == FORM_BALL && far > 1.0 ? 1.0 : far;
        angle[i] = number_modulo(number_arc_tangent(x[i], y[i]), 1.0);
    }
}

/* A ring is made from its angles, so that they and the radius have no rounding of a way through
 * x and y. */
static void shape_ring(const ShapeRequest *request, const Shape *shape, double *fields[]) {
    for (uint32_t i = 0; i < shape->pixels; i++) {
        uint32_t step = request->mirrored ? (shape->pixels - i) % shape->pixels : i;
        double place = (double)step / shape->pixels + number_modulo(request->turned, 1.0);
        double angle = number_modulo(place, 1.0);
        fields[FIELD_ANGLE][i] = angle;
        fields[FIELD_RADIUS][i] = 1.0;
        fields[FIELD_X][i] = shape_dusted(number_sine(angle));
        fields[FIELD_Y][i] = shape_dusted(number_cosine(angle));
    }
}

static bool shape_ball(const ShapeRequest *request, const Shape *shape, double *fields[]) {
    ShapePoint *points = memory_allocate(shape->pixels, sizeof *points);
    if (points == NULL || !geodesic_points(request->frequency, request->faces, points)) {
        memory_release(points);
        return false;
    }
    for (uint32_t i = 0; i < shape->pixels; i++) {
        fields[FIELD_X][i] = points[i].x;
        fields[FIELD_Y][i] = points[i].y;
        fields[FIELD_Z][i] = points[i].z;
    }
    memory_release(points);
    return true;
}

static bool shape_fill(const ShapeRequest *request, Shape *shape, double *fields[]) {
    for (uint32_t i = 0; i < shape->pixels; i++) {
        fields[FIELD_PIXEL][i] = i;
        fields[FIELD_POS][i] = (i + 0.5) / shape->pixels;
    }
    switch (request->form) {
    case FORM_STRIP:
        shape_strip(shape, fields[FIELD_X]);
        break;
    case FORM_RING:
        shape_ring(request, shape, fields);
        return true;
    case FORM_GRID:
        shape->across = request->across;
        shape->up = request->up;
        shape_grid(request, fields[FIELD_X], fields[FIELD_Y]);
        break;
    case FORM_BALL:
        if (!shape_ball(request, shape, fields))
            return false;
        break;
    case FORM_POINTS:
        shape_points(request, fields[FIELD_X], fields[FIELD_Y], fields[FIELD_Z]);
        break;
    }
    shape_turn(request, shape->pixels, fields[FIELD_X], fields[FIELD_Y]);
    shape_polar(shape, fields[FIELD_X], fields[FIELD_Y], fields[FIELD_RADIUS], fields[FIELD_ANGLE]);
    return true;
}

Shape *shape_create(const ShapeRequest *request) {
    uint32_t pixels = shape_count(request);
    Shape *shape = pixels == 0 ? NULL : memory_allocate(1, sizeof *shape);
    if (shape == NULL)
        return NULL;
    shape->form = request->form;
    shape->pixels = pixels;
    shape->storage = memory_allocate((size_t)pixels * FIELD_COUNT, sizeof *shape->storage);
    if (shape->storage == NULL) {
        shape_free(shape);
        return NULL;
    }
    double *fields[FIELD_COUNT];
    for (int field = 0; field < FIELD_COUNT; field++) {
        fields[field] = shape->storage + (size_t)field * pixels;
        shape->field[field] = fields[field];
    }
    if (!shape_fill(request, shape, fields)) {
        shape_free(shape);
        return NULL;
    }
    return shape;
}

void shape_free(Shape *shape) {
    if (shape == NULL)
        return;
    memory_release(shape->storage);
    memory_release(shape);
}

uint32_t shape_pixels(const Shape *shape) {
    return shape->pixels;
}
ShapeForm shape_form(const Shape *shape) {
    return shape->form;
}
const double *const *shape_fields(const Shape *shape) {
    return shape->field;
}
uint32_t shape_across(const Shape *shape) {
    return shape->across;
}
uint32_t shape_up(const Shape *shape) {
    return shape->up;
}
