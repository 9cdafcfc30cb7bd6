/* A second way to count transitions, for tests: the longest chain of frames in which every change
 * from one to the next is large enough and goes the other way than the one before. */
#ifndef GLOAM_TESTS_SUPPORT_FLASHES_H
#define GLOAM_TESTS_SUPPORT_FLASHES_H

#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { CHAIN_LONG = 600 };

typedef struct Seen {
    double r, g, b;
} Seen;

static inline double seen_luminance(Seen a) {
    return 0.2126 * a.r + 0.7152 * a.g + 0.0722 * a.b;
}

/* +1 brighter, -1 darker, 0 no change of `step` whose darker end is below `dark`. */
static inline int chain_luminance(Seen a, Seen b, double step, double dark) {
    double from = seen_luminance(a), to = seen_luminance(b);
    if (fabs(from - to) < step || fmin(from, to) >= dark)
        return 0;
    return to > from ? 1 : -1;
}

/* With the slack of 1e-6 that lets 0.10 and 0.80 of floats count as such. */
static inline int chain_general(Seen a, Seen b) {
    return chain_luminance(a, b, 0.1 - 1e-6, 0.8 - 1e-6);
}

static inline bool seen_red(Seen a) {
    double sum = a.r + a.g + a.b;
    return sum > 0.0 && a.r / sum >= 0.8 - 1e-6;
}

/* CIE 1976 u'v' by way of the rounded matrix of IEC 61966-2-1. */
static inline void seen_chroma(Seen a, double *u, double *v) {
    *u = 0.19783;
    *v = 0.46832;
    if (a.r + a.g + a.b <= 0.0)
        return;
    double x = 0.4124 * a.r + 0.3576 * a.g + 0.1805 * a.b;
    double y = 0.2126 * a.r + 0.7152 * a.g + 0.0722 * a.b;
    double z = 0.0193 * a.r + 0.1192 * a.g + 0.9505 * a.b;
    *u = 4.0 * x / (x + 15.0 * y + 3.0 * z);
    *v = 9.0 * y / (x + 15.0 * y + 3.0 * z);
}

static inline double seen_apart(Seen a, Seen b) {
    double au, av, bu, bv;
    seen_chroma(a, &au, &av);
    seen_chroma(b, &bu, &bv);
    return hypot(au - bu, av - bv);
}

/* +1 to red, -1 from red, 0 neither. */
static inline int chain_red(Seen a, Seen b) {
    if (seen_red(a) == seen_red(b) || seen_apart(a, b) <= 0.2)
        return 0;
    return seen_red(b) ? 1 : -1;
}

/* Changes in the longest chain. */
static inline int chain_longest(const Seen *frames, size_t count, int (*change)(Seen, Seen)) {
    static int up[CHAIN_LONG], down[CHAIN_LONG];
    int longest = 0;
    for (size_t j = 0; j < count && j < CHAIN_LONG; j++) {
        up[j] = down[j] = 0;
        for (size_t i = 0; i < j; i++) {
            int way = change(frames[i], frames[j]);
            if (way > 0 && down[i] + 1 > up[j])
                up[j] = down[i] + 1;
            if (way < 0 && up[i] + 1 > down[j])
                down[j] = up[i] + 1;
        }
        longest = up[j] > longest ? up[j] : longest;
        longest = down[j] > longest ? down[j] : longest;
    }
    return longest;
}

/* The same within the worst half-open second. */
static inline int chain_second(const Seen *frames, const int64_t *times, size_t count,
                               int (*change)(Seen, Seen)) {
    int longest = 0;
    size_t end = 0;
    for (size_t begin = 0; begin < count; begin++) {
        size_t before = end;
        while (end < count && times[end] - times[begin] < 1000000)
            end++;
        if (end == before)
            continue; /* within the second before */
        int length = chain_longest(frames + begin, end - begin, change);
        longest = length > longest ? length : longest;
    }
    return longest;
}

#endif
