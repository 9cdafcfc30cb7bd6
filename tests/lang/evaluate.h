/* Works a graph out one value at a time with the scalar reference: what code made from the graph
 * must agree with, bit for bit. Operations of a graph in a word. */
#ifndef GLOAM_TESTS_LANG_EVALUATE_H
#define GLOAM_TESTS_LANG_EVALUATE_H

#include <stdlib.h>
#include <string.h>

#include "lang/graph_inside.h"
#include "runtime/core/easing.h"
#include "runtime/core/ramp.h"
#include "runtime/core/reference.h"

enum { SETTING_DIALS = 16 };

typedef struct Setting {
    double inputs[INPUT_COUNT];
    double fields[FIELD_COUNT];
    double dials[SETTING_DIALS];
    Colour lights[SETTING_DIALS];
    bool groups[4];
} Setting;

typedef struct Evaluation {
    const Graph *graph;
    const Setting *setting;
    ReferenceOperand *values;
    bool *known;
} Evaluation;

/* An operation of so many operands, without a constant. */
static inline Value one(Graph *graph, Operation operation, Value a) {
    return graph_operation(graph, operation, a, 0, 0, 0, 0);
}
static inline Value two(Graph *graph, Operation operation, Value a, Value b) {
    return graph_operation(graph, operation, a, b, 0, 0, 0);
}
static inline Value three(Graph *graph, Operation operation, Value a, Value b, Value c) {
    return graph_operation(graph, operation, a, b, c, 0, 0);
}

static ReferenceOperand evaluate_value(Evaluation *evaluation, Value value);

static ReferenceOperand evaluate_ramp(Evaluation *evaluation, const GraphNode *node, double place) {
    const GraphRamp *from = &evaluation->graph->ramps[node->k];
    Ramp ramp = {from->colour, from->bars, from->blend, (uint16_t)from->count, NULL};
    RampStop *stops = calloc(from->count, sizeof *stops);
    double *numbers = calloc(2 * from->count, sizeof *numbers);
    Colour *colours = calloc(from->count, sizeof *colours);
    RampStretch *stretches = calloc(from->count, sizeof *stretches);
    for (uint32_t i = 0; i < from->count; i++) {
        stops[i] = (RampStop){(uint16_t)i, (uint16_t)(ramp.colour ? i : from->count + i),
                              from->stops[i].easing};
        numbers[i] = evaluate_value(evaluation, from->stops[i].place).number;
        ReferenceOperand stop = evaluate_value(evaluation, from->stops[i].value);
        if (ramp.colour)
            colours[i] = stop.colour;
        else
            numbers[from->count + i] = stop.number;
    }
    ramp.stops = stops;
    RampReady ready = {NULL, stretches};
    ramp_ready(&ready, &ramp, evaluation->graph->easings, numbers, colours);
    ReferenceOperand result = {0};
    if (ramp.colour)
        result.colour = ramp_colour(&ready, place);
    else
        result.number = ramp_number(&ready, place);
    free(stops);
    free(numbers);
    free(colours);
    free(stretches);
    return result;
}

static ReferenceOperand evaluate_context(Evaluation *evaluation, const GraphNode *node,
                                         const ReferenceOperand *operands) {
    const Setting *setting = evaluation->setting;
    ReferenceOperand result = {0};
    switch ((Operation)node->operation) {
    case OP_INPUT:
        result.number = setting->inputs[node->k];
        break;
    case OP_FIELD:
        result.number = setting->fields[node->k];
        break;
    case OP_DIAL:
        result.number = setting->dials[node->k];
        break;
    case OP_DIAL_LIGHT:
        result.colour = setting->lights[node->k];
        break;
    case OP_WITHIN:
        result.number = setting->groups[node->k];
        break;
    case OP_EASE:
        result.number = easing_at(&evaluation->graph->easings[node->k], operands[0].number);
        break;
    default:
        result = evaluate_ramp(evaluation, node, operands[0].number);
        break;
    }
    return result;
}

static ReferenceOperand evaluate_value(Evaluation *evaluation, Value value) {
    if (evaluation->known[value])
        return evaluation->values[value];
    const GraphNode *node = graph_node(evaluation->graph, value);
    ReferenceOperand operands[OPERANDS_MAX] = {{0}}, result = {0};
    double numbers[OPERANDS_MAX] = {0};
    for (int i = 0; i < OPERANDS_MAX && node->operand[i]; i++) {
        operands[i] = evaluate_value(evaluation, node->operand[i]);
        numbers[i] = operands[i].number;
    }
    if (node->class == CLASS_NUMBER)
        result.number = node->constant.number;
    else if (node->class == CLASS_COLOUR)
        result.colour = node->constant.colour;
    else if (operation_form(node->operation) == FORM_CONTEXT)
        result = evaluate_context(evaluation, node, operands);
    else if (node->colour)
        result.colour = reference_colour(node->operation, operands, node->k);
    else
        result.number = reference_number(node->operation, numbers, node->k);
    evaluation->values[value] = result;
    evaluation->known[value] = true;
    return result;
}

static inline ReferenceOperand evaluate(const Graph *graph, Value value, const Setting *setting) {
    Evaluation evaluation = {graph, setting, calloc(graph->count, sizeof(ReferenceOperand)),
                             calloc(graph->count, sizeof(bool))};
    ReferenceOperand result = evaluate_value(&evaluation, value);
    free(evaluation.values);
    free(evaluation.known);
    return result;
}

static inline double evaluate_number(const Graph *graph, Value value, const Setting *setting) {
    return evaluate(graph, value, setting).number;
}

static inline Colour evaluate_colour(const Graph *graph, Value value, const Setting *setting) {
    return evaluate(graph, value, setting).colour;
}

#endif
