/* Ramps whose stops and places are one for the whole lamp, made ready once and read often. */
#ifndef GLOAM_CORE_RAMP_H
#define GLOAM_CORE_RAMP_H

#include "runtime/core/colour.h"
#include "runtime/core/program.h"

/* A stop and the stretch behind it. */
typedef struct RampStretch {
    double place;         /* of the stop */
    double length;        /* to the next stop's place; 0 for the last */
    double number;        /* the stop's value, number ramps */
    Colour light;         /* the stop's value, colour ramps */
    Coordinates from, to; /* ends of the stretch in the blend space, fading colour ramps */
    const Easing *easing; /* NULL: straight */
} RampStretch;

typedef struct RampReady {
    const Ramp *ramp;
    RampStretch *stretches; /* ramp->count of them, the caller's memory */
} RampReady;

/* Reads places and stops from the frame registers and converts them. `ready->stretches` has room
 * for ramp->count; `easings` are those of the code and outlive *ready. */
void ramp_ready(RampReady *ready, const Ramp *ramp, const Easing *easings, const double *numbers,
                const Colour *colours);

/* The stretch in which a place lies, and how far along it, before its easing; 0 where the value is
 * the stop's own (bars, before the first stop, at a stop, behind the last): that is not eased. */
const RampStretch *ramp_find(const RampReady *ready, double place, double *share);

/* The ramp at a place, as spec/meaning.md says: bit for bit what the operations for differing
 * stops (LERP or COLOUR_BLEND at EASE of the share) give. */
double ramp_number(const RampReady *ready, double place);
Colour ramp_colour(const RampReady *ready, double place);

#endif
