/* Between which numbers a value lies, whether it is whole, whether it may be -0. Everything said
 * holds for every input; where nothing is known the interval is infinite. */
#include <math.h>

#include "lang/graph_inside.h"
#include "runtime/core/limits.h"
#include "runtime/core/number.h"
#include "runtime/core/reference.h"

typedef struct Range {
    double from, to;
} Range;

static const Range everything = {-INFINITY, INFINITY};
/* Sizes of turned lamps: the longer side spans -1..1, a corner lies within the root of 3. */
static const Range place_range = {-2.0, 2.0};
static const Range unit_range = {0.0, 1.0};
/* What a formula with a few roundings may be off, relative to its largest part. */
static const double rounding = 0x1p-50;

static double towards_zero(double x) {
    return number_from_bits(number_bits(x) - 1);
}

static double root(double x) {
    return x < INFINITY ? number_square_root(x) : x;
}

static Range hull(Range a, Range b) {
    return (Range){a.from < b.from ? a.from : b.from, a.to > b.to ? a.to : b.to};
}

static bool within_unit(Range range) {
    return range.from >= 0.0 && range.to <= 1.0;
}

/* A result that is not finite becomes 0. */
static Range finite_range(double from, double to) {
    if (isnan(from) || isnan(to))
        return everything;
    if (isinf(from) || isinf(to))
        return hull((Range){from, to}, (Range){0.0, 0.0});
    return (Range){from, to};
}

static Range corners(const double corner[4]) {
    Range range = {corner[0], corner[0]};
    for (int i = 0; i < 4; i++) {
        if (isnan(corner[i]))
            return everything;
        range = hull(range, (Range){corner[i], corner[i]});
    }
    return finite_range(range.from, range.to);
}

static double product(double a, double b) {
    return a == 0.0 || b == 0.0 ? 0.0 : a * b;
}

static Range product_range(Range a, Range b) {
    double corner[4] = {product(a.from, b.from), product(a.from, b.to), product(a.to, b.from),
                        product(a.to, b.to)};
    return corners(corner);
}

static Range quotient_range(Range a, Range b) {
    if (b.from > 0.0 || b.to < 0.0) {
        double corner[4] = {a.from / b.from, a.from / b.to, a.to / b.from, a.to / b.to};
        Range range = corners(corner);
        return isinf(a.from) || isinf(a.to) ? hull(range, (Range){0.0, 0.0}) : range;
    }
    if (b.from < 0.0 && b.to > 0.0)
        return everything;
    bool positive = b.from >= 0.0;
    if (a.from >= 0.0)
        return positive ? (Range){0.0, INFINITY} : (Range){-INFINITY, 0.0};
    if (a.to <= 0.0)
        return positive ? (Range){-INFINITY, 0.0} : (Range){0.0, INFINITY};
    return everything;
}

/* Of an operation that never falls. */
static Range rounded_range(Operation operation, Range a) {
    return (Range){isinf(a.from) ? a.from : reference_number(operation, &a.from, 0),
                   isinf(a.to) ? a.to : reference_number(operation, &a.to, 0)};
}

static Range absolute_range(Range a) {
    double from = number_absolute(a.from), to = number_absolute(a.to);
    double large = from > to ? from : to, small = from > to ? to : from;
    return (Range){a.from <= 0.0 && a.to >= 0.0 ? 0.0 : small, large};
}

static Range microseconds_range(Range a) {
    Range whole = {a.from < -LIMIT_MICROSECONDS ? -LIMIT_MICROSECONDS : a.from,
                   a.to > LIMIT_MICROSECONDS ? LIMIT_MICROSECONDS : a.to};
    if (whole.from > LIMIT_MICROSECONDS)
        whole.from = LIMIT_MICROSECONDS;
    if (whole.to < -LIMIT_MICROSECONDS)
        whole.to = -LIMIT_MICROSECONDS;
    return (Range){number_floor(whole.from), -number_floor(-whole.to)};
}

/* a + e * (b - a) for e within 0..1: a, b and what rounding adds. */
static Range between_range(Range a, Range b) {
    Range range = hull(a, b);
    if (a.from == a.to && b.from == b.to) {
        double end = a.from + (b.from - a.from);
        return isfinite(end) ? hull(range, (Range){end, end}) : everything;
    }
    double large = number_larger(number_absolute(range.from), number_absolute(range.to));
    if (large > 0x1p1000)
        return everything; /* b - a may overflow, which becomes 0 */
    return (Range){range.from - large * rounding, range.to + large * rounding};
}

static Range there_and_back_range(Range a) {
    if (within_unit(a))
        return unit_range;
    if (isinf(a.from) || isinf(a.to))
        return everything;
    Range range = hull((Range){2.0 * a.from, 2.0 * a.from}, (Range){2.0 * a.to, 2.0 * a.to});
    range = hull(range, (Range){2.0 - 2.0 * a.to, 2.0 - 2.0 * a.from});
    return finite_range(range.from, range.to);
}

static Range of(const Graph *graph, Value value) {
    const GraphNode *node = graph_node(graph, value);
    return (Range){node->from, node->to};
}

static Range ramp_range(const Graph *graph, const GraphNode *node) {
    const GraphRamp *ramp = &graph->ramps[node->k];
    Range range = of(graph, ramp->stops[0].value);
    for (uint32_t i = 1; i < ramp->count; i++) {
        Range next = of(graph, ramp->stops[i].value);
        if (!ramp->bars && ramp->stops[i - 1].easing != EASING_NONE)
            return everything;
        range = ramp->bars ? hull(range, next)
                           : hull(range, between_range(of(graph, ramp->stops[i - 1].value), next));
    }
    return range;
}

static Range field_range(Field field) {
    switch (field) {
    case FIELD_PIXEL:
        return (Range){0.0, LIMIT_PIXELS - 1};
    case FIELD_POS:
    case FIELD_ANGLE:
        return unit_range;
    case FIELD_RADIUS:
        return (Range){0.0, place_range.to};
    default:
        return place_range;
    }
}

static Range input_range(Input input) {
    switch (input) {
    case INPUT_HOUR:
        return (Range){0.0, 24.0};
    case INPUT_MOONLIT:
    case INPUT_MOONAGE:
        return unit_range;
    case INPUT_SUNHEIGHT:
        return (Range){-0.5, 0.5};
    case INPUT_PIXELS:
        return (Range){0.0, LIMIT_PIXELS};
    case INPUT_T:
        return (Range){-LIMIT_MICROSECONDS, LIMIT_MICROSECONDS};
    default:
        return everything;
    }
}

static Range leaf_range(const GraphNode *node) {
    switch ((Operation)node->operation) {
    case OP_INPUT:
        return input_range((Input)node->k);
    case OP_FIELD:
        return field_range((Field)node->k);
    case OP_WITHIN:
        return unit_range;
    default:
        return (Range){node->from, node->to};
    }
}

static Range one_operand_range(Operation operation, Range a) {
    switch (operation) {
    case OP_NEGATE:
        return (Range){-a.to, -a.from};
    case OP_NOT:
        return (Range){1.0 - a.to, 1.0 - a.from};
    case OP_ABSOLUTE:
        return absolute_range(a);
    case OP_FLOOR:
    case OP_CEILING:
    case OP_ROUND:
        return rounded_range(operation, a);
    case OP_MICROSECONDS:
        return microseconds_range(a);
    case OP_UNIT:
        return (Range){number_smaller(number_larger(a.from, 0.0), 1.0),
                       number_smaller(number_larger(a.to, 0.0), 1.0)};
    case OP_SQUARE_ROOT:
        return (Range){root(a.from), root(a.to)};
    case OP_SINE:
    case OP_COSINE:
        return (Range){-1.0, 1.0};
    case OP_THERE_AND_BACK:
        return there_and_back_range(a);
    case OP_HASH1:
        return (Range){0.0, 1.0 - 0x1p-24};
    case OP_NOISE1:
        return unit_range;
    default:
        return everything;
    }
}

/* The remainder has the sign of the divisor and is never the divisor itself. */
static Range remainder_range(Range b) {
    return (Range){b.from < 0.0 ? towards_zero(b.from) : 0.0,
                   b.to > 0.0 ? towards_zero(b.to) : 0.0};
}

/* floor(a / b), 0 where b <= 0 */
static Range step_range(Range a, Range b) {
    if (b.to <= 0.0)
        return (Range){0.0, 0.0};
    if (b.from > 0.0)
        return rounded_range(OP_FLOOR, quotient_range(a, b));
    return (Range){a.from >= 0.0 ? 0.0 : -INFINITY, a.to <= 0.0 ? 0.0 : INFINITY};
}

static Range two_operand_range(Operation operation, Range a, Range b) {
    switch (operation) {
    case OP_ADD:
        return finite_range(a.from + b.from, a.to + b.to);
    case OP_SUBTRACT:
        return finite_range(a.from - b.to, a.to - b.from);
    case OP_MULTIPLY:
    case OP_AND:
        return product_range(a, b);
    case OP_DIVIDE:
        return quotient_range(a, b);
    case OP_MINIMUM:
        return (Range){number_smaller(a.from, b.from), number_smaller(a.to, b.to)};
    case OP_MAXIMUM:
    case OP_OR:
        return (Range){number_larger(a.from, b.from), number_larger(a.to, b.to)};
    case OP_MODULO:
        return remainder_range(b);
    case OP_APART:
        return (Range){0.0, 0.5};
    case OP_POWER:
        return (Range){0.0, INFINITY};
    case OP_ARC_TANGENT:
        return (Range){-0.5, 0.5};
    case OP_LESS:
    case OP_LESS_EQUAL:
    case OP_EQUAL:
    case OP_OVER:
    case OP_NOISE2:
        return unit_range;
    case OP_PHASE:
        return (Range){0.0, 1.0 - 0x1p-53};
    case OP_TICK:
        return step_range(a, b);
    case OP_HASH2:
        return (Range){0.0, 1.0 - 0x1p-24};
    default:
        return everything;
    }
}

static Range operation_range(const Graph *graph, const GraphNode *node) {
    const Value *operand = node->operand;
    switch ((Operation)node->operation) {
    case OP_LERP:
        return within_unit(of(graph, operand[2]))
                   ? between_range(of(graph, operand[0]), of(graph, operand[1]))
                   : everything;
    case OP_SELECT:
        return hull(of(graph, operand[1]), of(graph, operand[2]));
    case OP_HASH3:
    case OP_HASH4:
        return (Range){0.0, 1.0 - 0x1p-24};
    case OP_NOISE3:
        return unit_range;
    case OP_RAMP_NUMBER:
        return ramp_range(graph, node);
    default:
        if (!operand[0])
            return leaf_range(node);
        if (!operand[1])
            return one_operand_range(node->operation, of(graph, operand[0]));
        return two_operand_range(node->operation, of(graph, operand[0]), of(graph, operand[1]));
    }
}

/* -------- whole numbers -------- */

static bool all_whole(const Graph *graph, const GraphNode *node, int first) {
    for (int i = first; i < OPERANDS_MAX && node->operand[i]; i++) {
        if (!graph_node(graph, node->operand[i])->whole)
            return false;
    }
    return true;
}

/* So small that whole numbers, and twice as much, are exact. */
static bool is_exact(Range range) {
    return range.from >= -LIMIT_MICROSECONDS / 4.0 && range.to <= LIMIT_MICROSECONDS / 4.0;
}

static bool is_whole(const Graph *graph, const GraphNode *node) {
    switch ((Operation)node->operation) {
    case OP_FLOOR:
    case OP_CEILING:
    case OP_ROUND:
    case OP_MICROSECONDS:
    case OP_TICK:
    case OP_LESS:
    case OP_LESS_EQUAL:
    case OP_EQUAL:
    case OP_WITHIN:
        return true;
    case OP_FIELD:
        return node->k == FIELD_PIXEL;
    case OP_INPUT:
        return node->k == INPUT_PIXELS;
    case OP_ADD:
    case OP_SUBTRACT:
    case OP_MULTIPLY:
    case OP_AND:
    case OP_OR:
    case OP_NOT:
    case OP_NEGATE:
    case OP_ABSOLUTE:
    case OP_MINIMUM:
    case OP_MAXIMUM:
    case OP_UNIT:
        return all_whole(graph, node, 0);
    case OP_MODULO: /* beyond, quotients are rounded and the remainder with them */
        return all_whole(graph, node, 0) && is_exact(of(graph, node->operand[0])) &&
               is_exact(of(graph, node->operand[1]));
    case OP_SELECT:
        return all_whole(graph, node, 1);
    default:
        return false;
    }
}

/* -------- the sign of zero -------- */

/* Neither below 0 nor -0. */
static bool is_positive(const GraphNode *node) {
    return node->from >= 0.0 && !node->minus_zero;
}

static bool may_be_minus_zero(const Graph *graph, const GraphNode *node) {
    const GraphNode *a = graph_node(graph, node->operand[0]);
    const GraphNode *b = graph_node(graph, node->operand[1]);
    const GraphNode *c = graph_node(graph, node->operand[2]);
    switch ((Operation)node->operation) {
    case OP_ADD:
        return a->minus_zero && b->minus_zero; /* x + -x is +0 */
    case OP_SUBTRACT:
    case OP_THERE_AND_BACK:
        return a->minus_zero;
    case OP_MULTIPLY:
    case OP_AND:
    case OP_DIVIDE:
        return !is_positive(a) || !is_positive(b);
    case OP_MINIMUM:
    case OP_MAXIMUM:
    case OP_OR:
    case OP_LERP:
        return a->minus_zero || b->minus_zero;
    case OP_SELECT:
        return b->minus_zero || c->minus_zero;
    case OP_FLOOR:
    case OP_CEILING:
    case OP_ROUND:
    case OP_TICK:
        return !is_positive(a);
    case OP_ABSOLUTE:
    case OP_SQUARE_ROOT:
    case OP_MICROSECONDS:
    case OP_MODULO:
    case OP_APART:
    case OP_PHASE:
    case OP_NOT:
    case OP_UNIT:
    case OP_LESS:
    case OP_LESS_EQUAL:
    case OP_EQUAL:
    case OP_OVER:
    case OP_HASH1:
    case OP_HASH2:
    case OP_HASH3:
    case OP_HASH4:
    case OP_WITHIN:
        return false;
    case OP_FIELD:
        return node->k != FIELD_PIXEL && node->k != FIELD_POS;
    case OP_INPUT:
        return node->k != INPUT_PIXELS;
    default:
        return true;
    }
}

/* Whether some channel of a colour may be -0 or below 0. */
static bool may_be_dark(const Graph *graph, const GraphNode *node) {
    const GraphNode *a = graph_node(graph, node->operand[0]);
    const GraphNode *b = graph_node(graph, node->operand[1]);
    const GraphNode *c = graph_node(graph, node->operand[2]);
    switch ((Operation)node->operation) {
    case OP_COLOUR_ADD:
    case OP_COLOUR_MULTIPLY:
        return a->minus_zero || b->minus_zero;
    case OP_COLOUR_SCALE:
    case OP_COLOUR_DIVIDE:
        return a->minus_zero || !is_positive(b);
    case OP_COLOUR_SELECT:
        return b->minus_zero || c->minus_zero;
    case OP_COLOUR_MIX: /* between two numbers that are not below 0 */
        return a->minus_zero || b->minus_zero || c->from < 0.0 || c->to > 1.0;
    case OP_LAYER_SCREEN:
    case OP_LAYER_MULTIPLY:
    case OP_LAYER_LIGHTEN:
    case OP_LAYER_DARKEN:
    case OP_COLOUR_RGB:
        return false;
    default:
        return true;
    }
}

void graph_describe_range(const Graph *graph, GraphNode *node) {
    if (node->colour) {
        node->from = -INFINITY;
        node->to = INFINITY;
        node->minus_zero = may_be_dark(graph, node);
        return;
    }
    Range range = operation_range(graph, node);
    node->from = range.from;
    node->to = range.to;
    node->whole = is_whole(graph, node);
    node->minus_zero = range.from <= 0.0 && range.to >= 0.0 && may_be_minus_zero(graph, node);
}
