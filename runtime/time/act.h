/* Acts that change what lies on top of the timetable: by hand, or told from outside. An act changes
 * the list, or leaves it as it was and says why in a sentence (static text); NULL is done. What it
 * did goes on top of the acts that can be taken back, but for reports and truths, which are not by
 * hand. Lists are settled (override.h). */
#ifndef GLOAM_TIME_ACT_H
#define GLOAM_TIME_ACT_H

#include "runtime/time/playing.h"

typedef enum ActKind {
    ACT_PLAY,    /* lamp, routine, settings, end */
    ACT_LEVEL,   /* lamp, lightness, end */
    ACT_SKIP,    /* lamp: what begins next there; of all lamps what begins first on any */
    ACT_MORE,    /* lamp, length: on each lamp and part what plays there now */
    ACT_EARLIER, /* lamp, clock: the first moment after the next such time comes then instead; it
                    is at most 12 hours later, and the routine begins after now */
    ACT_SET,     /* setting */
    ACT_CLEAR,   /* number, of overrides or of a play of `when`; 0: all overrides by hand */
    ACT_UNDO,
    ACT_REPORT /* event */
} ActKind;

/* What is not of the kind is not looked at. Indices are those of the world. */
typedef struct Act {
    ActKind kind;
    int32_t lamp; /* TIMETABLE_NOT_SAID: all */
    uint16_t routine;
    uint32_t setting_count;
    const TimetableSetting *settings; /* within their dials' ranges and forms, each dial once */
    OverrideEnd end;
    double lightness; /* 0..100 */
    int64_t length;
    int32_t clock; /* seconds since midnight */
    TimetableSetting setting;
    uint64_t number;
    uint16_t event;
} Act;

const char *overrides_act(Overrides *overrides, const World *world, const Now *now, const Act *act);

/* What the truths of the timetable are now, by their conditions: with the dials as they are set by
 * hand or by default. One that turns from false to true begins to play; while it still plays, its
 * end moves and its time goes on. One that was not known before does not. True where something
 * began or moved. */
bool overrides_truths(Overrides *overrides, const World *world, const Now *now, const bool *truths);

#endif
