#include "runtime/light/pipeline.h"

#include <assert.h>

#include "runtime/core/memory.h"
#include "runtime/light/calibrate.h"
#include "runtime/light/dither.h"
#include "runtime/light/encode.h"
#include "runtime/light/flicker.h"
#include "runtime/light/guard.h"
#include "runtime/light/level.h"
#include "runtime/light/quantise.h"
#include "runtime/light/white.h"

struct Pipeline {
    PipelineLamp lamp;
    uint32_t pixels;
    float factors[3]; /* calibration */
    bool die;         /* the white part is of use */
    float mix[3];     /* what it replaces */
    Guard *guard;     /* NULL: off */
    uint32_t *ranks;  /* NULL: no dithering */
    uint8_t bits[256];
    Quantiser quantiser;
    float *wire; /* calibrated and split: quantiser.channels floats a pixel */
    uint64_t dimmed, held;
};

static bool start_dithering(Pipeline *pipeline, const Shape *shape) {
    Quantiser *quantiser = &pipeline->quantiser;
    if (!pipeline->lamp.dither)
        return true;
    pipeline->ranks = memory_allocate(pipeline->pixels, sizeof *pipeline->ranks);
    if (!pipeline->ranks || !dither_ranks(shape, pipeline->ranks))
        return false;
    quantiser->ranks = pipeline->ranks;
    if (pipeline->lamp.frames > 0 && !quantiser->level) {
        flicker_bits(pipeline->lamp.frames, pipeline->bits);
        quantiser->bits = pipeline->bits;
    }
    return true;
}

Pipeline *pipeline_create(const PipelineLamp *lamp, const Shape *shape) {
    Pipeline *pipeline = memory_allocate(1, sizeof *pipeline);
    if (!pipeline)
        return NULL;
    pipeline->lamp = *lamp;
    pipeline->pixels = shape_pixels(shape);
    calibrate_factors(lamp->gain, lamp->white, pipeline->factors);
    pipeline->die = lamp->has_white && white_die(lamp->die, pipeline->factors, pipeline->mix);
    pipeline->quantiser = (Quantiser){.pixels = pipeline->pixels,
                                      .channels = lamp->has_white ? 4 : 3,
                                      .level = lamp->has_level,
                                      .level_free = lamp->level_free};
    pipeline->wire =
        memory_allocate(pipeline->pixels, pipeline->quantiser.channels * sizeof *pipeline->wire);
    pipeline->guard = lamp->guarded ? guard_create(pipeline->pixels) : NULL;
    if (pipeline->wire && (pipeline->guard || !lamp->guarded) && start_dithering(pipeline, shape))
        return pipeline;
    pipeline_free(pipeline);
    return NULL;
}

void pipeline_free(Pipeline *pipeline) {
    if (!pipeline)
        return;
    guard_free(pipeline->guard);
    memory_release(pipeline->ranks);
    memory_release(pipeline->wire);
    memory_release(pipeline);
}

void pipeline_restart(Pipeline *pipeline) {
    if (pipeline->guard)
        guard_restart(pipeline->guard);
}

uint32_t pipeline_columns(const Pipeline *pipeline) {
    return quantise_columns(&pipeline->quantiser);
}

/* Calibration and white channel, into pipeline->wire. */
static void to_wire(Pipeline *pipeline, const float *light) {
    if (pipeline->quantiser.channels == 3) {
        calibrate(pipeline->factors, light, pipeline->pixels, pipeline->wire);
        return;
    }
    for (uint32_t i = 0; i < pipeline->pixels; i++) {
        float one[3];
        calibrate(pipeline->factors, light + 3 * (size_t)i, 1, one);
        white_split(pipeline->die, pipeline->mix, one, 1, pipeline->wire + 4 * (size_t)i);
    }
}

static void limit(Pipeline *pipeline, float *light) {
    const Supply *supply = &pipeline->lamp.supply;
    uint32_t channels = pipeline->quantiser.channels;
    size_t values = (size_t)channels * pipeline->pixels;
    double shares = 0;
    if (supply->limit_ampere <= 0)
        return;
    to_wire(pipeline, light);
    for (size_t i = 0; i < values; i++)
        shares += (double)pipeline->wire[i];
    double factor = supply_factor(supply, pipeline->pixels, channels, shares);
    if (factor >= 1)
        return;
    pipeline->dimmed++;
    for (size_t i = 0; i < 3 * (size_t)pipeline->pixels; i++)
        light[i] *= (float)factor;
}

void pipeline_show(Pipeline *pipeline, int64_t microseconds, double ceiling, float *light) {
    pipeline_show_parts(pipeline, microseconds, ceiling, NULL, 0, light);
}

void pipeline_show_parts(Pipeline *pipeline, int64_t microseconds, double ceiling,
                         const PipelinePart *parts, uint32_t count, float *light) {
    level_master(light, pipeline->pixels, pipeline->lamp.level);
    encode_gamut(light, pipeline->pixels, light);
    for (uint32_t i = 0; i < count; i++)
        level_ceiling(light + 3 * (size_t)parts[i].first, parts[i].pixels, parts[i].ceiling);
    level_ceiling(light, pipeline->pixels, ceiling);
    limit(pipeline, light);
    if (pipeline->guard && guard_frame(pipeline->guard, microseconds, light))
        pipeline->held++;
}

double pipeline_current(const Pipeline *pipeline, const uint8_t *bytes) {
    const Quantiser *quantiser = &pipeline->quantiser;
    double shares = supply_shares(bytes, pipeline->pixels, quantiser->channels, quantiser->level);
    return supply_current(&pipeline->lamp.supply, pipeline->pixels, shares);
}

#ifndef NDEBUG
/* The bytes draw no more than the supply gives, or than the dark lamp does. */
static bool within_supply(const Pipeline *pipeline, const uint8_t *bytes) {
    const Supply *supply = &pipeline->lamp.supply;
    double dark = supply_current(supply, pipeline->pixels, 0);
    double most = supply->limit_ampere > dark ? supply->limit_ampere : dark;
    return supply->limit_ampere <= 0 || pipeline_current(pipeline, bytes) <= most * (1 + 1e-12);
}
#endif

void pipeline_bytes(Pipeline *pipeline, const float *light, uint64_t frame, bool still,
                    uint8_t *bytes) {
    Quantiser quantiser = pipeline->quantiser;
    if (still)
        quantiser.bits = NULL;
    to_wire(pipeline, light);
    quantise(&quantiser, pipeline->wire, frame, bytes);
    assert(within_supply(pipeline, bytes)); /* builds with sanitizers only: Makefile */
}

uint64_t pipeline_dimmed(const Pipeline *pipeline) {
    return pipeline->dimmed;
}

uint64_t pipeline_held(const Pipeline *pipeline) {
    return pipeline->held;
}
