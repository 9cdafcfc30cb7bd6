/* The dates of an entry, found by calculation: no day is looked at that cannot be one, so a rota of
 * ten thousand days costs no more than a Monday. */
#ifndef GLOAM_TIME_DAYS_H
#define GLOAM_TIME_DAYS_H

#include "runtime/core/timetable.h"

/* Dates that a file can name, years 0 to 9999: nothing is found outside them. */
#define DAYS_FIRST (-719528)
#define DAYS_LAST 2932896

/* The last such date at or before `date`, or the first at or after it; false where there is none.
 */
bool days_last(const TimetableDays *days, int32_t date, int32_t *found);
bool days_next(const TimetableDays *days, int32_t date, int32_t *found);

#endif
