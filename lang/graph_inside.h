/* What the files of the graph and the emitter share; nobody else includes this.
 *
 * Operands are made before what they are made into, so ascending numbers are an order of
 * computation. Value 0 is none. */
#ifndef GLOAM_LANG_GRAPH_INSIDE_H
#define GLOAM_LANG_GRAPH_INSIDE_H

#include "lang/graph.h"
#include "runtime/core/operations.h"

enum { READS_DIAL = 1 << INPUT_COUNT, OPERANDS_MAX = 4 };

typedef enum NodeClass { CLASS_NUMBER, CLASS_COLOUR, CLASS_OPERATION } NodeClass;

typedef struct GraphNode {
    uint8_t class; /* NodeClass: two kinds of constants, or an operation */
    uint8_t operation;
    uint8_t when, where; /* When, Where */
    uint8_t reads;       /* 1 << Input, READS_DIAL */
    bool colour;
    bool whole;
    bool minus_zero; /* may be -0; of a colour: some channel may be -0 or below 0 */
    uint16_t k;      /* of EASE: easing of the graph; of RAMP_...: ramp of the graph */
    Value operand[OPERANDS_MAX];
    double from, to; /* a finite value within always; infinite: not known */
    union {
        double number;
        Colour colour;
    } constant;
} GraphNode;

typedef struct GraphRamp {
    bool colour, bars;
    uint16_t blend;
    uint32_t count;
    GraphStop *stops;
    uint64_t hash;
} GraphRamp;

struct Graph {
    GraphTrouble trouble;
    uint32_t count, room; /* of nodes; node 0 is none */
    GraphNode *nodes;
    uint32_t slot_count; /* a power of two */
    Value *slots;        /* hash table of nodes: 0 is empty */
    uint32_t easing_count, easing_room;
    Easing *easings;
    uint32_t ramp_count, ramp_room;
    GraphRamp *ramps;
};

static inline const GraphNode *graph_node(const Graph *graph, Value value) {
    return &graph->nodes[value];
}
static inline bool graph_is_constant(const Graph *graph, Value value) {
    return graph->nodes[value].class != CLASS_OPERATION;
}
/* True where the value is the number `number`, bit for bit. */
bool graph_is_number(const Graph *graph, Value value, double number);
/* Known to be 0 or 1 and never -0. */
bool graph_is_truth(const Graph *graph, Value value);
/* The node of an operation that is EASE or RAMP_... : its operand and k are those of the graph. */
Value graph_intern(Graph *graph, const GraphNode *draft);
GraphNode graph_draft(Operation operation, const Value *operands, uint16_t k);
bool graph_same_bits(double a, double b);
uint64_t graph_hash(uint64_t hash, const void *bytes, size_t length);
/* Room for one more of `size` bytes each; false, and the trouble noted, without memory. */
bool graph_grow(Graph *graph, void **block, uint32_t count, uint32_t *room, size_t size);

/* The value that draft is, bit for bit, by a simpler way; 0 where there is none
 * (lang/graph_simplify.c). The operands of draft may be put in another order. */
Value graph_simplify(Graph *graph, GraphNode *draft);
/* Fills in from, to, whole and minus_zero of an operation (lang/graph_range.c). */
void graph_describe_range(const Graph *graph, GraphNode *node);

/* The time in microseconds from which `value` no longer changes, as a value that does not move;
 * *never where there is none (lang/graph_rest.c). 0 and not *never: trouble. */
Value graph_rest(Graph *graph, Value value, bool *never);

#endif
