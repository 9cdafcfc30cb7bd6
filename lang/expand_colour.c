/* Colours by their numbers: CSS Color 4 meanings, commas between the arguments (rules C2, C3). */
#include "lang/expand_private.h"

#include <math.h>

#include "runtime/core/colour.h"

Typed expand_rgb(const Context *in, double r, double g, double b) {
    return expand_step(in, TYPE_COLOUR,
                       expand_operation(in, OP_COLOUR_RGB, expand_number(in, r),
                                        expand_number(in, g), expand_number(in, b)));
}

Typed expand_kelvin(const Context *in, const Node *node) {
    Colour colour;
    if (node->number < 1000.0 || node->number > 25000.0 ||
        !colour_blackbody(node->number, &colour)) {
        expand_error(
            in, "kelvin-out-of-range", node, NULL, node->number < 1000.0 ? "`1000K`" : "`25000K`",
            "a glowing body is known from 1000K to 25000K, this is `%s`", expand_source(in, node));
        return NOTHING;
    }
    return expand_step(in, TYPE_COLOUR, graph_colour(in->expander->graph, colour));
}

/* One argument of a colour function: what it counts to, and what 100 % of it is. */
typedef struct Channel {
    const char *what;
    double from, to; /* of constants */
    double whole;    /* a literal with % is this times it */
} Channel;

static const Channel *channels_of(FunctionId function) {
    static const Channel rgb[] = {
        {"red", 0, 255, 255}, {"green", 0, 255, 255}, {"blue", 0, 255, 255}};
    static const Channel hsl[] = {
        {"hue", -1e300, 1e300, 1}, {"saturation", 0, 1, 1}, {"lightness", 0, 1, 1}};
    static const Channel hwb[] = {
        {"hue", -1e300, 1e300, 1}, {"whiteness", 0, 1, 1}, {"blackness", 0, 1, 1}};
    static const Channel oklab[] = {
        {"lightness", 0, 1, 1}, {"a", -1e300, 1e300, 0.4}, {"b", -1e300, 1e300, 0.4}};
    static const Channel oklch[] = {
        {"lightness", 0, 1, 1}, {"chroma", 0, 1e300, 0.4}, {"hue", -1e300, 1e300, 1}};
    switch (function) {
    case FUNCTION_RGB:
        return rgb;
    case FUNCTION_HSL:
        return hsl;
    case FUNCTION_HWB:
        return hwb;
    case FUNCTION_OKLAB:
        return oklab;
    default:
        return oklch;
    }
}

static bool is_literal_percent(const Node *node) {
    node = expand_bare(node);
    if (node->kind == NODE_NEGATE)
        node = expand_bare(node->a);
    return node->kind == NODE_PERCENT;
}

static bool is_zero(const Node *node) {
    node = expand_bare(node);
    return (node->kind == NODE_NUMBER || node->kind == NODE_PERCENT) && node->number == 0.0;
}

/* The call again with argument `index` times 255, and the plain light where the others are 0. */
static const char *rgb_hint(const Context *in, const Node *call, uint32_t index) {
    static const char *const lights[] = {"red", "lime", "blue"};
    const char *all = expand_print(in, "%s(", expand_source(in, call->a));
    const char *text = "";
    bool alone = true;
    uint32_t i = 0;
    for (const Node *argument = call->b; argument; argument = argument->next, i++) {
        const char *shown = expand_source(in, argument);
        if (i == index) {
            text = expand_operand(in, argument);
            shown = expand_print(in, "255 * %s", text);
        } else if (!is_zero(argument))
            alone = false;
        all = expand_print(in, "%s%s%s", all, shown, argument->next ? ", " : ")");
    }
    if (alone)
        return expand_print(in, "`%s` or `%s * %s`", all, lights[index], text);
    return expand_print(in, "`%s`", all);
}

/* A value that counts to 1 where 255 is the whole (rule C3). */
static bool counts_to_one(const Context *in, const Node *argument, Value value) {
    double number, from, to;
    if (graph_constant_number(in->expander->graph, value, &number)) {
        const Node *bare = expand_bare(argument);
        const Context *at = in;
        const Node *meant = expand_meant(&at, argument);
        return bare->kind == NODE_NAME && meant->kind == NODE_PERCENT && number > 0.0;
    }
    graph_range(in->expander->graph, value, &from, &to);
    return from >= 0.0 && to <= 1.0;
}

static bool out_of_range(const Context *in, const Node *argument, const Channel *channel,
                         Value value, bool rgb) {
    double number;
    if (!graph_constant_number(in->expander->graph, value, &number) ||
        (number >= channel->from && number <= channel->to))
        return false;
    const char *hint = NULL;
    const Node *bare = expand_bare(argument);
    if (!rgb && bare->kind == NODE_NUMBER && number > 1.0 && number <= 100.0)
        hint = expand_print(in, "`%s%%`", expand_source(in, bare));
    if (rgb)
        hint = number < 0.0 ? "`0`" : "`255`";
    if (channel->to > 1e6)
        expand_error(in, "channel-out-of-range", argument, NULL, hint,
                     "%s is not below 0, this is `%s`", channel->what, expand_source(in, argument));
    else
        expand_error(in, "channel-out-of-range", argument, NULL, hint,
                     "%s counts from 0 to %s, this is `%s`", channel->what, rgb ? "255" : "100%",
                     expand_source(in, argument));
    return true;
}

static bool take_channel(const Context *in, const Node *call, const Node *argument, uint32_t index,
                         FunctionId function, Typed *typed) {
    const Channel *channel = &channels_of(function)[index];
    bool rgb = function == FUNCTION_RGB;
    if (is_literal_percent(argument)) {
        if (channel->whole != 1.0)
            typed->value = expand_operation(in, OP_MULTIPLY, typed->value,
                                            expand_number(in, channel->whole), 0);
    } else if (rgb && counts_to_one(in, argument, typed->value)) {
        expand_error(in, "rgb-of-one", argument, NULL, rgb_hint(in, call, index),
                     "`rgb` counts to 255");
        return false;
    }
    return typed->type == TYPE_ANGLE || !out_of_range(in, argument, channel, typed->value, rgb);
}

/* rgb(1.0, 0.5, 0): each number is in range, and the light is next to none. */
static void hint_small(const Context *in, const Node *call) {
    const char *hint = "`rgb(";
    bool fraction = false;
    for (const Node *argument = call->b; argument; argument = argument->next) {
        const Node *bare = expand_bare(argument);
        if (bare->kind != NODE_NUMBER || bare->number > 1.0)
            return;
        fraction = fraction || bare->number != floor(bare->number);
        hint = expand_print(in, "%s%.15g%%%s", hint, bare->number * 100.0,
                            argument->next ? ", " : ")`");
    }
    if (fraction)
        expand_warn(in, SEVERITY_WARNING, "rgb-nearly-black", call, hint,
                    "`rgb` counts to 255: this is nearly black");
}

Typed expand_colour_call(const Context *in, const Node *call, FunctionId function,
                         Typed *arguments) {
    Typed like = NOTHING;
    bool fine = true;
    uint32_t i = 0;
    for (const Node *argument = call->b; argument; argument = argument->next, i++) {
        fine &= take_channel(in, call, argument, i, function, &arguments[i]);
        like = expand_either(like, arguments[i]);
    }
    if (!fine)
        return NOTHING;
    if (function == FUNCTION_RGB)
        hint_small(in, call);
    Operation operation = OP_COLOUR_RGB;
    switch (function) {
    case FUNCTION_HSL:
        operation = OP_COLOUR_HSL;
        break;
    case FUNCTION_HWB:
        operation = OP_COLOUR_HWB;
        break;
    case FUNCTION_OKLAB:
        operation = OP_COLOUR_OKLAB;
        break;
    case FUNCTION_OKLCH:
        operation = OP_COLOUR_OKLCH;
        break;
    default:
        break;
    }
    return expand_typed(
        in, TYPE_COLOUR,
        expand_operation(in, operation, arguments[0].value, arguments[1].value, arguments[2].value),
        like);
}
