/* The functions of numbers against MPFR 4.2 (libmpfr, correctly rounded arithmetic of any
 * precision): how far off they are at worst, in units of the last place of the right result, over
 * special values and pseudo-random ones. The bounds are those that spec/numbers.md promises. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>
#include <mpfr.h>

#include "runtime/core/colour.h"
#include "runtime/core/number.h"

enum { BITS = 300, POINTS = 100000 };

static const double specials[] = {0.0,
                                  -0.0,
                                  1.0,
                                  -1.0,
                                  0.5,
                                  -0.5,
                                  0.25,
                                  0.75,
                                  1.5,
                                  -1.5,
                                  2.5,
                                  -2.5,
                                  3.0,
                                  10.0,
                                  255.0,
                                  1e-9,
                                  5e-324,
                                  -5e-324,
                                  1e-310,
                                  -1e-310,
                                  DBL_MIN,
                                  -DBL_MIN,
                                  DBL_MAX,
                                  -DBL_MAX,
                                  1e300,
                                  1e-300,
                                  1e17,
                                  -1e17,
                                  0.49999999999999994,
                                  -0.49999999999999994,
                                  0.9999999999999999,
                                  1.0000000000000002,
                                  4503599627370495.5,
                                  4503599627370496.0,
                                  4503599627370497.0,
                                  -4503599627370495.5,
                                  2251799813685248.25,
                                  9007199254740991.0,
                                  9007199254740992.0,
                                  -9007199254740993.0,
                                  1.0 / 3.0,
                                  0.125,
                                  -0.125,
                                  1000000.25,
                                  123456789.125};
enum { SPECIALS = sizeof specials / sizeof specials[0] };

/* Pseudo-random numbers of the tests' own (xorshift64*, Vigna 2016). */
static uint64_t seed = 20240607;

static uint64_t next_bits(void) {
    seed ^= seed >> 12;
    seed ^= seed << 25;
    seed ^= seed >> 27;
    return seed * 2685821657736338717u;
}

static double between(double from, double to) {
    return from + (to - from) * ((double)(next_bits() >> 11) / 9007199254740992.0);
}

/* Any finite double, every exponent as likely as another. */
static double anything(void) {
    double x;
    do
        x = number_from_bits(next_bits());
    while (!isfinite(x));
    return x;
}

/* Units of the last place of the rounded exact value. What is out of range counts as 0 (N1). */
static double units_off(double got, const mpfr_t exact) {
    const double rounded = mpfr_get_d(exact, MPFR_RNDN);
    if (!isfinite(got))
        return INFINITY;
    if (!isfinite(rounded) && got == 0.0)
        return 0.0;
    const double size = isfinite(rounded) ? fabs(rounded) : DBL_MAX;
    const double unit = size < DBL_MIN ? 0x1p-1074 : size - nextafter(size, 0.0);
    mpfr_t off;
    mpfr_init2(off, BITS);
    mpfr_sub_d(off, exact, got, MPFR_RNDN);
    mpfr_div_d(off, off, unit, MPFR_RNDN);
    const double units = fabs(mpfr_get_d(off, MPFR_RNDN));
    mpfr_clear(off);
    /* At a power of two the unit above is twice the one below; take the larger, as usual. */
    return frexp(size, &(int){0}) == 0.5 && size > DBL_MIN ? units / 2.0 : units;
}

typedef struct Worst {
    const char *name;
    double units, a, b;
    unsigned long points;
} Worst;

static void note(Worst *worst, double units, double a, double b) {
    worst->points++;
    if (units > worst->units || isnan(units)) {
        worst->units = units;
        worst->a = a;
        worst->b = b;
    }
}

static void within(const Worst *worst, double bound) {
    printf("%-28s at most %.3f units of the last place (%lu points; %.17g, %.17g)\n", worst->name,
           worst->units, worst->points, worst->a, worst->b);
    assert_true(worst->units <= bound);
}

typedef double One(double a);
typedef double Two(double a, double b);
typedef int ExactOne(mpfr_t exact, const mpfr_t a);
typedef int ExactTwo(mpfr_t exact, const mpfr_t a, const mpfr_t b);

static void check_one(Worst *worst, One *function, ExactOne *exact, double a) {
    mpfr_t value, at;
    mpfr_inits2(BITS, value, at, (mpfr_ptr)NULL);
    mpfr_set_d(at, a, MPFR_RNDN);
    exact(value, at);
    note(worst, units_off(function(a), value), a, 0.0);
    mpfr_clears(value, at, (mpfr_ptr)NULL);
}

static void check_two(Worst *worst, Two *function, ExactTwo *exact, double a, double b) {
    mpfr_t value, x, y;
    mpfr_inits2(BITS, value, x, y, (mpfr_ptr)NULL);
    mpfr_set_d(x, a, MPFR_RNDN);
    mpfr_set_d(y, b, MPFR_RNDN);
    exact(value, x, y);
    note(worst, units_off(function(a, b), value), a, b);
    mpfr_clears(value, x, y, (mpfr_ptr)NULL);
}

/* -------- exact: whole numbers and square roots -------- */

static double ceiling(double a) {
    return -number_floor(-a);
}

static int exact_floor(mpfr_t exact, const mpfr_t a) {
    return mpfr_floor(exact, a);
}

static int exact_ceiling(mpfr_t exact, const mpfr_t a) {
    return mpfr_ceil(exact, a);
}

/* Halves upward: the floor of a + 1/2. */
static int exact_round(mpfr_t exact, const mpfr_t a) {
    mpfr_t half;
    mpfr_init2(half, 2200);
    mpfr_set(half, a, MPFR_RNDN);
    mpfr_add_d(half, half, 0.5, MPFR_RNDN);
    const int way = mpfr_floor(exact, half);
    mpfr_clear(half);
    return way;
}

/* Halves to the even one, held within 2^53. */
static int exact_microseconds(mpfr_t exact, const mpfr_t a) {
    mpfr_roundeven(exact, a);
    if (mpfr_cmp_d(exact, 0x1p53) > 0)
        mpfr_set_d(exact, 0x1p53, MPFR_RNDN);
    if (mpfr_cmp_d(exact, -0x1p53) < 0)
        mpfr_set_d(exact, -0x1p53, MPFR_RNDN);
    return 0;
}

static int exact_root(mpfr_t exact, const mpfr_t a) {
    if (mpfr_sgn(a) < 0) {
        mpfr_set_zero(exact, 1);
        return 0;
    }
    mpfr_t root;
    mpfr_init2(root, 53);
    const int way = mpfr_sqrt(root, a, MPFR_RNDN);
    mpfr_set(exact, root, MPFR_RNDN);
    mpfr_clear(root);
    return way;
}

static void check_exact(const char *name, One *function, ExactOne *exact) {
    Worst worst = {.name = name};
    for (int i = 0; i < SPECIALS; i++)
        check_one(&worst, function, exact, specials[i]);
    for (int i = 0; i < POINTS / 4; i++) {
        check_one(&worst, function, exact, anything());
        check_one(&worst, function, exact, between(-100.0, 100.0));
        check_one(&worst, function, exact, between(-1e16, 1e16));
        check_one(&worst, function, exact, 0.5 * (double)(int64_t)(next_bits() >> 11));
    }
    within(&worst, 0.0);
}

static void test_whole(void **state) {
    (void)state;
    check_exact("floor", number_floor, exact_floor);
    check_exact("ceiling", ceiling, exact_ceiling);
    check_exact("round", number_round, exact_round);
    check_exact("microseconds", number_microseconds, exact_microseconds);
    check_exact("square root", number_square_root, exact_root);
    assert_true(signbit(number_floor(-0.0)) && !signbit(number_floor(0.5)));
    assert_true(signbit(ceiling(-0.5)));
}

/* -------- powers -------- */

static int exact_power(mpfr_t exact, const mpfr_t a, const mpfr_t b) {
    return mpfr_pow(exact, a, b, MPFR_RNDN);
}

static void test_power(void **state) {
    (void)state;
    Worst worst = {.name = "power"};
    for (int i = 0; i < SPECIALS; i++)
        for (int j = 0; j < SPECIALS; j++)
            if (specials[i] > 0.0)
                check_two(&worst, number_power, exact_power, specials[i], specials[j]);
    for (int i = 0; i < POINTS / 5; i++) {
        check_two(&worst, number_power, exact_power, between(0.0, 1.0), between(0.0, 4.0));
        check_two(&worst, number_power, exact_power, between(0.0, 1.0), 2.4);
        check_two(&worst, number_power, exact_power, between(0.5, 2.0), between(-1000.0, 1000.0));
        check_two(&worst, number_power, exact_power, fabs(anything()), between(-2.0, 2.0));
        const double a = fabs(anything());
        if (a > 0.0 && a != 1.0) /* results of every size, those out of range too */
            check_two(&worst, number_power, exact_power, a, between(-1080.0, 1030.0) / log2(a));
    }
    within(&worst, 1.0);
}

static void test_power_edges(void **state) {
    (void)state;
    assert_true(number_power(0.0, 0.0) == 1.0 && number_power(-0.0, 0.0) == 1.0);
    assert_true(number_power(0.0, 2.0) == 0.0 && number_power(0.0, -2.0) == 0.0);
    assert_true(number_power(-2.0, 2.0) == 0.0 && number_power(-2.0, 0.0) == 0.0);
    assert_true(number_power(2.0, 1e6) == 0.0); /* out of range: 0, rule N1 */
    assert_true(number_power(2.0, -1e6) == 0.0);
    for (int i = 0; i < SPECIALS; i++) {
        const double a = fabs(specials[i]);
        assert_true(number_power(1.0, specials[i]) == 1.0);
        assert_true(number_power(a, 1.0) == a && number_power(a, 0.0) == 1.0);
    }
    for (int i = -1074; i < 1024; i++)
        assert_true(number_power(2.0, i) == ldexp(1.0, i));
    for (double i = 1.0; i < 30.0; i++)
        assert_true(number_power(i, 2.0) == i * i && number_power(i, 3.0) == i * i * i);
}

static int exact_cube_root(mpfr_t exact, const mpfr_t a) {
    return mpfr_cbrt(exact, a, MPFR_RNDN);
}

static void test_cube_root(void **state) {
    (void)state;
    Worst worst = {.name = "cube root"};
    for (int i = 0; i < SPECIALS; i++)
        check_one(&worst, number_cube_root, exact_cube_root, specials[i]);
    for (int i = 0; i < POINTS; i++) {
        check_one(&worst, number_cube_root, exact_cube_root, anything());
        check_one(&worst, number_cube_root, exact_cube_root, between(-1.0, 8.0));
    }
    within(&worst, 1.0);
    for (double i = -100.0; i <= 100.0; i++)
        assert_true(number_cube_root(i * i * i) == i);
}

/* -------- angles -------- */

static int exact_sine(mpfr_t exact, const mpfr_t a) {
    return mpfr_sinu(exact, a, 1, MPFR_RNDN);
}

static int exact_cosine(mpfr_t exact, const mpfr_t a) {
    return mpfr_cosu(exact, a, 1, MPFR_RNDN);
}

static int exact_tangent(mpfr_t exact, const mpfr_t a) {
    return mpfr_tanu(exact, a, 1, MPFR_RNDN);
}

static int exact_arc_tangent(mpfr_t exact, const mpfr_t y, const mpfr_t x) {
    return mpfr_atan2u(exact, y, x, 1, MPFR_RNDN);
}

static void check_angle(const char *name, One *function, ExactOne *exact, double bound) {
    Worst worst = {.name = name};
    for (int i = 0; i < SPECIALS; i++)
        check_one(&worst, function, exact, specials[i]);
    for (int i = 0; i < POINTS / 4; i++) {
        check_one(&worst, function, exact, between(-1.0, 1.0));
        check_one(&worst, function, exact, between(-0.125, 0.125));
        check_one(&worst, function, exact, between(-1e6, 1e6));
        check_one(&worst, function, exact, anything());
        /* close to the quarters, where one of the functions is nearly 0 */
        const double quarter = 0.25 * (double)(int)(next_bits() % 9) - 1.0;
        check_one(&worst, function, exact, quarter + between(-1e-9, 1e-9));
    }
    within(&worst, bound);
}

static void test_angles(void **state) {
    (void)state;
    check_angle("sine", number_sine, exact_sine, 1.0);
    check_angle("cosine", number_cosine, exact_cosine, 1.0);
    check_angle("tangent", number_tangent, exact_tangent, 2.5);
    for (double turns = -8.0; turns <= 8.0; turns += 0.25) {
        const int quarter = (int)(4.0 * turns + 400.0) % 4;
        static const double waves[] = {0.0, 1.0, 0.0, -1.0};
        assert_true(number_sine(turns) == waves[quarter]);
        assert_true(number_cosine(turns) == waves[(quarter + 1) % 4]);
        assert_true(number_tangent(turns) == 0.0); /* at its poles too */
    }
}

static void test_arc_tangent(void **state) {
    (void)state;
    Worst worst = {.name = "arc tangent"};
    for (int i = 0; i < SPECIALS; i++)
        for (int j = 0; j < SPECIALS; j++) {
            const double y = specials[i], x = specials[j];
            const double got = number_arc_tangent(y, x);
            assert_true(got > -0.5 && got <= 0.5);
            if (y == 0.0)
                assert_true(got == (x < 0.0 ? 0.5 : 0.0));
            else if (!(x < 0.0 && y < 0.0 && got == 0.5)) /* rounds to minus half a turn */
                check_two(&worst, number_arc_tangent, exact_arc_tangent, y, x);
        }
    for (int i = 0; i < POINTS / 2; i++) {
        check_two(&worst, number_arc_tangent, exact_arc_tangent, between(-1.0, 1.0),
                  between(-1.0, 1.0));
        check_two(&worst, number_arc_tangent, exact_arc_tangent, anything(), fabs(anything()));
        const double x = between(-1.0, 1.0); /* close to the diagonals and to the axes */
        check_two(&worst, number_arc_tangent, exact_arc_tangent, x * between(0.999, 1.001), x);
        check_two(&worst, number_arc_tangent, exact_arc_tangent, x * 1e-5, fabs(x));
    }
    within(&worst, 2.5);
}

/* -------- remainders -------- */

/* The exact a - b floor(a / b). */
static int exact_modulo(mpfr_t exact, const mpfr_t a, const mpfr_t b) {
    mpfr_fmod(exact, a, b, MPFR_RNDN);
    if (mpfr_sgn(exact) != 0 && mpfr_sgn(exact) != mpfr_sgn(b))
        mpfr_add(exact, exact, b, MPFR_RNDN);
    return 0;
}

static void test_modulo_whole(void **state) {
    (void)state;
    Worst worst = {.name = "modulo of whole numbers"};
    for (int i = 0; i < POINTS; i++) {
        const double a = number_nearest(between(-0x1p53, 0x1p53));
        const double b = number_nearest(between(-1e9, 1e9));
        check_two(&worst, number_modulo, exact_modulo, a, b != 0.0 ? b : 1.0);
        check_two(&worst, number_modulo, exact_modulo, b, (double)(1 + next_bits() % 1000));
    }
    within(&worst, 0.0);
}

/* Otherwise off by the roundings of the product b floor(a / b) and of the difference. */
static void test_modulo(void **state) {
    (void)state;
    double worst = 0.0;
    for (int i = 0; i < POINTS; i++) {
        const double a = between(-1000.0, 1000.0), b = between(-5.0, 5.0);
        const double got = number_modulo(a, b);
        assert_true(b > 0.0 ? got >= 0.0 && got < b : got <= 0.0 && got > b);
        mpfr_t exact, x, y;
        mpfr_inits2(BITS, exact, x, y, (mpfr_ptr)NULL);
        mpfr_set_d(x, a, MPFR_RNDN);
        mpfr_set_d(y, b, MPFR_RNDN);
        exact_modulo(exact, x, y);
        mpfr_sub_d(exact, exact, got, MPFR_RNDN);
        const double off = fabs(mpfr_get_d(exact, MPFR_RNDN));
        const double way = fmin(off, fabs(b) - off);
        const double scale = fmax(fabs(a), fabs(b));
        const double units = way / (nextafter(scale, INFINITY) - scale);
        worst = units > worst ? units : worst;
        mpfr_clears(exact, x, y, (mpfr_ptr)NULL);
    }
    printf("modulo of any numbers: at most %.3f units of the last place of the larger one\n",
           worst);
    assert_true(worst <= 1.5);
}

static void test_modulo_edges(void **state) {
    (void)state;
    for (int i = 0; i < SPECIALS; i++) {
        assert_true(number_modulo(specials[i], 0.0) == 0.0);
        for (int j = 0; j < SPECIALS; j++) {
            const double b = specials[j], got = number_modulo(specials[i], b);
            assert_true(b > 0.0   ? got >= 0.0 && got < b
                        : b < 0.0 ? got <= 0.0 && got > b
                                  : got == 0.0);
        }
    }
    assert_true(number_modulo(-1e-20, 1.0) == nextafter(1.0, 0.0)); /* never 1 itself */
    assert_true(number_modulo(1e-20, -1.0) == nextafter(-1.0, 0.0));
    /* The sign is that of the divisor, as mod() of CSS Values 4 has it: its examples mod(18px,
     * 5px) = 3px and mod(-140deg, -90deg) = -50deg; mod(-18px, 5px) = 2px by its definition. */
    assert_true(number_modulo(18.0, 5.0) == 3.0 && number_modulo(-140.0, -90.0) == -50.0);
    assert_true(number_modulo(-18.0, 5.0) == 2.0 && number_modulo(18.0, -5.0) == -2.0);
}

/* -------- time: whole microseconds -------- */

/* floor(t / D), phases and shares of whole microseconds against whole-number arithmetic. */
static void test_time(void **state) {
    (void)state;
    for (int i = 0; i < 20 * POINTS; i++) {
        const int64_t t = (int64_t)(next_bits() >> 11) - (1ll << 52);
        const int64_t length = 1 + (int64_t)(next_bits() >> (11 + next_bits() % 50));
        const int64_t rest = ((t % length) + length) % length;
        assert_true(number_tick((double)t, (double)length) == (double)((t - rest) / length));
        assert_true(number_phase((double)t, (double)length) == (double)rest / (double)length);
        assert_true(number_phase((double)t, (double)length) < 1.0);
    }
    /* An hour at 60 frames a second, steps of 100 ms (rule R15). */
    for (int64_t frame = 0; frame < 216000; frame++) {
        const int64_t t = (frame * 1000000 + 30) / 60;
        assert_true(number_tick((double)t, 100000.0) == (double)(t / 100000));
    }
    assert_true(number_over(5.0, 10.0) == 0.5 && number_over(-5.0, 10.0) == 0.0);
    assert_true(number_over(50.0, 10.0) == 1.0 && number_over(5.0, 0.0) == 1.0);
    assert_true(number_over(5.0, -1.0) == 1.0 && number_over(DBL_MAX, 5e-324) == 1.0);
    assert_true(number_phase(5.0, 0.0) == 0.0 && number_phase(5.0, -1.0) == 0.0);
    assert_true(number_tick(5.0, 0.0) == 0.0 && number_tick(-1.0, 10.0) == -1.0);
    assert_true(number_there_and_back(0.25) == 0.5 && number_there_and_back(0.75) == 0.5);
}

static void test_between(void **state) {
    (void)state;
    for (int i = 0; i < SPECIALS; i++)
        for (int j = 0; j < SPECIALS; j++) {
            const double a = specials[i], b = specials[j];
            assert_true(number_bits(number_lerp(a, b, 0.0)) == number_bits(a));
            assert_true(number_bits(number_lerp(a, b, 1.0)) == number_bits(b));
            const double apart = number_apart(a, b);
            assert_true(apart >= 0.0 && apart <= 0.5);
        }
    assert_true(number_apart(0.9, 0.1) > 0.1999999999999999 && number_apart(0.9, 0.1) < 0.2001);
    assert_true(number_apart(0.25, 0.75) == 0.5 && number_apart(3.25, 0.0) == 0.25);
    assert_true(number_unit(-3.0) == 0.0 && number_unit(0.5) == 0.5 && number_unit(7.0) == 1.0);
    assert_true(number_divide(1.0, 0.0) == 0.0 && number_divide(0.0, 0.0) == 0.0);
}

/* Nothing that is no finite number comes out, whatever goes in. */
static void test_not_finite(void **state) {
    (void)state;
    static One *const ones[] = {number_finite,    number_nearest,      number_floor,
                                number_round,     number_unit,         number_square_root,
                                number_cube_root, number_sine,         number_cosine,
                                number_tangent,   number_microseconds, number_there_and_back};
    static Two *const twos[] = {number_divide, number_modulo, number_apart, number_power,
                                number_over,   number_phase,  number_tick,  number_arc_tangent};
    const double odd[] = {INFINITY, -INFINITY, NAN, -NAN, 0.0, -0.0, 1.0, -1.0, 5e-324, DBL_MAX};
    enum { ODD = sizeof odd / sizeof odd[0] };
    for (int i = 0; i < ODD; i++) {
        for (size_t f = 0; f < sizeof ones / sizeof ones[0]; f++)
            assert_true(isfinite(ones[f](odd[i])));
        for (int j = 0; j < ODD; j++)
            for (size_t f = 0; f < sizeof twos / sizeof twos[0]; f++)
                assert_true(isfinite(twos[f](odd[i], odd[j])));
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_whole),        cmocka_unit_test(test_power),
        cmocka_unit_test(test_power_edges),  cmocka_unit_test(test_cube_root),
        cmocka_unit_test(test_angles),       cmocka_unit_test(test_arc_tangent),
        cmocka_unit_test(test_modulo_whole), cmocka_unit_test(test_modulo),
        cmocka_unit_test(test_modulo_edges), cmocka_unit_test(test_time),
        cmocka_unit_test(test_between),      cmocka_unit_test(test_not_finite),
    };
    const int failed = cmocka_run_group_tests(tests, NULL, NULL);
    mpfr_free_cache();
    return failed;
}
