#include "runtime/core/easing.h"

#include "runtime/core/number.h"

/* A Bezier coordinate with ends 0 and 1 as ((a t + b) t + c) t. */
typedef struct Cubic {
    double a, b, c;
} Cubic;

static Cubic cubic_of(double first, double second) {
    const Cubic cubic = {3.0 * (first - second) + 1.0, 3.0 * (second - 2.0 * first), 3.0 * first};
    return cubic;
}

static double cubic_at(Cubic cubic, double t) {
    return ((cubic.a * t + cubic.b) * t + cubic.c) * t;
}

enum { HALVINGS = 14, NEWTON_STEPS = 5 };

/* The t within 0..1 at which a rising cubic is x: halvings find the stretch, Newton's steps, held
 * within it, the place. The number of steps is fixed, nothing branches. */
static double cubic_inverse(Cubic cubic, double x) {
    double low = 0.0, high = 1.0;
    for (int i = 0; i < HALVINGS; i++) {
        const double middle = 0.5 * (low + high);
        const int below = cubic_at(cubic, middle) < x;
        low = below ? middle : low;
        high = below ? high : middle;
    }
    double t = 0.5 * (low + high);
    for (int i = 0; i < NEWTON_STEPS; i++) {
        const double slope = (3.0 * cubic.a * t + 2.0 * cubic.b) * t + cubic.c;
        const double step = number_divide(x - cubic_at(cubic, t), slope);
        const double next = t + step;
        const double above = next > low ? next : low;
        t = above < high ? above : high;
    }
    return t;
}

/* Slope of the tangent beyond an end: of the first control point that has a width, else 0. */
static double tangent(double rise, double run, double second_rise, double second_run) {
    const double second = second_run > 0.0 ? number_divide(second_rise, second_run) : 0.0;
    return run > 0.0 ? number_divide(rise, run) : second;
}

static double bezier_at(const double bezier[4], double x) {
    const double x1 = bezier[0], y1 = bezier[1], x2 = bezier[2], y2 = bezier[3];
    const double t = cubic_inverse(cubic_of(x1, x2), number_unit(x));
    const double inside = cubic_at(cubic_of(y1, y2), t);
    const double before = x * tangent(y1, x1, y2, x2);
    const double after = 1.0 + (x - 1.0) * tangent(1.0 - y2, 1.0 - x2, 1.0 - y1, 1.0 - x1);
    const double low = x < 0.0 ? before : inside;
    const double all = x > 1.0 ? after : low;
    return x == 0.0 ? 0.0 : ((x == 1.0 ? 1.0 : all));
}

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
        return number_finite(bezier_at(easing->bezier, x));
    case EASING_STEPS:
        return number_finite(steps_at(easing->jump, easing->count, x));
    case EASING_LINEAR:
        return number_finite(linear_at(easing->points, easing->count, x));
    }
    return 0.0;
}
