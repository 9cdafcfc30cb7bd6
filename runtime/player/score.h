/* A home file as a player holds it: program, timetable, lamps, and the zone of its clock. */
#ifndef GLOAM_PLAYER_SCORE_H
#define GLOAM_PLAYER_SCORE_H

#include "runtime/library/lamp.h"
#include "runtime/player/readings.h"
#include "runtime/player/zone_watch.h"

typedef struct Score {
    Readings readings; /* what was read, also where the file is wrong */
    Compilation *compilation;
    const Program *program; /* NULL: the file is wrong */
    ZoneWatch *zone;
    World world;
    uint32_t lamp_count;
    const LampInfo *lamps;
} Score;

typedef struct ScoreRequest {
    const char *path;
    const char *variable; /* the value of TZ, or NULL */
    const ZoneFolders *folders;
    /* Told of what was compiled, right or wrong: to print what is to be said of it. May be NULL. */
    void (*compiled)(void *context, Compilation *compilation);
    void *context;
} ScoreRequest;

typedef enum ScoreStatus { SCORE_FINE, SCORE_WRONG, SCORE_NO_MEMORY } ScoreStatus;

/* Compiles. *score is the caller's, to score_free, whatever is returned; NULL where not even it
 * could be allocated. */
ScoreStatus score_read(const LangReader *reader, const ScoreRequest *request, Score **score);
void score_free(Score *score); /* NULL is fine */

/* Another zone is in force: its world has it from now on. */
void score_take_zone(Score *score);

#endif
