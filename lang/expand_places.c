/* Where the stops of a ramp lie (rules R2, R3, R6; spec/meaning.md section 4). */
#include "lang/expand_private.h"

#include <math.h>

static bool constant(const Context *in, Value value, double *number) {
    return value && graph_constant_number(in->expander->graph, value, number);
}

/* A place as it was written, as a share of the way; 0 where it is wrong. */
static Value take_place(const Context *in, const Node *ramp, const Way *way, const Node *node) {
    Typed typed = expand(in, node);
    if (typed.type == TYPE_NONE)
        return 0;
    if (ramp->b->word == DRIVER_FOR_EACH) {
        expand_error(in, "place-under-each", node, NULL, "`every`, with places",
                     "`for ... each` gives every part the same time: a stop has no place");
        return 0;
    }
    if (typed.type == TYPE_NUMBER)
        return typed.value;
    if (typed.type == TYPE_DURATION && way->length)
        return expand_operation(in, OP_DIVIDE, typed.value, way->length, 0);
    if (typed.type == TYPE_DURATION)
        expand_error(in, "place-without-time", node, NULL, "`40%`",
                     "under `along` a place is a number, this is a duration");
    else
        expand_error(in, "wrong-place", node, NULL,
                     typed.type == TYPE_ANGLE
                         ? expand_print(in, "`%s / 1turn`", expand_operand(in, node))
                         : NULL,
                     "a place is a number or a duration, this is %s", type_name(typed.type));
    return 0;
}

/* at 06:30 is 6.5 of the way: a time of day is meant. */
static bool is_clock(const Context *in, const Node *node) {
    if (node->kind != NODE_CLOCK)
        return false;
    in->expander->failed = true;
    if (names_all_whole(in->expander->program->modules)) /* else that was told already */
        expand_error(in, "place-of-clock", node, NULL,
                     expand_print(in, "`at %s / 24`", expand_source(in, node)),
                     "a place goes from 0 to 1, and `%s` is %.4g hours", expand_source(in, node),
                     node->number / 3600.0);
    return true;
}

/* A place behind `before`: an error where both are given (`node`, `earlier`: where; NULL: not
 * given) and known and it is not, else moved up. */
static Value behind(const Context *in, const Node *node, const Node *earlier, Value before,
                    Value place) {
    double a, b;
    if (!before)
        return place;
    if (!node || !earlier || !constant(in, before, &a) || !constant(in, place, &b) || b >= a)
        return expand_operation(in, OP_MAXIMUM, before, place, 0);
    expand_error(in, "places-out-of-order", node, earlier, NULL,
                 "this stop lies at %.4g%%, before the one in front of it at %.4g%%", b * 100.0,
                 a * 100.0);
    return 0;
}

/* The place that a first or last stop without one has; 0: none of its own. */
static Value own_place(const Context *in, const Node *ramp, uint32_t i, uint32_t count) {
    if (i == 0)
        return expand_number(in, 0.0);
    if (i + 1 < count || ramp->word & RAMP_BARS)
        return 0;
    if (ramp->word & RAMP_ROUND)
        return expand_number(in, (double)(count - 1) / (double)count);
    return expand_number(in, 1.0);
}

/* The place `step` of `steps` of the way from one place to another: the same operations whether
 * the places are known or not, so that the same bits come of it. */
static Value between(const Context *in, Value from, Value to, uint32_t step, uint32_t steps) {
    Value way = expand_operation(in, OP_SUBTRACT, to, from, 0);
    way = expand_operation(in, OP_MULTIPLY, way, expand_number(in, (double)step), 0);
    way = expand_operation(in, OP_DIVIDE, way, expand_number(in, (double)steps), 0);
    return expand_operation(in, OP_ADD, from, way, 0);
}

/* Spreads stops without a place evenly between their neighbours; places[count] is the end. */
static void spread(const Context *in, Value *places, uint32_t count) {
    uint32_t last = 0;
    for (uint32_t i = 1; i <= count; i++) {
        if (!places[i])
            continue;
        for (uint32_t k = last + 1; k < i; k++)
            places[k] = between(in, places[last], places[i], k - last, i - last);
        last = i;
    }
}

/* gold at 15s -> red over 10s: red, moved up to 150 %, is not seen. */
static void warn_never_reached(const Context *in, const Node *stop, Value before) {
    double place;
    if (!constant(in, before, &place) || place <= 1.0)
        return;
    expand_warn(in, SEVERITY_WARNING, "stop-never-reached", stop->a,
                "a longer time, or an earlier place",
                "the stop in front lies at %.4g%%: `%s` is never reached", place * 100.0,
                expand_source(in, stop->a));
}

bool expand_places(const Context *in, const Node *ramp, const Way *way, uint32_t count,
                   Value *places) {
    Value before = 0;
    const Node *earlier = NULL;
    uint32_t i = 0;
    for (const Node *stop = ramp->a; stop; stop = stop->next, i++) {
        if (stop->b && is_clock(in, stop->b))
            return false;
        places[i] = stop->b ? take_place(in, ramp, way, stop->b) : own_place(in, ramp, i, count);
        if (stop->b && !places[i])
            return false;
        if (!places[i])
            continue;
        if (!stop->b && before)
            warn_never_reached(in, stop, before);
        places[i] = behind(in, stop->b, earlier, before, places[i]);
        if (!places[i])
            return false;
        before = places[i];
        earlier = stop->b;
    }
    /* the end of the way: the closing stop of `and round`, the neighbour behind the last bar */
    Value end = expand_number(in, 1.0);
    places[count] = expand_operation(in, OP_MAXIMUM, before, end, 0);
    spread(in, places, count);
    return true;
}
