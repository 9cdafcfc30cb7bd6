/* Dates of the calendar as numbers of days: 0 is 1970-01-01, a Thursday; the Gregorian calendar in
 * both directions (ISO 8601: there is a year 0). No zones, no leap seconds. */
#ifndef GLOAM_CORE_CIVIL_H
#define GLOAM_CORE_CIVIL_H

#include <stdbool.h>
#include <stdint.h>

typedef struct CivilDate {
    int32_t year;
    int32_t month; /* 1..12 */
    int32_t day;   /* 1..31 */
} CivilDate;

/* Years from -CIVIL_YEARS to CIVIL_YEARS, and the days in them. */
#define CIVIL_YEARS 1000000

/* a / b, rounded down; b above 0. */
static inline int64_t civil_floor_divide(int64_t a, int64_t b) {
    return a / b - (a % b < 0);
}

static inline bool civil_is_leap(int32_t year) {
    return year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
}

/* Days of the year before the first of the month; month 13: all of them. */
static inline int32_t civil_days_before_month(int32_t year, int32_t month) {
    static const int16_t before[] = {0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365};
    return before[month - 1] + (month > 2 && civil_is_leap(year));
}

static inline int32_t civil_days_in_month(int32_t year, int32_t month) {
    return civil_days_before_month(year, month + 1) - civil_days_before_month(year, month);
}

/* Day number of the first of January. */
static inline int32_t civil_days_before_year(int32_t year) {
    int64_t before = (int64_t)year - 1; /* whole years since 0001-01-01, which is day -719162 */
    int64_t days = 365 * before + civil_floor_divide(before, 4) - civil_floor_divide(before, 100) +
                   civil_floor_divide(before, 400) - 719162;
    return (int32_t)days;
}

/* The day number of a date that exists. */
static inline int32_t days_from_civil(CivilDate date) {
    return civil_days_before_year(date.year) + civil_days_before_month(date.year, date.month) +
           date.day - 1;
}

static inline CivilDate civil_from_days(int32_t days) {
    CivilDate date;
    /* 400 years are 146097 days: the year guessed from that is at most one off */
    date.year = (int32_t)civil_floor_divide(((int64_t)days + 719162) * 400, 146097) + 1;
    while (days < civil_days_before_year(date.year))
        date.year--;
    while (days >= civil_days_before_year(date.year + 1))
        date.year++;
    int32_t day_of_year = days - civil_days_before_year(date.year);
    date.month = 1;
    while (day_of_year >= civil_days_before_month(date.year, date.month + 1))
        date.month++;
    date.day = day_of_year - civil_days_before_month(date.year, date.month) + 1;
    return date;
}

/* 0 Monday .. 6 Sunday, as the bits of a timetable's weekdays. */
static inline int32_t weekday_from_days(int32_t days) {
    return (int32_t)(((int64_t)days + 3) - 7 * civil_floor_divide((int64_t)days + 3, 7));
}

#endif
