/* The graph of one routine: every value that its light is made of, each once.
 *
 * The expander (types, names, messages) builds it bottom up; building folds constants with the
 * scalar reference, shares equal values, and works out rates, ranges and when a value comes to
 * rest. Types are the expander's: here a value is a number or a colour. */
#ifndef GLOAM_LANG_GRAPH_H
#define GLOAM_LANG_GRAPH_H

#include "lang/diagnostics.h"
#include "runtime/core/program.h"

typedef struct Graph Graph;
typedef uint32_t Value; /* 0: no value (memory ran out, or a limit was reached) */

typedef enum When { WHEN_FIXED, WHEN_SET, WHEN_MOVING } When;
typedef enum Where { WHERE_ONE, WHERE_EACH } Where;

typedef struct Rate {
    When when;
    Where where;
} Rate;

Graph *graph_create(void); /* NULL: out of memory */
void graph_free(Graph *graph);

/* Why a value is 0: memory, or LIMIT_VALUES. Builders pass 0 through. */
typedef enum GraphTrouble { GRAPH_FINE, GRAPH_NO_MEMORY, GRAPH_TOO_LARGE } GraphTrouble;
GraphTrouble graph_trouble(const Graph *graph);

Value graph_number(Graph *graph, double number);
Value graph_colour(Graph *graph, Colour colour);
Value graph_input(Graph *graph, Input input);
Value graph_field(Graph *graph, Field field);
/* Dial `dial` of the program; from, to: its range (or -infinity, infinity); whole as below.
 * An eased dial moves. */
Value graph_dial(Graph *graph, uint16_t dial, bool colour, bool eased, double from, double to);
Value graph_within(Graph *graph, uint16_t group);

/* Any operation of form NUMBER, CHANNEL or COLOUR. Unused operands are 0; k is 0 unless the
 * operation has one. */
Value graph_operation(Graph *graph, Operation operation, Value a, Value b, Value c, Value d,
                      uint16_t k);

/* Makes an easing known (equal ones are shared) and returns its number, EASING_NONE on trouble.
 * `points` of a LINEAR are copied. */
uint16_t graph_easing(Graph *graph, const Easing *easing);
Value graph_ease(Graph *graph, uint16_t easing, Value at);

/* One stop of a ramp; places must already be filled in, moved up to their predecessors where they
 * are constant, and closed (rule R6). `easing` shapes the stretch to the next stop. */
typedef struct GraphStop {
    Value place, value;
    uint16_t easing;
} GraphStop;

/* The ramp at `place` (0..1; the expander applied the driver, UNIT and THERE_AND_BACK). Chooses
 * table or chain by rate; the light is the same. `blend` is a BLEND_CODE (0 for numbers). Places
 * that are not constant are moved up to their predecessors here. */
Value graph_ramp(Graph *graph, bool colour, bool bars, uint16_t blend, const GraphStop *stops,
                 uint32_t count, Value place);

Rate graph_rate(const Graph *graph, Value value);
/* True and the constant where the value is known when compiling. */
bool graph_constant_number(const Graph *graph, Value value, double *number);
bool graph_constant_colour(const Graph *graph, Value value, Colour *colour);
/* An interval that holds every value that can come (infinite where nothing is known). */
void graph_range(const Graph *graph, Value value, double *from, double *to);
/* Known to be a whole number always. */
bool graph_is_whole(const Graph *graph, Value value);
/* True where the value, or something it is made of, is input `input` (t through any clock). */
bool graph_reads_input(const Graph *graph, Value value, Input input);
bool graph_reads_dial(const Graph *graph, Value value);

/* -------- from graph to code (lang/emit.c) -------- */

typedef enum EmitTrouble {
    EMIT_FINE,
    EMIT_NO_MEMORY,
    EMIT_TOO_MANY_INSTRUCTIONS,
    EMIT_TOO_MANY_REGISTERS,
    EMIT_TOO_MANY_RAMPS,
    EMIT_TOO_MANY_EASINGS
} EmitTrouble;

/* Writes the code whose light is the colour value `result`. *code is zeroed before; on trouble it
 * holds nothing to free. What it owns is from runtime/core/memory.h. The graph gains the values
 * that say when the light comes to rest. */
EmitTrouble emit_code(Graph *graph, Value result, Code *code);

/* What a value costs beyond what is constant: instructions by when they run, and an estimate of
 * the time of one frame and one pixel from the costs of the operation list. */
typedef struct GraphCost {
    uint32_t set, frame, each, pixel; /* instructions of SET, FRAME, EACH, PIXEL */
    double pixel_nanoseconds;
} GraphCost;
GraphCost graph_cost(const Graph *graph, Value value);

#endif
