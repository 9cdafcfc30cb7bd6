/* Where the pixels of a lamp sit: spec/meaning.md, section 10. Worked out once when a lamp is
 * loaded, with the functions of runtime/core/number.h only, so the same bits everywhere. */
#ifndef GLOAM_LIGHT_SHAPE_H
#define GLOAM_LIGHT_SHAPE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* In the order of the shapes in the text of a lamp. */
typedef enum ShapeForm { FORM_STRIP, FORM_RING, FORM_GRID, FORM_BALL, FORM_POINTS } ShapeForm;

typedef struct ShapePoint {
    double x, y, z;
} ShapePoint;

typedef struct ShapeRequest {
    ShapeForm form;
    uint32_t pixels;          /* strip and ring; the others know their own number */
    uint32_t across, up;      /* grid */
    bool zigzag;              /* grid */
    uint32_t frequency;       /* ball: at least 1 */
    bool faces;               /* ball: a pixel on each triangle instead of each corner */
    uint32_t point_count;     /* points */
    const ShapePoint *points; /* points: as the file says; finite; read in shape_create only */
    double turned;            /* turns, clockwise seen from the front */
    bool mirrored;            /* before turning */
} ShapeRequest;

/* Read only once made; shared freely. */
typedef struct Shape Shape;

/* How many pixels the lamp has; 0 where that is none or more than LIMIT_PIXELS. */
uint32_t shape_count(const ShapeRequest *request);

/* NULL where shape_count is 0 or memory ran out. */
Shape *shape_create(const ShapeRequest *request);
void shape_free(Shape *shape); /* NULL is fine */

uint32_t shape_pixels(const Shape *shape);
ShapeForm shape_form(const Shape *shape);
/* FIELD_COUNT arrays of shape_pixels numbers each, by Field: for the `field` of a Scene. */
const double *const *shape_fields(const Shape *shape);
/* Columns and rows of a grid; 0 for any other form. */
uint32_t shape_across(const Shape *shape);
uint32_t shape_up(const Shape *shape);

#endif
