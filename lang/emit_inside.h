/* What the plan of the emitter (lang/emit_plan.c) hands to the writing of code (lang/emit.c). */
#ifndef GLOAM_LANG_EMIT_INSIDE_H
#define GLOAM_LANG_EMIT_INSIDE_H

#include "lang/graph_inside.h"
#include "runtime/core/limits.h"

/* Where a value is wanted: in a frame register, in a pixel register of EACH or of PIXEL. */
typedef enum Want { WANT_FRAME, WANT_EACH, WANT_PIXEL, WANT_COUNT } Want;

#define COLUMN_NONE 0xFFFFu

/* One instruction before registers are known. Operands are those of the value's node, in the same
 * place as the result, but: SPREAD reads the frame register of its value, KEEP the value itself,
 * KEPT nothing, RAMP_READY the stops of ramp `value` of the graph. */
typedef struct EmitItem {
    uint16_t operation, k;
    Value value;
} EmitItem;

typedef struct EmitSection {
    EmitItem *items;
    uint32_t count, room;
} EmitSection;

typedef struct EmitPlan {
    const Graph *graph;
    EmitTrouble trouble;
    EmitSection sections[SECTION_COUNT];
    uint8_t *made;     /* by value: bit 1 << Want */
    uint16_t *needs;   /* by value: pixel registers it takes to compute */
    uint16_t *columns; /* by value: kept column or COLUMN_NONE */
    uint16_t kept_numbers, kept_colours;
    uint32_t constant_count[2], constant_room[2]; /* numbers, colours */
    Value *constants[2];                          /* in the order of first use */
    uint32_t ramp_count, easing_count;
    uint16_t *ramps;   /* by ramp of the graph: its number in the code, or 0xFFFF */
    uint16_t *easings; /* the same */
} EmitPlan;

/* Ready for plan_value; what it owns is given back by plan_release, also after trouble. */
void plan_begin(EmitPlan *plan, const Graph *graph);
void plan_release(EmitPlan *plan);
/* Plans all that it takes to have `value` there. */
void plan_value(EmitPlan *plan, Value value, Want want);
/* Keeps a number of each pixel that does not move, and says in which column. */
uint16_t plan_keep(EmitPlan *plan, Value value);

/* -------- registers (lang/registers.c) -------- */

typedef struct RegisterBank {
    uint64_t used[LIMIT_REGISTERS / 64];
    uint32_t count; /* one more than the largest that was ever used */
} RegisterBank;

#define REGISTER_NONE 0xFFFFu

void registers_clear(RegisterBank *bank); /* keeps the count */
/* The lowest free register, or REGISTER_NONE. */
uint16_t registers_take(RegisterBank *bank);
void registers_give(RegisterBank *bank, uint16_t index);

#endif
