/* The ceilings of a timetable on one lamp and on its parts, gliding (light/level.h). They go by the
 * clock as it shows, trusted or not. */
#ifndef GLOAM_PLAYER_CEILINGS_H
#define GLOAM_PLAYER_CEILINGS_H

#include "runtime/time/timetable.h"

/* A ceiling and the run of it that was looked up last. */
typedef struct Ceiling {
    uint32_t index;  /* of the timetable */
    uint32_t region; /* which it holds: 0 is the lamp as a whole */
    double level;
    bool runs;
    int64_t since, until;
    int64_t from, next; /* that run is the right one for from <= utc < next */
} Ceiling;

typedef struct Ceilings {
    const TimetableContext *context;
    uint32_t count;
    Ceiling *all;
    uint32_t region_count;
    double *before;  /* by region: what they were */
    int64_t changed; /* when they became others; TIMETABLE_EVER: they did not */
} Ceilings;

/* Those on the lamp and on parts[1 .. regions - 1] of it. Keeps the context. False: out of memory;
 * ceilings_free is fine. */
bool ceilings_start(Ceilings *ceilings, const TimetableContext *context, int32_t lamp,
                    const int32_t *parts, uint32_t regions);
void ceilings_free(Ceilings *ceilings);
/* What was looked up is to be looked up anew: the zone or the place is another. */
void ceilings_forget(Ceilings *ceilings);

/* The lowest on a region; LEVEL_NO_CEILING. */
double ceilings_at(Ceilings *ceilings, uint32_t region, int64_t utc);
/* The first instant at which one of them can be another than at `utc`. */
int64_t ceilings_changes(Ceilings *ceilings, int64_t utc);

/* From `utc` on, for PLAN_FADING, they go ease-in-out from `before` (a number for each region) to
 * what they are. */
void ceilings_fade_from(Ceilings *ceilings, const double *before, int64_t utc);

#endif
