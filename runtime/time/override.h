/* What lies on top of the timetable, as data: overrides by hand, running plays of `when`, dials set
 * by hand, reports, and the acts that can be taken back. Plain data: copied by assignment, holds no
 * pointers, allocates nothing. Indices are those of the World it is used with; the state file
 * carries it from one world to the next by names (runtime/library/state_file.h).
 *
 * How what is here changes: act.h. What plays because of it: playing.h. Every function wants a list
 * that was settled for this start of the machine (overrides_settle), once after it was read. */
#ifndef GLOAM_TIME_OVERRIDE_H
#define GLOAM_TIME_OVERRIDE_H

#include "runtime/core/limits.h"
#include "runtime/time/begun.h"
#include "runtime/time/world.h"

/* -------- ends -------- */

typedef enum OverrideEndKind {
    OVERRIDE_FOR,       /* exact time, on the boot-time clock */
    OVERRIDE_UNTIL,     /* the next such moment after it began */
    OVERRIDE_AT,        /* an instant */
    OVERRIDE_NEXT_ENTRY /* on each lamp: until something of the timetable begins there, also on a
                           part of it; what is skipped does not count */
} OverrideEndKind;

typedef struct OverrideEnd {
    OverrideEndKind kind;
    int64_t length;        /* FOR: above 0 */
    TimetableMoment until; /* UNTIL: a time of day */
    int64_t instant;       /* AT */
} OverrideEnd;

/* -------- overrides by hand -------- */

typedef enum OverrideKind {
    OVERRIDE_PLAY,   /* a routine; `off` is PLAY of ROUTINE_OFF */
    OVERRIDE_LEVEL,  /* a master level */
    OVERRIDE_SKIP,   /* what begins at target.start does nothing */
    OVERRIDE_MORE,   /* the target stands still for `length` from `begun` on */
    OVERRIDE_EARLIER /* the target, by its start before it was moved, comes at `moment` instead */
} OverrideKind;

typedef enum OverrideTargetKind {
    TARGET_ENTRY, /* an instance of an entry: `entry`, `start` */
    TARGET_HAND,  /* an override by hand: `number` */
    TARGET_WHEN   /* a running play of `when`: `number` */
} OverrideTargetKind;

typedef struct OverrideTarget {
    OverrideTargetKind kind;
    uint32_t entry;
    int64_t start;
    uint64_t number;
} OverrideTarget;

/* PLAY and LEVEL end as `end` says; SKIP, MORE and EARLIER when their target cannot be seen any
 * more. */
typedef struct Override {
    OverrideKind kind;
    uint64_t number;  /* of the act: from 1, rising; those of one act share it */
    uint64_t cleared; /* the act that cleared it, so that it can be taken back; 0: in force */
    int32_t lamp;     /* TIMETABLE_NOT_SAID: all lamps */
    Begun begun;
    OverrideEnd end;
    int64_t seen;  /* NEXT_ENTRY: nothing had begun up to here; begun.utc or later */
    uint64_t over; /* PLAY, LEVEL of all lamps: bits of those on which it has ended */
    uint16_t routine;
    uint32_t setting_count;
    TimetableSetting settings[LIMIT_OVERRIDE_DIALS];
    double lightness; /* 0..100 */
    OverrideTarget target;
    int64_t length; /* MORE */
    int64_t moment; /* EARLIER */
} Override;

/* -------- what else is remembered -------- */

/* A play of `when`: one for each entry at most. */
typedef struct RunningWhen {
    uint64_t number; /* from the same count as those of acts; later ones lie on top */
    uint64_t cleared;
    uint32_t entry;
    Begun begun;   /* t = 0 */
    Begun renewed; /* from here on its `for` or `until` counts */
} RunningWhen;

/* A dial set by hand: a setting, kept until it is set again. */
typedef struct DialSet {
    uint64_t number;
    Begun begun;
    TimetableSetting setting; /* within the dial's range and form */
} DialSet;

/* When an event was last told. */
typedef struct EventReport {
    uint16_t event;
    Begun begun;
} EventReport;

typedef enum UndoKind {
    UNDO_ADDED,   /* overrides of this number */
    UNDO_CLEARED, /* what has it in `cleared` */
    UNDO_DIAL     /* a dial: what it was set to before */
} UndoKind;

typedef struct UndoAct {
    UndoKind kind;
    uint64_t number;
    bool was_set;
    DialSet before; /* its dial also where it was not set */
} UndoAct;

typedef enum TruthSeen { TRUTH_UNKNOWN, TRUTH_FALSE, TRUTH_TRUE } TruthSeen;

typedef struct Overrides {
    char boot[NOW_BOOT_BYTES]; /* the start of the machine that `begun` is about; "": none yet */
    uint64_t last_number;
    uint32_t count, running_count, dial_count, report_count, undo_count;
    Override list[LIMIT_OVERRIDES];      /* in the order of the acts */
    RunningWhen running[LIMIT_ENTRIES];  /* in the order of their numbers */
    DialSet dials[LIMIT_DIALS];          /* each dial once */
    EventReport reports[LIMIT_EVENTS];   /* each event once */
    unsigned char truths[LIMIT_ENTRIES]; /* TruthSeen of entries of `when` a truth */
    UndoAct undo[LIMIT_UNDO];            /* the last one last */
} Overrides;

/* -------- time goes on -------- */

/* Once after a list was read, and whenever the clock became trusted or was set. */
void overrides_settle(Overrides *overrides, const Now *now);

/* Drops what has ended. True where something ended (then the file is to be written). While
 * the clock is not trusted, ends that hang on the timetable do not come. What is in force does not
 * hang on this: it may be asked for an earlier moment, so that one can look back beyond an end. */
bool overrides_prune(Overrides *overrides, const World *world, const Now *now);

/* The first instant at which an override by hand or a running play ends; TIMETABLE_NEVER. */
int64_t overrides_next_end(const Overrides *overrides, const World *world, const Now *now);

/* -------- what is in force -------- */

/* The changes of the timetable that skip, more and earlier make; `list` has room for
 * LIMIT_OVERRIDES. */
TimetableChanges overrides_changes(const Overrides *overrides, const Now *now,
                                   TimetableChange *list);

/* Whether a PLAY or LEVEL is in force on a lamp (not before it began), and the instant at which it
 * ends there: TIMETABLE_NEVER where that is not known while the clock is not trusted. */
bool override_holds(const Overrides *overrides, const World *world, const Now *now,
                    const Override *one, int32_t lamp, int64_t *ends);
bool running_holds(const Overrides *overrides, const World *world, const Now *now,
                   const RunningWhen *one, int64_t *ends);

/* How long the time of an override or a running play has stood still, and until when it does
 * (at or before now: it does not). `lamp`: the one that is asked about. */
int64_t overrides_late(const Overrides *overrides, const Now *now, OverrideTargetKind kind,
                       uint64_t number, int32_t lamp, int64_t *goes_on);

/* NULL where it was not set by hand. */
const DialSet *overrides_dial(const Overrides *overrides, uint16_t dial);

/* -1: not in the list. */
int64_t overrides_find(const Overrides *overrides, OverrideKind kind, uint64_t number);

/* For every lamp of the world (and for the one that is not declared) that a lamp means: count, then
 * each by its place. */
uint32_t world_lamps(const World *world, int32_t lamp);
int32_t world_lamp(int32_t lamp, const World *world, uint32_t place);

#endif
