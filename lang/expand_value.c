/* The meaning of every form of an expression but names, calls and ramps: types, units, values. */
#include "lang/expand_private.h"

#include <math.h>

static bool is_unit(Type type) {
    return type == TYPE_NUMBER || type == TYPE_DURATION || type == TYPE_ANGLE;
}

/* A result that is a duration is a whole number of microseconds. */
static Value whole_duration(const Context *in, Type type, Value value) {
    return type == TYPE_DURATION ? expand_operation(in, OP_MICROSECONDS, value, 0, 0) : value;
}

/* -------- literals -------- */

static Typed expand_hole(const Context *in, const Node *node) {
    (void)node;
    in->expander->failed = true;
    return NOTHING;
}

static Typed expand_literal(const Context *in, const Node *node) {
    double number = node->number;
    Type type = TYPE_NUMBER;
    switch (node->kind) {
    case NODE_DURATION:
        type = TYPE_DURATION;
        break;
    case NODE_ANGLE:
        type = TYPE_ANGLE;
        break;
    case NODE_TRUTH:
        type = TYPE_TRUTH;
        break;
    case NODE_CLOCK:
        number /= 3600.0;
        break;
    default:
        break;
    }
    return expand_step(in, type, expand_number(in, number));
}

static Typed expand_hex(const Context *in, const Node *node) {
    uint32_t rgb = (uint32_t)node->number;
    return expand_rgb(in, rgb >> 16 & 255u, rgb >> 8 & 255u, rgb & 255u);
}

static Typed expand_parens(const Context *in, const Node *node) {
    return expand(in, node->a);
}

/* -------- one operand -------- */

static Typed expand_negate(const Context *in, const Node *node) {
    Typed a = expand(in, node->a);
    if (a.type == TYPE_NONE)
        return NOTHING;
    if (is_unit(a.type))
        return expand_typed(in, a.type, expand_operation(in, OP_NEGATE, a.value, 0, 0), a);
    if (a.type == TYPE_COLOUR)
        expand_error(in, "sign-of-colour", node, NULL,
                     expand_print(in, "`black - %s`", expand_operand(in, node->a)),
                     "a colour has no sign");
    else
        expand_error(in, "sign-of-truth", node, NULL,
                     expand_print(in, "`not %s`", expand_operand(in, node->a)),
                     "a truth has no sign");
    return NOTHING;
}

static const char *truth_hint(const Context *in, const Node *node, Type type) {
    switch (type) {
    case TYPE_NUMBER:
        return expand_print(in, "`%s > 0`", expand_operand(in, node));
    case TYPE_DURATION:
        return expand_print(in, "`%s > 0s`", expand_operand(in, node));
    case TYPE_ANGLE:
        return expand_print(in, "`%s > 0deg`", expand_operand(in, node));
    default:
        return NULL;
    }
}

static bool is_truth(const Context *in, const Node *node, Typed typed, const char *word) {
    if (typed.type == TYPE_TRUTH)
        return true;
    if (typed.type != TYPE_NONE)
        expand_error(in, "needs-truth", node, NULL, truth_hint(in, node, typed.type),
                     "`%s` needs a truth, this is %s", word, type_name(typed.type));
    return false;
}

static Typed expand_not(const Context *in, const Node *node) {
    Typed a = expand(in, node->a);
    if (!is_truth(in, node->a, a, "not"))
        return NOTHING;
    return expand_step(in, TYPE_TRUTH, expand_operation(in, OP_NOT, a.value, 0, 0));
}

/* -------- sums -------- */

static bool is_kelvin(const Node *node) {
    return expand_bare(node)->kind == NODE_KELVIN;
}

static bool is_literal(const Node *node) {
    node = expand_bare(node);
    return node->kind == NODE_NUMBER || node->kind == NODE_PERCENT;
}

static const char *sum_hint(const Context *in, const Node *node, Type a, Type b) {
    const Node *bare = expand_bare(b == TYPE_NUMBER ? node->b : node->a);
    Type other = b == TYPE_NUMBER ? a : b;
    if (a == TYPE_COLOUR || b == TYPE_COLOUR) {
        bool less = node->word == BINARY_SUBTRACT && b == TYPE_NUMBER && is_literal(bare) &&
                    bare->number > 0.0 && bare->number < 1.0;
        if (less)
            return expand_print(in, "`%s * %.15g%%`", expand_operand(in, node->a),
                                (1.0 - bare->number) * 100.0);
        if ((a == TYPE_NUMBER || b == TYPE_NUMBER) && other == TYPE_COLOUR)
            return expand_print(in, "`white * %s` is a light, too", expand_operand(in, bare));
        return NULL;
    }
    if (bare->kind != NODE_NUMBER || (a != TYPE_NUMBER && b != TYPE_NUMBER))
        return NULL;
    if (other == TYPE_DURATION)
        return expand_print(in, "`%ss`", expand_source(in, bare));
    if (other == TYPE_ANGLE)
        return expand_print(in, "`%sdeg`", expand_source(in, bare));
    return NULL;
}

static void cannot_add(const Context *in, const Node *node, Type a, Type b) {
    const char *left = expand_source(in, node->a), *right = expand_source(in, node->b);
    const char *hint = sum_hint(in, node, a, b);
    if (a == TYPE_TRUTH || b == TYPE_TRUTH)
        hint = expand_print(in, "`if %s then 1 else 0`", a == TYPE_TRUTH ? left : right);
    if (node->word == BINARY_ADD)
        expand_error(in, "cannot-add", node->a, node->b, hint, "cannot add %s (`%s`) and %s (`%s`)",
                     type_name(a), left, type_name(b), right);
    else
        expand_error(in, "cannot-subtract", node->a, node->b, hint,
                     "cannot subtract %s (`%s`) from %s (`%s`)", type_name(b), right, type_name(a),
                     left);
}

/* 2000K + 700K: most likely 2700K is meant. */
static const char *kelvin_hint(const Context *in, const Node *node) {
    const Node *a = expand_bare(node->a), *b = expand_bare(node->b);
    const char *left = expand_source(in, a), *right = expand_source(in, b);
    if (a->kind == NODE_KELVIN && b->kind == NODE_KELVIN && b->number < 1000.0) {
        double change = node->word == BINARY_ADD ? b->number : -b->number;
        right = expand_print(in, "%.15gK", a->number + change);
    }
    return expand_print(in, "for a warmth between: `%s -> %s along 0.5`", left, right);
}

static Typed no_sum_of_kelvin(const Context *in, const Node *node) {
    bool add = node->word == BINARY_ADD;
    expand_error(in, "kelvin-sum", node, NULL, kelvin_hint(in, node), "%s",
                 add ? "this adds two lights" : "this takes one light from another");
    return NOTHING;
}

static Typed sum_of_colours(const Context *in, const Node *node, Typed a, Typed b) {
    if (is_kelvin(node->a) || is_kelvin(node->b))
        return no_sum_of_kelvin(in, node);
    Operation operation = node->word == BINARY_ADD ? OP_COLOUR_ADD : OP_COLOUR_SUBTRACT;
    return expand_typed(in, TYPE_COLOUR, expand_operation(in, operation, a.value, b.value, 0),
                        expand_either(a, b));
}

static Typed expand_sum(const Context *in, const Node *node) {
    if (is_kelvin(node->a) && is_kelvin(node->b))
        return no_sum_of_kelvin(in, node);
    Typed a = expand(in, node->a), b = expand(in, node->b);
    if (a.type == TYPE_NONE || b.type == TYPE_NONE)
        return NOTHING;
    if (a.type != b.type || a.type == TYPE_TRUTH) {
        cannot_add(in, node, a.type, b.type);
        return NOTHING;
    }
    if (a.type == TYPE_COLOUR)
        return sum_of_colours(in, node, a, b);
    Operation operation = node->word == BINARY_ADD ? OP_ADD : OP_SUBTRACT;
    Value value = expand_operation(in, operation, a.value, b.value, 0);
    return expand_typed(in, a.type, whole_duration(in, a.type, value), expand_either(a, b));
}

/* -------- products -------- */

static void cannot_multiply(const Context *in, const Node *node, Type a, Type b) {
    const char *left = expand_operand(in, node->a), *right = expand_operand(in, node->b);
    const char *hint = NULL;
    if (a == TYPE_TRUTH || b == TYPE_TRUTH) {
        const Node *truth = a == TYPE_TRUTH ? node->a : node->b;
        const Node *other = a == TYPE_TRUTH ? node->b : node->a;
        const char *nothing = (a == TYPE_COLOUR || b == TYPE_COLOUR) ? "black" : "0";
        hint = expand_print(in, "`if %s then %s else %s`", expand_source(in, truth),
                            expand_source(in, other), nothing);
    } else if (a == TYPE_DURATION && b == TYPE_DURATION)
        hint = expand_print(in, "`%s * (%s / 1s)`", left, right);
    else if (a == TYPE_ANGLE && b == TYPE_ANGLE)
        hint = expand_print(in, "`%s * (%s / 1turn)`", left, right);
    else if (a == TYPE_COLOUR || b == TYPE_COLOUR)
        hint = expand_print(in, "`%s * (%s / %s)`", a == TYPE_COLOUR ? left : right,
                            a == TYPE_COLOUR ? right : left,
                            (a == TYPE_DURATION || b == TYPE_DURATION) ? "1s" : "1turn");
    else if (a == TYPE_DURATION)
        hint = expand_print(in, "`%s / 1s * %s`", left, right);
    else
        hint = expand_print(in, "`%s / 1s * %s`", right, left);
    expand_error(in, "cannot-multiply", node->a, node->b, hint,
                 "cannot multiply %s (`%s`) and %s (`%s`)", type_name(a),
                 expand_source(in, node->a), type_name(b), expand_source(in, node->b));
}

bool expand_phase_races(const Context *in, const Node *node, Typed running, Typed other) {
    if (!running.runs)
        return false;
    if (graph_rate(in->expander->graph, other.value).when != WHEN_MOVING) {
        hint_phase(in, node, other);
        return false;
    }
    expand_error(in, "phase-races", node, NULL,
                 "the length of a driver or of `tick`, which does not move: `every 4s`",
                 "`t` may not be stretched by something that moves: phases would race");
    return true;
}

static Typed product_with_colour(const Context *in, const Node *node, Typed a, Typed b) {
    Value value;
    if (a.type == TYPE_COLOUR && b.type == TYPE_COLOUR)
        value = expand_operation(in, OP_COLOUR_MULTIPLY, a.value, b.value, 0);
    else if (a.type == TYPE_COLOUR)
        value = expand_operation(in, OP_COLOUR_SCALE, a.value, b.value, 0);
    else
        value = expand_operation(in, OP_COLOUR_SCALE, b.value, a.value, 0);
    hint_level(in, node, a.type == TYPE_COLOUR ? a.value : b.value);
    return expand_typed(in, TYPE_COLOUR, value, expand_either(a, b));
}

static Typed expand_product(const Context *in, const Node *node) {
    Typed a = expand(in, node->a), b = expand(in, node->b);
    if (a.type == TYPE_NONE || b.type == TYPE_NONE)
        return NOTHING;
    bool colour = a.type == TYPE_COLOUR || b.type == TYPE_COLOUR;
    bool number = a.type == TYPE_NUMBER || b.type == TYPE_NUMBER;
    bool truth = a.type == TYPE_TRUTH || b.type == TYPE_TRUTH;
    if (truth || (!number && !(a.type == TYPE_COLOUR && b.type == TYPE_COLOUR))) {
        cannot_multiply(in, node, a.type, b.type);
        return NOTHING;
    }
    if (colour)
        return product_with_colour(in, node, a, b);
    if (expand_phase_races(in, node, a, b) || expand_phase_races(in, node, b, a))
        return NOTHING;
    Type type = a.type == TYPE_NUMBER ? b.type : a.type;
    Value value = expand_operation(in, OP_MULTIPLY, a.value, b.value, 0);
    return expand_typed(in, type, whole_duration(in, type, value), expand_either(a, b));
}

static void cannot_divide(const Context *in, const Node *node, Type a, Type b) {
    const char *left = expand_operand(in, node->a), *right = expand_operand(in, node->b);
    const char *hint = NULL;
    if (b == TYPE_DURATION && (a == TYPE_NUMBER || a == TYPE_COLOUR))
        hint = expand_print(in, "`%s / (%s / 1s)`", left, right);
    else if (b == TYPE_ANGLE && (a == TYPE_NUMBER || a == TYPE_COLOUR))
        hint = expand_print(in, "`%s / (%s / 1turn)`", left, right);
    else if (a == TYPE_DURATION && b == TYPE_ANGLE)
        hint = expand_print(in, "`%s / (%s / 1turn)`", left, right);
    else if (a == TYPE_ANGLE && b == TYPE_DURATION)
        hint = expand_print(in, "`%s / (%s / 1s)`", left, right);
    expand_error(in, "cannot-divide", node->a, node->b, hint,
                 "cannot divide %s (`%s`) by %s (`%s`)", type_name(a), expand_source(in, node->a),
                 type_name(b), expand_source(in, node->b));
}

static Typed expand_quotient(const Context *in, const Node *node) {
    Typed a = expand(in, node->a), b = expand(in, node->b);
    if (a.type == TYPE_NONE || b.type == TYPE_NONE)
        return NOTHING;
    bool same = a.type == b.type && is_unit(a.type);
    bool by_number = b.type == TYPE_NUMBER && a.type != TYPE_TRUTH;
    if (!same && !by_number) {
        cannot_divide(in, node, a.type, b.type);
        return NOTHING;
    }
    double divisor;
    if (graph_constant_number(in->expander->graph, b.value, &divisor) && divisor == 0.0) {
        expand_error(in, "divided-by-zero", node, node->b, NULL, "this divides by 0");
        return NOTHING;
    }
    Typed like = expand_either(a, b);
    if (a.type == TYPE_COLOUR)
        return expand_typed(in, TYPE_COLOUR,
                            expand_operation(in, OP_COLOUR_DIVIDE, a.value, b.value, 0), like);
    if (expand_phase_races(in, node, a, b))
        return NOTHING;
    Type type = same ? TYPE_NUMBER : a.type;
    Value value = expand_operation(in, OP_DIVIDE, a.value, b.value, 0);
    like.runs = a.runs;
    return expand_typed(in, type, whole_duration(in, type, value), like);
}

/* -------- comparisons and truths -------- */

static void cannot_compare(const Context *in, const Node *node, Type a, Type b) {
    if (a == b && a == TYPE_COLOUR) {
        expand_error(in, "cannot-compare", node, NULL, NULL, "colours cannot be compared");
        return;
    }
    if (a == b) {
        expand_error(in, "cannot-compare", node, NULL, "`==`, `!=`, `and`, `or`, `not`",
                     "truths have no order");
        return;
    }
    const char *hint = NULL;
    const Node *number = a == TYPE_NUMBER ? node->a : node->b;
    Type other = a == TYPE_NUMBER ? b : a;
    if ((a == TYPE_NUMBER || b == TYPE_NUMBER) && expand_bare(number)->kind == NODE_NUMBER) {
        if (other == TYPE_DURATION)
            hint = expand_print(in, "`%ss`", expand_source(in, number));
        else if (other == TYPE_ANGLE)
            hint = expand_print(in, "`%sdeg`", expand_source(in, number));
    }
    expand_error(in, "cannot-compare", node->a, node->b, hint,
                 "cannot compare %s (`%s`) and %s (`%s`)", type_name(a), expand_source(in, node->a),
                 type_name(b), expand_source(in, node->b));
}

static Typed expand_equal(const Context *in, const Node *node) {
    Typed a = expand(in, node->a), b = expand(in, node->b);
    if (a.type == TYPE_NONE || b.type == TYPE_NONE)
        return NOTHING;
    if (a.type != b.type || a.type == TYPE_COLOUR) {
        cannot_compare(in, node, a.type, b.type);
        return NOTHING;
    }
    hint_reach(in, node, a, b);
    hint_equal(in, node, a, b);
    Value value = expand_operation(in, OP_EQUAL, a.value, b.value, 0);
    if (node->word == BINARY_NOT_EQUAL)
        value = expand_operation(in, OP_NOT, value, 0, 0);
    return expand_step(in, TYPE_TRUTH, value);
}

static Typed expand_order(const Context *in, const Node *node) {
    Typed a = expand(in, node->a), b = expand(in, node->b);
    if (a.type == TYPE_NONE || b.type == TYPE_NONE)
        return NOTHING;
    if (a.type != b.type || !is_unit(a.type)) {
        cannot_compare(in, node, a.type, b.type);
        return NOTHING;
    }
    hint_reach(in, node, a, b);
    bool turned = node->word == BINARY_GREATER || node->word == BINARY_GREATER_EQUAL;
    bool strict = node->word == BINARY_LESS || node->word == BINARY_GREATER;
    return expand_step(in, TYPE_TRUTH,
                       expand_operation(in, strict ? OP_LESS : OP_LESS_EQUAL,
                                        turned ? b.value : a.value, turned ? a.value : b.value, 0));
}

static Typed expand_logic(const Context *in, const Node *node) {
    bool both = node->word == BINARY_AND;
    Typed a = expand(in, node->a), b = expand(in, node->b);
    bool fine = is_truth(in, node->a, a, both ? "and" : "or");
    if (!is_truth(in, node->b, b, both ? "and" : "or") || !fine)
        return NOTHING;
    return expand_step(in, TYPE_TRUTH,
                       expand_operation(in, both ? OP_AND : OP_OR, a.value, b.value, 0));
}

static Typed expand_binary(const Context *in, const Node *node) {
    switch ((Binary)node->word) {
    case BINARY_ADD:
    case BINARY_SUBTRACT:
        return expand_sum(in, node);
    case BINARY_MULTIPLY:
        return expand_product(in, node);
    case BINARY_DIVIDE:
        return expand_quotient(in, node);
    case BINARY_EQUAL:
    case BINARY_NOT_EQUAL:
        return expand_equal(in, node);
    case BINARY_LESS:
    case BINARY_LESS_EQUAL:
    case BINARY_GREATER:
    case BINARY_GREATER_EQUAL:
        return expand_order(in, node);
    case BINARY_AND:
    case BINARY_OR:
        return expand_logic(in, node);
    }
    return NOTHING;
}

/* -------- if -------- */

static Typed expand_if(const Context *in, const Node *node) {
    Typed condition = expand(in, node->a);
    Typed a = expand(in, node->b), b = expand(in, node->c);
    if (!is_truth(in, node->a, condition, "if") || a.type == TYPE_NONE || b.type == TYPE_NONE)
        return NOTHING;
    if (a.type != b.type) {
        expand_error(in, "if-of-two-types", node->b, node->c, NULL,
                     "`then` gives %s (`%s`), `else` gives %s (`%s`): both must be of one type",
                     type_name(a.type), expand_source(in, node->b), type_name(b.type),
                     expand_source(in, node->c));
        return NOTHING;
    }
    Operation operation = a.type == TYPE_COLOUR ? OP_COLOUR_SELECT : OP_SELECT;
    return expand_typed(in, a.type,
                        expand_operation(in, operation, condition.value, a.value, b.value),
                        expand_either(a, b));
}

/* -------- delayed -------- */

Value expand_delayed_clock(const Context *in, const Node *delay) {
    Typed typed = expand_wanted(in, delay, TYPE_DURATION, "`delayed`");
    if (typed.type == TYPE_NONE)
        return 0;
    hint_delay(in, delay);
    double number;
    if (graph_constant_number(in->expander->graph, typed.value, &number) && number == 0.0)
        return in->clock;
    Value clock = expand_operation(in, OP_SUBTRACT, in->clock, typed.value, 0);
    clock = expand_operation(in, OP_MICROSECONDS, clock, 0, 0);
    if (!clock)
        expand_check_trouble(in);
    return clock;
}

static Typed expand_delayed(const Context *in, const Node *node) {
    Value clock = expand_delayed_clock(in, node->b);
    Context inner = *in;
    if (clock)
        inner.clock = clock;
    Typed typed = expand(&inner, node->a); /* looked at also where the delay is wrong */
    return clock ? typed : NOTHING;
}

/* -------- a wanted type -------- */

static const char *wanted_hint(const Context *in, const Node *node, Type type, Type wanted) {
    const char *text = expand_operand(in, node);
    if (wanted == TYPE_DURATION && type == TYPE_NUMBER) {
        if (expand_bare(node)->kind == NODE_NUMBER)
            return expand_print(in, "`%ss` or `%smin`?", text, text);
        return expand_print(in, "`%s * 1s`", text);
    }
    if (wanted == TYPE_DURATION && type == TYPE_ANGLE)
        return expand_print(in, "`%s / 1turn * 1s`", text);
    if (wanted == TYPE_NUMBER && type == TYPE_DURATION)
        return expand_print(in, "`%s / 1s`", text);
    if (wanted == TYPE_NUMBER && type == TYPE_ANGLE)
        return expand_print(in, "`%s / 1turn`", text);
    if (wanted == TYPE_NUMBER && type == TYPE_TRUTH)
        return expand_print(in, "`if %s then 1 else 0`", expand_source(in, node));
    if (wanted == TYPE_ANGLE && type == TYPE_NUMBER)
        return is_literal(node) ? expand_print(in, "`%s * 1turn` or `%sdeg`", text, text)
                                : expand_print(in, "`%s * 1turn`", text);
    if (wanted == TYPE_ANGLE && type == TYPE_DURATION)
        return expand_print(in, "`%s / 4s * 1turn`", text);
    if (wanted == TYPE_TRUTH)
        return truth_hint(in, node, type);
    return NULL;
}

Typed expand_wanted(const Context *in, const Node *node, Type wanted, const char *what) {
    Typed typed = expand(in, node);
    if (typed.type == wanted || typed.type == TYPE_NONE)
        return typed;
    static const char *const codes[] = {
        [TYPE_NONE] = "wrong-type",         [TYPE_NUMBER] = "needs-number",
        [TYPE_DURATION] = "needs-duration", [TYPE_ANGLE] = "needs-angle",
        [TYPE_COLOUR] = "needs-colour",     [TYPE_TRUTH] = "needs-truth",
    };
    expand_error(in, codes[wanted], node, NULL, wanted_hint(in, node, typed.type, wanted),
                 "%s needs %s, this is %s", what, type_name(wanted), type_name(typed.type));
    return NOTHING;
}

/* -------- all kinds -------- */

typedef Typed (*ExpandKind)(const Context *in, const Node *node);

/* Called through pointers, so that no compiler melts them into one function with one large
 * frame: expressions nest, and so do these. */
static const ExpandKind expand_kinds[NODE_KIND_COUNT] = {
    [NODE_HOLE] = expand_hole,       [NODE_NUMBER] = expand_literal,
    [NODE_PERCENT] = expand_literal, [NODE_DURATION] = expand_literal,
    [NODE_ANGLE] = expand_literal,   [NODE_KELVIN] = expand_kelvin,
    [NODE_CLOCK] = expand_literal,   [NODE_COLOUR] = expand_hex,
    [NODE_TRUTH] = expand_literal,   [NODE_NAME] = expand_name,
    [NODE_MEMBER] = expand_name,     [NODE_CALL] = expand_call,
    [NODE_EASE] = expand_ease,       [NODE_PARENS] = expand_parens,
    [NODE_NEGATE] = expand_negate,   [NODE_NOT] = expand_not,
    [NODE_BINARY] = expand_binary,   [NODE_IF] = expand_if,
    [NODE_DELAYED] = expand_delayed, [NODE_RAMP] = expand_ramp,
};

Typed expand(const Context *in, const Node *node) {
    Expander *expander = in->expander;
    if (expander->stopped)
        return NOTHING;
    ExpandKind kind = node && node->kind < NODE_KIND_COUNT ? expand_kinds[node->kind] : NULL;
    if (!kind) {
        expander->failed = true;
        return NOTHING;
    }
    if (!expand_spend(in))
        return NOTHING;
    if (expander->depth >= LIMIT_DEPTH) {
        if (!expand_said(in->expander->sink, "too-deep"))
            expand_error(in, "too-deep", node, NULL, NULL,
                         "more than %d expressions stand within one another here, names followed",
                         (int)LIMIT_DEPTH);
        expander->stopped = expander->failed = true;
        return NOTHING;
    }
    expander->depth++;
    Typed typed = kind(in, node);
    expander->depth--;
    return typed;
}
