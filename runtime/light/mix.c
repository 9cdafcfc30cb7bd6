#include "runtime/light/mix.h"

#include "runtime/core/number.h"

/* In doubles: between two floats the rounding never leaves the interval of the two. */
void light_mix_frames(const float *from, const float *to, double share, size_t values,
                      float *into) {
    for (size_t i = 0; i < values; i++)
        into[i] = (float)number_lerp(from[i], to[i], share);
}
