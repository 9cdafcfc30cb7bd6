/* What plays on a lamp at an instant, and why: the timetable with all that lies on top of it. From
 * the top: the last play by hand that is in force; running plays of `when`, the latest first; the
 * timetable, with what was skipped, moved and held; while the clock is not trusted, instead of the
 * timetable, the routine of `until clock is set`. What ends uncovers what plays then.
 *
 * A function of its arguments alone. To ask about a later instant hand in now_later(): what ends
 * until then has ended, what will be done or told is not known. Of an earlier one: what had not
 * begun does not hold (`changes` does not know when it will), what was taken back never did. */
#ifndef GLOAM_TIME_PLAYING_H
#define GLOAM_TIME_PLAYING_H

#include "runtime/time/override.h"

typedef enum PlayingCause {
    PLAYING_NOTHING, /* a lamp is off: nothing has begun; a part shows what its lamp shows */
    PLAYING_ENTRY,
    PLAYING_WHEN,
    PLAYING_HAND,
    PLAYING_UNTIL_CLOCK /* `until clock is set`; off where that is not said */
} PlayingCause;

typedef struct Playing {
    PlayingCause cause;
    uint32_t entry;   /* ENTRY, WHEN: its line and column say why */
    uint64_t number;  /* HAND, WHEN */
    uint16_t routine; /* `then` followed; ROUTINE_OFF */
    int64_t began;    /* when the cause began, with what was held left out */
    int64_t since;    /* t = now.utc - since. Where it is held since moves along with now. */
    bool held;
    int64_t goes_on; /* held: until when t stands still */
    int64_t until;   /* when the cause ends of itself; TIMETABLE_NEVER */
    int64_t changes; /* the first instant after now at which any of this can change of itself */
    uint32_t setting_count; /* of `with`; borrowed from the timetable or the overrides */
    const TimetableSetting *settings;
    int64_t fading; /* of its cross-fade, as in TimetablePlay; by hand TIMETABLE_NOT_SAID */
} Playing;

/* `part` as in timetable_state: TIMETABLE_NOT_SAID for the lamp as a whole. */
void playing_now(const Overrides *overrides, const World *world, const Now *now, int32_t lamp,
                 int32_t part, Playing *playing);

/* What begins next on the lamp or a part of it by the timetable, whether it will be seen or not;
 * false where nothing does, or while the clock is not trusted. */
bool playing_next(const Overrides *overrides, const World *world, const Now *now, int32_t lamp,
                  TimetableBegin *begin);

/* The master level of a lamp: lightness 0..100 and which override sets it (0: none, 100), and when
 * that ends. */
typedef struct PlayingLevel {
    double lightness;
    uint64_t number;
    int64_t until;
} PlayingLevel;

PlayingLevel playing_level(const Overrides *overrides, const World *world, const Now *now,
                           int32_t lamp);

/* What a dial is for what plays: set by hand since that began, by its `with`, by hand before, or
 * the default. */
TimetableSetting playing_dial(const Overrides *overrides, const World *world, const Now *now,
                              const Playing *playing, uint16_t dial);

#endif
