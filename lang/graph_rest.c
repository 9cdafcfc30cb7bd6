/* When a light comes to rest: built from the same operations as the light itself, so that the time
 * may depend on dials and differ from pixel to pixel. */
#include "lang/graph_inside.h"
#include "runtime/core/memory.h"

/* By value: the rest as a value that does not move; NEVER where it never rests; 0 not known. */
#define NEVER UINT32_MAX

typedef struct Rests {
    Graph *graph;
    Value *rest;
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

/* The last of the parts of a value to come to rest. */
static Value rest_of_parts(Rests *rests, Value value) {
    Graph *graph = rests->graph;
    GraphNode node = *graph_node(graph, value);
    if (!node.operand[0])
        return NEVER; /* t, the clock, an eased dial */
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
        if (!moves(graph, value)) {
            rests->rest[value] = zero;
            continue;
        }
        Value rest = rest_of_parts(rests, value);
        Value sooner = decided(graph, value);
        rests->rest[value] = earlier(graph, rest, sooner);
    }
    return graph->trouble == GRAPH_FINE ? rests->rest[result] : 0;
}

Value graph_rest(Graph *graph, Value value, bool *never) {
    *never = false;
    Rests rests = {graph, memory_allocate((size_t)value + 1, sizeof(Value))};
    if (!rests.rest) {
        graph->trouble = GRAPH_NO_MEMORY;
        return 0;
    }
    mark_parts(&rests, value);
    Value rest = settle(&rests, value);
    memory_release(rests.rest);
    *never = rest == NEVER;
    return *never ? 0 : rest;
}
