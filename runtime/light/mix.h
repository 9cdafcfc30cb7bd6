/* Two frames in one: cross-fades and the flash guard. */
#ifndef GLOAM_LIGHT_MIX_H
#define GLOAM_LIGHT_MIX_H

#include <stddef.h>

/* into = from + share * (to - from), value by value, in linear light; exactly `from` at 0 and `to`
 * at 1. Any of the three may be the same array. `values` floats. */
void light_mix_frames(const float *from, const float *to, double share, size_t values, float *into);

#endif
