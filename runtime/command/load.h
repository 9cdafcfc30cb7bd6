/* From the FILE argument to a routine on a lamp, for the commands that show light. */
#ifndef GLOAM_COMMAND_LOAD_H
#define GLOAM_COMMAND_LOAD_H

#include "lang/compile.h"
#include "runtime/command/command.h"
#include "runtime/core/program.h"
#include "runtime/library/reader.h"
#include "runtime/library/lamp.h"
#include "runtime/time/zone.h"

/* A program, from text or bytecode. */
typedef struct Loaded {
    DiskReader disk;
    Compilation *compilation; /* NULL: bytecode */
    Program *bytecode;        /* NULL: text */
    const Program *program;   /* of either */
} Loaded;

/* Reads FILE. Diagnostics go to `messages` (NULL: none are printed). Returns EXIT_DONE with a
 * program, else the exit status; loaded_free in either case. */
int loaded_read(Loaded *loaded, const Options *options, FILE *messages);
void loaded_free(Loaded *loaded);
/* The declared lamp of --lamp, which is said; else the exit status, already said. */
int loaded_lamp(const Loaded *loaded, const Options *options, const LampInfo **info);

/* A lamp, dials and a clock, and each routine as a machine when it is first asked for. */
typedef struct Stage {
    Loaded loaded;
    Lamp lamp;
    const LampInfo *info; /* of a declared lamp, or NULL */
    DialValue *dials;
    Vm **machines; /* by routine */
    uint16_t routine;
    int64_t clock;    /* microseconds of UTC at the first frame */
    int64_t clock_at; /* routine time at that frame */
    PlaceInfo place;
    Zone *zone; /* NULL: UTC */
    float *light;
    PipelineLamp lamp_light;
    Pipeline *pipeline;
} Stage;

/* Loads and chooses; says what is wrong. `live`: the clock starts now and, without --routine, the
 * first routine is taken; else the clock is the fixed one and the routine must be clear. */
int stage_open(Stage *stage, const Options *options, bool live);
void stage_close(Stage *stage);
/* The machine of a routine, made when first asked for; NULL: out of memory. */
Vm *stage_machine(Stage *stage, uint16_t routine);
/* The light of a routine at its time, in stage->light; NULL: out of memory. */
const float *stage_render(Stage *stage, uint16_t routine, int64_t microseconds);
/* What the lamp makes of the light in stage->light, in place: up to the flash guard, for which
 * `shown` is the time at which it is seen; times never fall until pipeline_restart. True where
 * the guard held it back: the same light later may be let through. */
bool stage_show(Stage *stage, int64_t shown);
const char *stage_routine_name(const Stage *stage, uint16_t routine);
/* How much to show from `start` on: --length, else the rest of what it lasts, else 10 s. */
int64_t stage_length(const Stage *stage, const Options *options);

/* Opens the stage and the output, lets `write` fill it, and closes both; what failed is not kept.
 */
int stage_write(const Options *options, int (*write)(Stage *, const Options *, Output *));

/* --clock and the zone of the program's place; where `fixed` the fixed date and else UTC, otherwise
 * now and else the machine's zone. *zone is the caller's, to zone_free, whatever is returned. */
int clock_start(const Options *options, const PlaceInfo *place, bool fixed, Zone **zone,
                int64_t *utc);
/* Warns where this machine does not know the zone of the place: UTC would stand in unsaid. */
void clock_advise(Compilation *compilation);
/* Hours of the local clock at an instant, with fraction. */
double clock_hour(const Zone *zone, int64_t utc);

#endif
