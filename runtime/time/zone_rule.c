#include "runtime/time/zone_rule.h"

#include <string.h>

#include "runtime/core/civil.h"

#define ZONE_DAY_SECONDS 86400

/* -------- the text -------- */

typedef struct RuleText {
    const char *at, *end;
} RuleText;

static bool rule_take(RuleText *text, char wanted) {
    if (text->at == text->end || *text->at != wanted)
        return false;
    text->at++;
    return true;
}

static bool rule_is_digit(char c) {
    return c >= '0' && c <= '9';
}

static bool rule_is_letter(char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

/* A whole number, least..most. */
static bool rule_number(RuleText *text, int32_t least, int32_t most, int32_t *number) {
    const char *first = text->at;
    int32_t value = 0;
    while (text->at < text->end && rule_is_digit(*text->at) && text->at - first < 4)
        value = value * 10 + (*text->at++ - '0');
    *number = value;
    return text->at > first && value >= least && value <= most;
}

/* At least three letters, or letters, digits, + and - in < >. */
static bool rule_name(RuleText *text, char *name) {
    bool quoted = rule_take(text, '<');
    size_t length = 0;
    while (text->at < text->end) {
        char c = *text->at;
        bool fits = rule_is_letter(c) || (quoted && (rule_is_digit(c) || c == '+' || c == '-'));
        if (!fits)
            break;
        if (length + 1 == ZONE_NAME_BYTES)
            return false;
        name[length++] = c;
        text->at++;
    }
    name[length] = '\0';
    return length >= 3 && (!quoted || rule_take(text, '>'));
}

/* [+-]h[:mm[:ss]] in seconds. */
static bool rule_time(RuleText *text, int32_t most_hours, int32_t *seconds) {
    bool negative = rule_take(text, '-');
    if (!negative)
        (void)rule_take(text, '+');
    int32_t hours, minutes = 0, rest = 0;
    if (!rule_number(text, 0, most_hours, &hours))
        return false;
    if (rule_take(text, ':')) {
        if (!rule_number(text, 0, 59, &minutes))
            return false;
        if (rule_take(text, ':') && !rule_number(text, 0, 59, &rest))
            return false;
    }
    int32_t size = (hours * 60 + minutes) * 60 + rest;
    *seconds = negative ? -size : size;
    return true;
}

static bool rule_day(RuleText *text, ZoneDay *day) {
    memset(day, 0, sizeof *day);
    bool fine;
    if (rule_take(text, 'M')) {
        day->form = ZONE_DAY_WEEKDAY;
        fine = rule_number(text, 1, 12, &day->month) && rule_take(text, '.') &&
               rule_number(text, 1, 5, &day->week) && rule_take(text, '.') &&
               rule_number(text, 0, 6, &day->weekday);
    } else if (rule_take(text, 'J')) {
        day->form = ZONE_DAY_JULIAN;
        fine = rule_number(text, 1, 365, &day->day);
    } else {
        day->form = ZONE_DAY_COUNTED;
        fine = rule_number(text, 0, 365, &day->day);
    }
    day->time = 2 * 3600;
    return fine && (!rule_take(text, '/') || rule_time(text, 167, &day->time));
}

bool zone_rule_read(const char *bytes, size_t length, ZoneRule *rule) {
    RuleText text = {bytes, bytes + length};
    int32_t west;
    memset(rule, 0, sizeof *rule);
    if (!rule_name(&text, rule->standard.abbreviation) || !rule_time(&text, 24, &west))
        return false;
    rule->standard.offset = -west;
    if (text.at == text.end)
        return true;
    rule->changes = true;
    rule->summer.summer = true;
    rule->summer.offset = rule->standard.offset + 3600;
    if (!rule_name(&text, rule->summer.abbreviation))
        return false;
    if (text.at < text.end && *text.at != ',') {
        if (!rule_time(&text, 24, &west))
            return false;
        rule->summer.offset = -west;
    }
    return rule_take(&text, ',') && rule_day(&text, &rule->start) && rule_take(&text, ',') &&
           rule_day(&text, &rule->end) && text.at == text.end;
}

/* -------- the year -------- */

static int32_t rule_weekday(const ZoneDay *day, int32_t year) {
    int32_t first = days_from_civil((CivilDate){year, day->month, 1});
    int32_t sunday_based = (weekday_from_days(first) + 1) % 7;
    int32_t date = (day->weekday - sunday_based + 7) % 7 + 7 * (day->week - 1);
    while (date >= civil_days_in_month(year, day->month))
        date -= 7;
    return first + date;
}

/* The instant in UTC at which the clock, `offset` ahead of it, is changed that year. */
static int64_t rule_instant(const ZoneDay *day, int32_t year, int32_t offset) {
    int64_t days;
    if (day->form == ZONE_DAY_WEEKDAY)
        days = rule_weekday(day, year);
    else if (day->form == ZONE_DAY_JULIAN)
        days = civil_days_before_year(year) + day->day - 1 +
               (day->day > 59 && civil_is_leap(year) ? 1 : 0);
    else
        days = civil_days_before_year(year) + day->day;
    return days * ZONE_DAY_SECONDS + day->time - offset;
}

/* Summer time is the union of the stretches from each start to the next end: where an end is not
 * before the next start it goes on (RFC 9636 writes summer time all year that way). */
const ZoneType *zone_rule_at(const ZoneRule *rule, int64_t utc) {
    if (!rule->changes)
        return &rule->standard;
    int64_t days = civil_floor_divide(utc, ZONE_DAY_SECONDS);
    int32_t year = civil_from_days((int32_t)days).year;
    for (int32_t y = year - 2; y <= year + 1; y++) {
        int64_t start = rule_instant(&rule->start, y, rule->standard.offset);
        int64_t end = rule_instant(&rule->end, y, rule->summer.offset);
        if (end <= start)
            end = rule_instant(&rule->end, y + 1, rule->summer.offset);
        if (utc >= start && utc < end)
            return &rule->summer;
    }
    return &rule->standard;
}
