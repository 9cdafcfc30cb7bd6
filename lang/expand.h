/* From syntax to graph: types, units, meaning. Names are expanded where they are used (rule M1),
 * so one expression can be met many times, under several clocks; what is wrong is said once. */
#ifndef GLOAM_LANG_EXPAND_H
#define GLOAM_LANG_EXPAND_H

#include "lang/graph.h"
#include "lang/names.h"

typedef enum Type {
    TYPE_NONE, /* wrong, and reported: whoever meets it keeps silent */
    TYPE_NUMBER,
    TYPE_DURATION,
    TYPE_ANGLE,
    TYPE_COLOUR,
    TYPE_TRUTH
} Type;

/* "a number", "a duration", ... */
const char *type_name(Type type);

typedef struct Typed {
    Type type;
    bool runs; /* grows with time without end: `t`, `tick`, sums and multiples of them (rule R4) */
    bool smooth; /* moves, and not only in steps (rule N5) */
    Value value;
} Typed;

/* What the expander needs of a program while it is being put together. */
typedef struct ExpandProgram {
    Modules *modules;
    DialInfo *dials; /* by Symbol.index; types, ranges and defaults filled in before routines */
    uint16_t dial_count;
    RoutineInfo *routines; /* by Symbol.index; lasts and then filled in before expansion */
    /* Names asked for by within(...): the expander appends. */
    char **groups;
    uint16_t group_count;
    uint32_t expansions; /* of the whole program so far: at most LIMIT_EXPANSIONS_ALL */
} ExpandProgram;

/* The type and constant value of a fixed expression that stands outside routines (a dial's default
 * and range, `lasts`, `for`, `fading`, `keep level under`, `with`, lamp levels). Reports and
 * returns TYPE_NONE where it is wrong, moves, reads a dial or a pixel. */
typedef struct FixedValue {
    Type type;
    double number;
    Colour colour;
} FixedValue;
FixedValue expand_fixed(ExpandProgram *program, Module *module, const Node *expression);

/* The condition of `when` (rule Z5): a truth that reads dials and nothing that moves or differs
 * from pixel to pixel. Reports; true where it is one. Its code is that of `paint white where
 * TRUTH`; `code` (zeroed, the caller frees what it owns) may be NULL: then it is checked only. */
bool expand_condition(ExpandProgram *program, Module *module, const Node *expression, Code *code);

/* Expands one routine into a graph of its own and emits its code into
 * program->routines[routine->index].code. Layers and costs go to *cost (arrays in the arena).
 * False where something was reported or memory ran out (then the sink knows). */
bool expand_routine(ExpandProgram *program, Symbol *routine, RoutineCost *cost);

/* Checks a top-level let that nothing used, so that its mistakes are told, too. */
void expand_unused(ExpandProgram *program, Symbol *let);

#endif
