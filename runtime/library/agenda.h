/* What begins when, and why, between two instants: what `when` tells. Made from what the timetable
 * plays (runtime/time/timetable.h) and nothing else. Instants are microseconds UTC. */
#ifndef GLOAM_LIBRARY_AGENDA_H
#define GLOAM_LIBRARY_AGENDA_H

#include "lang/compile.h"
#include "runtime/time/timetable.h"

typedef enum AgendaKind {
    AGENDA_STANDS,      /* at the beginning of the list: what plays already; utc is since when */
    AGENDA_BEGINS,      /* an entry begins */
    AGENDA_FOLLOWS,     /* a routine is over, and the one behind it begins */
    AGENDA_ENDS,        /* an entry ends, and what it covered plays on */
    AGENDA_LOWERED,     /* a ceiling begins */
    AGENDA_RAISED,      /* and ends */
    AGENDA_PASSED_OVER, /* a moment of which nothing comes; `notes` says why */
} AgendaKind;

enum { AGENDA_CAUSE = 96, AGENDA_NOTES = 160 };

typedef struct AgendaItem {
    AgendaKind kind;
    int64_t utc;  /* PASSED_OVER without a time of the sun: the beginning of the date */
    int64_t ends; /* BEGINS: when the entry ends; TIMETABLE_NEVER */
    int32_t lamp; /* 0 where none is declared */
    int32_t part; /* among its groups; TIMETABLE_NOT_SAID: the whole lamp */
    /* What plays from then on: ROUTINE_OFF is played by an entry; ROUTINE_NONE: nothing plays, a
     * part shows what its lamp shows. PASSED_OVER: what would have begun. */
    uint16_t routine;
    uint32_t index;           /* of the entry, or the ceiling, that is the cause */
    bool repeated;            /* that is an entry of repeated moments */
    char cause[AGENDA_CAUSE]; /* "by 03:10", "dusk is over", "for 2h is over" */
    char notes[AGENDA_NOTES]; /* "sunset 16:03; held by `not after 21:00`", or "" */
} AgendaItem;

typedef struct Agenda {
    size_t count;
    AgendaItem *items; /* by their time; at one instant in the order of the lamps */
    int64_t whole;     /* all that begins before this is in the list: less than was asked for where
                          it would have taken long, or very many lines */
} Agenda;

/* What may be in a list, and moments that may be looked at for it. */
#define AGENDA_ITEMS 100000
#define AGENDA_WORK 2e7

/* `lamps` as declared; `count` 0: one that is not. Only lamp `only`, or all: TIMETABLE_NOT_SAID.
 * From `from` on, without `until`. False: out of memory; agenda_free is fine in either case. */
bool agenda_make(const TimetableContext *context, const LampInfo *lamps, uint32_t count,
                 int32_t only, int64_t from, int64_t until, Agenda *agenda);
/* The same with another amount of work than AGENDA_WORK. */
bool agenda_make_within(const TimetableContext *context, const LampInfo *lamps, uint32_t count,
                        int32_t only, int64_t from, int64_t until, double work, Agenda *agenda);
void agenda_free(Agenda *agenda);

/* -------- days -------- */

/* How the local clock changes on a date, from one reading to another; false where it does not. */
typedef struct AgendaChange {
    int64_t utc;
    int32_t before,
        after; /* seconds since local midnight of the date: the clock's readings there */
} AgendaChange;
bool agenda_change(const TimetableContext *context, int32_t date, AgendaChange *change);

/* The sun on a date, at the place, which is said. Where it rises or sets only once, as the season
 * of no night begins, the other is TIMETABLE_NEVER. */
typedef enum AgendaSun { AGENDA_SUN_RISES, AGENDA_SUN_STAYS_UP, AGENDA_SUN_STAYS_DOWN } AgendaSun;
AgendaSun agenda_sun(const TimetableContext *context, int32_t date, int64_t *rises, int64_t *sets);

/* -------- words -------- */

enum { AGENDA_WORDS = 64 };
/* `22:00`, `sunset - 20min`, `civil dusk` */
void agenda_moment(const TimetableMoment *moment, char *text, size_t size);
/* `1h30min`, `2.5s` */
void agenda_duration(int64_t microseconds, char *text, size_t size);
/* What the local clock shows, seconds cut off: `16:03`. */
void agenda_clock(const TimetableContext *context, int64_t utc, char *text, size_t size);
/* Why an entry of `at` or `by` plays that began then: "by 03:10". */
void agenda_why(const TimetableContext *context, uint32_t entry, int64_t began, char *text,
                size_t size);
/* "lantern", "window part left"; "" where none is declared. */
void agenda_lamp(const LampInfo *lamps, uint32_t count, int32_t lamp, int32_t part, char *text,
                 size_t size);
/* `off` where nothing plays. */
const char *agenda_routine(const Program *program, uint16_t routine);
/* What an entry plays: "dusk until 21:00". */
void agenda_play(const Program *program, const TimetablePlay *play, char *text, size_t size);

#endif
