/* The functions of numbers as they are made where a processor has no unit for doubles give, bit for
 * bit, what those of all other processors give. (What these should give, test_number and
 * test_easing say, against MPFR and the formulas of CSS.) Whole numbers also against libm. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <mpfr.h>

#include "runtime/core/easing.h"
#include "runtime/core/hash.h"
#include "tests/support/chance.h"

enum { POINTS = 300000 };

static void check_same(double found, double wanted, double x) {
    if (number_bits(found) != number_bits(wanted))
        fail_msg("of %a: %a, not %a", x, found, wanted);
}

static void check_number(double x) {
    check_same(number_finite_soft(x), number_finite(x), x);
    check_same(number_unit_soft(x), number_unit(x), x);
    check_same(number_nearest_soft(x), number_nearest(x), x);
    check_same(number_floor_soft(x), number_floor(x), x);
    if (!isfinite(x))
        return;
    check_same(number_floor_soft(x), floor(x), x);
    check_same(number_nearest_soft(x) + 0.0, nearbyint(x) + 0.0, x); /* but for the sign of 0 */
}

static void test_numbers(void **state) {
    (void)state;
    static const double odd[] = {0.0,          5e-324,   DBL_MIN,
                                 0.25,         0.5,      1.0 / 3,
                                 0.75,         1.0,      1.5,
                                 2.0,          2.5,      3.5,
                                 255.0,        65535.5,  2251799813685248.5,
                                 NUMBER_WHOLE, 1e17,     NUMBER_WHOLE / 2,
                                 DBL_MAX,      INFINITY, NAN};
    chance_state = 32;
    for (size_t i = 0; i < sizeof odd / sizeof odd[0]; i++)
        for (int away = -2; away <= 2; away++) { /* and the doubles beside it */
            const double x = number_from_bits(number_bits(odd[i]) + (uint64_t)away);
            check_number(x);
            check_number(number_from_bits(number_bits(x) ^ NUMBER_SIGN));
        }
    for (int i = 0; i < POINTS; i++) {
        check_number(number_from_bits(chance()));                         /* of every size */
        check_number((chance_unit() - 0.5) * 1000.0);                     /* of common sizes */
        check_number((double)(int64_t)(chance() >> 44) / 2.0 - 200000.0); /* halves */
    }
}

static void test_hash(void **state) {
    (void)state;
    chance_state = 33;
    for (int i = 0; i < POINTS; i++) {
        const uint64_t hash = chance() >> (i % 64);
        check_same(hash_number_soft(hash), (double)(hash >> 40) / 16777216.0, (double)hash);
    }
    check_same(hash_number_soft(0), 0.0, 0.0);
    check_same(hash_number_soft(UINT64_MAX), 16777215.0 / 16777216.0, 0.0);
}

static double chance_end(void) { /* the ends of their range as well */
    const double end = chance_unit() * 1.2 - 0.1;
    return number_unit(end);
}

/* The widths of a Bezier curve are within 0..1, so is x. */
static void test_inverse(void **state) {
    (void)state;
    if (NUMBER_SOFT)
        skip(); /* both are the same function here */
    chance_state = 34;
    for (int i = 0; i < POINTS; i++) {
        const EasingCubic cubic = easing_cubic(chance_end(), chance_end());
        const double places[] = {chance_end(), (double)(chance() >> 50) * 0x1p-14,
                                 easing_cubic_at(cubic, (double)(chance() >> 50) * 0x1p-14),
                                 chance_unit() * 1e-9};
        for (size_t k = 0; k < sizeof places / sizeof places[0]; k++) {
            const double x = number_unit(places[k]);
            check_same(easing_cubic_inverse_soft(cubic, x), easing_cubic_inverse(cubic, x), x);
        }
    }
}

/* Sums and differences of every distance, by this machine and by MPFR, rounded once. */
static void test_sums(void **state) {
    (void)state;
    mpfr_t x, y, sum;
    mpfr_inits2(53, x, y, sum, (mpfr_ptr)0);
    chance_state = 35;
    for (int apart = 0; apart < 70; apart++)
        for (int i = 0; i < 4000; i++) {
            const uint64_t base = i % 8 == 0 ? 70 : 1023; /* near the smallest, or 1 */
            const uint64_t whole = i % 3 == 0 ? chance() & 7 : chance() & NUMBER_FRACTION;
            const uint64_t sign = chance() & NUMBER_SIGN;
            volatile double a = number_from_bits(sign | base << 52 | whole);
            volatile double b =
                number_from_bits((base - (unsigned)apart) << 52 | (chance() & NUMBER_FRACTION));
            mpfr_set_d(x, a, MPFR_RNDN);
            mpfr_set_d(y, b, MPFR_RNDN);
            mpfr_add(sum, x, y, MPFR_RNDN);
            check_same(a + b, mpfr_get_d(sum, MPFR_RNDN), a);
            check_same(b + a, mpfr_get_d(sum, MPFR_RNDN), a);
            mpfr_sub(sum, x, y, MPFR_RNDN);
            check_same(a - b, mpfr_get_d(sum, MPFR_RNDN), a);
            mpfr_sub(sum, y, x, MPFR_RNDN);
            check_same(b - a, mpfr_get_d(sum, MPFR_RNDN), a);
            volatile float c = (float)a, d = (float)b; /* their sum as doubles, rounded */
            check_same((double)(float)(c + d), (double)(float)((double)c + (double)d), a);
            check_same((double)(float)(c - d), (double)(float)((double)c - (double)d), a);
        }
    mpfr_clears(x, y, sum, (mpfr_ptr)0);
    mpfr_free_cache();
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_numbers), cmocka_unit_test(test_hash),
                                       cmocka_unit_test(test_inverse), cmocka_unit_test(test_sums)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
