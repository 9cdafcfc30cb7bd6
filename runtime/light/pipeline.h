/* From light to bytes for one lamp, in this order, each step a pure function of its own file:
 *
 *   master level -> gamut -> ceiling -> supply limit -> flash guard     what a preview shows
 *   -> calibration -> white channel -> quantise with dithering          what the wire carries
 *
 * The gamut step comes before the ceiling: an overbright pixel is held to full by itself, so that a
 * ceiling that begins to glide down from full changes nothing at first. (Layers come from the
 * machine, cross-fades from mix.h before; the order of the channels on the wire, order.h, belongs
 * to the wire.) Nothing is allocated after pipeline_create. */
#ifndef GLOAM_LIGHT_PIPELINE_H
#define GLOAM_LIGHT_PIPELINE_H

#include "runtime/light/shape.h"
#include "runtime/light/supply.h"

/* What a lamp says about its light, defaults filled in. */
typedef struct PipelineLamp {
    double level;               /* master, 0..1 of light */
    double gain[3], white, die; /* calibrate.h, white.h; kelvin, 0: not said */
    bool has_white;             /* pixels have a white part */
    bool has_level, level_free; /* quantise.h */
    bool dither;                /* spread over the pixels */
    double frames;              /* above 0: dither in time too, at so many frames a second */
    bool guarded;               /* the flash guard is on */
    Supply supply;
} PipelineLamp;

typedef struct Pipeline Pipeline;

/* Keeps nothing of `lamp` and `shape`. NULL: out of memory. */
Pipeline *pipeline_create(const PipelineLamp *lamp, const Shape *shape);
void pipeline_free(Pipeline *pipeline);
/* Forgets what the guard saw: before a run of frames that does not follow on from the last. */
void pipeline_restart(Pipeline *pipeline);

/* red, green, blue[, white][, level] */
uint32_t pipeline_columns(const Pipeline *pipeline);

/* The first line above, in place: 3 floats a pixel, then within 0..1. `microseconds` is when it is
 * shown, for the guard; times never fall. `ceiling`: level.h. */
void pipeline_show(Pipeline *pipeline, int64_t microseconds, double ceiling, float *light);

/* A ceiling on some pixels that follow one another. */
typedef struct PipelinePart {
    uint32_t first, pixels;
    double ceiling;
} PipelinePart;

/* The same with ceilings on parts of the lamp, each by itself before that on the whole. */
void pipeline_show_parts(Pipeline *pipeline, int64_t microseconds, double ceiling,
                         const PipelinePart *parts, uint32_t count, float *light);

/* The second: light that pipeline_show made; `frame` counts the frames on the wire; `still`: no
 * other frame follows soon, so nothing is dithered in time. */
void pipeline_bytes(Pipeline *pipeline, const float *light, uint64_t frame, bool still,
                    uint8_t *bytes);

/* Amperes that bytes draw. */
double pipeline_current(const Pipeline *pipeline, const uint8_t *bytes);
/* Frames that the supply dimmed, and that the guard held back, since pipeline_create. */
uint64_t pipeline_dimmed(const Pipeline *pipeline);
uint64_t pipeline_held(const Pipeline *pipeline);

#endif
