#include "runtime/light/geodesic.h"

#include <stdlib.h>

#include "runtime/core/memory.h"
#include "runtime/core/number.h"

enum { CORNERS = 12, EDGES = 30, TRIANGLES = 20 };

/* Heights closer than this are one level: far above the rounding of a coordinate (1e-16), far
 * below the distance of two levels on the largest ball that a lamp can have. */
#define GEODESIC_LEVEL 1e-12

typedef struct Icosahedron {
    ShapePoint corners[CORNERS]; /* top, five, five, bottom */
    uint8_t triangles[TRIANGLES][3];
    uint8_t edges[EDGES][2];
} Icosahedron;

uint64_t geodesic_count(uint32_t frequency, bool faces) {
    uint64_t square = (uint64_t)frequency * frequency;
    return faces ? 20 * square : 10 * square + 2;
}

static void icosahedron_corners(Icosahedron *solid) {
    double high = 1.0 / number_square_root(5.0);
    double wide = 2.0 * high;
    solid->corners[0] = (ShapePoint){0.0, 1.0, 0.0};
    solid->corners[11] = (ShapePoint){0.0, -1.0, 0.0};
    for (int i = 0; i < 5; i++) {
        double upper = i / 5.0, lower = (i + 0.5) / 5.0;
        solid->corners[1 + i] =
            (ShapePoint){-wide * number_sine(upper), high, wide * number_cosine(upper)};
        solid->corners[6 + i] =
            (ShapePoint){-wide * number_sine(lower), -high, wide * number_cosine(lower)};
    }
}

static void icosahedron_set(uint8_t *triangle, int a, int b, int c) {
    triangle[0] = (uint8_t)a;
    triangle[1] = (uint8_t)b;
    triangle[2] = (uint8_t)c;
}

static void icosahedron_create(Icosahedron *solid) {
    icosahedron_corners(solid);
    for (int i = 0; i < 5; i++) {
        int next = (i + 1) % 5;
        icosahedron_set(solid->triangles[i], 0, 1 + i, 1 + next);
        icosahedron_set(solid->triangles[5 + i], 1 + i, 1 + next, 6 + i);
        icosahedron_set(solid->triangles[10 + i], 6 + i, 6 + next, 1 + next);
        icosahedron_set(solid->triangles[15 + i], 11, 6 + i, 6 + next);
    }
    int count = 0;
    for (int t = 0; t < TRIANGLES; t++)
        for (int side = 0; side < 3; side++) {
            uint8_t a = solid->triangles[t][side], b = solid->triangles[t][(side + 1) % 3];
            uint8_t low = a < b ? a : b, high = a < b ? b : a;
            bool known = false;
            for (int e = 0; e < count && !known; e++)
                known = solid->edges[e][0] == low && solid->edges[e][1] == high;
            if (!known) {
                solid->edges[count][0] = low;
                solid->edges[count][1] = high;
                count++;
            }
        }
}

static ShapePoint geodesic_pushed(ShapePoint p) {
    double far = number_square_root(p.x * p.x + p.y * p.y + p.z * p.z);
    return (ShapePoint){p.x / far, p.y / far, p.z / far};
}

/* The point with the weights i, j, k of a triangle's corners, pushed to the sphere. */
static ShapePoint geodesic_place(const Icosahedron *solid, const uint8_t *corners, uint32_t i,
                                 uint32_t j, uint32_t k) {
    ShapePoint a = solid->corners[corners[0]], b = solid->corners[corners[1]];
    ShapePoint c = solid->corners[corners[2]];
    return geodesic_pushed((ShapePoint){i * a.x + j * b.x + k * c.x, i * a.y + j * b.y + k * c.y,
                                        i * a.z + j * b.z + k * c.z});
}

static void geodesic_corners(const Icosahedron *solid, uint32_t frequency, ShapePoint *points) {
    for (int corner = 0; corner < CORNERS; corner++)
        *points++ = solid->corners[corner];
    for (int edge = 0; edge < EDGES; edge++) {
        uint8_t ends[3] = {solid->edges[edge][0], solid->edges[edge][1], 0};
        for (uint32_t i = 1; i < frequency; i++)
            *points++ = geodesic_place(solid, ends, i, frequency - i, 0);
    }
    for (int t = 0; t < TRIANGLES; t++)
        for (uint32_t i = 1; i < frequency; i++)
            for (uint32_t j = 1; i + j < frequency; j++)
                *points++ = geodesic_place(solid, solid->triangles[t], i, j, frequency - i - j);
}

static ShapePoint geodesic_centre(ShapePoint a, ShapePoint b, ShapePoint c) {
    return geodesic_pushed((ShapePoint){a.x + b.x + c.x, a.y + b.y + c.y, a.z + b.z + c.z});
}

static void geodesic_centres(const Icosahedron *solid, uint32_t frequency, ShapePoint *points) {
    for (int t = 0; t < TRIANGLES; t++) {
        const uint8_t *corners = solid->triangles[t];
        for (uint32_t i = 0; i < frequency; i++)
            for (uint32_t j = 0; i + j < frequency; j++) {
                uint32_t k = frequency - 1 - i - j;
                ShapePoint a = geodesic_place(solid, corners, i + 1, j, k);
                ShapePoint b = geodesic_place(solid, corners, i, j + 1, k);
                ShapePoint c = geodesic_place(solid, corners, i, j, k + 1);
                *points++ = geodesic_centre(a, b, c);
                if (k > 0) {
                    ShapePoint d = geodesic_place(solid, corners, i + 1, j + 1, k - 1);
                    ShapePoint e = geodesic_place(solid, corners, i + 1, j, k);
                    ShapePoint f = geodesic_place(solid, corners, i, j + 1, k);
                    *points++ = geodesic_centre(d, e, f);
                }
            }
    }
}

typedef struct Place {
    ShapePoint point;
    double height, way;
} Place;

static int place_compare(const void *left, const void *right) {
    const Place *a = left, *b = right;
    if (a->height != b->height)
        return a->height > b->height ? -1 : 1;
    return a->way < b->way ? -1 : a->way > b->way;
}

static double geodesic_dusted(double value) {
    return value < GEODESIC_LEVEL && value > -GEODESIC_LEVEL ? 0.0 : value;
}

static Place place_of(ShapePoint point) {
    point.x = geodesic_dusted(point.x);
    point.y = geodesic_dusted(point.y);
    point.z = geodesic_dusted(point.z);
    double way = number_modulo(number_arc_tangent(-point.x, point.z), 1.0);
    return (Place){point, point.y, way};
}

/* Sorts by height first, gives each level one height, then sorts again with the way round. */
static void geodesic_order(Place *places, size_t count) {
    qsort(places, count, sizeof *places, place_compare);
    for (size_t i = 1; i < count; i++)
        if (places[i - 1].height - places[i].height < GEODESIC_LEVEL)
            places[i].height = places[i - 1].height;
    qsort(places, count, sizeof *places, place_compare);
}

bool geodesic_points(uint32_t frequency, bool faces, ShapePoint *points) {
    size_t count = (size_t)geodesic_count(frequency, faces);
    Place *places = memory_allocate(count, sizeof *places);
    if (places == NULL)
        return false;
    Icosahedron solid;
    icosahedron_create(&solid);
    if (faces)
        geodesic_centres(&solid, frequency, points);
    else
        geodesic_corners(&solid, frequency, points);
    for (size_t i = 0; i < count; i++)
        places[i] = place_of(points[i]);
    geodesic_order(places, count);
    for (size_t i = 0; i < count; i++) {
        points[i] = places[i].point;
        points[i].y = places[i].height; /* a level is level to the last bit */
    }
    memory_release(places);
    return true;
}
