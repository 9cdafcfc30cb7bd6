#include "runtime/light/white.h"

#include "runtime/core/colour.h"
#include "runtime/core/light.h"

bool white_die(double die, const float factors[3], float mix[3]) {
    Colour light;
    if (!colour_blackbody(die, &light))
        return false;
    mix[0] = factors[0] * light.r;
    mix[1] = factors[1] * light.g;
    mix[2] = factors[2] * light.b;
    return (double)mix[0] + (double)mix[1] + (double)mix[2] > 1.0;
}

/* How much of the mix is in a pixel. */
static float white_part(const float mix[3], const float light[3]) {
    float most = 1.0f;
    for (int i = 0; i < 3; i++)
        if (mix[i] > 0.0f)
            most = light_minimum(most, light[i] / mix[i]);
    return light_unit(most);
}

/* What the die leaves of a channel; a difference that is only rounding is none, so that light of
 * the die's own colour leaves the channels dark. */
static float white_rest(float light, float part) {
    const float rest = light - part;
    return rest > light * 0x1p-21f ? rest : 0.0f;
}

void white_split(bool usable, const float mix[3], const float *light, size_t pixels, float *into) {
    for (size_t i = 0; i < pixels; i++) {
        const float *from = light + 3 * i;
        float *pixel = into + 4 * i;
        const float white = usable ? white_part(mix, from) : 0.0f;
        for (int channel = 0; channel < 3; channel++)
            pixel[channel] =
                usable ? white_rest(from[channel], white * mix[channel]) : from[channel];
        pixel[3] = white;
    }
}
