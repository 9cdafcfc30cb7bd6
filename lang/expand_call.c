/* Built-in functions: their arguments by the letters of builtins.def, their values by spec/meaning
 * sections 7 and 8. */
#include "lang/expand_private.h"

#include <string.h>

#include "runtime/core/memory.h"

/* -------- arguments by letter -------- */

static bool letter_takes(char letter, Type type) {
    switch (letter) {
    case 'x':
        return type == TYPE_NUMBER || type == TYPE_TRUTH;
    case 'u':
        return type == TYPE_NUMBER || type == TYPE_DURATION || type == TYPE_ANGLE;
    case 'p':
        return type == TYPE_NUMBER || type == TYPE_ANGLE;
    case 'v':
        return true;
    default:
        return type == expand_type_of(letter);
    }
}

static const char *letter_needs(char letter) {
    switch (letter) {
    case 'x':
        return "numbers or truths";
    case 'u':
        return "numbers, durations or angles";
    case 'p':
        return "numbers or angles";
    default:
        return type_name(expand_type_of(letter));
    }
}

/* The call again with argument `index` written as `text`. */
static const char *call_with(const Context *in, const Node *call, uint32_t index,
                             const char *text) {
    const char *all = expand_print(in, "%s(", expand_source(in, call->a));
    uint32_t i = 0;
    for (const Node *argument = call->b; argument; argument = argument->next, i++)
        all = expand_print(in, "%s%s%s", all, i == index ? text : expand_source(in, argument),
                           argument->next ? ", " : ")");
    return all;
}

/* What would be right for a value of type `type` where `letter` is wanted; NULL: nothing sure. */
static const char *fitting(const Context *in, const Node *argument, char letter, Typed typed,
                           FunctionId function) {
    const char *text = expand_operand(in, argument);
    bool number = letter == 'n' || letter == 'x' || letter == 'p' || letter == 'u';
    if (function == FUNCTION_RANDOM && typed.type == TYPE_DURATION && typed.smooth)
        return "tick(2s)";
    if (number && typed.type == TYPE_DURATION)
        return expand_print(in, "%s / 1s", text);
    if (number && typed.type == TYPE_ANGLE)
        return expand_print(in, "%s / 1turn", text);
    if (number && typed.type == TYPE_TRUTH)
        return expand_print(in, "if %s then 1 else 0", text);
    if (letter == 'a' && typed.type == TYPE_NUMBER) {
        bool hue =
            function == FUNCTION_HSL || function == FUNCTION_HWB || function == FUNCTION_OKLCH;
        if (hue && expand_bare(argument)->kind == NODE_NUMBER)
            return expand_print(in, "%sdeg", text);
        return expand_print(in, "%s * 1turn", text);
    }
    if (letter == 'a' && typed.type == TYPE_DURATION)
        return expand_print(in, "%s / 4s * 1turn", text);
    if (letter == 'd' && typed.type == TYPE_NUMBER)
        return expand_bare(argument)->kind == NODE_NUMBER ? expand_print(in, "%ss", text)
                                                          : expand_print(in, "%s * 1s", text);
    return NULL;
}

static void wrong_argument(const Context *in, const Node *call, const Node *argument,
                           uint32_t index, char letter, Typed typed, FunctionId function) {
    const char *right = fitting(in, argument, letter, typed, function);
    const char *hint = right ? expand_print(in, "`%s`", call_with(in, call, index, right)) : NULL;
    const char *name = function_at(function)->name;
    if (letter == 'a') {
        const char *what = function_at(function)->gives == 'c' ? "a hue is an angle" : NULL;
        if (what)
            expand_error(in, "needs-angle", argument, NULL, hint, "%s, this is %s", what,
                         type_name(typed.type));
        else
            expand_error(in, "needs-angle", argument, NULL, hint, "`%s` needs an angle", name);
        return;
    }
    expand_error(in, "wrong-argument", argument, NULL, hint, "`%s` needs %s, this is %s", name,
                 letter_needs(letter), type_name(typed.type));
}

static void different_arguments(const Context *in, const Node *first, const Node *other, Type a,
                                Type b, const char *name) {
    const Node *number = expand_bare(a == TYPE_NUMBER ? first : other);
    Type unit = a == TYPE_NUMBER ? b : a;
    const char *hint = NULL;
    if ((a == TYPE_NUMBER || b == TYPE_NUMBER) && number->kind == NODE_NUMBER &&
        (unit == TYPE_DURATION || unit == TYPE_ANGLE))
        hint = expand_print(in, "`%s%s`", expand_source(in, number),
                            unit == TYPE_DURATION ? "s" : "deg");
    expand_error(in, "arguments-of-two-types", first, other, hint,
                 "`%s` needs one type, here are %s (`%s`) and %s (`%s`)", name, type_name(a),
                 expand_source(in, first), type_name(b), expand_source(in, other));
}

/* Expands and checks all arguments of a call; false where one is wrong. */
static bool take_arguments(const Context *in, const Node *call, FunctionId id, Typed *arguments) {
    const Function *function = function_at(id);
    const char *letter = function->takes;
    const Node *first = NULL; /* of those that share a type */
    Type shared = TYPE_NONE;
    bool fine = true;
    uint32_t i = 0;
    for (const Node *argument = call->b; argument; argument = argument->next, i++) {
        Typed typed = arguments[i] = expand(in, argument);
        bool shares = *letter == 'u' || *letter == 'p' || *letter == 'v';
        if (typed.type == TYPE_NONE)
            fine = false;
        else if (!letter_takes(*letter, typed.type)) {
            wrong_argument(in, call, argument, i, *letter, typed, id);
            fine = false;
        } else if (shares && first && shared != typed.type) {
            different_arguments(in, first, argument, shared, typed.type, function->name);
            fine = false;
        } else if (shares && !first) {
            first = argument;
            shared = typed.type;
        }
        if (letter[1])
            letter++;
    }
    return fine;
}

static bool right_count(const Context *in, const Node *call, const Function *function,
                        uint32_t count) {
    if (count >= function->least && count <= function->most)
        return true;
    if (function->least == function->most)
        expand_error(in, "wrong-count", call, NULL, NULL, "`%s` takes %u argument%s, here are %u",
                     function->name, function->least, function->least == 1 ? "" : "s",
                     (unsigned)count);
    else
        expand_error(in, "wrong-count", call, NULL, NULL,
                     "`%s` takes %u to %u arguments, here are %u", function->name, function->least,
                     function->most, (unsigned)count);
    return false;
}

/* -------- values -------- */

static Value fold_pairs(const Context *in, Operation operation, const Typed *arguments,
                        uint32_t count) {
    Value value = arguments[0].value;
    for (uint32_t i = 1; i < count; i++)
        value = expand_operation(in, operation, value, arguments[i].value, 0);
    return value;
}

/* max(min(a, b), min(max(a, b), c)) */
static Value middle(const Context *in, const Typed *arguments) {
    Value a = arguments[0].value, b = arguments[1].value, c = arguments[2].value;
    Value low = expand_operation(in, OP_MINIMUM, a, b, 0);
    Value high = expand_operation(in, OP_MAXIMUM, a, b, 0);
    return expand_operation(in, OP_MAXIMUM, low, expand_operation(in, OP_MINIMUM, high, c, 0), 0);
}

static Value hash_of(const Context *in, const Typed *arguments, uint32_t count, Salt salt) {
    static const Operation operations[] = {OP_HASH1, OP_HASH2, OP_HASH3, OP_HASH4};
    Value operand[4] = {0};
    for (uint32_t i = 0; i < count; i++)
        operand[i] = arguments[i].value;
    return graph_operation(in->expander->graph, operations[count - 1], operand[0], operand[1],
                           operand[2], operand[3], (uint16_t)salt);
}

/* values[k] for a k that is one of 0 .. count - 1: a ramp of bars whose places are those. */
static Value choose(const Context *in, Value k, const Typed *values, uint32_t count) {
    Graph *graph = in->expander->graph;
    double constant;
    if (count == 1)
        return values[0].value;
    if (graph_constant_number(graph, k, &constant) && constant >= 0.0 && constant < count)
        return values[(uint32_t)constant].value;
    GraphStop stops[LIMIT_ARGUMENTS];
    for (uint32_t i = 0; i < count; i++)
        stops[i] = (GraphStop){expand_number(in, i), values[i].value, EASING_NONE};
    return graph_ramp(graph, values[0].type == TYPE_COLOUR, true, 0, stops, count, k);
}

static Typed value_of_choice(const Context *in, FunctionId id, const Typed *arguments,
                             uint32_t count) {
    uint32_t values = count - 1;
    Value n = expand_number(in, values), k;
    if (id == FUNCTION_DRAW) {
        k = hash_of(in, arguments, 1, SALT_DRAW);
        k = expand_operation(in, OP_MULTIPLY, k, n, 0);
        k = expand_operation(in, OP_FLOOR, k, 0, 0);
    } else {
        k = expand_operation(in, OP_FLOOR, arguments[0].value, 0, 0);
        k = expand_operation(in, OP_MODULO, k, n, 0);
    }
    Typed like = NOTHING;
    for (uint32_t i = 1; i < count; i++)
        like = expand_either(like, arguments[i]);
    return expand_typed(in, arguments[1].type, choose(in, k, arguments + 1, values), like);
}

static Value value_of_noise(const Context *in, const Typed *arguments, uint32_t count) {
    static const Operation operations[] = {OP_NOISE1, OP_NOISE2, OP_NOISE3};
    return expand_operation(in, operations[count - 1], arguments[0].value,
                            count > 1 ? arguments[1].value : 0, count > 2 ? arguments[2].value : 0);
}

static Typed value_of_tick(const Context *in, const Node *call) {
    if (in->expander->mode == MODE_FIXED) {
        expand_error(in, "not-fixed", call, NULL, NULL,
                     "this must be fixed, but `tick` changes with time");
        return NOTHING;
    }
    Value length = expand_length(in, call->b, "tick");
    if (!length)
        return NOTHING;
    Typed like = {.runs = true};
    return expand_typed(in, TYPE_NUMBER, expand_operation(in, OP_TICK, in->clock, length, 0), like);
}

static Value value_of_one(const Context *in, FunctionId id, Value a, Value b) {
    switch (id) {
    case FUNCTION_ABS:
        return expand_operation(in, OP_ABSOLUTE, a, 0, 0);
    case FUNCTION_FLOOR:
        return expand_operation(in, OP_FLOOR, a, 0, 0);
    case FUNCTION_CEIL:
        return expand_operation(in, OP_CEILING, a, 0, 0);
    case FUNCTION_ROUND:
        return expand_operation(in, OP_ROUND, a, 0, 0);
    case FUNCTION_FRACT:
        return expand_operation(in, OP_MODULO, a, expand_number(in, 1.0), 0);
    case FUNCTION_MOD:
        return expand_operation(in, OP_MODULO, a, b, 0);
    case FUNCTION_SQRT:
        return expand_operation(in, OP_SQUARE_ROOT, a, 0, 0);
    case FUNCTION_POW:
        return expand_operation(in, OP_POWER, a, b, 0);
    case FUNCTION_SIN:
        return expand_operation(in, OP_SINE, a, 0, 0);
    case FUNCTION_COS:
        return expand_operation(in, OP_COSINE, a, 0, 0);
    case FUNCTION_TAN:
        return expand_operation(in, OP_TANGENT, a, 0, 0);
    case FUNCTION_ATAN2:
        return expand_operation(in, OP_ARC_TANGENT, a, b, 0);
    case FUNCTION_APART:
        return expand_operation(in, OP_APART, a, b, 0);
    default:
        return 0;
    }
}

/* Functions whose value is made of all their arguments alike. */
static Typed value_of_call(const Context *in, const Node *call, FunctionId id,
                           const Typed *arguments, uint32_t count) {
    Typed like = NOTHING;
    for (uint32_t i = 0; i < count; i++)
        like = expand_either(like, arguments[i]);
    if (id == FUNCTION_MOD && expand_phase_races(in, call, arguments[0], arguments[1]))
        return NOTHING;
    Value value;
    switch (id) {
    case FUNCTION_MIN:
        value = fold_pairs(in, OP_MINIMUM, arguments, count);
        break;
    case FUNCTION_MAX:
        value = fold_pairs(in, OP_MAXIMUM, arguments, count);
        break;
    case FUNCTION_CLAMP:
        value = middle(in, arguments);
        break;
    case FUNCTION_RANDOM:
        value = hash_of(in, arguments, count, SALT_RANDOM);
        break;
    case FUNCTION_NOISE:
        value = value_of_noise(in, arguments, count);
        break;
    default:
        value = value_of_one(in, id, arguments[0].value, count > 1 ? arguments[1].value : 0);
        break;
    }
    bool whole = id == FUNCTION_FLOOR || id == FUNCTION_CEIL || id == FUNCTION_ROUND;
    bool steps = whole || id == FUNCTION_RANDOM;
    like.runs = like.runs && (whole || id == FUNCTION_ABS || id == FUNCTION_MAX);
    like.smooth = like.smooth && !steps;
    if (id == FUNCTION_RANDOM || id == FUNCTION_NOISE || id == FUNCTION_DRAW)
        hint_chance(in, call, function_at(id)->name, arguments, count);
    char gives = function_at(id)->gives;
    Type type = gives == 'u' || gives == 'p' ? arguments[0].type : expand_type_of(gives);
    if (type == TYPE_DURATION && value)
        value = expand_operation(in, OP_MICROSECONDS, value, 0, 0);
    return expand_typed(in, type, value, like);
}

/* -------- within -------- */

static bool add_group(const Context *in, const char *name, uint16_t *index) {
    ExpandProgram *program = in->expander->program;
    for (uint16_t i = 0; i < program->group_count; i++)
        if (strcmp(program->groups[i], name) == 0) {
            *index = i;
            return true;
        }
    if (program->group_count >= LIMIT_GROUPS) {
        expand_too_large(in, "names of groups", LIMIT_GROUPS);
        return false;
    }
    char **groups =
        memory_resize(program->groups, program->group_count + 1u, sizeof program->groups[0]);
    if (groups)
        program->groups = groups;
    char *copy = groups ? memory_copy_text(name, strlen(name)) : NULL;
    if (!copy) {
        in->expander->stopped = in->expander->failed = in->expander->no_memory = true;
        return false;
    }
    *index = program->group_count;
    program->groups[program->group_count++] = copy;
    return true;
}

static bool lamp_has(const Node *lamp, const char *name) {
    for (const Node *property = lamp->b; property; property = property->next)
        if ((property->word == PROPERTY_PART || property->word == PROPERTY_GROUP) && property->a &&
            property->a->text && strcmp(property->a->text, name) == 0)
            return true;
    return false;
}

/* A note where lamps are declared and none of them has a part or group of that name (rule N11). */
static void note_absent(const Context *in, const Node *name) {
    const Module *file = in->expander->program->modules->modules[0];
    uint32_t lamps = 0;
    for (uint32_t i = 0; i < file->symbol_count; i++) {
        if (file->symbols[i].kind != SYMBOL_LAMP)
            continue;
        if (lamp_has(file->symbols[i].node, name->text))
            return;
        lamps++;
    }
    if (lamps)
        expand_warn(in, SEVERITY_NOTE, "within-nothing", name,
                    expand_print(in, "`group %s 0..3` in the lamp", name->text),
                    "no lamp here has a part or group named `%s`: this is false", name->text);
}

static Typed expand_within(const Context *in, const Node *call) {
    const Node *name = call->b;
    if (name->kind != NODE_NAME) {
        expand_error(in, "within-needs-name", name, NULL, "`within(block_a)`",
                     "`within` needs the name of a group or part");
        return NOTHING;
    }
    if (in->expander->mode == MODE_FIXED || in->expander->mode == MODE_CONDITION) {
        expand_error(in, "not-fixed", call, NULL, NULL,
                     "`within` differs from pixel to pixel, which cannot be here");
        return NOTHING;
    }
    uint16_t index;
    if (in->expander->mode == MODE_UNUSED)
        return expand_step(in, TYPE_TRUTH,
                           expand_operation(in, OP_LESS,
                                            graph_field(in->expander->graph, FIELD_POS),
                                            expand_number(in, 0.5), 0));
    if (!add_group(in, name->text, &index))
        return NOTHING;
    note_absent(in, name);
    return expand_step(in, TYPE_TRUTH, graph_within(in->expander->graph, index));
}

/* -------- all calls -------- */

static Typed expand_built_in(const Context *in, const Node *call, FunctionId id) {
    const Function *function = function_at(id);
    uint32_t count = 0;
    for (const Node *argument = call->b; argument; argument = argument->next)
        count++;
    if (!right_count(in, call, function, count))
        return NOTHING;
    if (id == FUNCTION_WITHIN)
        return expand_within(in, call);
    if (id == FUNCTION_TICK)
        return value_of_tick(in, call);
    Typed *arguments = expand_allocate(in, count * sizeof *arguments);
    if (!arguments || !take_arguments(in, call, id, arguments))
        return NOTHING;
    if (function->gives == 'c')
        return expand_colour_call(in, call, id, arguments);
    if (id != FUNCTION_DRAW && id != FUNCTION_IN_TURN)
        return value_of_call(in, call, id, arguments, count);
    if (id == FUNCTION_DRAW)
        hint_chance(in, call, function->name, arguments, 1);
    return value_of_choice(in, id, arguments, count);
}

Typed expand_call(const Context *in, const Node *call) {
    Meaning meaning = expand_meaning(in, call->a, true);
    switch (meaning.kind) {
    case MEANING_FUNCTION:
        return expand_built_in(in, call, meaning.function);
    case MEANING_LOCAL:
        return expand_user_call(in, call, &meaning);
    case MEANING_SYMBOL:
        if (meaning.symbol->kind == SYMBOL_LET || meaning.symbol->kind == SYMBOL_FUNCTION)
            return expand_user_call(in, call, &meaning);
        break;
    case MEANING_PARAMETER:
        meaning.binding->used = true;
        break;
    case MEANING_MOMENT:
    case MEANING_COLOUR:
    case MEANING_NONE:
        expand_unknown(in, call->a, "function", true);
        return NOTHING;
    }
    const char *name = expand_source(in, call->a);
    expand_error_here(in, "no-function", call->a, expand_print(in, "`%s`", name),
                      "`%s` is no function: it takes no arguments", name);
    return NOTHING;
}
