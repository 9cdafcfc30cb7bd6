/* The same value by fewer operations. Every rule here is exact bit for bit for every input,
 * signs of zero included; what is only nearly the same is not here. */
#include "lang/graph_inside.h"
#include "runtime/core/limits.h"
#include "runtime/core/number.h"
#include "runtime/core/reference.h"

static const GraphNode *operand_of(const Graph *graph, const GraphNode *draft, int i) {
    return graph_node(graph, draft->operand[i]);
}

/* a and b in a fixed order where the order does not matter, so that equal sums are shared. */
static void order_operands(GraphNode *draft) {
    switch ((Operation)draft->operation) {
    case OP_ADD:
    case OP_MULTIPLY:
    case OP_EQUAL:
    case OP_AND:
    case OP_COLOUR_ADD:
    case OP_COLOUR_MULTIPLY:
        if (draft->operand[0] > draft->operand[1]) {
            Value first = draft->operand[0];
            draft->operand[0] = draft->operand[1];
            draft->operand[1] = first;
        }
        break;
    default:
        break;
    }
}

static bool is_negation(const Graph *graph, Value value, Operation operation) {
    const GraphNode *node = graph_node(graph, value);
    return node->class == CLASS_OPERATION && node->operation == operation;
}

static Value add_zero(const Graph *graph, Value zero, Value other) {
    if (graph_is_number(graph, zero, -0.0))
        return other;
    if (graph_is_number(graph, zero, 0.0) && !graph_node(graph, other)->minus_zero)
        return other;
    return 0;
}

static Value simplify_sum(Graph *graph, const GraphNode *draft) {
    Value a = draft->operand[0], b = draft->operand[1];
    if (draft->operation == OP_ADD) {
        Value other = add_zero(graph, a, b);
        return other ? other : add_zero(graph, b, a);
    }
    if (graph_is_number(graph, b, 0.0) ||
        (graph_is_number(graph, b, -0.0) && !graph_node(graph, a)->minus_zero))
        return a;
    return a == b ? graph_number(graph, 0.0) : 0;
}

static Value simplify_product(Graph *graph, const GraphNode *draft) {
    for (int i = 0; i < 2; i++) {
        Value constant = draft->operand[i], other = draft->operand[1 - i];
        const GraphNode *node = graph_node(graph, other);
        if (graph_is_number(graph, constant, 1.0))
            return other;
        if (graph_is_number(graph, constant, 0.0) && node->from >= 0.0 && !node->minus_zero)
            return constant;
    }
    return 0;
}

/* A division by a power of two is the product with its reciprocal: one and the same real number,
 * rounded once, where the reciprocal is a normal number. */
static Value simplify_quotient(Graph *graph, const GraphNode *draft) {
    double divisor;
    if (!graph_constant_number(graph, draft->operand[1], &divisor))
        return 0;
    if (divisor == 1.0)
        return draft->operand[0];
    double size = number_absolute(divisor);
    if ((number_bits(divisor) & NUMBER_FRACTION) != 0 || size < 0x1p-1000 || size > 0x1p+1000)
        return 0;
    return graph_operation(graph, OP_MULTIPLY, draft->operand[0],
                           graph_number(graph, 1.0 / divisor), 0, 0, 0);
}

/* MINIMUM is b < a ? b : a, MAXIMUM b > a ? b : a: where both are equal, a. */
static Value simplify_extreme(Graph *graph, const GraphNode *draft) {
    Value a = draft->operand[0], b = draft->operand[1];
    const GraphNode *left = graph_node(graph, a), *right = graph_node(graph, b);
    bool largest = draft->operation != OP_MINIMUM;
    double a_from = largest ? -left->to : left->from, a_to = largest ? -left->from : left->to;
    double b_from = largest ? -right->to : right->from, b_to = largest ? -right->from : right->to;
    if (a == b || a_to <= b_from)
        return a;
    if (b_to < a_from || (b_to == a_from && b_to != 0.0))
        return b;
    if (right->class == CLASS_OPERATION && right->operation == draft->operation &&
        right->operand[0] == a)
        return b; /* max(a, max(a, x)) */
    return 0;
}

/* FLOOR, CEILING, ROUND, MICROSECONDS of a whole number; how each treats a zero is asked of the
 * reference. */
static Value simplify_rounding(const Graph *graph, const GraphNode *draft) {
    const GraphNode *node = operand_of(graph, draft, 0);
    double limit =
        draft->operation == OP_MICROSECONDS ? LIMIT_MICROSECONDS : LIMIT_MICROSECONDS / 4;
    if (!node->whole || node->from < -limit || node->to > limit)
        return 0;
    double zero = 0.0, minus_zero = -0.0;
    if (node->from <= 0.0 && node->to >= 0.0 &&
        !graph_same_bits(reference_number(draft->operation, &zero, 0), zero))
        return 0;
    if (node->minus_zero &&
        !graph_same_bits(reference_number(draft->operation, &minus_zero, 0), minus_zero))
        return 0;
    return draft->operand[0];
}

static Value simplify_one_operand(Graph *graph, const GraphNode *draft) {
    Value a = draft->operand[0];
    const GraphNode *node = graph_node(graph, a);
    switch ((Operation)draft->operation) {
    case OP_NEGATE:
        return is_negation(graph, a, OP_NEGATE) ? node->operand[0] : 0;
    case OP_NOT:
        if (is_negation(graph, a, OP_NOT) && graph_is_truth(graph, node->operand[0]))
            return node->operand[0];
        return 0;
    case OP_ABSOLUTE:
        return node->from >= 0.0 && !node->minus_zero ? a : 0;
    case OP_UNIT:
        return node->from >= 0.0 && node->to <= 1.0 && !node->minus_zero ? a : 0;
    default:
        return simplify_rounding(graph, draft);
    }
}

static Value simplify_comparison(Graph *graph, const GraphNode *draft) {
    Value a = draft->operand[0], b = draft->operand[1];
    const GraphNode *left = graph_node(graph, a), *right = graph_node(graph, b);
    bool apart = left->to < right->from || right->to < left->from;
    switch ((Operation)draft->operation) {
    case OP_LESS:
        if (left->to < right->from)
            return graph_number(graph, 1.0);
        return a == b || left->from >= right->to ? graph_number(graph, 0.0) : 0;
    case OP_LESS_EQUAL:
        if (a == b || left->to <= right->from)
            return graph_number(graph, 1.0);
        return left->from > right->to ? graph_number(graph, 0.0) : 0;
    default:
        if (a == b)
            return graph_number(graph, 1.0);
        return apart ? graph_number(graph, 0.0) : 0;
    }
}

static Value simplify_both(Graph *graph, const GraphNode *draft) {
    for (int i = 0; i < 2; i++) {
        Value constant = draft->operand[i], other = draft->operand[1 - i];
        if (!graph_is_truth(graph, other))
            continue;
        if (graph_is_number(graph, constant, 1.0))
            return other;
        if (graph_is_number(graph, constant, 0.0))
            return constant;
        if (constant == other)
            return other;
    }
    return 0;
}

/* SELECT and COLOUR_SELECT: a != 0 ? b : c. */
static Value simplify_select(Graph *graph, const GraphNode *draft) {
    Value a = draft->operand[0], b = draft->operand[1], c = draft->operand[2];
    const GraphNode *condition = graph_node(graph, a);
    if (b == c)
        return b;
    if (condition->from > 0.0 || condition->to < 0.0)
        return b;
    if (condition->from == 0.0 && condition->to == 0.0)
        return c;
    if (!graph_is_truth(graph, a))
        return 0;
    if (graph_is_number(graph, b, 1.0) && graph_is_number(graph, c, 0.0))
        return a;
    if (graph_is_number(graph, b, 0.0) && graph_is_number(graph, c, 1.0))
        return graph_operation(graph, OP_NOT, a, 0, 0, 0, 0);
    if (is_negation(graph, a, OP_NOT) && graph_is_truth(graph, condition->operand[0]))
        return graph_operation(graph, draft->operation, condition->operand[0], c, b, 0, 0);
    return 0;
}

/* True where the value is the colour with `level` in each channel, which is not -0. */
static bool is_grey(const Graph *graph, Value value, float level) {
    const GraphNode *node = graph_node(graph, value);
    return node->class == CLASS_COLOUR && !node->minus_zero && node->constant.colour.r == level &&
           node->constant.colour.g == level && node->constant.colour.b == level;
}

/* LERP, COLOUR_MIX and COLOUR_BLEND are a where c is 0 and b where c is 1. COLOUR_MIX rounds c to
 * float first, which keeps 0 and 1. */
static Value simplify_between(Graph *graph, const GraphNode *draft) {
    Value a = draft->operand[0], b = draft->operand[1], c = draft->operand[2];
    const GraphNode *share = graph_node(graph, c);
    if (share->from == 0.0 && share->to == 0.0)
        return a;
    if (share->from == 1.0 && share->to == 1.0)
        return b;
    if (draft->operation == OP_LERP && graph_is_number(graph, a, 0.0) &&
        graph_is_number(graph, b, 1.0) && !share->minus_zero)
        return c; /* 0 + c * (1 - 0) */
    if (draft->operation != OP_COLOUR_MIX)
        return 0;
    if (graph_is_truth(graph, c))
        return graph_operation(graph, OP_COLOUR_SELECT, c, b, a, 0, 0);
    if (is_grey(graph, a, 0.0f) && !graph_node(graph, b)->minus_zero && share->from >= 0.0 &&
        share->to <= 1.0 && !share->minus_zero)
        return graph_operation(graph, OP_COLOUR_SCALE, b, c, 0, 0, 0); /* 0 + c * (b - 0) */
    return 0;
}

static Value simplify_light(const Graph *graph, const GraphNode *draft) {
    Value a = draft->operand[0], b = draft->operand[1];
    switch ((Operation)draft->operation) {
    case OP_COLOUR_ADD:
        if (is_grey(graph, a, 0.0f) && !graph_node(graph, b)->minus_zero)
            return b;
        return is_grey(graph, b, 0.0f) && !graph_node(graph, a)->minus_zero ? a : 0;
    case OP_COLOUR_SUBTRACT:
        return is_grey(graph, b, 0.0f) ? a : 0;
    case OP_COLOUR_MULTIPLY:
        return is_grey(graph, a, 1.0f) ? b : is_grey(graph, b, 1.0f) ? a : 0;
    default:
        return graph_is_number(graph, b, 1.0) ? a : 0;
    }
}

/* mod(x, 1) of what lies within 0 and below 1 is x. */
static Value simplify_remainder(const Graph *graph, const GraphNode *draft) {
    const GraphNode *node = operand_of(graph, draft, 0);
    bool below = node->from >= 0.0 && node->to < 1.0 && !node->minus_zero;
    return below && graph_is_number(graph, draft->operand[1], 1.0) ? draft->operand[0] : 0;
}

Value graph_simplify(Graph *graph, GraphNode *draft) {
    order_operands(draft);
    switch ((Operation)draft->operation) {
    case OP_ADD:
    case OP_SUBTRACT:
        return simplify_sum(graph, draft);
    case OP_MULTIPLY:
        return simplify_product(graph, draft);
    case OP_DIVIDE:
        return simplify_quotient(graph, draft);
    case OP_MINIMUM:
    case OP_MAXIMUM:
    case OP_OR:
        return simplify_extreme(graph, draft);
    case OP_NEGATE:
    case OP_NOT:
    case OP_ABSOLUTE:
    case OP_UNIT:
    case OP_FLOOR:
    case OP_CEILING:
    case OP_ROUND:
    case OP_MICROSECONDS:
        return simplify_one_operand(graph, draft);
    case OP_MODULO:
        return simplify_remainder(graph, draft);
    case OP_LESS:
    case OP_LESS_EQUAL:
    case OP_EQUAL:
        return simplify_comparison(graph, draft);
    case OP_AND:
        return simplify_both(graph, draft);
    case OP_SELECT:
    case OP_COLOUR_SELECT:
        return simplify_select(graph, draft);
    case OP_LERP:
    case OP_COLOUR_MIX:
    case OP_COLOUR_BLEND:
        return simplify_between(graph, draft);
    case OP_COLOUR_ADD:
    case OP_COLOUR_SUBTRACT:
    case OP_COLOUR_SCALE:
    case OP_COLOUR_DIVIDE:
    case OP_COLOUR_MULTIPLY:
        return simplify_light(graph, draft);
    default:
        return 0;
    }
}
