/* From the main file to a program: the order in which everything is looked at. */
#include "lang/compile.h"

#include <string.h>

#include "lang/checks.h"
#include "lang/timetable.h"
#include "runtime/core/bytecode.h"
#include "runtime/core/memory.h"

struct Compilation {
    Arena *arena;
    Diagnostics *sink;
    Modules modules;
    ExpandProgram expansion; /* views of `program`, but owner of the groups until the end */
    Checks checks;
    Timetable *timetable; /* NULL: there is none */
    Program *program;     /* NULL: taken, or not even begun */
    bool usable;          /* no error was reported */
    uint32_t cost_count;
    RoutineCost *costs; /* by Symbol.index */
};

static bool has_errors(const Compilation *c) {
    return diagnostics_count(c->sink, SEVERITY_ERROR) > 0 || diagnostics_out_of_memory(c->sink) ||
           arena_failed(c->arena);
}

/* Calls `visit` for every symbol of a kind, the main file first. */
static void each_symbol(Compilation *c, unsigned kinds, void (*visit)(Compilation *, Symbol *)) {
    for (uint32_t m = 0; m < c->modules.count; m++) {
        Module *module = c->modules.modules[m];
        for (uint32_t i = 0; i < module->symbol_count && !arena_failed(c->arena); i++)
            if (kinds & 1u << module->symbols[i].kind)
                visit(c, &module->symbols[i]);
    }
}

static void expand_one(Compilation *c, Symbol *routine) {
    /* one beyond the limit shares the number of another, whose code stays */
    if (routine->index >= c->cost_count || c->costs[routine->index].name)
        return;
    RoutineCost *cost = &c->costs[routine->index];
    expand_routine(&c->expansion, routine, cost);
    /* the program may be taken and freed before the costs are read */
    const char *name = c->program->routines[routine->index].name;
    cost->name = arena_copy_text(c->arena, name, strlen(name));
}

/* A let that nothing used was not looked at yet. */
static void expand_rest(Compilation *c, Symbol *let) {
    if (!let->used)
        expand_unused(&c->expansion, let);
}

/* The compiler's own output passes the check that a stranger's bytecode must pass. */
static void verify(Compilation *c) {
    char why[256];
    bool fine = verify_program(c->program, why, sizeof why);
    for (uint32_t i = 0; fine && c->timetable && i < c->timetable->condition_count; i++)
        fine = verify_loose_code(c->program, &c->timetable->conditions[i], why, sizeof why);
    if (!fine)
        diagnostics_report(c->sink, SEVERITY_ERROR, "internal", (Span){0, 0, 0}, SPAN_NONE,
                           "please report this file as a mistake of Gloam",
                           "the compiler wrote code that its own check refuses: %s", why);
}

static bool look_at_all(Compilation *c) {
    if (!references_check(&c->modules) || !declarations_check(&c->expansion, c->program))
        return false;
    place_check(&c->checks);
    if (!lamps_check(&c->checks))
        return false;
    c->cost_count = c->program->routine_count;
    c->costs = arena_allocate(c->arena, (c->cost_count + 1) * sizeof *c->costs);
    if (!c->costs || arena_failed(c->arena))
        return false;
    each_symbol(c, 1u << SYMBOL_ROUTINE, expand_one);
    each_symbol(c, 1u << SYMBOL_LET | 1u << SYMBOL_FUNCTION, expand_rest);
    timetable_check(&c->checks);
    return !c->checks.no_memory && !arena_failed(c->arena);
}

static bool compile_all(Compilation *c, const LangReader *reader, const char *path) {
    c->modules.arena = c->arena;
    c->modules.sink = c->sink;
    if (!names_load(&c->modules, reader, path))
        return false;
    c->program = memory_allocate(1, sizeof *c->program);
    if (!c->program)
        return false;
    if (c->modules.count == 0)
        return true;
    c->expansion.modules = &c->modules;
    c->checks.program = &c->expansion;
    c->checks.reader = reader;
    bool fine = look_at_all(c);
    if (fine && !has_errors(c))
        c->timetable = timetable_build(&c->checks);
    c->program->groups = c->expansion.groups;
    c->program->group_count = c->expansion.group_count;
    if (fine && !has_errors(c))
        verify(c);
    return fine;
}

Compilation *lang_compile(const LangReader *reader, const char *path) {
    Compilation *c = memory_allocate(1, sizeof *c);
    if (!c)
        return NULL;
    c->arena = arena_create();
    c->sink = diagnostics_create();
    if (!c->arena || !c->sink) {
        lang_free(c);
        return NULL;
    }
    bool fine = compile_all(c, reader, path);
    if (!fine || diagnostics_out_of_memory(c->sink) || arena_failed(c->arena))
        diagnostics_report(c->sink, SEVERITY_ERROR, "out-of-memory", SPAN_NONE, SPAN_NONE, NULL,
                           "out of memory");
    c->usable = fine && !has_errors(c);
    return c;
}

void lang_free(Compilation *compilation) {
    if (!compilation)
        return;
    program_free(compilation->program);
    timetable_release(compilation->timetable);
    diagnostics_free(compilation->sink);
    arena_free(compilation->arena);
    memory_release(compilation);
}

Diagnostics *lang_diagnostics(Compilation *compilation) {
    return compilation->sink;
}

/* Errors that were reported since, by those who know the calendar, count too. */
static bool is_usable(const Compilation *compilation) {
    return compilation->usable && !has_errors(compilation);
}

const Program *lang_program(const Compilation *compilation) {
    return is_usable(compilation) ? compilation->program : NULL;
}

Program *lang_take_program(Compilation *compilation) {
    Program *program = is_usable(compilation) ? compilation->program : NULL;
    if (program)
        compilation->program = NULL;
    return program;
}

const LampInfo *lang_lamps(const Compilation *compilation, uint32_t *count) {
    *count = compilation->checks.lamp_count;
    return compilation->checks.lamps;
}

const PlaceInfo *lang_place(const Compilation *compilation) {
    return &compilation->checks.place;
}

const SourceTree *lang_main_tree(const Compilation *compilation) {
    return compilation->modules.count ? &compilation->modules.modules[0]->tree : NULL;
}

const RoutineCost *lang_costs(const Compilation *compilation, uint32_t *count) {
    *count = is_usable(compilation) ? compilation->cost_count : 0;
    return compilation->costs;
}

bool lang_has_timetable(const Compilation *compilation) {
    const SourceTree *tree = lang_main_tree(compilation);
    for (const Node *item = tree ? tree->items : NULL; item; item = item->next)
        if (item->kind == NODE_ENTRY || item->kind == NODE_WHEN || item->kind == NODE_BETWEEN ||
            item->kind == NODE_UNTIL_CLOCK)
            return true;
    return false;
}

const Timetable *lang_timetable(const Compilation *compilation) {
    return is_usable(compilation) ? compilation->timetable : NULL;
}
