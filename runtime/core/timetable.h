/* What a timetable is: plain data, written by the compiler after everything was checked, read by
 * whatever plays it. All of one Timetable is one piece: it is never changed, and it lives as long
 * as what made it (lang/compile.h says how long).
 *
 * Entries stand in the order of the text, which is their rank: of two whose moments are the same
 * instant the later one plays. Indices of routines, dials and events are those of the Program that
 * was compiled with the timetable; those of lamps and parts are those of the compiled lamps.
 *
 * Durations are whole microseconds; times of day are seconds since local midnight, 0..86399, on
 * the clock of `place`'s zone; dates are days since 1970-01-01 (runtime/core/civil.h). */
#ifndef GLOAM_CORE_TIMETABLE_H
#define GLOAM_CORE_TIMETABLE_H

#include "runtime/core/program.h"

/* -------- moments -------- */

/* Dawn is where the sun is that far below the horizon before it rises (civil 6, nautical 12,
 * astronomical 18 degrees), dusk where it is after it has set. */
typedef enum SunEvent {
    SUN_SUNRISE,
    SUN_SUNSET,
    SUN_CIVIL_DAWN,
    SUN_CIVIL_DUSK,
    SUN_NAUTICAL_DAWN,
    SUN_NAUTICAL_DUSK,
    SUN_ASTRONOMICAL_DAWN,
    SUN_ASTRONOMICAL_DUSK,
    SUN_EVENT_COUNT
} SunEvent;

/* A time of day, or a time of the sun with an offset. */
typedef struct TimetableMoment {
    bool sun;
    int32_t clock;  /* not sun */
    SunEvent event; /* sun */
    int64_t offset; /* sun: microseconds, negative before; less than a day either way */
} TimetableMoment;

#define TIMETABLE_NOT_SAID (-1)

/* What holds the moments of one entry in: times of day of the moment's date, or
 * TIMETABLE_NOT_SAID. They hold each of the entry's moments by itself. */
typedef struct TimetableBounds {
    int32_t not_before, not_after; /* where both are said, not_before <= not_after */
    int32_t otherwise;             /* `else`: on dates on which the sun's time does not come */
} TimetableBounds;

/* -------- days -------- */

typedef struct DateRange {
    int32_t first, last; /* both included; first <= last */
} DateRange;

#define TIMETABLE_ALL_WEEKDAYS 0x7Fu
#define TIMETABLE_ALL_MONTHS 0xFFFu

/* On which dates: all conditions together must hold. The date is the local date of the moment; of
 * a time of the sun the sun's date, whatever the offset; of a ceiling the date of its beginning;
 * of a repeated moment over midnight the date of each moment. */
typedef struct TimetableDays {
    uint16_t weekdays; /* bit 0 Monday .. bit 6 Sunday; TIMETABLE_ALL_WEEKDAYS where not said */
    uint16_t months;   /* bit 0 January .. bit 11 December; TIMETABLE_ALL_MONTHS where not said */
    int32_t from;      /* INT32_MIN where not said */
    int32_t until;     /* included; INT32_MAX where not said */
    /* A rota: day 1 is `from` (which is said), day rota_length + 1 is day 1 again; it holds on the
     * days rota_first..rota_last. rota_length 0: none. 1 <= first <= last <= length <= 10000. */
    int32_t rota_first, rota_last, rota_length;
    uint16_t except_weekdays; /* not on these; 0: none */
    uint32_t except_count;    /* not on these dates */
    const DateRange *except;  /* in the order of the text, may overlap; NULL where there are none */
} TimetableDays;

/* -------- what is played -------- */

typedef struct TimetableSetting {
    uint16_t dial;
    double number; /* as DialInfo.number: within the dial's range, truths 0 or 1, durations in us */
    Colour colour; /* of a colour dial */
} TimetableSetting;

typedef enum TimetableEnd {
    TIMETABLE_GOES_ON, /* nothing is said: until another entry takes over, but see below */
    TIMETABLE_FOR,     /* exact time */
    TIMETABLE_UNTIL    /* the next such moment after the start, as spec/timetable.md tells it */
} TimetableEnd;

typedef struct TimetablePlay {
    uint16_t routine; /* ROUTINE_OFF: no light */
    uint32_t setting_count;
    const TimetableSetting *settings; /* each dial at most once; NULL where there are none */
    int32_t lamp;                     /* TIMETABLE_NOT_SAID: all lamps */
    int32_t part; /* index among that lamp's groups; TIMETABLE_NOT_SAID: the whole lamp */
    /* TIMETABLE_GOES_ON with `when` or a repeated moment: the routine has a length, and the entry
     * ends when that is over. Everywhere else a routine's length ends nothing. */
    TimetableEnd end;
    int64_t stays;         /* TIMETABLE_FOR: microseconds, above 0 */
    TimetableMoment until; /* TIMETABLE_UNTIL */
    /* Of the cross-fade, microseconds, 0 or more; TIMETABLE_NOT_SAID: 1 s, or none for `when` and
     * repeated moments. */
    int64_t fading;
} TimetablePlay;

/* -------- entries -------- */

typedef enum TimetableKind {
    TIMETABLE_AT,    /* the routine begins at the moment */
    TIMETABLE_BY,    /* it is over at the moment: begins what it lasts (above 0) earlier */
    TIMETABLE_EVENT, /* `when` an event is told from outside */
    TIMETABLE_TRUTH  /* `when` a truth about dials turns from false to true */
} TimetableKind;

typedef struct TimetableEntry {
    TimetableKind kind;
    uint32_t line, column; /* of its first character in the main file, from 1 */
    /* AT and BY: `moment_count` single moments, in the order of the text; or, with every > 0, the
     * repeated moments first, first + every, ... up to and including last (over midnight where
     * last is earlier than first) on the local clock: times of day in seconds, `every` in seconds,
     * a whole number of minutes. Then moment_count is 0. */
    uint32_t moment_count;
    const TimetableMoment *moments;
    int32_t first, last;
    int64_t every;
    TimetableBounds bounds;
    TimetableDays days;
    uint16_t event;     /* EVENT */
    uint16_t condition; /* TRUTH: an index into `conditions`; each entry has its own */
    TimetablePlay play;
} TimetableEntry;

/* `between A and B keep level under P`: while it runs the brightest channel of a frame is held at
 * `level`. `to` is the next such moment after `from`. */
typedef struct TimetableCeiling {
    uint32_t line, column;
    TimetableMoment from, to;
    TimetableDays days;
    double level; /* 0..1, as written: 0.1 for 10% */
    int32_t lamp; /* TIMETABLE_NOT_SAID: all lamps */
    int32_t part; /* as in TimetablePlay */
} TimetableCeiling;

typedef struct TimetablePlace {
    bool said;                  /* false: no entry and no ceiling has a moment of the sun */
    double latitude, longitude; /* degrees, north and east above 0 */
    const char *zone;           /* a name of the time zone database; NULL: that of the machine */
} TimetablePlace;

typedef struct Timetable {
    uint32_t entry_count;
    const TimetableEntry *entries;
    uint32_t ceiling_count;
    const TimetableCeiling *ceilings; /* in the order of the text */
    uint16_t until_clock; /* `until clock is set play`: a routine, ROUTINE_OFF; ROUTINE_NONE where
                             not said, which means off */
    TimetablePlace place;
    /* Truths as code that the machine runs with the dials of the Program, at any moment and for
     * any lamp (one pixel is enough): light above 0 in its red channel is true, 0 is false. It
     * reads dials only: give it the values they are set to, not those that glide there. */
    uint16_t condition_count;
    const Code *conditions;
} Timetable;

#endif
