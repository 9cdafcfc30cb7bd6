#include "runtime/time/days.h"

#include "runtime/core/civil.h"

/* Each step asks one condition: 0 where the date fulfils it, else how far it is to the nearest date
 * in the direction (-1 or 1) that may fulfil it. */

static int32_t days_months(const TimetableDays *days, int32_t date, int direction) {
    if (days->months == TIMETABLE_ALL_MONTHS)
        return 0;
    CivilDate civil = civil_from_days(date);
    if (days->months >> (civil.month - 1) & 1)
        return 0;
    if (direction < 0)
        return civil.day;
    return civil_days_in_month(civil.year, civil.month) - civil.day + 1;
}

static int32_t days_excepted(const TimetableDays *days, int32_t date, int direction) {
    for (uint32_t i = 0; i < days->except_count; i++) {
        const DateRange *range = &days->except[i];
        if (date >= range->first && date <= range->last)
            return direction < 0 ? date - range->first + 1 : range->last - date + 1;
    }
    return 0;
}

/* `from` is said and not after the date. */
static int32_t days_rota(const TimetableDays *days, int32_t date, int direction) {
    int32_t length = days->rota_length;
    if (length == 0)
        return 0;
    int32_t day = (date - days->from) % length + 1;
    if (day >= days->rota_first && day <= days->rota_last)
        return 0;
    int32_t way = direction < 0 ? day - days->rota_last : days->rota_first - day;
    return way > 0 ? way : way + length;
}

static int32_t days_weekday(const TimetableDays *days, int32_t date) {
    uint32_t usable = days->weekdays & ~(uint32_t)days->except_weekdays;
    return usable >> weekday_from_days(date) & 1 ? 0 : 1;
}

/* A rota of whole weeks meets the same weekdays for ever: perhaps none of those wanted. */
static bool days_impossible(const TimetableDays *days) {
    if ((days->weekdays & ~(uint32_t)days->except_weekdays & TIMETABLE_ALL_WEEKDAYS) == 0)
        return true;
    if ((days->months & TIMETABLE_ALL_MONTHS) == 0)
        return true;
    if (days->rota_length == 0 || days->rota_length % 7 != 0)
        return false;
    for (int32_t day = days->rota_first; day <= days->rota_last; day++)
        if (days_weekday(days, days->from + day - 1) == 0)
            return false;
    return true;
}

static bool days_seek(const TimetableDays *days, int32_t date, int direction, int32_t *found) {
    int32_t first = days->from > DAYS_FIRST ? days->from : DAYS_FIRST;
    int32_t last = days->until < DAYS_LAST ? days->until : DAYS_LAST;
    if (days_impossible(days))
        return false;
    if (direction < 0 && date > last)
        date = last;
    if (direction > 0 && date < first)
        date = first;
    while (date >= first && date <= last) {
        int32_t way = days_months(days, date, direction);
        if (way == 0)
            way = days_excepted(days, date, direction);
        if (way == 0)
            way = days_rota(days, date, direction);
        if (way == 0)
            way = days_weekday(days, date);
        if (way == 0) {
            *found = date;
            return true;
        }
        date += direction * way;
    }
    return false;
}

bool days_last(const TimetableDays *days, int32_t date, int32_t *found) {
    return days_seek(days, date, -1, found);
}

bool days_next(const TimetableDays *days, int32_t date, int32_t *found) {
    return days_seek(days, date, 1, found);
}
