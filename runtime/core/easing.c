#include "runtime/core/easing.h"

static double steps_at(Jump jump, uint32_t steps, double x) {
    const double n = (double)steps;
    const double jumps = jump == JUMP_BOTH ? n + 1.0 : (jump == JUMP_NONE ? n - 1.0 : n);
    const double first = jump == JUMP_START || jump == JUMP_BOTH ? 1.0 : 0.0;
    const double step = number_floor(x * n) + first;
    const double above = ((x >= 0.0) & (step < 0.0)) ? 0.0 : step;
    return number_divide(((x <= 1.0) & (above > jumps)) ? jumps : above, jumps);
}

static double linear_at(const double *points, uint32_t count, double x) {
    uint32_t at = 0;
    for (uint32_t i = 1; i + 1 < count; i++)
        at = points[2 * i] <= x ? i : at;
    const double *a = points + 2 * at;
    if (a[0] == a[2])
        return a[3];
    return a[1] + (x - a[0]) / (a[2] - a[0]) * (a[3] - a[1]);
}

double easing_at(const Easing *easing, double x) {
    switch (easing->kind) {
    case EASING_BEZIER:
        return easing_bezier(easing->bezier, x);
    case EASING_STEPS:
        return number_finite(steps_at(easing->jump, easing->count, x));
    case EASING_LINEAR:
        return number_finite(linear_at(easing->points, easing->count, x));
    }
    return 0.0;
}
