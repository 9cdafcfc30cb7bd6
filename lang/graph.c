#include "lang/graph_inside.h"

#include <math.h>
#include <string.h>

#include "runtime/core/easing.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/core/number.h"
#include "runtime/core/reference.h"

enum { SLOTS_AT_FIRST = 256, EASINGS_MAX = 4 * LIMIT_EASINGS };

/* -------- the store of nodes -------- */

Graph *graph_create(void) {
    Graph *graph = memory_allocate(1, sizeof *graph);
    if (!graph)
        return NULL;
    graph->slot_count = SLOTS_AT_FIRST;
    graph->slots = memory_allocate(graph->slot_count, sizeof *graph->slots);
    graph->room = SLOTS_AT_FIRST;
    graph->nodes = memory_allocate(graph->room, sizeof *graph->nodes);
    graph->count = 1;
    if (graph->slots && graph->nodes)
        return graph;
    graph_free(graph);
    return NULL;
}

void graph_free(Graph *graph) {
    if (!graph)
        return;
    for (uint32_t i = 0; i < graph->easing_count; i++)
        memory_release(graph->easings[i].points);
    for (uint32_t i = 0; i < graph->ramp_count; i++)
        memory_release(graph->ramps[i].stops);
    memory_release(graph->easings);
    memory_release(graph->ramps);
    memory_release(graph->slots);
    memory_release(graph->nodes);
    memory_release(graph);
}

GraphTrouble graph_trouble(const Graph *graph) {
    return graph->trouble;
}

bool graph_grow(Graph *graph, void **block, uint32_t count, uint32_t *room, size_t size) {
    if (count < *room)
        return true;
    uint32_t wanted = *room ? *room * 2 : 8;
    void *grown = memory_resize(*block, wanted, size);
    if (!grown) {
        graph->trouble = GRAPH_NO_MEMORY;
        return false;
    }
    *block = grown;
    *room = wanted;
    return true;
}

bool graph_same_bits(double a, double b) {
    return memcmp(&a, &b, sizeof a) == 0;
}

uint64_t graph_hash(uint64_t hash, const void *bytes, size_t length) {
    const unsigned char *byte = bytes;
    for (size_t i = 0; i < length; i++)
        hash = (hash ^ byte[i]) * 0x100000001B3u; /* FNV-1a */
    return hash ^ hash >> 29;
}

static uint64_t hash_node(const GraphNode *node) {
    uint64_t hash = graph_hash(0xCBF29CE484222325u, &node->class, sizeof node->class);
    switch ((NodeClass)node->class) {
    case CLASS_NUMBER:
        return graph_hash(hash, &node->constant.number, sizeof node->constant.number);
    case CLASS_COLOUR:
        return graph_hash(hash, &node->constant.colour, sizeof node->constant.colour);
    case CLASS_OPERATION:
        break;
    }
    hash = graph_hash(hash, &node->operation, sizeof node->operation);
    hash = graph_hash(hash, &node->k, sizeof node->k);
    return graph_hash(hash, node->operand, sizeof node->operand);
}

static bool same_node(const GraphNode *a, const GraphNode *b) {
    if (a->class != b->class)
        return false;
    switch ((NodeClass)a->class) {
    case CLASS_NUMBER:
        return graph_same_bits(a->constant.number, b->constant.number);
    case CLASS_COLOUR:
        return memcmp(&a->constant.colour, &b->constant.colour, sizeof a->constant.colour) == 0;
    case CLASS_OPERATION:
        break;
    }
    return a->operation == b->operation && a->k == b->k &&
           memcmp(a->operand, b->operand, sizeof a->operand) == 0;
}

static uint32_t find_slot(const Graph *graph, const GraphNode *node) {
    uint32_t slot = (uint32_t)hash_node(node) & (graph->slot_count - 1);
    while (graph->slots[slot] && !same_node(&graph->nodes[graph->slots[slot]], node))
        slot = (slot + 1) & (graph->slot_count - 1);
    return slot;
}

static bool widen_slots(Graph *graph) {
    if (graph->count < graph->slot_count / 2)
        return true;
    Value *slots = memory_allocate(graph->slot_count * 2, sizeof *slots);
    if (!slots) {
        graph->trouble = GRAPH_NO_MEMORY;
        return false;
    }
    memory_release(graph->slots);
    graph->slots = slots;
    graph->slot_count *= 2;
    for (Value value = 1; value < graph->count; value++)
        graph->slots[find_slot(graph, &graph->nodes[value])] = value;
    return true;
}

static void raise_rate(GraphNode *node, const GraphNode *operand) {
    if (operand->when > node->when)
        node->when = operand->when;
    if (operand->where > node->where)
        node->where = operand->where;
    node->reads |= operand->reads;
}

static void describe_rate(const Graph *graph, GraphNode *node) {
    for (int i = 0; i < OPERANDS_MAX && node->operand[i]; i++)
        raise_rate(node, graph_node(graph, node->operand[i]));
    if (node->operation != OP_RAMP_NUMBER && node->operation != OP_RAMP_COLOUR)
        return;
    const GraphRamp *ramp = &graph->ramps[node->k];
    for (uint32_t i = 0; i < ramp->count; i++) {
        raise_rate(node, graph_node(graph, ramp->stops[i].place));
        raise_rate(node, graph_node(graph, ramp->stops[i].value));
    }
}

Value graph_intern(Graph *graph, const GraphNode *draft) {
    if (graph->trouble != GRAPH_FINE)
        return 0;
    uint32_t slot = find_slot(graph, draft);
    if (graph->slots[slot])
        return graph->slots[slot];
    if (graph->count > LIMIT_VALUES) {
        graph->trouble = GRAPH_TOO_LARGE;
        return 0;
    }
    if (!graph_grow(graph, (void **)&graph->nodes, graph->count, &graph->room,
                    sizeof *graph->nodes))
        return 0;
    GraphNode *node = &graph->nodes[graph->count];
    *node = *draft;
    if (node->class == CLASS_OPERATION) {
        describe_rate(graph, node);
        graph_describe_range(graph, node);
    }
    Value value = graph->count++;
    graph->slots[slot] = value;
    return widen_slots(graph) ? value : 0;
}

/* -------- constants and leaves -------- */

Value graph_number(Graph *graph, double number) {
    if (!isfinite(number))
        number = 0.0;
    GraphNode draft = {.class = CLASS_NUMBER, .from = number, .to = number};
    draft.constant.number = number;
    draft.whole = number == number_floor(number);
    draft.minus_zero = graph_same_bits(number, -0.0);
    return graph_intern(graph, &draft);
}

Value graph_colour(Graph *graph, Colour colour) {
    GraphNode draft = {.class = CLASS_COLOUR, .colour = true};
    float channels[3] = {colour.r, colour.g, colour.b};
    for (int i = 0; i < 3; i++) {
        channels[i] = isfinite(channels[i]) ? channels[i] : 0.0f;
        draft.minus_zero = draft.minus_zero || signbit(channels[i]);
    }
    draft.constant.colour = (Colour){channels[0], channels[1], channels[2]};
    return graph_intern(graph, &draft);
}

GraphNode graph_draft(Operation operation, const Value *operands, uint16_t k) {
    GraphNode draft = {.class = CLASS_OPERATION, .operation = (uint8_t)operation, .k = k};
    draft.colour = operation_result(operation) == 'c';
    for (unsigned i = 0; i < OPERANDS_MAX && operation_operand(operation, i); i++)
        draft.operand[i] = operands[i];
    return draft;
}

static GraphNode leaf(Operation operation, uint16_t k, When when, Where where) {
    GraphNode draft = graph_draft(operation, NULL, k);
    draft.when = (uint8_t)when;
    draft.where = (uint8_t)where;
    return draft;
}

Value graph_input(Graph *graph, Input input) {
    When when = input == INPUT_PIXELS ? WHEN_SET : WHEN_MOVING;
    GraphNode draft = leaf(OP_INPUT, (uint16_t)input, when, WHERE_ONE);
    draft.reads = (uint8_t)(1u << input);
    return graph_intern(graph, &draft);
}

Value graph_field(Graph *graph, Field field) {
    GraphNode draft = leaf(OP_FIELD, (uint16_t)field, WHEN_SET, WHERE_EACH);
    return graph_intern(graph, &draft);
}

Value graph_dial(Graph *graph, uint16_t dial, bool colour, bool eased, double from, double to) {
    GraphNode draft =
        leaf(colour ? OP_DIAL_LIGHT : OP_DIAL, dial, eased ? WHEN_MOVING : WHEN_SET, WHERE_ONE);
    draft.reads = READS_DIAL;
    draft.from = from;
    draft.to = to;
    return graph_intern(graph, &draft);
}

Value graph_within(Graph *graph, uint16_t group) {
    GraphNode draft = leaf(OP_WITHIN, group, WHEN_SET, WHERE_EACH);
    return graph_intern(graph, &draft);
}

/* -------- operations -------- */

static Value fold(Graph *graph, const GraphNode *draft) {
    double numbers[OPERANDS_MAX] = {0};
    ReferenceOperand operands[OPERANDS_MAX] = {{0}};
    for (int i = 0; i < OPERANDS_MAX && draft->operand[i]; i++) {
        const GraphNode *operand = graph_node(graph, draft->operand[i]);
        if (operand->colour)
            operands[i].colour = operand->constant.colour;
        else
            operands[i].number = numbers[i] = operand->constant.number;
    }
    if (draft->colour)
        return graph_colour(graph, reference_colour(draft->operation, operands, draft->k));
    return graph_number(graph, reference_number(draft->operation, numbers, draft->k));
}

Value graph_operation(Graph *graph, Operation operation, Value a, Value b, Value c, Value d,
                      uint16_t k) {
    GraphNode draft = graph_draft(operation, (Value[OPERANDS_MAX]){a, b, c, d}, k);
    bool constant = operation_form(operation) != FORM_CONTEXT;
    for (unsigned i = 0; i < OPERANDS_MAX && operation_operand(operation, i); i++) {
        if (!draft.operand[i] || graph->trouble != GRAPH_FINE)
            return 0;
        constant = constant && graph_is_constant(graph, draft.operand[i]);
    }
    if (constant)
        return fold(graph, &draft);
    Value simpler = graph_simplify(graph, &draft);
    if (simpler || graph->trouble != GRAPH_FINE)
        return simpler;
    return graph_intern(graph, &draft);
}

/* -------- easings -------- */

static bool same_easing(const Easing *a, const Easing *b) {
    if (a->kind != b->kind)
        return false;
    switch (a->kind) {
    case EASING_BEZIER:
        return memcmp(a->bezier, b->bezier, sizeof a->bezier) == 0;
    case EASING_STEPS:
        return a->jump == b->jump && a->count == b->count;
    case EASING_LINEAR:
        return a->count == b->count &&
               memcmp(a->points, b->points, 2 * a->count * sizeof *a->points) == 0;
    }
    return false;
}

uint16_t graph_easing(Graph *graph, const Easing *easing) {
    if (graph->trouble != GRAPH_FINE)
        return EASING_NONE;
    for (uint32_t i = 0; i < graph->easing_count; i++) {
        if (same_easing(&graph->easings[i], easing))
            return (uint16_t)i;
    }
    if (graph->easing_count >= EASINGS_MAX) {
        graph->trouble = GRAPH_TOO_LARGE;
        return EASING_NONE;
    }
    if (!graph_grow(graph, (void **)&graph->easings, graph->easing_count, &graph->easing_room,
                    sizeof *graph->easings))
        return EASING_NONE;
    Easing *added = &graph->easings[graph->easing_count];
    *added = *easing;
    added->points = NULL;
    if (easing->kind == EASING_LINEAR) {
        added->points = memory_allocate(2 * (size_t)easing->count, sizeof *added->points);
        if (!added->points) {
            graph->trouble = GRAPH_NO_MEMORY;
            return EASING_NONE;
        }
        memcpy(added->points, easing->points, 2 * (size_t)easing->count * sizeof *added->points);
    }
    return (uint16_t)graph->easing_count++;
}

Value graph_ease(Graph *graph, uint16_t easing, Value at) {
    if (!at || graph->trouble != GRAPH_FINE)
        return 0;
    if (easing == EASING_NONE)
        return at;
    const GraphNode *node = graph_node(graph, at);
    if (node->class == CLASS_NUMBER)
        return graph_number(graph, easing_at(&graph->easings[easing], node->constant.number));
    GraphNode draft = graph_draft(OP_EASE, (Value[]){at}, easing);
    return graph_intern(graph, &draft);
}

/* -------- questions -------- */

Rate graph_rate(const Graph *graph, Value value) {
    const GraphNode *node = graph_node(graph, value);
    return (Rate){(When)node->when, (Where)node->where};
}

bool graph_is_number(const Graph *graph, Value value, double number) {
    const GraphNode *node = graph_node(graph, value);
    return value && node->class == CLASS_NUMBER && graph_same_bits(node->constant.number, number);
}

bool graph_is_truth(const Graph *graph, Value value) {
    const GraphNode *node = graph_node(graph, value);
    return node->whole && node->from >= 0.0 && node->to <= 1.0 && !node->minus_zero;
}

bool graph_constant_number(const Graph *graph, Value value, double *number) {
    const GraphNode *node = graph_node(graph, value);
    if (!value || node->class != CLASS_NUMBER)
        return false;
    *number = node->constant.number;
    return true;
}

bool graph_constant_colour(const Graph *graph, Value value, Colour *colour) {
    const GraphNode *node = graph_node(graph, value);
    if (!value || node->class != CLASS_COLOUR)
        return false;
    *colour = node->constant.colour;
    return true;
}

void graph_range(const Graph *graph, Value value, double *from, double *to) {
    *from = graph_node(graph, value)->from;
    *to = graph_node(graph, value)->to;
}

bool graph_is_whole(const Graph *graph, Value value) {
    return graph_node(graph, value)->whole;
}

bool graph_reads_input(const Graph *graph, Value value, Input input) {
    return graph_node(graph, value)->reads & 1u << input;
}

bool graph_reads_dial(const Graph *graph, Value value) {
    return graph_node(graph, value)->reads & READS_DIAL;
}
