/* Local time by a rule for every year: a TZ string of POSIX with the extensions of RFC 9636
 * section 3.3.1 (times of day from -167 to 167 hours). */
#ifndef GLOAM_TIME_ZONE_RULE_H
#define GLOAM_TIME_ZONE_RULE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define ZONE_NAME_BYTES 32 /* of an abbreviation, its NUL included */

/* Seconds UTC that are looked at: beyond, the answer is that of the last one. */
#define ZONE_SECONDS_LIMIT 20000000000000 /* 633,000 years, within those of civil.h */

typedef struct ZoneType {
    int32_t offset; /* seconds, east of Greenwich positive */
    bool summer;    /* the DST flag, as the data say it: it does not tell the sign of anything */
    char abbreviation[ZONE_NAME_BYTES];
} ZoneType;

typedef enum ZoneDayForm {
    ZONE_DAY_JULIAN,  /* Jn: day 1..365, 29 February is never counted */
    ZONE_DAY_COUNTED, /* n: day 0..365, it is counted */
    ZONE_DAY_WEEKDAY  /* Mm.w.d: the w-th such weekday of the month, 5 the last */
} ZoneDayForm;

typedef struct ZoneDay {
    ZoneDayForm form;
    int32_t day;                  /* of the first two forms */
    int32_t month, week, weekday; /* of the third: weekday 0 Sunday .. 6 */
    int32_t time; /* seconds after local midnight, may be negative or beyond a day */
} ZoneDay;

typedef struct ZoneRule {
    ZoneType standard;
    bool changes; /* else standard time all year, and the rest is not set */
    ZoneType summer;
    ZoneDay start, end; /* of summer time, by the clock that is changed */
} ZoneRule;

/* False where the text, `length` bytes without a NUL, is no such string. */
bool zone_rule_read(const char *text, size_t length, ZoneRule *rule);

/* The one in force, part of `rule`. */
const ZoneType *zone_rule_at(const ZoneRule *rule, int64_t utc_seconds);

#endif
