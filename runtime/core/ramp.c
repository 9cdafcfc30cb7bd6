#include "runtime/core/ramp.h"

#include "runtime/core/easing.h"
#include "runtime/core/number.h"

void ramp_ready(RampReady *ready, const Ramp *ramp, const Easing *easings, const double *numbers,
                const Colour *colours) {
    ready->ramp = ramp;
    for (uint32_t i = 0; i < ramp->count; i++) {
        const RampStop *stop = &ramp->stops[i];
        RampStretch *stretch = &ready->stretches[i];
        stretch->place = numbers[stop->place];
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
    uint32_t low = 0, high = ready->ramp->count;
    while (high - low > 1) {
        const uint32_t middle = low + (high - low) / 2;
        if (ready->stretches[middle].place <= place)
            low = middle;
        else
            high = middle;
    }
    return low;
}

/* Whether the value is the stop's own: bars, before the first stop, at or behind the last. Else
 * *share is how far along the stretch, eased. */
static bool at_stop(const RampReady *ready, uint32_t index, double place, double *share) {
    const RampStretch *stretch = &ready->stretches[index];
    if (ready->ramp->bars || index + 1 == ready->ramp->count || !(stretch->place < place))
        return true;
    const double straight = number_divide(place - stretch->place, stretch->length);
    *share = stretch->easing ? easing_at(stretch->easing, straight) : straight;
    return false;
}

double ramp_number(const RampReady *ready, double place) {
    const uint32_t index = stretch_at(ready, place);
    const RampStretch *stretch = &ready->stretches[index];
    double share;
    if (at_stop(ready, index, place, &share))
        return stretch->number;
    return number_lerp(stretch->number, stretch[1].number, share);
}

Colour ramp_colour(const RampReady *ready, double place) {
    const uint32_t index = stretch_at(ready, place);
    const RampStretch *stretch = &ready->stretches[index];
    double share;
    if (at_stop(ready, index, place, &share) || share == 0.0)
        return stretch->light;
    if (share == 1.0)
        return stretch[1].light;
    return colour_between(ready->ramp->blend, &stretch->from, &stretch->to, share);
}
