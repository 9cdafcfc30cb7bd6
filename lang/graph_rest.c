/* When a light comes to rest: built from the same operations as the light itself, so that the time
 * may depend on dials and differ from pixel to pixel. */
#include "lang/graph_inside.h"
#include "runtime/core/memory.h"

#define NEVER UINT32_MAX

/* What a truth, or a share, is once it has come to rest, where that is known whatever the dials. */
typedef enum Final { FINAL_UNKNOWN, FINAL_ZERO, FINAL_ONE } Final;

typedef struct Rests {
    Graph *graph;
    /* By value: the rest as a value that does not move; NEVER where it never rests; 0 not known. */
    Value *rest;
    uint8_t *final; /* by value: Final */
} Rests;

static bool moves(const Graph *graph, Value value) {
    return graph_node(graph, value)->when == WHEN_MOVING;
}

static Value two(Graph *graph, Operation operation, Value a, Value b) {
    return graph_operation(graph, operation, a, b, 0, 0, 0);
}

static Value later(Graph *graph, Value a, Value b) {
    if (a == NEVER || b == NEVER)
        return NEVER;
    return a == b ? a : two(graph, OP_MAXIMUM, a, b);
}

static Value earlier(Graph *graph, Value a, Value b) {
    if (a == NEVER || b == NEVER)
        return a == NEVER ? b : a;
    return a == b ? a : two(graph, OP_MINIMUM, a, b);
}

/* How far a clock is behind `t` while it runs: 0 for t itself, more where it was delayed, and the
 * same where it is held at an end. 0 (no value) where it is no clock, or on trouble. */
static Value delay_of(Graph *graph, Value value) {
    Value delay = graph_number(graph, 0.0);
    for (;;) {
        const GraphNode *node = graph_node(graph, value);
        if (node->class != CLASS_OPERATION)
            return 0;
        if (node->operation == OP_INPUT)
            return node->k == INPUT_T ? delay : 0;
        if (node->operation == OP_MICROSECONDS) {
            value = node->operand[0];
        } else if (node->operation == OP_SUBTRACT && !moves(graph, node->operand[1])) {
            value = node->operand[0];
            delay = two(graph, OP_ADD, delay, node->operand[1]);
        } else if (node->operation == OP_MINIMUM &&
                   moves(graph, node->operand[0]) != moves(graph, node->operand[1])) {
            /* One side moves on, the other is where it stops. */
            value = node->operand[moves(graph, node->operand[0]) ? 0 : 1];
        } else {
            return 0;
        }
        if (!delay)
            return 0;
    }
}

/* A clock reaches `moment` of its own at this time, which is never before 0. `more` is added where
 * the change comes one microsecond later. */
static Value reach(Graph *graph, Value clock, Value moment, double more) {
    Value delay = delay_of(graph, clock);
    if (!delay)
        return NEVER;
    Value time = two(graph, OP_ADD, delay, moment);
    if (more > 0.0)
        time = two(graph, OP_ADD, time, graph_number(graph, more));
    return two(graph, OP_MAXIMUM, time, graph_number(graph, 0.0));
}

/* The time from which an operation of a clock is decided for good; NEVER where it is not one. */
static Value decided(Graph *graph, Value value) {
    GraphNode node = *graph_node(graph, value);
    Value a = node.operand[0], b = node.operand[1];
    bool first = moves(graph, a), second = b && moves(graph, b);
    if (first == second)
        return NEVER;
    Value clock = first ? a : b, moment = first ? b : a;
    switch ((Operation)node.operation) {
    case OP_OVER:
        return first ? reach(graph, clock, two(graph, OP_MAXIMUM, moment, graph_number(graph, 0)),
                             0.0)
                     : NEVER;
    case OP_MINIMUM:
        return reach(graph, clock, moment, 0.0);
    case OP_LESS: /* clock < moment ends at it; moment < clock begins behind it */
        return reach(graph, clock, moment, first ? 0.0 : 1.0);
    case OP_LESS_EQUAL:
        return reach(graph, clock, moment, first ? 1.0 : 0.0);
    default:
        return NEVER;
    }
}

/* -------- what is left once a truth is decided -------- */

/* A clock that is never stopped: whatever it is compared with, it gets past it. */
static bool runs_on(const Graph *graph, Value value) {
    for (;;) {
        const GraphNode *node = graph_node(graph, value);
        if (node->class != CLASS_OPERATION)
            return false;
        if (node->operation == OP_INPUT)
            return node->k == INPUT_T;
        if (node->operation != OP_MICROSECONDS &&
            (node->operation != OP_SUBTRACT || moves(graph, node->operand[1])))
            return false;
        value = node->operand[0];
    }
}

static Final opposite(Final final) {
    return final == FINAL_UNKNOWN ? FINAL_UNKNOWN : final == FINAL_ZERO ? FINAL_ONE : FINAL_ZERO;
}

static Final final_of(const Rests *rests, Value value) {
    const Graph *graph = rests->graph;
    const GraphNode *node = graph_node(graph, value);
    if (!moves(graph, value))
        return graph_is_number(graph, value, 0.0)   ? FINAL_ZERO
               : graph_is_number(graph, value, 1.0) ? FINAL_ONE
                                                    : FINAL_UNKNOWN;
    Value a = node->operand[0], b = node->operand[1];
    Final first = (Final)rests->final[a], second = (Final)rests->final[b];
    switch ((Operation)node->operation) {
    case OP_LESS:
    case OP_LESS_EQUAL:
        if (runs_on(graph, a) && !moves(graph, b))
            return FINAL_ZERO;
        return runs_on(graph, b) && !moves(graph, a) ? FINAL_ONE : FINAL_UNKNOWN;
    case OP_OVER:
        return runs_on(graph, a) && !moves(graph, b) ? FINAL_ONE : FINAL_UNKNOWN;
    case OP_NOT:
        return opposite(first);
    case OP_AND:
        if (first == FINAL_ZERO || second == FINAL_ZERO)
            return FINAL_ZERO;
        return first == FINAL_ONE ? second : second == FINAL_ONE ? first : FINAL_UNKNOWN;
    case OP_OR:
        if (first == FINAL_ONE || second == FINAL_ONE)
            return FINAL_ONE;
        return first == FINAL_ZERO ? second : second == FINAL_ZERO ? first : FINAL_UNKNOWN;
    default:
        return FINAL_UNKNOWN;
    }
}

/* The operand that alone decides a value once its truth or share has come to rest; *decider is
 * that truth. 0 where there is none. */
static Value chosen_at_last(const Rests *rests, const GraphNode *node, Value *decider) {
    const Value *operand = node->operand;
    switch ((Operation)node->operation) {
    case OP_SELECT:
    case OP_COLOUR_SELECT:
        *decider = operand[0];
        return rests->final[*decider] == FINAL_UNKNOWN ? 0
               : rests->final[*decider] == FINAL_ONE   ? operand[1]
                                                       : operand[2];
    case OP_LERP:
    case OP_COLOUR_MIX:
    case OP_COLOUR_BLEND:
        *decider = operand[2];
        return rests->final[*decider] == FINAL_UNKNOWN ? 0
               : rests->final[*decider] == FINAL_ONE   ? operand[1]
                                                       : operand[0];
    default:
        return 0;
    }
}

static Value rest_of_chosen(const Rests *rests, Value value) {
    GraphNode node = *graph_node(rests->graph, value);
    Value decider, chosen = chosen_at_last(rests, &node, &decider);
    if (chosen)
        return later(rests->graph, rests->rest[decider], rests->rest[chosen]);
    /* `and` with what is false for good, `or` with what is true for good. */
    Final decided_by = node.operation == OP_AND  ? FINAL_ZERO
                       : node.operation == OP_OR ? FINAL_ONE
                                                 : FINAL_UNKNOWN;
    for (int i = 0; decided_by != FINAL_UNKNOWN && i < 2; i++) {
        if ((Final)rests->final[node.operand[i]] == decided_by)
            return rests->rest[node.operand[i]];
    }
    return NEVER;
}

/* -------- the whole -------- */

/* The last of the parts of a value to come to rest. */
static Value rest_of_parts(Rests *rests, Value value) {
    Graph *graph = rests->graph;
    GraphNode node = *graph_node(graph, value);
    if (node.operation == OP_DIAL || node.operation == OP_DIAL_LIGHT)
        return graph_number(graph, 0.0); /* an eased one: whoever moves it knows until when */
    if (!node.operand[0])
        return NEVER; /* t, the clock */
    Value rest = rests->rest[node.operand[0]];
    for (int i = 1; i < OPERANDS_MAX && node.operand[i] && rest; i++)
        rest = later(graph, rest, rests->rest[node.operand[i]]);
    if (node.operation != OP_RAMP_NUMBER && node.operation != OP_RAMP_COLOUR)
        return rest;
    for (uint32_t i = 0; rest && i < graph->ramps[node.k].count; i++) {
        GraphStop stop = graph->ramps[node.k].stops[i];
        rest = later(graph, rest, rests->rest[stop.place]);
        rest = rest ? later(graph, rest, rests->rest[stop.value]) : 0;
    }
    return rest;
}

static void mark(Rests *rests, Value value) {
    if (value && !rests->rest[value])
        rests->rest[value] = NEVER; /* wanted; its own rest comes later */
}

/* Marks all that `result` is made of, from above downward. */
static void mark_parts(Rests *rests, Value result) {
    mark(rests, result);
    for (Value value = result; value > 0; value--) {
        const GraphNode *node = graph_node(rests->graph, value);
        if (!rests->rest[value] || node->class != CLASS_OPERATION)
            continue;
        for (int i = 0; i < OPERANDS_MAX; i++)
            mark(rests, node->operand[i]);
        if (node->operation != OP_RAMP_NUMBER && node->operation != OP_RAMP_COLOUR)
            continue;
        const GraphRamp *ramp = &rests->graph->ramps[node->k];
        for (uint32_t i = 0; i < ramp->count; i++) {
            mark(rests, ramp->stops[i].place);
            mark(rests, ramp->stops[i].value);
        }
    }
}

static Value settle(Rests *rests, Value result) {
    Graph *graph = rests->graph;
    Value zero = graph_number(graph, 0.0);
    for (Value value = 1; value <= result && graph->trouble == GRAPH_FINE; value++) {
        if (!rests->rest[value])
            continue;
        rests->final[value] = (uint8_t)final_of(rests, value);
        if (!moves(graph, value)) {
            rests->rest[value] = zero;
            continue;
        }
        Value rest = rest_of_parts(rests, value);
        rest = earlier(graph, rest, decided(graph, value));
        rests->rest[value] = earlier(graph, rest, rest_of_chosen(rests, value));
    }
    return graph->trouble == GRAPH_FINE ? rests->rest[result] : 0;
}

Value graph_rest(Graph *graph, Value value, bool *never) {
    *never = false;
    Rests rests = {graph, memory_allocate((size_t)value + 1, sizeof *rests.rest),
                   memory_allocate((size_t)value + 1, sizeof *rests.final)};
    Value rest = 0;
    if (rests.rest && rests.final) {
        mark_parts(&rests, value);
        rest = settle(&rests, value);
    } else {
        graph->trouble = GRAPH_NO_MEMORY;
    }
    memory_release(rests.rest);
    memory_release(rests.final);
    *never = rest == NEVER;
    return *never ? 0 : rest;
}
