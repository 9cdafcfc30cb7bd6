/* Class I icosahedral geodesic spheres of radius 1: each face of an icosahedron divided into
 * frequency^2 flat triangles, their corners pushed out to the sphere.
 *
 * One corner of the icosahedron is the top (y = 1), one of the five below it is in front (x = 0,
 * z > 0). The order is from the top down, round each level clockwise seen from above, from the
 * front on. */
#ifndef GLOAM_LIGHT_GEODESIC_H
#define GLOAM_LIGHT_GEODESIC_H

#include <stdbool.h>
#include <stdint.h>

#include "runtime/light/shape.h"

/* Corners (10 f^2 + 2), or with `faces` triangles (20 f^2). */
uint64_t geodesic_count(uint32_t frequency, bool faces);

/* Fills geodesic_count points. False: out of memory. */
bool geodesic_points(uint32_t frequency, bool faces, ShapePoint *points);

#endif
