/* What is played: the timetable with its program and zone, and the names of the lamps. Borrowed by
 * all that asks what plays; after a reload it is another world. */
#ifndef GLOAM_TIME_WORLD_H
#define GLOAM_TIME_WORLD_H

#include "runtime/time/timetable.h"

typedef struct WorldLamp {
    const char *name;
    uint32_t group_count;
    const char *const *groups; /* names; parts are among them, by TimetablePlay.part */
} WorldLamp;

typedef struct World {
    TimetableContext
        context;         /* its timetable is never NULL: world_no_timetable for a file without */
    uint32_t lamp_count; /* 0: one lamp that is not declared, by the index TIMETABLE_NOT_SAID */
    const WorldLamp *lamps;
} World;

extern const Timetable world_no_timetable;

/* An entry by what it means: entries of two files with one meaning have one number, whatever stands
 * around them. All that tells when and what it plays goes in: its moments, days, bounds, place and
 * zone, the routine and its length, dials, lamp, part, ends, the truth. Names go in as names; line,
 * column and rank do not. */
uint64_t world_meaning(const World *world, uint32_t entry);

#endif
