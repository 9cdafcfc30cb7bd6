/* The doors of the expander, and what all of it uses: values with their types, memory of results,
 * limits. */
#include "lang/expand_private.h"

#include <math.h>
#include <string.h>

const char *type_name(Type type) {
    switch (type) {
    case TYPE_NUMBER:
        return "a number";
    case TYPE_DURATION:
        return "a duration";
    case TYPE_ANGLE:
        return "an angle";
    case TYPE_COLOUR:
        return "a colour";
    case TYPE_TRUTH:
        return "a truth";
    case TYPE_NONE:
        break;
    }
    return "nothing";
}

Type expand_type_of(char letter) {
    switch (letter) {
    case 'n':
        return TYPE_NUMBER;
    case 'd':
        return TYPE_DURATION;
    case 'a':
        return TYPE_ANGLE;
    case 'c':
        return TYPE_COLOUR;
    case 't':
        return TYPE_TRUTH;
    default:
        return TYPE_NONE;
    }
}

/* -------- values -------- */

Typed expand_typed(const Context *in, Type type, Value value, Typed like) {
    if (!value) {
        expand_check_trouble(in);
        return NOTHING;
    }
    Typed typed = {type, like.runs, like.smooth, value};
    if (graph_rate(in->expander->graph, value).when != WHEN_MOVING)
        typed.runs = typed.smooth = false;
    return typed;
}

Typed expand_step(const Context *in, Type type, Value value) {
    return expand_typed(in, type, value, NOTHING);
}

Typed expand_either(Typed a, Typed b) {
    a.runs = a.runs || b.runs;
    a.smooth = a.smooth || b.smooth;
    return a;
}

Value expand_operation(const Context *in, Operation operation, Value a, Value b, Value c) {
    return graph_operation(in->expander->graph, operation, a, b, c, 0, 0);
}

Value expand_number(const Context *in, double number) {
    return graph_number(in->expander->graph, number);
}

void *expand_allocate(const Context *in, size_t size) {
    Expander *expander = in->expander;
    void *block = arena_allocate(expander->arena, size);
    if (!block || arena_failed(expander->arena)) {
        expander->stopped = expander->failed = true;
        return NULL;
    }
    return block;
}

/* -------- limits -------- */

bool expand_spend(const Context *in) {
    Expander *expander = in->expander;
    if (expander->stopped)
        return false;
    if (++expander->expansions > LIMIT_EXPANSIONS)
        expand_too_large(in, "expressions", LIMIT_EXPANSIONS);
    else if (++expander->program->expansions > LIMIT_EXPANSIONS_ALL)
        expand_too_large(in, "expressions in all", LIMIT_EXPANSIONS_ALL);
    return !expander->stopped;
}

void expand_too_large(const Context *in, const char *what, unsigned long limit) {
    Expander *expander = in->expander;
    expander->failed = true;
    if (expander->stopped)
        return;
    if (expand_said(in->expander->sink, "too-large")) { /* what uses that is too large, too */
        expander->stopped = true;
        return;
    }
    const Node *heaviest = expander->heaviest;
    if (heaviest && expander->heaviest_times > 1)
        expand_error_here(in, "too-large", heaviest->a,
                          "fewer uses under different `delayed`s: each doubles the work",
                          "`%s` is worked out %lu times for one routine, and that comes to more "
                          "than %lu %s",
                          heaviest->a->text, (unsigned long)expander->heaviest_times, limit, what);
    else if (in->routine)
        expand_error_here(in, "too-large", in->routine->node->a, NULL,
                          "routine `%s` is too large: it comes to more than %lu %s",
                          in->routine->name, limit, what);
    else
        expand_error_here(in, "too-large", in->definition ? in->definition : in->reference, NULL,
                          "this is too large: it comes to more than %lu %s", limit, what);
    expander->stopped = true;
}

void expand_check_trouble(const Context *in) {
    switch (graph_trouble(in->expander->graph)) {
    case GRAPH_FINE:
        break;
    case GRAPH_NO_MEMORY:
        in->expander->stopped = in->expander->failed = true;
        break;
    case GRAPH_TOO_LARGE:
        expand_too_large(in, "values", LIMIT_VALUES);
        break;
    }
}

/* -------- memory of results -------- */

static uint32_t memory_slot(const Expander *expander, const void *key, Value clock,
                            const Symbol *routine) {
    uint64_t hash = (uint64_t)(uintptr_t)key * 0x9E3779B97F4A7C15u;
    hash ^= (uint64_t)clock * 0xBF58476D1CE4E5B9u;
    hash ^= (uint64_t)(uintptr_t)routine;
    hash ^= hash >> 29;
    uint32_t mask = expander->memory_room - 1;
    uint32_t slot = (uint32_t)hash & mask;
    while (expander->memory[slot].key) {
        const Memory *memory = &expander->memory[slot];
        if (memory->key == key && memory->clock == clock && memory->routine == routine)
            break;
        slot = (slot + 1) & mask;
    }
    return slot;
}

bool expand_recall(const Context *in, const void *key, Typed *typed) {
    const Expander *expander = in->expander;
    if (!expander->memory_room)
        return false;
    const Memory *memory = &expander->memory[memory_slot(expander, key, in->clock, in->routine)];
    if (!memory->key)
        return false;
    *typed = memory->typed;
    return true;
}

static bool memory_grow(const Context *in) {
    Expander *expander = in->expander;
    uint32_t old_room = expander->memory_room;
    Memory *old = expander->memory;
    uint32_t room = old_room ? old_room * 2 : 64;
    Memory *memory = expand_allocate(in, room * sizeof(Memory));
    if (!memory)
        return false;
    expander->memory = memory;
    expander->memory_room = room;
    for (uint32_t i = 0; i < old_room; i++)
        if (old[i].key)
            memory[memory_slot(expander, old[i].key, old[i].clock, old[i].routine)] = old[i];
    return true;
}

static Memory *memory_place(const Context *in, const void *key, Value clock,
                            const Symbol *routine) {
    Expander *expander = in->expander;
    if (expander->stopped)
        return NULL;
    if (expander->memory_count * 2 >= expander->memory_room && !memory_grow(in))
        return NULL;
    Memory *memory = &expander->memory[memory_slot(expander, key, clock, routine)];
    if (!memory->key) {
        expander->memory_count++;
        *memory = (Memory){key, routine, clock, NOTHING};
    }
    return memory;
}

void expand_remember(const Context *in, const void *key, Typed typed) {
    Memory *memory = memory_place(in, key, in->clock, in->routine);
    if (memory)
        memory->typed = typed;
}

/* A count is remembered like a result, at the definition's name: no result is. */
void expand_count(const Context *in, const Node *definition) {
    Memory *memory = memory_place(in, &definition->a, 0, NULL);
    if (!memory)
        return;
    uint32_t times = ++memory->typed.value;
    if (times > in->expander->heaviest_times) {
        in->expander->heaviest = definition;
        in->expander->heaviest_times = times;
    }
}

/* -------- the doors -------- */

static bool expander_open(Expander *expander, ExpandProgram *program, Mode mode) {
    *expander = (Expander){.program = program, .sink = program->modules->sink, .mode = mode};
    expander->arena = arena_create();
    expander->graph = graph_create();
    expander->loops = expand_said(expander->sink, "defined-by-itself") ||
                      expand_said(expander->sink, "named-twice"); /* which hides some */
    if (expander->arena && expander->graph)
        return true;
    arena_free(expander->arena);
    graph_free(expander->graph);
    return false;
}

static void expander_close(Expander *expander) {
    arena_free(expander->arena);
    graph_free(expander->graph);
}

static void out_of_memory(ExpandProgram *program) {
    diagnostics_report(program->modules->sink, SEVERITY_ERROR, "out-of-memory", SPAN_NONE,
                       SPAN_NONE, NULL, "out of memory");
}

static bool ran_out(const Expander *expander) {
    return expander->no_memory || arena_failed(expander->arena) ||
           graph_trouble(expander->graph) == GRAPH_NO_MEMORY;
}

FixedValue expand_fixed(ExpandProgram *program, Module *module, const Node *expression) {
    FixedValue fixed = {.type = TYPE_NONE};
    Expander expander;
    if (!expander_open(&expander, program, MODE_FIXED)) {
        out_of_memory(program);
        return fixed;
    }
    Context in = {.expander = &expander, .module = module, .reference = expression};
    in.clock = graph_input(expander.graph, INPUT_T);
    Typed typed = expand(&in, expression);
    if (typed.type == TYPE_COLOUR) {
        if (graph_constant_colour(expander.graph, typed.value, &fixed.colour))
            fixed.type = TYPE_COLOUR;
    } else if (typed.type != TYPE_NONE &&
               graph_constant_number(expander.graph, typed.value, &fixed.number))
        fixed.type = typed.type;
    if (typed.type != TYPE_NONE && fixed.type == TYPE_NONE)
        expand_error(&in, "not-fixed", expression, NULL, NULL,
                     "this must be fixed, but it changes with time");
    if (ran_out(&expander))
        out_of_memory(program);
    expander_close(&expander);
    return fixed;
}

/* A let that nothing uses has no routine: what it lasts is some number that is not known. */
void expand_unused(ExpandProgram *program, Symbol *let) {
    Expander expander;
    /* A crowd of large lets that nothing uses may not use up what the rest needs. */
    if (program->expansions > LIMIT_EXPANSIONS_ALL / 2)
        return;
    if (!expander_open(&expander, program, MODE_UNUSED)) {
        out_of_memory(program);
        return;
    }
    Context in = {.expander = &expander, .module = let->module, .reference = let->node->a};
    /* where something is too large or too deep, all that uses it may be */
    expander.stopped =
        expand_said(expander.sink, "too-large") || expand_said(expander.sink, "too-deep");
    in.clock = graph_input(expander.graph, INPUT_T);
    in.lasts = graph_input(expander.graph, INPUT_PIXELS);
    if (let->node->b)
        expand_check_parameters(&in, let->node);
    else {
        Context inner = in;
        inner.definition = let->node;
        inner.outer = &in;
        expand(&inner, let->node->c);
    }
    if (ran_out(&expander))
        out_of_memory(program);
    expander_close(&expander);
}

static bool say_emit_trouble(const Context *in, EmitTrouble trouble) {
    switch (trouble) {
    case EMIT_FINE:
        return true;
    case EMIT_NO_MEMORY:
        out_of_memory(in->expander->program);
        break;
    case EMIT_TOO_MANY_INSTRUCTIONS:
        expand_too_large(in, "instructions", LIMIT_INSTRUCTIONS);
        break;
    case EMIT_TOO_MANY_REGISTERS:
        expand_too_large(in, "registers", LIMIT_REGISTERS);
        break;
    case EMIT_TOO_MANY_RAMPS:
        expand_too_large(in, "ramps", LIMIT_RAMPS);
        break;
    case EMIT_TOO_MANY_EASINGS:
        expand_too_large(in, "easings", LIMIT_EASINGS);
        break;
    }
    return false;
}

static bool is_condition(const Context *in, const Node *expression, Typed typed) {
    const Graph *graph = in->expander->graph;
    if (typed.type != TYPE_TRUTH)
        return false;
    if (graph_rate(graph, typed.value).when == WHEN_MOVING) {
        expand_error(in, "condition-moves", expression, NULL, "a dial compared: `passing > 50%`",
                     "`when` looks at dials, and this changes with time");
        return false;
    }
    if (!graph_reads_dial(graph, typed.value)) {
        expand_error(in, "condition-without-dial", expression, NULL,
                     "a dial compared: `passing > 50%`",
                     "`when` needs a dial or an event to watch");
        return false;
    }
    return true;
}

static bool emit_condition(const Context *in, Value truth, Code *code) {
    Graph *graph = in->expander->graph;
    Value black = graph_colour(graph, (Colour){0.0f, 0.0f, 0.0f});
    Value white = graph_colour(graph, (Colour){1.0f, 1.0f, 1.0f});
    Value light = expand_operation(in, OP_COLOUR_MIX, black, white, truth);
    if (light)
        return say_emit_trouble(in, emit_code(graph, light, code));
    expand_check_trouble(in);
    return false;
}

bool expand_condition(ExpandProgram *program, Module *module, const Node *expression, Code *code) {
    Expander expander;
    if (!expander_open(&expander, program, MODE_CONDITION)) {
        out_of_memory(program);
        return false;
    }
    Context in = {.expander = &expander, .module = module, .reference = expression};
    in.clock = graph_input(expander.graph, INPUT_T);
    Typed typed = expand_wanted(&in, expression, TYPE_TRUTH, "`when`");
    bool fine = is_condition(&in, expression, typed);
    if (fine && code)
        fine = emit_condition(&in, typed.value, code);
    if (ran_out(&expander))
        out_of_memory(program);
    expander_close(&expander);
    return fine;
}

static bool routine_in(Context *in, const Symbol *routine, RoutineCost *cost) {
    Expander *expander = in->expander;
    Code *code = &expander->program->routines[routine->index].code;
    Painting painting = {routine, NULL};
    in->routine = routine;
    in->painting = &painting;
    in->clock = graph_input(expander->graph, INPUT_T);
    expand_hold_clock(in);
    in->scope = expand_scope(in, routine->node);
    if (!in->scope)
        return false;
    Value light = expand_body(in, cost);
    expand_check_locals(in);
    if (expander->failed || expander->stopped)
        return false;
    if (!light) {
        expand_check_trouble(in);
        return false;
    }
    if (!say_emit_trouble(in, emit_code(expander->graph, light, code)))
        return false;
    if (cost)
        cost->total = graph_cost(expander->graph, light);
    return true;
}

bool expand_routine(ExpandProgram *program, Symbol *routine, RoutineCost *cost) {
    Expander expander;
    if (!expander_open(&expander, program, MODE_ROUTINE)) {
        out_of_memory(program);
        return false;
    }
    Context in = {.expander = &expander, .module = routine->module};
    in.reference = routine->node->a;
    if (cost) {
        cost->name = program->routines[routine->index].name;
        cost->span = routine->node->a->span;
    }
    bool fine = routine_in(&in, routine, cost);
    if (ran_out(&expander)) {
        out_of_memory(program);
        fine = false;
    }
    expander_close(&expander);
    return fine;
}
