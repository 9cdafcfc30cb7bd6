/* Easings of CSS Easing Functions Level 2. */
#ifndef GLOAM_CORE_EASING_H
#define GLOAM_CORE_EASING_H

#include "runtime/core/number.h"
#include "runtime/core/program.h"

/* The easing at x, outside 0..1 too; a finite number. The before flag of steps is never set. */
double easing_at(const Easing *easing, double x);

/* -------- Bezier curves, inline for loops over blocks of pixels -------- */

/* A Bezier coordinate with ends 0 and 1 as ((a t + b) t + c) t. */
typedef struct EasingCubic {
    double a, b, c;
} EasingCubic;

static inline EasingCubic easing_cubic(double first, double second) {
    const EasingCubic cubic = {3.0 * (first - second) + 1.0, 3.0 * (second - 2.0 * first),
                               3.0 * first};
    return cubic;
}

static inline double easing_cubic_at(EasingCubic cubic, double t) {
    return ((cubic.a * t + cubic.b) * t + cubic.c) * t;
}

/* Where a rising cubic is x. */
typedef struct EasingBracket {
    double low, high;
} EasingBracket;

static inline EasingBracket easing_halve(EasingCubic cubic, double x, EasingBracket in) {
    const double middle = 0.5 * (in.low + in.high);
    const int below = easing_cubic_at(cubic, middle) < x;
    const EasingBracket half = {below ? middle : in.low, below ? in.high : middle};
    return half;
}

/* Written out instead of looped: a loop inside would keep a loop over lanes from vector code. */
static inline EasingBracket easing_halve_twice(EasingCubic cubic, double x, EasingBracket in) {
    return easing_halve(cubic, x, easing_halve(cubic, x, in));
}

static inline EasingBracket easing_halve_6(EasingCubic cubic, double x, EasingBracket in) {
    const EasingBracket quarter = easing_halve_twice(cubic, x, in);
    return easing_halve_twice(cubic, x, easing_halve_twice(cubic, x, quarter));
}

/* One step of Newton's, held within the bracket. */
static inline double easing_newton(EasingCubic cubic, double x, EasingBracket in, double t) {
    const double slope = (3.0 * cubic.a * t + 2.0 * cubic.b) * t + cubic.c;
    const double next = t + number_divide(x - easing_cubic_at(cubic, t), slope);
    const double above = next > in.low ? next : in.low;
    return above < in.high ? above : in.high;
}

/* The 14 halvings with whole numbers, 2^40 for 1. What is cut off takes a sum of them at most 7
 * from the true one (four numbers by less than 1 each, three products), rounding one of doubles by
 * far less than 1: where they are within 16 of x, doubles tell which half it is. */
static inline EasingBracket easing_halve_soft(EasingCubic cubic, double x) {
    const double scale = 1099511627776.0;
    const int64_t a = (int64_t)(cubic.a * scale), b = (int64_t)(cubic.b * scale),
                  c = (int64_t)(cubic.c * scale), at = (int64_t)(x * scale);
    int32_t low = 0;
    for (int32_t width = 1 << 13; width > 0; width >>= 1) {
        const int32_t middle = low + width;
        int64_t apart = ((a * middle >> 14) + b) * middle >> 14;
        apart = ((apart + c) * middle >> 14) - at;
        const int below = apart > 16    ? 0
                          : apart < -16 ? 1
                                        : easing_cubic_at(cubic, middle * 0x1p-14) < x;
        low = below ? middle : low;
    }
    const EasingBracket in = {low * 0x1p-14, (low + 1) * 0x1p-14};
    return in;
}

/* All steps of Newton's; one that stays where it is ends them. */
static inline double easing_newton_soft(EasingCubic cubic, double x, EasingBracket in, double t) {
    for (int steps = 0; steps < 5; steps++) {
        const double next = easing_newton(cubic, x, in, t);
        if (number_bits(next) == number_bits(t))
            break;
        t = next;
    }
    return t;
}

static inline double easing_cubic_inverse_soft(EasingCubic cubic, double x) {
    const EasingBracket in = easing_halve_soft(cubic, x);
    return easing_newton_soft(cubic, x, in, 0.5 * (in.low + in.high));
}

/* The t within 0..1 at which a rising cubic is x: 14 halvings find the stretch, 5 steps of Newton's
 * the place. */
static inline double easing_cubic_inverse(EasingCubic cubic, double x) {
    if (NUMBER_SOFT)
        return easing_cubic_inverse_soft(cubic, x);
    const EasingBracket all = {0.0, 1.0};
    const EasingBracket part = easing_halve_6(cubic, x, easing_halve_6(cubic, x, all));
    const EasingBracket in = easing_halve_twice(cubic, x, part);
    const double t = easing_newton(cubic, x, in, 0.5 * (in.low + in.high));
    const double nearer = easing_newton(cubic, x, in, easing_newton(cubic, x, in, t));
    return easing_newton(cubic, x, in, easing_newton(cubic, x, in, nearer));
}

/* Slope of the tangent beyond an end: of the first control point that has a width, else 0. */
static inline double easing_tangent(double rise, double run, double second_rise,
                                    double second_run) {
    const double second = second_run > 0.0 ? number_divide(second_rise, second_run) : 0.0;
    return run > 0.0 ? number_divide(rise, run) : second;
}

/* easing_at of an easing of kind EASING_BEZIER. */
static inline double easing_bezier(const double bezier[4], double x) {
    const double x1 = bezier[0], y1 = bezier[1], x2 = bezier[2], y2 = bezier[3];
    if (NUMBER_SOFT && x <= 0.0)
        return number_finite(x == 0.0 ? 0.0 : x * easing_tangent(y1, x1, y2, x2));
    const double t = easing_cubic_inverse(easing_cubic(x1, x2), number_unit(x));
    const double inside = easing_cubic_at(easing_cubic(y1, y2), t);
    if (NUMBER_SOFT && x < 1.0)
        return number_finite(inside);
    const double before = x * easing_tangent(y1, x1, y2, x2);
    const double after = 1.0 + (x - 1.0) * easing_tangent(1.0 - y2, 1.0 - x2, 1.0 - y1, 1.0 - x1);
    const double low = x < 0.0 ? before : inside;
    const double all = x > 1.0 ? after : low;
    return number_finite(x == 0.0 ? 0.0 : (x == 1.0 ? 1.0 : all));
}

/* `ease-in-out` of CSS, for what the runtime itself fades. */
static inline double easing_in_out(double x) {
    static const double curve[4] = {0.42, 0.0, 0.58, 1.0};
    return easing_bezier(curve, x);
}

#endif
