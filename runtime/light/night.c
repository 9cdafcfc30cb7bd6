#include "runtime/light/night.h"

#include "runtime/core/number.h"

double night_melanopic(const float *light, uint32_t pixels) {
    static const double weights[3] = {0.00055, 0.32857, 0.67088};
    double sum = 0.0;
    for (size_t i = 0; i < 3 * (size_t)pixels; i++)
        sum += weights[i % 3] * number_unit((double)light[i]);
    return pixels ? number_unit(sum / pixels) : 0.0;
}
