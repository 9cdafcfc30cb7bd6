/* What plays on a lamp, or on a part of it, over a stretch of time, and how one play fades into the
 * next. Made from answers to "what plays at that instant" and "until when", it holds what is
 * needed to answer for every instant of its window without asking again; what it tells about an
 * instant does not depend on the window.
 *
 * The rule (spec/timetable.md): let the plays that follow one another be P0, P1, ..., Pn, the
 * change to Pk at the instant ck with a cross-fade of Dk. The light is Ln, where Lk is Pk from ck +
 * Dk on and before that a mix of L(k-1), as if the change had not been, with Pk. Of more than
 * PLAN_DEPTH changes that fade at once, the last PLAN_DEPTH do; the one before them counts as
 * complete. */
#ifndef GLOAM_PLAYER_PLAN_H
#define GLOAM_PLAYER_PLAN_H

#include "runtime/time/playing.h"

#define PLAN_DEPTH 8
#define PLAN_NONE UINT32_MAX
/* The cross-fade of a change where nothing is said. */
#define PLAN_FADING INT64_C(1000000)

/* One play. Two are the same where cause, entry, number, began and routine are. */
typedef struct PlanPlay {
    PlayingCause cause; /* PLAYING_NOTHING: a lamp is off, a part shows what its lamp shows */
    uint16_t routine;   /* ROUTINE_OFF: no light */
    uint32_t entry;
    uint64_t number;
    int64_t began; /* where its first routine had t = 0 */
    /* t is what the instant is after `since`; before `stands` it is what it is at `stands`. */
    int64_t since, stands;
    int64_t fading; /* of the cross-fades that it brings with it: its beginning, `then`, its end */
    uint32_t setting_count;
    const TimetableSetting *settings; /* borrowed from the source */
} PlanPlay;

static inline bool plan_same(const PlanPlay *a, const PlanPlay *b) {
    return a->cause == b->cause && a->entry == b->entry && a->number == b->number &&
           a->began == b->began && a->routine == b->routine;
}

/* Microseconds since the routine's start; whatever plays meanwhile. */
static inline int64_t plan_time(const PlanPlay *play, int64_t utc) {
    return (utc < play->stands ? play->stands : utc) - play->since;
}

/* Who is asked. */
typedef struct PlanSource {
    const void *context;
    /* What plays then; returns when that can differ next. */
    int64_t (*look)(const void *context, int64_t utc, PlanPlay *play);
    int64_t longest; /* no cross-fade takes longer */
} PlanSource;

typedef struct PlanStretch {
    int64_t from; /* until the next stretch */
    PlanPlay play;
    int64_t changed; /* when the play came, and its cross-fade */
    int64_t fading;  /* 0: none */
    uint32_t before; /* the stretch before that change; PLAN_NONE where it does not matter */
} PlanStretch;

typedef struct Plan {
    int64_t from, until; /* it answers for from <= utc < until */
    uint32_t count, capacity;
    PlanStretch *stretches;
} Plan;

/* Begin with (Plan){0}, which answers for nothing. Makes it answer for from..to, both included, and
 * on to the next change. False: out of memory; then it answers for nothing. */
bool plan_make(Plan *plan, const PlanSource *source, int64_t from, int64_t to);
void plan_free(Plan *plan);

static inline bool plan_answers(const Plan *plan, int64_t utc) {
    return plan->from <= utc && utc < plan->until;
}

/* One of what is mixed at an instant. */
typedef struct PlanLayer {
    const PlanPlay *play;
    double share; /* of it over all below; of the lowest 1 */
} PlanLayer;

/* The lowest first; returns how many. */
uint32_t plan_layers(const Plan *plan, int64_t utc, PlanLayer layers[PLAN_DEPTH + 1]);

/* When the stretch of an instant is over: the next change, or that its time goes on. */
int64_t plan_next(const Plan *plan, int64_t utc);

#endif
