/* Names where they are used: parameters, lets, dials, names of the moment, colours (rules M1, M3,
 * M4, M8). */
#include "lang/expand_private.h"

#include <math.h>
#include <string.h>

#include "lang/colour_names.h"

/* -------- what a name means -------- */

static Meaning meaning_of_symbol(Symbol *symbol) {
    return (Meaning){.kind = symbol ? MEANING_SYMBOL : MEANING_NONE, .symbol = symbol};
}

static bool find_own(const Context *in, const char *name, Meaning *meaning) {
    for (uint32_t i = 0; in->frame && i < in->frame->count; i++)
        if (strcmp(in->frame->bindings[i].name, name) == 0) {
            *meaning = (Meaning){.kind = MEANING_PARAMETER, .binding = &in->frame->bindings[i]};
            return true;
        }
    Local *local = expand_find_local(in->scope, name);
    if (local) {
        *meaning = (Meaning){.kind = MEANING_LOCAL, .local = local};
        return true;
    }
    *meaning = meaning_of_symbol(names_find(in->module, name));
    return meaning->kind != MEANING_NONE;
}

Meaning expand_meaning(const Context *in, const Node *name, bool call) {
    Meaning meaning = {.kind = MEANING_NONE};
    if (name->kind == NODE_MEMBER) {
        bool known;
        return meaning_of_symbol(
            names_find_member(in->module, name->a->text, name->b->text, &known));
    }
    if (name->kind != NODE_NAME || find_own(in, name->text, &meaning))
        return meaning;
    if (call && function_find(name->text, &meaning.function))
        meaning.kind = MEANING_FUNCTION;
    else if (!call && (meaning.moment = moment_find(name->text)) != NULL)
        meaning.kind = MEANING_MOMENT;
    else if (!call && colour_name_find(name->text, &meaning.rgb))
        meaning.kind = MEANING_COLOUR;
    return meaning;
}

const Node *expand_bare(const Node *node) {
    while (node->kind == NODE_PARENS && node->a)
        node = node->a;
    return node;
}

const Node *expand_meant(const Context **in, const Node *node) {
    for (int steps = 0; steps < 20; steps++) {
        node = expand_bare(node);
        if (node->kind != NODE_NAME)
            return node;
        Meaning meaning = expand_meaning(*in, node, false);
        if (meaning.kind == MEANING_PARAMETER && meaning.binding->node) {
            *in = meaning.binding->context;
            node = meaning.binding->node;
        } else if (meaning.kind == MEANING_LOCAL && !meaning.local->node->b)
            node = meaning.local->node->c;
        else if (meaning.kind == MEANING_SYMBOL && meaning.symbol->kind == SYMBOL_LET &&
                 meaning.symbol->module == (*in)->module && !(*in)->frame)
            node = meaning.symbol->node->c;
        else
            return node;
    }
    return node;
}

bool expand_is_moment(const Context *in, const Node *node, const char *name) {
    node = expand_bare(node);
    if (node->kind != NODE_NAME)
        return false;
    Meaning meaning = expand_meaning(in, node, false);
    return meaning.kind == MEANING_MOMENT && strcmp(meaning.moment->name, name) == 0;
}

/* -------- a name that is none -------- */

/* Bounds that keep a file of many mistakes quick to check. */
enum { CANDIDATES = COLOUR_NAME_COUNT + FUNCTION_COUNT + 512, NEAREST_ERRORS = 200 };

static uint32_t own_candidates(const Context *in, const char **names, uint32_t room) {
    uint32_t count = 0;
    for (uint32_t i = 0; in->frame && i < in->frame->count && count < room; i++)
        names[count++] = in->frame->bindings[i].name;
    for (uint32_t i = 0; in->scope && i < in->scope->count && count < room; i++)
        names[count++] = in->scope->locals[i].node->a->text;
    return count;
}

static uint32_t built_in_candidates(bool call, const char **names) {
    uint32_t count = 0;
    for (size_t i = 0; call && function_at(i); i++)
        names[count++] = function_at(i)->name;
    for (size_t i = 0; !call && moment_at(i); i++)
        names[count++] = moment_at(i)->name;
    for (size_t i = 0; !call && colour_name_at(i); i++)
        names[count++] = colour_name_at(i);
    return count;
}

/* The nearest name that could have been meant, with the line where it is declared here. */
static const char *nearest_hint(const Context *in, const char *name, bool call) {
    if (diagnostics_count(in->expander->sink, SEVERITY_ERROR) > NEAREST_ERRORS)
        return NULL;
    const char **names = expand_allocate(in, CANDIDATES * sizeof *names);
    if (!names)
        return NULL;
    unsigned kinds =
        call ? 1u << SYMBOL_FUNCTION : 1u << SYMBOL_LET | 1u << SYMBOL_DIAL | 1u << SYMBOL_ROUTINE;
    uint32_t line = 0, count = 0;
    const char *top = names_nearest(in->module, name, kinds, in->expander->sink, &line);
    if (top)
        names[count++] = top;
    count += own_candidates(in, names + count, 256);
    count += built_in_candidates(call, names + count);
    const char *nearest = diagnostics_nearest(name, names, count);
    if (!nearest)
        return NULL;
    for (uint32_t i = 0; in->scope && i < in->scope->count; i++)
        if (in->scope->locals[i].node->a->text == nearest) {
            line = expand_line(in, in->scope->locals[i].node);
            top = nearest;
        }
    if (nearest == top && line)
        return expand_print(in, "`%s` (line %u)?", nearest, (unsigned)line);
    return expand_print(in, "`%s`?", nearest);
}

void expand_unknown(const Context *in, const Node *name, const char *what, bool call) {
    in->expander->failed = true;
    if (!names_all_whole(in->expander->program->modules))
        return;
    if (name->kind == NODE_MEMBER) {
        bool known = false;
        names_find_member(in->module, name->a->text, name->b->text, &known);
        if (known)
            expand_error_here(in, "unknown-name", name->b, NULL, "no %s named `%s` in `%s`", what,
                              name->b->text, name->a->text);
        else
            expand_error_here(in, "unknown-prefix", name->a,
                              expand_print(in, "`use \"file.gloam\" as %s`", name->a->text),
                              "no file is used as `%s`", name->a->text);
        return;
    }
    FunctionId function;
    if (!call && strcmp(name->text, "off") == 0) {
        expand_error_here(in, "off-as-value", name, "`black`, or no layer at all",
                          "`off` plays in a timetable and is no colour");
        return;
    }
    if (strcmp(name->text, "transparent") == 0) {
        expand_error_here(in, "transparency", name, "`#ff8800` and `where 50%`",
                          "light has no transparency");
        return;
    }
    if (!call && function_find(name->text, &function)) {
        expand_error_here(in, "function-without-arguments", name,
                          expand_print(in, "`%s(...)`", name->text), "`%s` is a function",
                          name->text);
        return;
    }
    uint32_t rgb;
    if (call && (moment_find(name->text) || colour_name_find(name->text, &rgb))) {
        expand_error_here(in, "no-function", name, expand_print(in, "`%s`", name->text),
                          "`%s` is no function: it takes no arguments", name->text);
        return;
    }
    size_t digits = strspn(name->text, "0123456789abcdefABCDEF");
    if (!call && digits == strlen(name->text) && (digits == 3 || digits == 6)) {
        expand_error_here(in, "unknown-name", name, expand_print(in, "`#%s`?", name->text),
                          "no %s named `%s`", what, name->text);
        return;
    }
    const char *hint = nearest_hint(in, name->text, call);
    if (!hint && !call)
        hint = expand_print(in, "`let %s = ...`, or `dial %s = ...` for what is set from outside",
                            name->text, name->text);
    expand_error_here(in, "unknown-name", name, hint, "no %s named `%s`", what, name->text);
}

/* -------- names of the moment -------- */

void expand_no_length(const Context *in, const Node *node) {
    /* told where the routine's own text reaches for it (rule R14) */
    while (in->outer && !in->scope) {
        node = in->reference;
        in = in->outer;
    }
    const char *name = in->routine ? in->routine->name : "name";
    expand_error(in, "no-length", node, NULL, expand_print(in, "`routine %s lasts 30min`", name),
                 "routine `%s` has no length", name);
}

static bool moment_refused(const Context *in, const Node *node, const MomentName *moment) {
    Mode mode = in->expander->mode;
    if (mode != MODE_FIXED && mode != MODE_CONDITION)
        return false;
    const char *why = "changes with time";
    if (moment->source == MOMENT_FIELD)
        why = "differs from pixel to pixel";
    else if (moment->source == MOMENT_INPUT && moment->index == INPUT_PIXELS)
        why = "differs from lamp to lamp";
    if (mode == MODE_FIXED)
        expand_error(in, "not-fixed", node, NULL, NULL, "this must be fixed, but `%s` %s",
                     moment->name, why);
    else
        expand_error(in, "condition-moves", node, NULL, "a dial compared: `passing > 50%`",
                     "`when` looks at dials, and `%s` %s", moment->name, why);
    return true;
}

static Typed expand_moment(const Context *in, const Node *node, const MomentName *moment) {
    Graph *graph = in->expander->graph;
    Type type = expand_type_of(moment->type);
    Typed smooth = {.smooth = true};
    if (moment_refused(in, node, moment))
        return NOTHING;
    switch (moment->source) {
    case MOMENT_T:
        smooth.runs = true;
        return expand_typed(in, type, in->clock, smooth);
    case MOMENT_PROGRESS:
        if (!in->lasts) {
            expand_no_length(in, node);
            return NOTHING;
        }
        return expand_typed(in, type, expand_operation(in, OP_OVER, in->clock, in->lasts, 0),
                            smooth);
    case MOMENT_INPUT:
        return expand_typed(in, type, graph_input(graph, (Input)moment->index), smooth);
    case MOMENT_FIELD:
        return expand_typed(in, type, graph_field(graph, (Field)moment->index), smooth);
    }
    return NOTHING;
}

/* -------- symbols -------- */

/* True where the dial's default was reported: then its type is not known. */
static bool is_wrong_dial(const Context *in, const Symbol *symbol) {
    if (diagnostics_count(in->expander->sink, SEVERITY_ERROR) == 0)
        return false;
    Type type = expand_fixed(in->expander->program, symbol->module, symbol->node->b).type;
    return type == TYPE_NONE || type == TYPE_ANGLE;
}

static Typed expand_dial(const Context *in, const Node *node, Symbol *symbol) {
    ExpandProgram *program = in->expander->program;
    Mode mode = in->expander->mode;
    symbol->used = true;
    if (mode == MODE_FIXED) {
        expand_error(in, "not-fixed", node, NULL, NULL, "this must be fixed, but `%s` is a dial",
                     symbol->name);
        return NOTHING;
    }
    if (!program->dials || symbol->index >= program->dial_count || is_wrong_dial(in, symbol)) {
        in->expander->failed = true;
        return NOTHING;
    }
    DialInfo *dial = &program->dials[symbol->index];
    if (mode != MODE_UNUSED)
        dial->used = true;
    static const Type types[] = {[DIAL_NUMBER] = TYPE_NUMBER,
                                 [DIAL_DURATION] = TYPE_DURATION,
                                 [DIAL_TRUTH] = TYPE_TRUTH,
                                 [DIAL_COLOUR] = TYPE_COLOUR};
    double from = -INFINITY, to = INFINITY;
    if (dial->type == DIAL_TRUTH) {
        from = 0.0;
        to = 1.0;
    } else if (dial->ranged) {
        from = dial->from;
        to = dial->to;
    }
    bool eased = dial->eased > 0.0 && mode != MODE_CONDITION;
    Typed like = {.smooth = eased};
    return expand_typed(
        in, types[dial->type],
        graph_dial(in->expander->graph, symbol->index, dial->type == DIAL_COLOUR, eased, from, to),
        like);
}

static Typed expand_symbol(const Context *in, const Node *node, const Meaning *meaning) {
    Symbol *symbol = meaning->symbol;
    switch (symbol->kind) {
    case SYMBOL_LET:
        return expand_let(in, node, meaning);
    case SYMBOL_DIAL:
        return expand_dial(in, node, symbol);
    case SYMBOL_FUNCTION:
        symbol->used = true;
        return expand_let(in, node, meaning);
    case SYMBOL_ROUTINE:
        symbol->used = true;
        expand_error(in, "routine-calculated", node, NULL,
                     expand_print(in, "`paint %s`", symbol->name),
                     "a routine is painted, not calculated");
        break;
    case SYMBOL_EVENT:
        symbol->used = true;
        expand_error(in, "event-as-value", node, NULL,
                     expand_print(in, "`when %s play ...`", symbol->name),
                     "`%s` is an event: it happens, and has no value", symbol->name);
        break;
    case SYMBOL_LAMP:
        expand_error(in, "lamp-as-value", node, NULL, NULL, "`%s` is a lamp, not a value",
                     symbol->name);
        break;
    }
    return NOTHING;
}

Typed expand_name(const Context *in, const Node *node) {
    Meaning meaning = expand_meaning(in, node, false);
    switch (meaning.kind) {
    case MEANING_PARAMETER:
        return expand_argument(in, meaning.binding);
    case MEANING_LOCAL:
        return expand_let(in, node, &meaning);
    case MEANING_SYMBOL:
        return expand_symbol(in, node, &meaning);
    case MEANING_MOMENT:
        return expand_moment(in, node, meaning.moment);
    case MEANING_COLOUR:
        if (strcmp(node->text, "green") == 0)
            hint_green(in, node);
        return expand_rgb(in, meaning.rgb >> 16, meaning.rgb >> 8 & 255u, meaning.rgb & 255u);
    case MEANING_FUNCTION:
    case MEANING_NONE:
        break;
    }
    expand_unknown(in, node, "value", false);
    return NOTHING;
}
