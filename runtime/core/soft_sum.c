/* Sums of doubles where ARM has no unit for them. The library of gcc (12.2 at least, its
 * `ieee754-df.S`) rounds the wrong way now and then where one is 2^33 times the other and they are
 * taken from each other: it keeps one bit too few of what it shifts out. The Makefile lets calls of
 * its functions come here (`--wrap`), which do those sums themselves. */
#include "runtime/core/number.h"

#if defined(__arm__) && defined(__SOFTFP__)

/* The names that the linker gives. */
double __real___aeabi_dadd(double a, double b);
double __real___aeabi_dsub(double a, double b);
double __wrap___aeabi_dadd(double a, double b);
double __wrap___aeabi_dsub(double a, double b);

enum { APART = 33, SPECIAL = 2047 };

static int soft_exponent(uint64_t x) {
    return (int)(x >> 52 & 2047);
}

/* |x| - |y| with the sign of x, which is 2^APART times y or so. */
static double soft_apart(uint64_t x, uint64_t y) {
    const uint64_t one = NUMBER_FRACTION + 1;
    const uint64_t small = (y & NUMBER_FRACTION) | (soft_exponent(y) > 0 ? one : 0);
    const unsigned dropped = APART - 10;
    uint64_t bits = ((x & NUMBER_FRACTION) | one) << 10, exponent = x >> 52 & 2047;
    bits -= small >> dropped;
    if (small & ((UINT64_C(1) << dropped) - 1))
        bits = (bits - 1) | 1; /* a little less: no half is taken for one */
    if (bits < one << 10) {
        bits <<= 1;
        exponent--;
    }
    const uint64_t whole = bits >> 10, rest = bits & 1023;
    const uint64_t up = rest > 512 || (rest == 512 && (whole & 1));
    /* A carry goes on into the exponent. */
    return number_from_bits((x & NUMBER_SIGN) + (exponent << 52) + (whole - one) + up);
}

/* The sum where it is that case, else by gcc's. Numbers below DBL_MIN have its exponent. */
static __attribute__((noinline)) double soft_sum(double a, double b) {
    const uint64_t x = number_bits(a), y = number_bits(b);
    const int of_x = soft_exponent(x), of_y = soft_exponent(y);
    const int apart = (of_x > 0 ? of_x : 1) - (of_y > 0 ? of_y : 1);
    if (!((x ^ y) & NUMBER_SIGN) || of_x == SPECIAL || of_y == SPECIAL)
        return __real___aeabi_dadd(a, b);
    if (apart == APART)
        return soft_apart(x, y);
    return apart == -APART ? soft_apart(y, x) : __real___aeabi_dadd(a, b);
}

/* Cheap, and true of all such cases. */
static inline int soft_may_be(double a, double b) {
    const int apart = soft_exponent(number_bits(a)) - soft_exponent(number_bits(b));
    const int size = apart < 0 ? -apart : apart;
    return __builtin_expect((unsigned)(size - APART) <= 1, 0);
}

double __wrap___aeabi_dadd(double a, double b) {
    return soft_may_be(a, b) ? soft_sum(a, b) : __real___aeabi_dadd(a, b);
}

static __attribute__((noinline)) double soft_difference(double a, double b) {
    return soft_sum(a, number_from_bits(number_bits(b) ^ NUMBER_SIGN));
}

double __wrap___aeabi_dsub(double a, double b) {
    return soft_may_be(a, b) ? soft_difference(a, b) : __real___aeabi_dsub(a, b);
}

#else

/* Elsewhere nothing is needed. */
typedef int SoftSum;

#endif
