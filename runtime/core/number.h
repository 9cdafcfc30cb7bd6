/* The functions of numbers: the same bits on every machine.
 *
 * Made of + - * / and square root of IEEE 754 doubles, integer steps on their bits, comparisons
 * and selections only; no branch is needed, so loops over them become vector code (gcc: with
 * -O3 -fno-trapping-math, which lets it compute both sides of a selection). Nothing of libm but
 * the square root, which is exact. Compile with -ffp-contract=off.
 *
 * Every function is total: finite operands give a finite result (rule N1), and an infinite or
 * undefined operand is no undefined behaviour. Domains, edges and measured errors are in
 * spec/numbers.md. */
#ifndef GLOAM_CORE_NUMBER_H
#define GLOAM_CORE_NUMBER_H

#include <float.h>
#include <math.h>
#include <stdint.h>
#include <string.h>

#if defined(FLT_EVAL_METHOD) && FLT_EVAL_METHOD != 0
#error "Doubles must be computed as doubles: on 32-bit x86 compile with -msse2 -mfpmath=sse."
#endif

#define NUMBER_ONE 0x3FF0000000000000u /* the bits of 1 */
#define NUMBER_SIGN 0x8000000000000000u
#define NUMBER_FRACTION 0x000FFFFFFFFFFFFFu
#define NUMBER_HEAD 0xFFFFFFFFF8000000u /* the first 26 bits of a mantissa: squares are exact */
#define NUMBER_WHOLE 4503599627370496.0 /* 2^52: doubles from here on are whole */
#define NUMBER_SHIFT 6755399441055744.0 /* 1.5 * 2^52: x + this holds round(x) in its low bits */

#define NUMBER_INFINITE 0x7FF0000000000000u

/* Where each operation of doubles is a call of tens of instructions (ARM without a unit for them,
 * by the compiler's word), the functions that can do it look at the bits instead, for the same
 * result; elsewhere they are written for vector code. */
#ifndef NUMBER_SOFT
#ifdef __SOFTFP__
#define NUMBER_SOFT 1
#else
#define NUMBER_SOFT 0
#endif
#endif

static inline uint64_t number_bits(double x) {
    uint64_t bits;
    memcpy(&bits, &x, sizeof bits);
    return bits;
}

static inline double number_from_bits(uint64_t bits) {
    double x;
    memcpy(&x, &bits, sizeof x);
    return x;
}

static inline double number_absolute(double x) {
    return number_from_bits(number_bits(x) & ~NUMBER_SIGN);
}

/* The size of x with the sign of y. */
static inline double number_signed(double x, double y) {
    return number_from_bits((number_bits(x) & ~NUMBER_SIGN) | (number_bits(y) & NUMBER_SIGN));
}

static inline double number_head(double x) {
    return number_from_bits(number_bits(x) & NUMBER_HEAD);
}

/* The second where they are equal or the first is no number. */
static inline double number_smaller(double a, double b) {
    return a < b ? a : b;
}

static inline double number_larger(double a, double b) {
    return a > b ? a : b;
}

static inline double number_finite_soft(double x) {
    return (number_bits(x) & ~NUMBER_SIGN) < NUMBER_INFINITE ? x : 0.0;
}

static inline double number_finite(double x) {
    if (NUMBER_SOFT)
        return number_finite_soft(x);
    return number_absolute(x) <= DBL_MAX ? x : 0.0;
}

static inline double number_divide(double a, double b) {
    return number_finite(a / b);
}

/* Of 2^exponent <= |x| < 2^(exponent + 1). */
static inline int number_exponent(double x) {
    return (int)(number_bits(x) >> 52 & 2047) - 1023;
}

static inline double number_nearest_soft(double x) {
    const uint64_t bits = number_bits(x);
    const int exponent = number_exponent(x);
    if (exponent >= 52)
        return number_finite_soft(x);
    if (exponent < 0) {
        const int half = (bits & ~NUMBER_SIGN) <= 0x3FE0000000000000u;
        return half ? 0.0 : number_from_bits((bits & NUMBER_SIGN) | NUMBER_ONE);
    }
    const uint64_t rest = NUMBER_FRACTION >> exponent;
    const uint64_t odd = bits >> (52 - exponent) & 1; /* of 1: its exponent's last bit */
    return number_from_bits((bits + (rest >> 1) + odd) & ~rest);
}

/* Nearest whole number, halves to the even one. */
static inline double number_nearest(double x) {
    if (NUMBER_SOFT)
        return number_nearest_soft(x);
    const double whole = number_signed(NUMBER_WHOLE, x);
    const double near = (x + whole) - whole;
    return number_absolute(x) < NUMBER_WHOLE ? near : number_finite(x);
}

static inline double number_floor_soft(double x) {
    const uint64_t bits = number_bits(x), sign = bits & NUMBER_SIGN;
    const int exponent = number_exponent(x);
    if (exponent < 0)
        return bits > NUMBER_SIGN ? -1.0 : number_from_bits(sign);
    if (exponent == 1024) /* as below: -1 for minus infinity */
        return bits == (NUMBER_SIGN | NUMBER_INFINITE) ? -1.0 : number_from_bits(sign);
    const uint64_t rest = exponent < 52 ? NUMBER_FRACTION >> exponent : 0;
    return number_from_bits((bits + (sign ? rest : 0)) & ~rest);
}

static inline double number_floor(double x) {
    if (NUMBER_SOFT)
        return number_floor_soft(x);
    const double near = number_nearest(x);
    const double below = near > x ? near - 1.0 : near;
    return number_signed(below, x); /* keeps -0 */
}

static inline double number_round(double x) {
    const double below = number_floor(x);
    return x - below >= 0.5 ? below + 1.0 : below;
}

static inline double number_microseconds(double x) {
    const double limit = 2.0 * NUMBER_WHOLE;
    const double near = number_nearest(x);
    return number_smaller(number_larger(near, -limit), limit);
}

static inline double number_unit_soft(double x) {
    const uint64_t bits = number_bits(x);
    const int above = bits - 1 < NUMBER_INFINITE; /* no zero, no sign, a number */
    return !above ? 0.0 : bits < NUMBER_ONE ? x : 1.0;
}

static inline double number_unit(double x) {
    if (NUMBER_SOFT)
        return number_unit_soft(x);
    return number_smaller(number_larger(x, 0.0), 1.0);
}

/* a - length * floor(a / length) within 0 .. length, never length itself; length > 0. */
static inline double number_rest(double a, double length) {
    const double rest = number_finite(a - length * number_floor(a / length));
    /* Where the quotient was rounded up to a whole number the rest is just below 0. */
    const double raised = number_larger(rest < 0.0 ? rest + length : rest, 0.0);
    const double last = number_from_bits(number_bits(length) - 1); /* next double towards 0 */
    return raised < length ? raised : last;
}

static inline double number_modulo(double a, double b) {
    const uint64_t sign = number_bits(b) & NUMBER_SIGN;
    const double length = number_absolute(b);
    const double rest = number_rest(number_from_bits(number_bits(a) ^ sign), length);
    const double result = number_from_bits(number_bits(rest) ^ sign) + 0.0; /* no -0 */
    const int usable = (length > 0.0) & (length <= DBL_MAX);
    return usable ? result : 0.0;
}

static inline double number_apart(double a, double b) {
    const double way = number_rest(a - b, 1.0);
    const double back = 1.0 - way;
    return number_smaller(back, way);
}

static inline double number_square_root(double x) {
    return number_finite(sqrt(number_larger(x, 0.0)));
}

static inline double number_lerp(double a, double b, double c) {
    const double between = number_finite(a + c * (b - a));
    return c == 0.0 ? a : ((c == 1.0 ? b : between));
}

static inline double number_over(double a, double b) {
    return b > 0.0 ? number_unit(a / b) : 1.0;
}

static inline double number_phase(double a, double b) {
    return ((b > 0.0) & (b <= DBL_MAX)) ? number_rest(a, b) / b : 0.0;
}

/* 0 to 1 and back to 0 while x goes from 0 to 1. */
static inline double number_there_and_back(double x) {
    return number_finite(x < 0.5 ? 2.0 * x : 2.0 - 2.0 * x);
}

static inline double number_tick(double a, double b) {
    return b > 0.0 ? number_finite(number_floor(a / b)) : 0.0;
}

/* -------- powers -------- */

/* A number as a sum of two: the first has few bits, the second the rest. */
typedef struct NumberPair {
    double high, low;
} NumberPair;

/* log2(x), x > 0 and finite, to about 2^-65 of itself. The high part has 26 bits. */
static inline NumberPair number_log2(double x) {
    const double normal = x < DBL_MIN ? x * 18014398509481984.0 : x; /* 2^54 */
    /* x = m * 2^e, m from sqrt(1/2) up to sqrt(2) */
    const uint64_t root_half = 0x3FE6A09E667F3BCDu;
    const uint64_t moved = number_bits(normal) + (NUMBER_ONE - root_half);
    const double biased = number_from_bits((moved >> 52) | 0x4330000000000000u) - NUMBER_WHOLE;
    const double exponent = x < DBL_MIN ? biased - 1077.0 : biased - 1023.0;
    const double m = number_from_bits((moved & NUMBER_FRACTION) + root_half);
    /* s = (m - 1) / (m + 1); log(m) = 2 atanh(s) = 2/3 s (3 + s^2 + s^4 R(s^2)) */
    const double u = m - 1.0;
    const double v = m + 1.0;
    const double s = u / v;
    const double s_high = number_head(s);
    const double v_high = number_head(v);
    const double v_low = m - (v_high - 1.0);
    const double s_low = ((u - s_high * v_high) - s_high * v_low) / v;
    const double z = s * s;
    double rest = 0x1.704b661bddcdap-3;
    rest = rest * z + 0x1.66a6c3851a913p-3;
    rest = rest * z + 0x1.99b10dfa6fd1bp-3;
    rest = rest * z + 0x1.d89d1422c8790p-3;
    rest = rest * z + 0x1.1745d225999b7p-2;
    rest = rest * z + 0x1.5555555420a38p-2;
    rest = rest * z + 0x1.b6db6db6dc849p-2;
    rest = rest * z + 0x1.3333333333330p-1;
    rest = rest * z * z + s_low * (s_high + s);
    const double square = s_high * s_high; /* exact */
    const double sum = number_head(3.0 + square + rest);
    const double sum_low = rest - ((sum - 3.0) - square);
    const double product = s_high * sum; /* exact */
    const double product_low = s_low * sum + sum_low * s;
    const double part = number_head(product + product_low);
    const double part_low = product_low - (part - product);
    /* times 2 / (3 ln 2), whose head has 26 bits */
    const double scaled = 0x1.ec709d8000000p-1 * part; /* exact */
    const double scaled_low = 0x1.0e80ff5d27f05p-27 * part + part_low * 0x1.ec709dc3a03fdp-1;
    const double high = number_head((scaled + scaled_low) + exponent);
    const NumberPair result = {high, scaled_low - ((high - exponent) - scaled)};
    return result;
}

/* 2^(high + low) for a sum within -1100..1100 and a small low part; infinite above 1024. */
static inline double number_exp2(double high, double low) {
    const double shifted = (high + low) + NUMBER_SHIFT;
    const double whole = shifted - NUMBER_SHIFT;
    const double f = (high - whole) + low;
    double rest = 0x1.e9f083ee9548bp-32 + f * 0x1.c4cc90d3680a4p-36;
    rest = rest * f + 0x1.e4cef3e1d00d3p-28;
    rest = rest * f + 0x1.b524e94fe5759p-24;
    rest = rest * f + 0x1.62c02249fc617p-20;
    rest = rest * f + 0x1.ffcbfc6e8fb8ep-17;
    rest = rest * f + 0x1.430912f869e81p-13;
    rest = rest * f + 0x1.5d87fe78a3e1dp-10;
    rest = rest * f + 0x1.3b2ab6fba4e7dp-7;
    rest = rest * f + 0x1.c6b08d704a0c6p-5;
    rest = rest * f + 0x1.ebfbdff82c58fp-3;
    const double f_head = number_head(f);
    const double straight = f_head * 0x1.62e42f8000000p-1; /* head of ln 2: exact */
    const double bent = f_head * 0x1.be8e7bcd5e4f2p-27 + (f - f_head) * 0x1.62e42fefa39efp-1;
    const double value = 1.0 + (straight + (bent + rest * f * f));
    /* Two steps, since 2^whole alone may be out of range. */
    const double half = (whole * 0.5 + NUMBER_SHIFT) - NUMBER_SHIFT;
    const double first = number_from_bits(number_bits(half + (NUMBER_SHIFT + 1023.0)) << 52);
    const double second =
        number_from_bits(number_bits((whole - half) + (NUMBER_SHIFT + 1023.0)) << 52);
    return value * first * second;
}

static inline double number_power(double a, double b) {
    const double most = 36893488147419103232.0; /* 2^65: beyond, only 1 has a finite power not 0 */
    const double y = number_smaller(number_larger(b, -most), most);
    const int usable = (a > 0.0) & (a <= DBL_MAX) & (b == b);
    const NumberPair log = number_log2(usable ? a : 1.0);
    const double y_high = number_head(y);
    const double high = y_high * log.high; /* exact */
    const double low = (y - y_high) * log.high + y * log.low;
    const int inside = number_absolute(high + low) < 1100.0;
    const double power =
        number_exp2(inside ? high : number_signed(1100.0, high), inside ? low : 0.0);
    const double of_zero = number_absolute(a) + number_absolute(b) == 0.0 ? 1.0 : 0.0;
    return (usable & (power <= DBL_MAX)) ? power : of_zero;
}

static inline double number_cube_root(double x) {
    const double size = number_absolute(x);
    const int small = size < DBL_MIN;
    const double normal = small ? size * 18014398509481984.0 : size; /* 2^54 */
    /* normal = m * 2^r * 2^(3 (third - 341)), m in 1..2, r one of 0 1 2 */
    const double exponent =
        number_from_bits((number_bits(normal) >> 52) | 0x4330000000000000u) - NUMBER_WHOLE;
    const double third = ((exponent - 1.0) * (1.0 / 3.0) + NUMBER_SHIFT) - NUMBER_SHIFT;
    const double r = exponent - 3.0 * third;
    const double m = number_from_bits((number_bits(normal) & NUMBER_FRACTION) | NUMBER_ONE);
    double root = -0x1.76d17613f7a65p-9;
    root = root * m + 0x1.fa5571d305f76p-6;
    root = root * m + -0x1.27e042e6dfb1cp-3;
    root = root * m + 0x1.8a9c9a46c401fp-2;
    root = root * m + -0x1.55151e193a221p-1;
    root = root * m + 0x1.e6735136dcb34p-1;
    root = root * m + 0x1.c9df783d4065fp-2;
    const double factor = 1.0 + r * (0.2261415738056466 + r * 0.03377947608922657); /* 2^(r/3) */
    const double value = m * (1.0 + r * (0.5 + r * 0.5));                           /* 2^r */
    root = number_head(root * factor);
    const double again = value / (root * root); /* the square is exact */
    root = root + root * (again - root) / (2.0 * root + again);
    const double scale = number_from_bits(number_bits(third + (NUMBER_SHIFT + 682.0)) << 52);
    const double scaled = root * scale;
    const double result = small ? scaled * 0x1p-18 : scaled;
    const int usable = (size > 0.0) & (size <= DBL_MAX);
    return number_signed(usable ? result : 0.0, x);
}

/* -------- angles, in turns -------- */

/* sin(2 pi (a + quarters / 4)) */
static inline double number_wave(double a, uint64_t quarters) {
    const double angle = number_finite(a);
    const double turn = angle - number_nearest(angle); /* exact */
    const double shifted = 4.0 * turn + NUMBER_SHIFT;
    const double f = turn - 0.25 * (shifted - NUMBER_SHIFT); /* exact, within an eighth */
    const uint64_t quadrant = number_bits(shifted) + quarters;
    const double z = f * f;
    const double f_head = number_head(f);
    const double f_low = f - f_head;
    double s = 0x1.e41253d7dca44p+1;
    s = s * z + -0x1.e300d36d60740p+3;
    s = s * z + 0x1.5078305039a35p+5;
    s = s * z + -0x1.32d2cce36ca97p+6;
    s = s * z + 0x1.466bc6775910ep+6;
    s = s * z + -0x1.4abbce625be49p+5;
    s = f_head * 0x1.921fb54000000p+2 + /* head of 2 pi: exact */
        (f_head * 0x1.10b4611a62633p-28 + f_low * 0x1.921fb54442d18p+2 + s * z * f);
    double c = -0x1.b2a3360868161p+0;
    c = c * z + 0x1.f9cd246f32db9p+2;
    c = c * z + -0x1.a6d1edc0a71d4p+4;
    c = c * z + 0x1.e1f506852f222p+5;
    c = c * z + -0x1.55d3c7e3ca737p+6;
    c = c * z + 0x1.03c1f081b5abcp+6;
    const double drop = z * 0x1.3bd3cc9be45dep+4; /* 2 pi^2 */
    const double z_low = (f_head * f_head - z) + f_low * (f + f_head);
    const double first = 1.0 - drop;
    c = first + (((1.0 - first) - drop) + (c * z * z - z_low * 0x1.3bd3cc9be45dep+4));
    const uint64_t odd = -(quadrant & 1);
    const uint64_t bits = (number_bits(c) & odd) | (number_bits(s) & ~odd);
    return number_from_bits(bits ^ ((quadrant & 2) << 62));
}

static inline double number_sine(double a) {
    return number_wave(a, 0);
}

static inline double number_cosine(double a) {
    return number_wave(a, 1);
}

static inline double number_tangent(double a) {
    return number_divide(number_wave(a, 0), number_wave(a, 1));
}

static inline double number_arc_tangent(double y, double x) {
    const double x_size = number_absolute(number_finite(x));
    const double y_size = number_absolute(number_finite(y));
    const double larger = number_larger(x_size, y_size);
    const double smaller = number_smaller(x_size, y_size);
    /* Both times a power of two, so that neither their sum nor their quotient is out of range. */
    const int huge = larger > 1e300, tiny = larger < 1e-290;
    const double high = huge ? larger * 0x1p-100 : ((tiny ? larger * 0x1p+200 : larger));
    const double low = huge ? smaller * 0x1p-100 : ((tiny ? smaller * 0x1p+200 : smaller));
    const int steep = low > high * 0.41421356237309503; /* beyond tan(pi / 8) */
    const double over = steep ? low - high : low;
    const double under = steep ? low + high : high;
    const double u = number_finite(over / under); /* 0 / 0 at the origin */
    const double z = u * u;
    double rest = -0x1.777daa110c4a8p-9;
    rest = rest * z + 0x1.8df4f597974c7p-8;
    rest = rest * z + -0x1.0700b3950bb3ep-7;
    rest = rest * z + 0x1.310631e94e245p-7;
    rest = rest * z + -0x1.5b800e5962efep-7;
    rest = rest * z + 0x1.9127f85d8a5b4p-7;
    rest = rest * z + -0x1.da1b88bf596c5p-7;
    rest = rest * z + 0x1.21bb93cfd92b3p-6;
    rest = rest * z + -0x1.7483758c4b16bp-6;
    rest = rest * z + 0x1.04c26be3ae453p-5;
    rest = rest * z + -0x1.b2995e7b7b5ecp-5;
    const double part = u * 0x1.45f306dc9c883p-3 + rest * z * u;
    const double eighth = steep ? 0.125 + part : part;
    const double quarter = y_size > x_size ? 0.25 - eighth : eighth;
    const double half = x < 0.0 ? 0.5 - quarter : quarter;
    const double angle = number_from_bits(number_bits(half) | (number_bits(y) & NUMBER_SIGN));
    return ((angle > -0.5) & (angle != 0.0)) ? angle : half;
}

#endif
