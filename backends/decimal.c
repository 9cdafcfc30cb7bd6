#include "backends/decimal.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { DIGITS = 9 };

/* A number as DIGITS decimal digits and the power of ten of the first one. */
typedef struct Decimal {
    uint32_t digits;
    int power;
} Decimal;

/* Powers of ten that are exact in a double. */
static const double decimal_tens[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                      1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                      1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

/* For any float, exactly as the C library rounds. The decimal point may be any text. */
static Decimal decimal_careful(float value) {
    char text[40];
    snprintf(text, sizeof text, "%.8e", (double)value);
    Decimal decimal = {0, 0};
    const char *next = text;
    for (; *next != 'e'; next++)
        if (*next >= '0' && *next <= '9')
            decimal.digits = decimal.digits * 10 + (uint32_t)(*next - '0');
    int sign = next[1] == '-' ? -1 : 1;
    for (next += 2; *next != '\0'; next++)
        decimal.power = decimal.power * 10 + (*next - '0');
    decimal.power *= sign;
    return decimal;
}

/* For floats from 1e-13 up to 1: one multiplication by an exact power. Its rounding is at most
 * 2^-24 of the last digit, so only what lies that near to a half needs the careful way. */
static Decimal decimal_of(float value) {
    if (!(value >= 1e-13f && value < 1.0f))
        return decimal_careful(value);
    int power = -1;
    while ((double)value * decimal_tens[-power] < 1.0)
        power--;
    double scaled = (double)value * decimal_tens[DIGITS - 1 - power];
    uint32_t digits = (uint32_t)scaled;
    double rest = scaled - digits;
    if (rest > 0.499999 && rest < 0.500001)
        return decimal_careful(value);
    digits += rest > 0.5;
    if (digits == 1000000000u)
        return (Decimal){100000000u, power + 1};
    return (Decimal){digits, power};
}

static size_t decimal_exponent(int power, char *into) {
    char *next = into;
    unsigned size = (unsigned)(power < 0 ? -power : power);
    *next++ = 'e';
    *next++ = power < 0 ? '-' : '+';
    *next++ = (char)('0' + size / 10);
    *next++ = (char)('0' + size % 10);
    return (size_t)(next - into);
}

/* The nine digits as characters; gives how many are left without the zeros behind. */
static int decimal_characters(uint32_t digits, char *into) {
    for (int i = DIGITS - 1; i >= 0; i--) {
        into[i] = (char)('0' + digits % 10);
        digits /= 10;
    }
    int count = DIGITS;
    while (count > 1 && into[count - 1] == '0')
        count--;
    return count;
}

static char *decimal_copy(char *into, const char *from, int count) {
    memcpy(into, from, (size_t)count);
    return into + count;
}

static char *decimal_zeros(char *into, int count) {
    memset(into, '0', (size_t)count);
    return into + count;
}

size_t decimal_light(float value, char *into) {
    char *next = into;
    if (signbit(value) && isfinite(value)) {
        *next++ = '-';
        value = -value;
    }
    if (value == 0.0f || !isfinite(value)) {
        *next++ = '0';
        return (size_t)(next - into);
    }
    Decimal decimal = decimal_of(value);
    char digits[DIGITS];
    int count = decimal_characters(decimal.digits, digits);
    if (decimal.power < -4 || decimal.power >= DIGITS) {
        *next++ = digits[0];
        if (count > 1)
            *next++ = '.';
        next = decimal_copy(next, digits + 1, count - 1);
        next += decimal_exponent(decimal.power, next);
    } else if (decimal.power < 0) {
        *next++ = '0';
        *next++ = '.';
        next = decimal_zeros(next, -decimal.power - 1);
        next = decimal_copy(next, digits, count);
    } else {
        int whole = decimal.power + 1;
        next = decimal_copy(next, digits, count < whole ? count : whole);
        if (count < whole)
            next = decimal_zeros(next, whole - count);
        if (count > whole) {
            *next++ = '.';
            next = decimal_copy(next, digits + whole, count - whole);
        }
    }
    return (size_t)(next - into);
}
