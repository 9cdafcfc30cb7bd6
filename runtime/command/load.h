/* From the FILE argument to a routine on a lamp, for the commands that show light. */
#ifndef GLOAM_COMMAND_LOAD_H
#define GLOAM_COMMAND_LOAD_H

#include "lang/compile.h"
#include "runtime/command/command.h"
#include "runtime/core/program.h"
#include "runtime/library/reader.h"
#include "runtime/light/shape.h"
#include "runtime/vm/vm.h"

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

/* A lamp, dials and a clock, and each routine as a machine when it is first asked for. */
typedef struct Stage {
    Loaded loaded;
    Shape *shape;
    Scene scene;
    const unsigned char **groups;
    const char *lamp_name; /* or NULL */
    ShapeKind lamp_shape;
    uint32_t across, up;
    DialValue *dials;
    Vm **machines; /* by routine */
    uint16_t routine;
    int64_t clock; /* microseconds of UTC at the first frame */
    int64_t clock_at; /* routine time at that frame */
    bool place_said;
    double latitude, longitude;
    float *light;
} Stage;

/* Loads and chooses; says what is wrong. `any`: without --routine the first routine is taken. */
int stage_open(Stage *stage, const Options *options, bool any);
void stage_close(Stage *stage);
/* The light of a routine at its time, in stage->light. */
const float *stage_render(Stage *stage, uint16_t routine, int64_t microseconds);
const char *stage_routine_name(const Stage *stage, uint16_t routine);
/* How much to show: --length, else what it lasts, else 10 s; microseconds of routine time. */
int64_t stage_length(const Stage *stage, const Options *options);

/* --clock and the zone of the program's place; the fixed date where `fixed`, else now. */
int clock_start(const Options *options, const PlaceInfo *place, bool fixed, int64_t *utc);
/* Hours of the local clock at an instant, with fraction. */
double clock_hour(int64_t utc);

#endif
