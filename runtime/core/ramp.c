#include "runtime/core/ramp.h"

#include "runtime/core/easing.h"
#include "runtime/core/number.h"

void ramp_ready(RampReady *ready, const Ramp *ramp, const Easing *easings, const double *numbers,
                const Colour *colours) {
    ready->ramp = ramp;
    for (uint32_t i = 0; i < ramp->count; i++) {
        const RampStop *stop = &ramp->stops[i];
        RampStretch *stretch = &ready->stretches[i];
        const double place = numbers[stop->place];
        const double least = i ? stretch[-1].place : place;
        stretch->place = place < least ? least : place; /* never below the stop before */
        stretch->easing = stop->easing == EASING_NONE ? NULL : &easings[stop->easing];
        if (ramp->colour)
            stretch->light = colours[stop->value];
        else
            stretch->number = numbers[stop->value];
    }
    for (uint32_t i = 0; i < ramp->count; i++) {
        RampStretch *stretch = &ready->stretches[i];
        const RampStretch *next = i + 1 < ramp->count ? stretch + 1 : stretch;
        stretch->length = next->place - stretch->place;
        if (ramp->colour && !ramp->bars && next != stretch)
            colour_pair(ramp->blend, stretch->light, next->light, &stretch->from, &stretch->to);
    }
}

/* The last stop whose place is not beyond `place`; the first one where all are. */
static uint32_t stretch_at(const RampReady *ready, double place) {
    uint32_t low = 0;
    for (uint32_t rest = ready->ramp->count; rest > 1;) { /* as many steps for every place */
        const uint32_t half = rest / 2;
        low += ready->stretches[low + half].place <= place ? half : 0;
        rest -= half;
    }
    return low;
}

const RampStretch *ramp_find(const RampReady *ready, double place, double *share) {
    const uint32_t index = stretch_at(ready, place);
    const RampStretch *stretch = &ready->stretches[index];
    const bool last = index + 1 == ready->ramp->count;
    *share = ready->ramp->bars || last || !(stretch->place < place)
                 ? 0.0
                 : number_divide(place - stretch->place, stretch->length);
    return stretch;
}

static double eased(const RampStretch *stretch, double share) {
    return share == 0.0 || !stretch->easing ? share : easing_at(stretch->easing, share);
}

double ramp_number(const RampReady *ready, double place) {
    double share;
    const RampStretch *stretch = ramp_find(ready, place, &share);
    if (share == 0.0)
        return stretch->number;
    return number_lerp(stretch->number, stretch[1].number, eased(stretch, share));
}

Colour ramp_colour(const RampReady *ready, double place) {
    double share;
    const RampStretch *stretch = ramp_find(ready, place, &share);
    if (share == 0.0)
        return stretch->light;
    share = eased(stretch, share);
    const Colour between = colour_between(ready->ramp->blend, &stretch->from, &stretch->to, share);
    return colour_ends(stretch->light, stretch[1].light, between, share);
}
