#include "runtime/light/level.h"

#include "runtime/core/easing.h"

void level_master(float *light, size_t pixels, double level) {
    const float factor = (float)level;
    if (level == 1.0)
        return;
    for (size_t i = 0; i < 3 * pixels; i++)
        light[i] *= factor;
}

void level_ceiling(float *light, size_t pixels, double ceiling) {
    const double most = (double)(float)number_smaller(ceiling, LEVEL_NO_CEILING);
    float brightest = 0.0f;
    for (size_t i = 0; i < 3 * pixels; i++)
        brightest = light[i] > brightest ? light[i] : brightest;
    if (!((double)brightest > most))
        return;
    /* The product of two singles is exact as a double, so the brightest becomes the ceiling. */
    for (size_t i = 0; i < 3 * pixels; i++)
        light[i] = (float)((double)light[i] * most / (double)brightest);
}

double level_glide(double under, int64_t since_begin, int64_t until_end) {
    const int64_t nearer = since_begin < until_end ? since_begin : until_end;
    if (nearer < 0)
        return LEVEL_NO_CEILING;
    if (nearer >= LEVEL_GLIDE)
        return under;
    const double share = easing_in_out((double)nearer / LEVEL_GLIDE);
    return 1.0 + (under - 1.0) * share;
}
