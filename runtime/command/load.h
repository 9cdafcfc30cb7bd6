/* From the FILE argument to a routine on a lamp, for the commands that show light. */
#ifndef GLOAM_COMMAND_LOAD_H
#define GLOAM_COMMAND_LOAD_H

#include "lang/compile.h"
#include "runtime/command/command.h"
#include "runtime/core/program.h"
#include "runtime/library/reader.h"
#include "runtime/library/lamp.h"
#include "runtime/player/performance.h"
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

/* What is shown where no routine is named: the file's timetable. A position is the time of a
 * routine or, of the timetable, since stage->clock, in microseconds. */
#define STAGE_TIMETABLE ROUTINE_NONE

/* A lamp, dials and a clock, each routine as a machine when it is first asked for, and so the
 * timetable. */
typedef struct Stage {
    Loaded loaded;
    Lamp lamp;
    const LampInfo *info; /* of a declared lamp, or NULL */
    DialValue *dials;
    Vm **machines;    /* by routine */
    uint16_t routine; /* which is shown, or STAGE_TIMETABLE */
    int64_t clock;    /* microseconds of UTC at the first frame, or that of --clock */
    int64_t clock_at; /* routine time at that frame */
    PlaceInfo place;
    const char *const *reports; /* of --report, read once there is a performance */
    int report_count;
    int wrong;          /* the exit status of a report that is, already said */
    World world;        /* of the timetable; its names of lamps are left out */
    int32_t lamp_index; /* TIMETABLE_NOT_SAID: none is declared */
    Performance *performance;
    Zone *zone; /* NULL: UTC */
    float *light;
    PipelineLamp lamp_light;
    Pipeline *pipeline;
} Stage;

/* Loads and chooses; says what is wrong. Without --routine it is the timetable, where the file has
 * one, else the only routine. `live`: the clock starts now, and of several routines the first is
 * taken; else the clock is the fixed one, and the routine must be clear. */
int stage_open(Stage *stage, const Options *options, bool live);
void stage_close(Stage *stage);
/* The machine of a routine, made when first asked for; NULL: out of memory. */
Vm *stage_machine(Stage *stage, uint16_t routine);
/* The timetable on the lamp with the dials of --set, which count as set long ago: so does a `with`.
 * Made when first asked for; NULL: out of memory. */
Performance *stage_performance(Stage *stage);
/* The light at a position, in stage->light; NULL: out of memory. */
const float *stage_render(Stage *stage, uint16_t routine, int64_t position);
/* What the lamp makes of the light in stage->light, which is that of the position, in place: up to
 * the flash guard, for which `shown` is the time at which it is seen; times never fall until
 * pipeline_restart. True where the guard held it back: the same light later may be let through. */
bool stage_show(Stage *stage, uint16_t routine, int64_t position, int64_t shown);
/* The first position at which it can differ from that at `position`, which is that where something
 * moves; INT64_MAX: it rests for good. */
int64_t stage_changes(Stage *stage, uint16_t routine, int64_t position);
/* "timetable" for STAGE_TIMETABLE. */
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
/* `14:30`, the next at or after an instant, or a date and a time as --clock has them. False:
 * neither, or no clock shows it. */
bool clock_moment(const char *text, const Zone *zone, int64_t after, int64_t *utc);
/* Warns where this machine does not know the zone of the place: UTC would stand in unsaid. */
void clock_advise(Compilation *compilation);

#endif
