/* What can be told from names alone, before types: loops, nested names, names that nothing reads.
 *
 * Every let, function, dial and routine is a vertex, those inside routines, too; every name in an
 * expression is an edge. The search is not recursive: a chain of lets may be as long as a file. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lang/names.h"

typedef struct Edge Edge;
struct Edge {
    uint32_t target;
    Span span;
    Edge *next;
};

typedef enum State { STATE_NEW, STATE_OPEN, STATE_DONE } State;

typedef struct Vertex {
    const Node *node; /* LET, DIAL, ROUTINE, ... */
    const Module *module;
    Edge *first, *last;
    State state;
    bool local; /* inside a routine */
    bool read;  /* by something else than itself */
    bool told;  /* in a loop that was reported */
} Vertex;

typedef struct Local {
    const char *name;
    uint32_t vertex;
    const Node *node;
} Local;

typedef struct Check {
    Modules *modules;
    bool whole; /* no file has errors of syntax: what is not read is really not read */
    Vertex *vertices;
    uint32_t vertex_count;
    uint32_t base[LIMIT_FILES]; /* the vertex of a module's first symbol */
    /* Where names are looked up at present: */
    Module *module;
    uint32_t reader; /* the vertex whose expression is walked; NO_VERTEX in a timetable */
    const Node *parameters;
    uint32_t parameters_read; /* one bit each */
    Local *locals;            /* by name */
    uint32_t local_count;
} Check;

#define NO_VERTEX UINT32_MAX

/* -------- looking up -------- */

static int by_name(const void *a, const void *b) {
    const Local *left = a, *right = b;
    int order = strcmp(left->name, right->name);
    return order ? order : left->vertex < right->vertex ? -1 : left->vertex > right->vertex;
}

static int compare_name(const void *name, const void *local) {
    return strcmp(name, ((const Local *)local)->name);
}

static const Local *find_local(const Check *check, const char *name) {
    return check->local_count ? bsearch(name, check->locals, check->local_count,
                                        sizeof check->locals[0], compare_name)
                              : NULL;
}

static uint32_t vertex_of(const Check *check, const Symbol *symbol) {
    uint32_t m = 0;
    while (check->modules->modules[m] != symbol->module)
        m++;
    return check->base[m] + (uint32_t)(symbol - symbol->module->symbols);
}

static void add_edge(Check *check, uint32_t target, Span span) {
    if (target != check->reader)
        check->vertices[target].read = true;
    if (check->reader == NO_VERTEX)
        return;
    Edge *edge = arena_allocate(check->modules->arena, sizeof *edge);
    if (arena_failed(check->modules->arena))
        return;
    Vertex *vertex = &check->vertices[check->reader];
    *edge = (Edge){.target = target, .span = span};
    if (vertex->last)
        vertex->last->next = edge;
    else
        vertex->first = edge;
    vertex->last = edge;
}

static void meet_name(Check *check, const Node *name) {
    unsigned bit = 0;
    for (const Node *p = check->parameters; p && bit < LIMIT_PARAMETERS; p = p->next, bit++) {
        if (p->text && strcmp(p->text, name->text) == 0) {
            check->parameters_read |= 1u << bit;
            return;
        }
    }
    const Local *local = find_local(check, name->text);
    if (local) {
        add_edge(check, local->vertex, name->span);
        return;
    }
    const Symbol *symbol = names_find(check->module, name->text);
    if (symbol)
        add_edge(check, vertex_of(check, symbol), name->span);
}

static void meet_member(Check *check, const Node *member) {
    bool known;
    if (!member->a || !member->b || !member->a->text || !member->b->text)
        return;
    const Symbol *symbol =
        names_find_member(check->module, member->a->text, member->b->text, &known);
    if (symbol)
        add_edge(check, vertex_of(check, symbol), member->span);
}

static void walk(Check *check, const Node *node);

static void walk_list(Check *check, const Node *list) {
    for (; list; list = list->next)
        walk(check, list);
}

static void walk_call(Check *check, const Node *call) {
    /* The argument of the built-in `within` is a name of the lamp. */
    bool within = call->a && call->a->kind == NODE_NAME && strcmp(call->a->text, "within") == 0 &&
                  !find_local(check, "within") && !names_find(check->module, "within");
    if (within)
        return;
    walk(check, call->a);
    walk_list(check, call->b);
}

static void walk(Check *check, const Node *node) {
    if (!node)
        return;
    switch (node->kind) {
    case NODE_NAME:
        if (node->text)
            meet_name(check, node);
        break;
    case NODE_MEMBER:
        meet_member(check, node);
        break;
    case NODE_CALL:
        walk_call(check, node);
        break;
    case NODE_RAMP:
        walk_list(check, node->a);
        walk(check, node->b);
        walk(check, node->c);
        break;
    case NODE_EASING:
        walk_list(check, node->a);
        break;
    case NODE_EASE:
    case NODE_PARENS:
    case NODE_NEGATE:
    case NODE_NOT:
    case NODE_BINARY:
    case NODE_IF:
    case NODE_DELAYED:
    case NODE_STOP:
    case NODE_DRIVER:
    case NODE_EASING_ARGUMENT:
    case NODE_FOR:
        walk(check, node->a);
        walk(check, node->b);
        walk(check, node->c);
        break;
    default:
        break;
    }
}

/* -------- names inside names -------- */

static void check_inner_name(Check *check, const Node *name) {
    const Symbol *symbol = names_find_own(check->module, name->text);
    if (symbol && symbol->kind != SYMBOL_LAMP) {
        names_report_twice(check->modules->sink, name, symbol->node);
        check->vertices[vertex_of(check, symbol)].read = true; /* one message is enough */
    }
    names_warn_hidden(check->modules->sink, name);
}

static void check_parameters(Check *check, const Node *parameters) {
    unsigned count = 0;
    for (const Node *p = parameters; p && count < LIMIT_PARAMETERS; p = p->next, count++) {
        if (!p->text)
            continue;
        for (const Node *q = parameters; q != p; q = q->next)
            if (q->text && strcmp(p->text, q->text) == 0)
                names_report_twice(check->modules->sink, p, q);
        const Local *local = find_local(check, p->text);
        if (local)
            names_report_twice(check->modules->sink, p, local->node);
        else
            check_inner_name(check, p);
    }
}

/* -------- what nothing reads -------- */

static void warn_unused(Check *check, const Node *name, const char *code, const char *what) {
    if (diagnostics_reported(check->modules->sink, "named-twice", name->span))
        return;
    diagnostics_report(check->modules->sink, SEVERITY_WARNING, code, name->span, SPAN_NONE, NULL,
                       "%s`%s` is not used", what, name->text);
}

static void walk_let(Check *check, const Node *let, uint32_t vertex) {
    check->reader = vertex;
    check->parameters = let->b;
    check->parameters_read = 0;
    check_parameters(check, let->b);
    walk(check, let->c);
    check->parameters = NULL;
    if (!check->whole)
        return;
    unsigned bit = 0;
    for (const Node *p = let->b; p && bit < LIMIT_PARAMETERS; p = p->next, bit++)
        if (p->text && !(check->parameters_read & 1u << bit))
            warn_unused(check, p, "unused-parameter", "the parameter ");
}

/* -------- items -------- */

static bool is_named_let(const Node *node) {
    return node->kind == NODE_LET && node->a && node->a->kind == NODE_NAME;
}

/* The lets of a routine in the order of their names; of two of one name the first counts. */
static bool open_routine(Check *check, const Node *routine, uint32_t first) {
    uint32_t count = 0;
    for (const Node *n = routine->d; n; n = n->next)
        count += is_named_let(n);
    check->locals = arena_allocate(check->modules->arena, count * sizeof *check->locals);
    if (arena_failed(check->modules->arena))
        return false;
    uint32_t filled = 0;
    for (const Node *n = routine->d; n; n = n->next)
        if (is_named_let(n)) {
            check->locals[filled] = (Local){n->a->text, first + filled, n};
            filled++;
        }
    qsort(check->locals, count, sizeof check->locals[0], by_name);
    for (uint32_t i = 0; i < count; i++) {
        Local *last = check->local_count ? &check->locals[check->local_count - 1] : NULL;
        if (last && strcmp(last->name, check->locals[i].name) == 0)
            names_report_twice(check->modules->sink, check->locals[i].node, last->node);
        else
            check->locals[check->local_count++] = check->locals[i];
    }
    for (uint32_t i = 0; i < check->local_count; i++)
        check_inner_name(check, check->locals[i].node->a);
    return true;
}

static bool walk_routine(Check *check, const Node *routine, uint32_t vertex, uint32_t *next) {
    check->reader = vertex;
    walk(check, routine->b);
    if (!open_routine(check, routine, *next))
        return false;
    for (const Node *n = routine->d; n; n = n->next) {
        if (is_named_let(n)) {
            check->vertices[*next] = (Vertex){.node = n,
                                              .module = check->module,
                                              .local = true,
                                              .read = check->vertices[*next].read};
            walk_let(check, n, (*next)++);
        } else if (n->kind == NODE_PAINT) {
            check->reader = vertex;
            walk(check, n->a);
            walk(check, n->c);
        }
    }
    check->local_count = 0;
    return true;
}

static void walk_play(Check *check, const Node *play) {
    if (!play)
        return;
    for (const Node *setting = play->b; setting; setting = setting->next)
        walk(check, setting->b);
    walk(check, play->d);
    walk(check, play->e);
}

static void walk_lamp(Check *check, const Node *lamp) {
    for (const Node *property = lamp->b; property; property = property->next)
        if (property->word == PROPERTY_LEVEL)
            walk(check, property->a);
}

/* `vertex` counts the module's symbols, `next` the lets inside routines. */
static bool walk_item(Check *check, const Node *item, uint32_t *vertex, uint32_t *next) {
    check->reader = NO_VERTEX;
    bool named = item->a && item->a->kind == NODE_NAME;
    switch (item->kind) {
    case NODE_LET:
        if (named)
            walk_let(check, item, (*vertex)++);
        break;
    case NODE_DIAL:
        if (!named)
            break;
        check->reader = (*vertex)++;
        walk(check, item->b);
        walk(check, item->c);
        walk(check, item->d);
        walk(check, item->e);
        break;
    case NODE_EVENT:
        *vertex += named;
        break;
    case NODE_ROUTINE:
        return !named || walk_routine(check, item, (*vertex)++, next);
    case NODE_LAMP:
        *vertex += named;
        walk_lamp(check, item);
        break;
    case NODE_ENTRY:
        walk_play(check, item->d);
        break;
    case NODE_WHEN:
        walk(check, item->a);
        walk_play(check, item->d);
        break;
    case NODE_BETWEEN:
        walk(check, item->d);
        break;
    default:
        break;
    }
    return true;
}

static bool build(Check *check) {
    Modules *modules = check->modules;
    uint32_t count = 0, locals = 0;
    for (uint32_t m = 0; m < modules->count; m++) {
        check->base[m] = count;
        count += modules->modules[m]->symbol_count;
        for (const Node *item = modules->modules[m]->tree.items; item; item = item->next)
            for (const Node *n = item->kind == NODE_ROUTINE ? item->d : NULL; n; n = n->next)
                locals += is_named_let(n);
    }
    check->vertex_count = count + locals;
    check->vertices = arena_allocate(modules->arena, check->vertex_count * sizeof(Vertex));
    if (arena_failed(modules->arena))
        return false;
    uint32_t next = count;
    for (uint32_t m = 0; m < modules->count; m++)
        for (uint32_t i = 0; i < modules->modules[m]->symbol_count; i++)
            check->vertices[check->base[m] + i] = (Vertex){
                .node = modules->modules[m]->symbols[i].node, .module = modules->modules[m]};
    for (uint32_t m = 0; m < modules->count; m++) {
        uint32_t vertex = check->base[m];
        check->module = modules->modules[m];
        for (const Node *item = check->module->tree.items; item; item = item->next)
            if (!walk_item(check, item, &vertex, &next) || arena_failed(modules->arena))
                return false;
    }
    return true;
}

/* -------- loops -------- */

typedef struct Step {
    uint32_t vertex;
    const Edge *edge;
} Step;

static void report_loop(Check *check, const Step *path, uint32_t length) {
    enum { SHOWN = 8 };
    char loop[(SHOWN + 2) * (LIMIT_NAME_BYTES + 8)] = "";
    size_t used = 0;
    const Node *first = check->vertices[path[0].vertex].node;
    bool routines = true, let = true;
    for (uint32_t i = 0; i < length; i++) {
        const Node *node = check->vertices[path[i].vertex].node;
        check->vertices[path[i].vertex].told = true;
        routines = routines && node->kind == NODE_ROUTINE;
        let = let && node->kind == NODE_LET && !node->b;
        if (i < SHOWN)
            used += (size_t)snprintf(loop + used, sizeof loop - used, "`%s` -> ", node->a->text);
    }
    const char *name = first->a->text;
    const char *cut = length > SHOWN ? "... -> " : "";
    Span span = path[0].edge->span;
    Diagnostics *sink = check->modules->sink;
    if (length == 1 && diagnostics_reported(sink, "named-twice", first->a->span))
        return; /* `let x = x + 1` over a top-level x: one message is enough */
    if (length == 1 && first->kind == NODE_LET && first->b)
        diagnostics_report(sink, SEVERITY_ERROR, "defined-by-itself", span, SPAN_NONE, NULL,
                           "a function is written out where it is called: `%s` is defined by "
                           "itself",
                           name);
    else if (routines && length == 1)
        diagnostics_report(sink, SEVERITY_ERROR, "paints-itself", span, SPAN_NONE, NULL,
                           "routine `%s` paints itself", name);
    else if (routines)
        diagnostics_report(sink, SEVERITY_ERROR, "paints-itself", span, SPAN_NONE, NULL,
                           "routine `%s` paints itself: %s%s`%s`", name, loop, cut, name);
    else if (length == 1 && let)
        diagnostics_report(sink, SEVERITY_ERROR, "defined-by-itself", span, SPAN_NONE, NULL,
                           "nothing changes here: a `let` names an expression; `%s` is defined by "
                           "itself",
                           name);
    else
        diagnostics_report(sink, SEVERITY_ERROR, "defined-by-itself", span, SPAN_NONE, NULL,
                           "`%s` is defined by itself: %s%s`%s`", name, loop, cut, name);
}

/* Follows the edges from `start`; a way back to a vertex that is open is a loop. */
static void search(Check *check, Step *path, uint32_t start) {
    uint32_t depth = 0;
    path[depth++] = (Step){start, check->vertices[start].first};
    check->vertices[start].state = STATE_OPEN;
    while (depth > 0) {
        Step *step = &path[depth - 1];
        const Edge *edge = step->edge;
        if (!edge) {
            check->vertices[step->vertex].state = STATE_DONE;
            depth--;
            if (depth > 0)
                path[depth - 1].edge = path[depth - 1].edge->next;
            continue;
        }
        Vertex *target = &check->vertices[edge->target];
        if (target->state == STATE_NEW) {
            target->state = STATE_OPEN;
            path[depth++] = (Step){edge->target, target->first};
            continue;
        }
        if (target->state == STATE_OPEN && !target->told) {
            uint32_t begin = depth - 1;
            while (path[begin].vertex != edge->target)
                begin--;
            report_loop(check, path + begin, depth - begin);
        }
        step->edge = edge->next;
    }
}

static bool find_loops(Check *check) {
    Step *path = arena_allocate(check->modules->arena, check->vertex_count * sizeof(Step));
    if (arena_failed(check->modules->arena))
        return false;
    for (uint32_t i = 0; i < check->vertex_count; i++)
        if (check->vertices[i].state == STATE_NEW)
            search(check, path, i);
    return true;
}

/* -------- all -------- */

static void find_unused(Check *check) {
    bool routines = false;
    const Module *main_module = check->modules->modules[0];
    for (uint32_t i = 0; i < main_module->symbol_count; i++)
        routines = routines || main_module->symbols[i].kind == SYMBOL_ROUTINE;
    if (!check->whole)
        return;
    for (uint32_t i = 0; i < check->vertex_count; i++) {
        const Vertex *vertex = &check->vertices[i];
        if (vertex->read || !(vertex->local || (vertex->module == main_module && routines)))
            continue;
        if (vertex->node->kind == NODE_LET)
            warn_unused(check, vertex->node->a, "unused-let", "");
        else if (vertex->node->kind == NODE_DIAL)
            warn_unused(check, vertex->node->a, "unused-dial", "the dial ");
    }
}

bool references_check(Modules *modules) {
    if (modules->count == 0)
        return true;
    Check check = {.modules = modules, .whole = names_all_whole(modules)};
    if (!build(&check) || !find_loops(&check))
        return false;
    find_unused(&check);
    return true;
}
