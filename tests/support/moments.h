/* Instants and dates of tables and tests as text, read by the C library. Included after cmocka.h.
 */
#ifndef GLOAM_TESTS_MOMENTS_H
#define GLOAM_TESTS_MOMENTS_H

#include <stdint.h>
#include <stdio.h>
#include <time.h>

#include "runtime/core/civil.h"

/* 2026-11-25T06:00[:00][Z] as if in UTC: seconds since 1970. */
static inline int64_t seconds(const char *text) {
    struct tm date = {0};
    assert_true(sscanf(text, "%d-%d-%dT%d:%d:%d", &date.tm_year, &date.tm_mon, &date.tm_mday,
                       &date.tm_hour, &date.tm_min, &date.tm_sec) >= 5);
    date.tm_year -= 1900;
    date.tm_mon -= 1;
    return (int64_t)timegm(&date);
}

/* 2026-11-25: days since 1970. */
static inline int32_t day_of(const char *text) {
    CivilDate date;
    assert_int_equal(sscanf(text, "%d-%d-%d", &date.year, &date.month, &date.day), 3);
    return days_from_civil(date);
}

#endif
