/* Ramps: a table where stops and places are the same for the whole lamp, else a chain. Both have
 * one value: the pair of stops around the place is found, then blended once (spec/meaning.md,
 * section 5). A share of 0 is the first of the pair exactly; so a stop is met at its place. */
#include <string.h>

#include "lang/graph_inside.h"
#include "runtime/core/easing.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"

/* Some are left behind when what they were made for is simplified away. */
enum { RAMPS_MAX = 4 * LIMIT_RAMPS };

typedef struct RampForm {
    bool colour, bars;
    uint16_t blend;
    const GraphStop *stops;
    uint32_t count;
    Value place;
} RampForm;

/* -------- the chain -------- */

static Value choose(Graph *graph, bool colour, Value condition, Value then, Value other) {
    return graph_operation(graph, colour ? OP_COLOUR_SELECT : OP_SELECT, condition, then, other, 0,
                           0);
}

static Value reached(Graph *graph, const RampForm *form, uint32_t stop) {
    return graph_operation(graph, OP_LESS_EQUAL, form->stops[stop].place, form->place, 0, 0, 0);
}

static Value chain_of_bars(Graph *graph, const RampForm *form) {
    Value value = form->stops[0].value;
    for (uint32_t i = 1; i < form->count; i++)
        value = choose(graph, form->colour, reached(graph, form, i), form->stops[i].value, value);
    return value;
}

/* The place within the stretch, shaped by the stretch's easing. */
static Value eased_share(Graph *graph, const RampForm *form, Value share) {
    uint16_t easing = form->stops[0].easing;
    Value eased = graph_ease(graph, easing, share);
    for (uint32_t i = 1; i + 1 < form->count; i++) {
        /* A stretch with the easing of the one before is shaped already. */
        if (form->stops[i].easing == easing)
            continue;
        easing = form->stops[i].easing;
        eased =
            choose(graph, false, reached(graph, form, i), graph_ease(graph, easing, share), eased);
    }
    return eased;
}

/* Whether some easing does not begin at 0, so that at a stop it must be kept from being asked. */
static bool begins_elsewhere(const Graph *graph, const RampForm *form) {
    for (uint32_t i = 0; i + 1 < form->count; i++) {
        uint16_t easing = form->stops[i].easing;
        if (easing != EASING_NONE && easing_at(&graph->easings[easing], 0.0) != 0.0)
            return true;
    }
    return false;
}

/* Whether the last stretch, held at its end, gives the last value: then nothing has to be chosen
 * behind it. */
static bool ends_at_last(const Graph *graph, const RampForm *form) {
    double begin, end;
    const GraphStop *stop = &form->stops[form->count - 2];
    if (!graph_constant_number(graph, stop[0].place, &begin) ||
        !graph_constant_number(graph, stop[1].place, &end) || begin >= end)
        return false;
    return stop->easing == EASING_NONE || easing_at(&graph->easings[stop->easing], 1.0) == 1.0;
}

static Value length_behind(Graph *graph, const RampForm *form, uint32_t stop) {
    return graph_operation(graph, OP_SUBTRACT, form->stops[stop + 1].place, form->stops[stop].place,
                           0, 0, 0);
}

static Value chain_of_fades(Graph *graph, const RampForm *form) {
    const GraphStop *stops = form->stops;
    uint32_t last = form->count - 1;
    Value from = stops[0].value, to = stops[1].value;
    Value begin = stops[0].place, length = length_behind(graph, form, 0);
    for (uint32_t i = 1; i < last; i++) {
        Value here = reached(graph, form, i);
        from = choose(graph, form->colour, here, stops[i].value, from);
        to = choose(graph, form->colour, here, stops[i + 1].value, to);
        begin = choose(graph, false, here, stops[i].place, begin);
        length = choose(graph, false, here, length_behind(graph, form, i), length);
    }
    Value way = graph_operation(graph, OP_SUBTRACT, form->place, begin, 0, 0, 0);
    Value share = graph_operation(graph, OP_DIVIDE, way, length, 0, 0, 0);
    Value none = graph_number(graph, 0.0);
    bool held = ends_at_last(graph, form);
    if (held && graph_node(graph, form->place)->to > graph_node(graph, stops[last].place)->to)
        share = graph_operation(graph, OP_MINIMUM, share, graph_number(graph, 1.0), 0, 0, 0);
    share = eased_share(graph, form, share);
    if (begins_elsewhere(graph, form)) {
        Value met = graph_operation(graph, OP_EQUAL, form->place, begin, 0, 0, 0);
        share = choose(graph, false, met, none, share);
    }
    share = choose(graph, false, reached(graph, form, 0), share, none);
    if (!held) {
        Value done = reached(graph, form, last);
        share = choose(graph, false, done, none, share);
        from = choose(graph, form->colour, done, stops[last].value, from);
    }
    if (form->colour)
        return graph_operation(graph, OP_COLOUR_BLEND, from, to, share, 0, form->blend);
    return graph_operation(graph, OP_LERP, from, to, share, 0, 0);
}

/* -------- the table -------- */

static uint64_t hash_ramp(const RampForm *form) {
    uint64_t hash = graph_hash(0xCBF29CE484222325u, &form->blend, sizeof form->blend);
    hash = graph_hash(hash, &form->colour, sizeof form->colour);
    hash = graph_hash(hash, &form->bars, sizeof form->bars);
    for (uint32_t i = 0; i < form->count; i++) {
        hash = graph_hash(hash, &form->stops[i].place, sizeof form->stops[i].place);
        hash = graph_hash(hash, &form->stops[i].value, sizeof form->stops[i].value);
        hash = graph_hash(hash, &form->stops[i].easing, sizeof form->stops[i].easing);
    }
    return hash;
}

static bool same_ramp(const GraphRamp *ramp, const RampForm *form) {
    if (ramp->colour != form->colour || ramp->bars != form->bars || ramp->blend != form->blend ||
        ramp->count != form->count)
        return false;
    for (uint32_t i = 0; i < form->count; i++) {
        if (ramp->stops[i].place != form->stops[i].place ||
            ramp->stops[i].value != form->stops[i].value ||
            ramp->stops[i].easing != form->stops[i].easing)
            return false;
    }
    return true;
}

/* The number of the ramp in the graph; RAMPS_MAX or above: trouble. */
static uint32_t add_ramp(Graph *graph, const RampForm *form) {
    uint64_t hash = hash_ramp(form);
    for (uint32_t i = 0; i < graph->ramp_count; i++) {
        if (graph->ramps[i].hash == hash && same_ramp(&graph->ramps[i], form))
            return i;
    }
    if (graph->ramp_count >= RAMPS_MAX) {
        graph->trouble = GRAPH_TOO_LARGE;
        return RAMPS_MAX;
    }
    if (!graph_grow(graph, (void **)&graph->ramps, graph->ramp_count, &graph->ramp_room,
                    sizeof *graph->ramps))
        return RAMPS_MAX;
    GraphStop *stops = memory_allocate(form->count, sizeof *stops);
    if (!stops) {
        graph->trouble = GRAPH_NO_MEMORY;
        return RAMPS_MAX;
    }
    memcpy(stops, form->stops, form->count * sizeof *stops);
    graph->ramps[graph->ramp_count] =
        (GraphRamp){form->colour, form->bars, form->blend, form->count, stops, hash};
    return graph->ramp_count++;
}

static Value table(Graph *graph, const RampForm *form) {
    uint32_t ramp = add_ramp(graph, form);
    if (ramp >= RAMPS_MAX)
        return 0;
    GraphNode draft = graph_draft(form->colour ? OP_RAMP_COLOUR : OP_RAMP_NUMBER,
                                  (Value[]){form->place}, (uint16_t)ramp);
    return graph_intern(graph, &draft);
}

/* -------- the choice -------- */

static bool has_easing(const RampForm *form) {
    for (uint32_t i = 0; i < form->count; i++) {
        if (form->stops[i].easing != EASING_NONE)
            return true;
    }
    return false;
}

/* Where both forms serve, the one that was measured to take less time. */
static bool table_is_cheaper(const Graph *graph, const RampForm *form) {
    bool each = graph_node(graph, form->place)->where == WHERE_EACH;
    if (form->bars)
        return form->count > (each && !form->colour ? 16 : 4);
    if (form->colour)
        return true;
    return form->count > (each && !has_easing(form) ? 8 : 2);
}

/* A table needs one value for the whole lamp in every stop and place. */
static bool wants_table(const Graph *graph, const RampForm *form) {
    if (graph_is_constant(graph, form->place))
        return false;
    for (uint32_t i = 0; i < form->count; i++) {
        if (graph_node(graph, form->stops[i].place)->where != WHERE_ONE ||
            graph_node(graph, form->stops[i].value)->where != WHERE_ONE)
            return false;
    }
    return table_is_cheaper(graph, form);
}

static Value build(Graph *graph, RampForm *form, GraphStop *stops) {
    for (uint32_t i = 0; i < form->count; i++) {
        if (!stops[i].place || !stops[i].value)
            return 0;
        if (i > 0) {
            stops[i].place =
                graph_operation(graph, OP_MAXIMUM, stops[i - 1].place, stops[i].place, 0, 0, 0);
            if (!stops[i].place)
                return 0;
        }
        if (form->bars || i + 1 == form->count)
            stops[i].easing = EASING_NONE; /* shapes nothing */
    }
    form->stops = stops;
    if (form->count == 1)
        return stops[0].value;
    if (wants_table(graph, form))
        return table(graph, form);
    return form->bars ? chain_of_bars(graph, form) : chain_of_fades(graph, form);
}

Value graph_ramp(Graph *graph, bool colour, bool bars, uint16_t blend, const GraphStop *stops,
                 uint32_t count, Value place) {
    if (!place || graph->trouble != GRAPH_FINE || count == 0)
        return 0;
    GraphStop *own = memory_allocate(count, sizeof *own);
    if (!own) {
        graph->trouble = GRAPH_NO_MEMORY;
        return 0;
    }
    memcpy(own, stops, count * sizeof *own);
    RampForm form = {colour, bars, colour && !bars ? blend : 0, NULL, count, place};
    Value value = build(graph, &form, own);
    memory_release(own);
    return value;
}
