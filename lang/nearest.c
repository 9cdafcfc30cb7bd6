/* "Did you mean": edit distance with transpositions of neighbours (optimal string alignment). */
#include <string.h>

#include "lang/diagnostics.h"

enum { LONGEST = 128 };

static char lower(char c) {
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

static size_t least(size_t a, size_t b) {
    return a < b ? a : b;
}

static size_t distance(const char *a, size_t a_length, const char *b, size_t b_length) {
    size_t rows[3][LONGEST + 1];
    for (size_t j = 0; j <= b_length; j++)
        rows[0][j] = j;
    for (size_t i = 1; i <= a_length; i++) {
        size_t *row = rows[i % 3], *above = rows[(i + 2) % 3], *two_above = rows[(i + 1) % 3];
        row[0] = i;
        for (size_t j = 1; j <= b_length; j++) {
            bool same = lower(a[i - 1]) == lower(b[j - 1]);
            row[j] = least(least(above[j] + 1, row[j - 1] + 1), above[j - 1] + !same);
            if (i > 1 && j > 1 && lower(a[i - 1]) == lower(b[j - 2]) &&
                lower(a[i - 2]) == lower(b[j - 1]))
                row[j] = least(row[j], two_above[j - 2] + 1);
        }
    }
    return rows[a_length % 3][b_length];
}

const char *diagnostics_nearest(const char *name, const char *const *names, size_t count) {
    size_t length = strlen(name);
    if (length == 0 || length > LONGEST)
        return NULL;
    const char *nearest = NULL;
    size_t best = length / 3 + 1;
    for (size_t i = 0; i < count; i++) {
        size_t other = strlen(names[i]);
        if (other > LONGEST || other >= length + best || length >= other + best)
            continue;
        size_t found = distance(name, length, names[i], other);
        if (found < best) {
            best = found;
            nearest = names[i];
        }
    }
    return nearest;
}
