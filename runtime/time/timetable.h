/* What a timetable plays at an instant: a function of the data and the instant alone, so a lamp
 * that starts in the middle joins where it should be, and every lamp with the same file and the
 * same clock shows the same. Nothing is kept from call to call; calls may come from any thread.
 *
 * Instants are microseconds UTC since 1970, within years 0 to 9999. TIMETABLE_EVER is before and
 * TIMETABLE_NEVER behind them all.
 *
 * Here are the entries of `at` and `by` and the ceilings. Plays of `when` and what is set by hand
 * lie on top of what this says: whoever keeps those lays them there, asking again when they end. */
#ifndef GLOAM_TIME_TIMETABLE_H
#define GLOAM_TIME_TIMETABLE_H

#include "runtime/core/timetable.h"
#include "runtime/time/zone.h"

#define TIMETABLE_EVER INT64_MIN
#define TIMETABLE_NEVER INT64_MAX

/* All borrowed, none changed; the program is that of the timetable. */
typedef struct TimetableContext {
    const Timetable *timetable;
    const Program *program;
    const Zone *zone; /* of the timetable's place, or of the machine; NULL: UTC */
} TimetableContext;

typedef struct TimetableState {
    /* False before the first entry ever and where every entry has ended: a lamp is off, a part
     * shows what its lamp shows. Then routine is ROUTINE_OFF, entry is not set. */
    bool plays;
    uint32_t entry;   /* index: its settings and cross-fade go with it */
    int64_t began;    /* t = 0 of the routine that the entry names */
    int64_t ends;     /* by `for`, `until` or, where that ends the entry, the routine's length;
                         TIMETABLE_NEVER */
    uint16_t routine; /* what plays now, `then` followed; ROUTINE_OFF */
    int64_t since;    /* t = 0 of that: t is the instant asked for less this */
    int64_t goes_on; /* of what is held: until then t stands still; else at or before the instant */
} TimetableState;

/* For `part` TIMETABLE_NOT_SAID what the lamp as a whole plays, from entries for all lamps and for
 * it; else what lies over that on the part: entries for the part only. Of entries that began and
 * have not ended the one that began last plays, of two at one instant the later in the file. */
void timetable_state(const TimetableContext *context, int32_t lamp, int32_t part, int64_t utc,
                     TimetableState *state);

/* The first instant after `utc` at which that state can differ: another entry begins, this one
 * ends, or its routine is over and another follows; TIMETABLE_NEVER. A moment of the sun is looked
 * for over 400 dates of its entry. */
int64_t timetable_next(const TimetableContext *context, int32_t lamp, int32_t part, int64_t utc);

/* From a routine that began at *since to the one that `then` has come to at `utc`. */
void timetable_follow(const Program *program, int64_t utc, uint16_t *routine, int64_t *since);

/* When that is over and another follows; TIMETABLE_NEVER. */
int64_t timetable_follows(const Program *program, uint16_t routine, int64_t since);

/* -------- what was changed by hand -------- */

/* An instance is one moment of an entry on one date; it is known by its entry and the instant at
 * which it starts. */
typedef enum TimetableChangeKind {
    TIMETABLE_SKIPPED, /* what starts at `start` does nothing: as if it had no such moment */
    TIMETABLE_MOVED,   /* it comes at `moment` instead (and is over then, with `by`) */
    TIMETABLE_HELD     /* its time stands still for `length` from `from` on; what ends by `for` or
                          its length ends that much later. Lengths add up where there are several,
                          which do not overlap. */
} TimetableChangeKind;

typedef struct TimetableChange {
    TimetableChangeKind kind;
    int32_t lamp;         /* TIMETABLE_NOT_SAID: all */
    uint32_t entry;       /* MOVED, HELD; SKIPPED: every entry */
    int64_t start;        /* MOVED: where it started before any move; else where it starts now */
    int64_t moment;       /* MOVED */
    int64_t from, length; /* HELD */
} TimetableChange;

typedef struct TimetableChanges {
    uint32_t count;
    const TimetableChange *list; /* of two that move one instance the later counts */
} TimetableChanges;

/* The same with changes. */
void timetable_changed_state(const TimetableContext *context, const TimetableChanges *changes,
                             int32_t lamp, int32_t part, int64_t utc, TimetableState *state);
int64_t timetable_changed_next(const TimetableContext *context, const TimetableChanges *changes,
                               int32_t lamp, int32_t part, int64_t utc);

typedef struct TimetableBegin {
    uint32_t entry;
    int64_t start, moment; /* with `by` the moment is what the routine lasts later */
    int64_t origin;        /* its start before it was moved; else start */
} TimetableBegin;

/* What begins first after `utc` on a lamp or a part of it; of those at one instant the last in the
 * file. With `past` other than TIMETABLE_EVER: that whose moment comes first after `past`. */
bool timetable_begin(const TimetableContext *context, const TimetableChanges *changes, int32_t lamp,
                     int64_t utc, int64_t past, TimetableBegin *begin);

/* Whether such an instance exists, skipped or not, and when it ends. */
bool timetable_instance(const TimetableContext *context, const TimetableChanges *changes,
                        int32_t lamp, uint32_t entry, int64_t start, int64_t *ends);

/* Whether at `utc` something without an end plays on the lamp (or part) that began after `start`:
 * what began then will not be seen again. */
bool timetable_covered(const TimetableContext *context, const TimetableChanges *changes,
                       int32_t lamp, int32_t part, int64_t start, int64_t utc);

/* -------- one moment on one date, for telling -------- */

/* The moments of an entry: those of its list, or each time of day of a repeated one. */
uint32_t timetable_moments(const TimetableEntry *entry);
TimetableMoment timetable_moment(const TimetableEntry *entry, uint32_t index);
/* By how much an entry begins before its moment: `by`. */
int64_t timetable_lead(const TimetableContext *context, uint32_t entry);

/* Where that moment begins and ends on a date of the entry; *ends is *start where it has no length.
 * False where the date is none of the entry's, or the time of the sun does not come. */
bool timetable_on_date(const TimetableContext *context, uint32_t entry, uint32_t moment,
                       int32_t date, int64_t *start, int64_t *ends);

/* -------- ceilings -------- */

/* Whether a ceiling (by its index) holds the lamp, or the part. */
bool timetable_ceiling_covers(const TimetableContext *context, uint32_t ceiling, int32_t lamp,
                              int32_t part);

/* The last run of a ceiling that began at or before `utc`; it may be over (until <= utc). False
 * where there is none. *until is after *since. */
bool timetable_ceiling(const TimetableContext *context, uint32_t ceiling, int64_t utc,
                       int64_t *since, int64_t *until);

/* When that ceiling begins or ends next after `utc`; TIMETABLE_NEVER. */
int64_t timetable_ceiling_next(const TimetableContext *context, uint32_t ceiling, int64_t utc);

/* The local date at an instant, and the instant of a time of day (seconds since midnight) on a
 * local date, as entries have it. */
int32_t timetable_local_date(const TimetableContext *context, int64_t utc);
int64_t timetable_local_instant(const TimetableContext *context, int32_t date, int32_t clock);

/* The end of what begins at `utc`, not by a moment of the timetable, and stays until `until`: the
 * next such moment. */
int64_t timetable_end(const TimetableContext *context, const TimetableMoment *until, int64_t utc);

#endif
