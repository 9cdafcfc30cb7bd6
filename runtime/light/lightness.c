#include "runtime/light/lightness.h"

#include "runtime/core/number.h"

#define LIGHTNESS_EDGE (216.0 / 24389.0) /* light where the line meets the cube root */
#define LIGHTNESS_STEEP (24389.0 / 27.0) /* of the line */
#define LIGHTNESS_OF_EDGE 8.0

double lightness_of(double light) {
    if (!(light > 0.0))
        return 0.0;
    if (light > LIGHTNESS_EDGE)
        return 116.0 * number_cube_root(light) - 16.0;
    return LIGHTNESS_STEEP * light;
}

double lightness_light(double lightness) {
    if (!(lightness > 0.0))
        return 0.0;
    if (lightness > LIGHTNESS_OF_EDGE) {
        const double root = (lightness + 16.0) / 116.0;
        return number_finite(root * root * root);
    }
    return lightness / LIGHTNESS_STEEP;
}

double lightness_luminance(const float light[3]) {
    return 0.2126 * (double)light[0] + 0.7152 * (double)light[1] + 0.0722 * (double)light[2];
}
