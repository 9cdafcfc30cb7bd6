/* Dials, events and routines of all files of a program: numbers, names as seen from outside, types,
 * ranges, lengths, what follows. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lang/checks.h"
#include "runtime/core/memory.h"

/* -------- names as seen from outside -------- */

/* How a file is reached from the main file by the fewest steps. */
typedef struct Route {
    const char *prefix; /* "" or "p." or "p.q."; NULL: not reached */
    const Node *use;    /* the `use` of the main file that leads there */
} Route;

static uint32_t number_of(const Modules *modules, const Module *module) {
    uint32_t m = 0;
    while (modules->modules[m] != module)
        m++;
    return m;
}

static const Node *find_use(const Module *main_module, const char *path) {
    for (const Node *item = main_module->tree.items; item; item = item->next)
        if (item->kind == NODE_USE && item->text && strcmp(item->text, path) == 0)
            return item;
    return NULL;
}

static bool find_routes(Modules *modules, Route *routes) {
    uint32_t queue[LIMIT_FILES] = {0}, begin = 0, end = 1;
    routes[0].prefix = "";
    while (begin < end) {
        const Module *module = modules->modules[queue[begin]];
        const Route *from = &routes[queue[begin++]];
        for (uint32_t i = 0; i < module->plain_count + module->named_count; i++) {
            bool plain = i < module->plain_count;
            const Module *used =
                plain ? module->plain[i] : module->named[i - module->plain_count].module;
            uint32_t m = number_of(modules, used);
            if (routes[m].prefix)
                continue;
            const char *alias = plain ? "" : module->named[i - module->plain_count].alias;
            size_t length = strlen(from->prefix) + strlen(alias) + 1;
            char *prefix = arena_allocate(modules->arena, length + 1);
            if (arena_failed(modules->arena))
                return false;
            snprintf(prefix, length + 1, "%s%s%s", from->prefix, alias, plain ? "" : ".");
            routes[m].prefix = prefix;
            routes[m].use = from->use ? from->use : find_use(module, used->path);
            queue[end++] = m;
        }
    }
    return true;
}

static char *outside_name(const Route *route, const Symbol *symbol) {
    const char *prefix = route->prefix ? route->prefix : "";
    size_t length = strlen(prefix) + strlen(symbol->name);
    char *name = memory_allocate(length + 1, 1);
    if (name)
        snprintf(name, length + 1, "%s%s", prefix, symbol->name);
    return name;
}

/* -------- numbering -------- */

typedef struct Numbers {
    Program *target;
    Modules *modules;
    Route routes[LIMIT_FILES];
    Symbol *symbols[3][LIMIT_ROUTINES]; /* of dials, events, routines by their number */
    uint32_t counts[3];
} Numbers;

enum { NUMBER_DIALS, NUMBER_EVENTS, NUMBER_ROUTINES };

_Static_assert(LIMIT_DIALS <= LIMIT_ROUTINES && LIMIT_EVENTS <= LIMIT_ROUTINES,
               "one size holds the symbols of each kind");

static void number_symbol(Numbers *numbers, Symbol *symbol) {
    static const struct {
        SymbolKind kind;
        uint32_t limit;
        const char *word;
    } rows[] = {{SYMBOL_DIAL, LIMIT_DIALS, "dials"},
                {SYMBOL_EVENT, LIMIT_EVENTS, "events"},
                {SYMBOL_ROUTINE, LIMIT_ROUTINES, "routines"}};
    for (int i = 0; i < 3; i++) {
        if (symbol->kind != rows[i].kind)
            continue;
        if (numbers->counts[i] == rows[i].limit) {
            diagnostics_report(numbers->modules->sink, SEVERITY_ERROR, "too-many",
                               symbol->node->a->span, SPAN_NONE, NULL,
                               "a program has at most %u %s", (unsigned)rows[i].limit,
                               rows[i].word);
            continue;
        }
        symbol->index = (uint16_t)numbers->counts[i];
        numbers->symbols[i][numbers->counts[i]++] = symbol;
    }
}

static bool number_all(Numbers *numbers) {
    Modules *modules = numbers->modules;
    for (uint32_t m = 0; m < modules->count; m++)
        for (uint32_t i = 0; i < modules->modules[m]->symbol_count; i++)
            number_symbol(numbers, &modules->modules[m]->symbols[i]);
    Program *target = numbers->target;
    target->dials = memory_allocate(numbers->counts[NUMBER_DIALS], sizeof(DialInfo));
    target->events = memory_allocate(numbers->counts[NUMBER_EVENTS], sizeof(EventInfo));
    target->routines = memory_allocate(numbers->counts[NUMBER_ROUTINES], sizeof(RoutineInfo));
    if (!target->dials || !target->events || !target->routines)
        return false;
    target->dial_count = (uint16_t)numbers->counts[NUMBER_DIALS];
    target->event_count = (uint16_t)numbers->counts[NUMBER_EVENTS];
    target->routine_count = (uint16_t)numbers->counts[NUMBER_ROUTINES];
    return true;
}

/* -------- one name outside for each -------- */

typedef struct Outside {
    const char *name;
    const Symbol *symbol;
} Outside;

static int by_name(const void *a, const void *b) {
    const Outside *left = a, *right = b;
    int order = strcmp(left->name, right->name);
    return order ? order : (int)left->symbol->index - (int)right->symbol->index;
}

/* Dials and events are told apart from outside by their names alone. */
static void check_outside(Numbers *numbers, Outside *names, uint32_t count, const char *what) {
    qsort(names, count, sizeof names[0], by_name);
    for (uint32_t i = 1; i < count; i++) {
        const Symbol *first = names[i - 1].symbol, *second = names[i].symbol;
        if (strcmp(names[i - 1].name, names[i].name) != 0 || first->module == second->module)
            continue;
        uint32_t m = number_of(numbers->modules, second->module);
        const Node *use = numbers->routes[m].use;
        diagnostics_report(numbers->modules->sink, SEVERITY_ERROR, "outside-clash",
                           use ? use->span : second->node->a->span, SPAN_NONE, NULL,
                           "`%s` and `%s` both have %s `%s`, which cannot be told apart from "
                           "outside: use one of them `as` a name",
                           first->module->path, second->module->path, what, names[i].name);
    }
}

static void check_outside_names(Numbers *numbers) {
    Outside names[LIMIT_ROUTINES];
    for (uint32_t i = 0; i < numbers->counts[NUMBER_DIALS]; i++)
        names[i] = (Outside){numbers->target->dials[i].name, numbers->symbols[NUMBER_DIALS][i]};
    check_outside(numbers, names, numbers->counts[NUMBER_DIALS], "a dial");
    for (uint32_t i = 0; i < numbers->counts[NUMBER_EVENTS]; i++)
        names[i] = (Outside){numbers->target->events[i].name, numbers->symbols[NUMBER_EVENTS][i]};
    check_outside(numbers, names, numbers->counts[NUMBER_EVENTS], "an event");
}

static bool is_taken(const Program *target, uint32_t count, const char *name) {
    for (uint32_t i = 0; i < count; i++)
        if (target->routines[i].name && strcmp(target->routines[i].name, name) == 0)
            return true;
    return false;
}

/* Routines of files that do not see each other may have one name: nobody outside need choose
 * between them, but each has a name of its own, with the file's as its prefix. */
static char *own_name(const Program *target, uint32_t index, const Symbol *symbol, char *name) {
    const char *slash = strrchr(symbol->module->path, '/');
    const char *stem = slash ? slash + 1 : symbol->module->path;
    for (unsigned n = 1; name && is_taken(target, index, name); n++) {
        char fresh[2 * LIMIT_NAME_BYTES + 2];
        int length = 0;
        if (*stem >= '0' && *stem <= '9')
            fresh[length++] = '_';
        for (const char *c = stem; *c && *c != '.' && length < LIMIT_NAME_BYTES - 12; c++) {
            bool letter =
                (*c >= 'a' && *c <= 'z') || (*c >= 'A' && *c <= 'Z') || (*c >= '0' && *c <= '9');
            fresh[length++] = letter ? *c : '_';
        }
        snprintf(fresh + length, sizeof fresh - (size_t)length, "_%u.%s", n, symbol->name);
        memory_release(name);
        name = memory_copy_text(fresh, strlen(fresh));
    }
    return name;
}

static char *copy_label(const Node *item, bool *failed) {
    char *label = item->text ? memory_copy_text(item->text, strlen(item->text)) : NULL;
    *failed = *failed || (item->text && !label);
    return label;
}

static bool name_all(Numbers *numbers) {
    Program *target = numbers->target;
    bool failed = false;
    for (uint32_t k = 0; k < 3; k++) {
        for (uint32_t i = 0; i < numbers->counts[k]; i++) {
            const Symbol *symbol = numbers->symbols[k][i];
            uint32_t m = number_of(numbers->modules, symbol->module);
            char *name = outside_name(&numbers->routes[m], symbol);
            failed = failed || !name;
            if (k == NUMBER_DIALS) {
                target->dials[i].name = name;
                target->dials[i].label = copy_label(symbol->node, &failed);
            } else if (k == NUMBER_EVENTS) {
                target->events[i].name = name;
                target->events[i].label = copy_label(symbol->node, &failed);
            } else {
                name = own_name(target, i, symbol, name);
                failed = failed || !name;
                target->routines[i].name = name;
                target->routines[i].then = ROUTINE_NONE;
            }
        }
    }
    if (!failed)
        check_outside_names(numbers);
    return !failed;
}

/* -------- dials -------- */

static bool is_percent(const Node *expression) {
    while (expression && (expression->kind == NODE_NEGATE || expression->kind == NODE_PARENS))
        expression = expression->a;
    return expression && expression->kind == NODE_PERCENT;
}

static bool check_type(Diagnostics *sink, const Node *expression, FixedValue value,
                       DialInfo *dial) {
    switch (value.type) {
    case TYPE_NUMBER:
        dial->type = DIAL_NUMBER;
        break;
    case TYPE_DURATION:
        dial->type = DIAL_DURATION;
        break;
    case TYPE_TRUTH:
        dial->type = DIAL_TRUTH;
        break;
    case TYPE_COLOUR:
        dial->type = DIAL_COLOUR;
        break;
    case TYPE_ANGLE:
        diagnostics_report(sink, SEVERITY_ERROR, "dial-type", expression->span, SPAN_NONE, NULL,
                           "a dial is a number, a duration, a truth or a colour, this is an angle: "
                           "let it be a number and write `* 1turn` where it is read");
        return false;
    default:
        return false;
    }
    dial->number = value.number;
    dial->colour = value.colour;
    return true;
}

static bool check_limit(ExpandProgram *program, const Symbol *symbol, Type type, const Node *limit,
                        const char *word, double *number) {
    Diagnostics *sink = program->modules->sink;
    FixedValue value = expand_fixed(program, symbol->module, limit);
    if (value.type == TYPE_NONE)
        return false;
    if (value.type != type) {
        diagnostics_report(sink, SEVERITY_ERROR, "range-type", limit->span, symbol->node->b->span,
                           NULL, "the dial is %s, and `%s` is %s", type_name(type), word,
                           type_name(value.type));
        return false;
    }
    *number = value.number;
    return true;
}

static void check_range(ExpandProgram *program, const Symbol *symbol, Type type, DialInfo *dial) {
    const Node *node = symbol->node;
    Diagnostics *sink = program->modules->sink;
    if (!node->c || !node->d)
        return;
    if (type == TYPE_TRUTH || type == TYPE_COLOUR) {
        diagnostics_report(sink, SEVERITY_ERROR, "range-type", node->c->span, node->d->span, NULL,
                           "a dial that is %s has no range", type_name(type));
        return;
    }
    bool fine = check_limit(program, symbol, type, node->c, "from", &dial->from);
    if (!check_limit(program, symbol, type, node->d, "to", &dial->to) || !fine)
        return;
    if (dial->from >= dial->to) {
        diagnostics_report(sink, SEVERITY_ERROR, "range-empty", node->c->span, node->d->span, NULL,
                           "the range is empty: `from` the smaller `to` the larger");
        return;
    }
    dial->ranged = true;
    if (dial->number < dial->from || dial->number > dial->to)
        diagnostics_report(sink, SEVERITY_ERROR, "default-outside", node->b->span, node->c->span,
                           NULL, "`%s` begins outside its range", symbol->name);
}

static void check_dial(ExpandProgram *program, const Symbol *symbol, DialInfo *dial) {
    const Node *node = symbol->node;
    Diagnostics *sink = program->modules->sink;
    FixedValue value = expand_fixed(program, symbol->module, node->b);
    if (!check_type(sink, node->b, value, dial))
        return;
    check_range(program, symbol, value.type, dial);
    dial->percent = dial->type == DIAL_NUMBER &&
                    (is_percent(node->b) || is_percent(node->c) || is_percent(node->d));
    if (!node->e)
        return;
    if (value.type == TYPE_TRUTH)
        diagnostics_report(sink, SEVERITY_ERROR, "eased-truth", node->e->span, node->b->span, NULL,
                           "a truth cannot be `eased`: nothing lies between `true` and `false`");
    else
        checks_duration(program, symbol->module, node->e, "eased", false, &dial->eased);
}

/* -------- routines -------- */

static void check_then(ExpandProgram *program, const Symbol *symbol, RoutineInfo *routine) {
    const Node *then = symbol->node->c;
    if (!then)
        return;
    if (!symbol->node->b)
        diagnostics_report(program->modules->sink, SEVERITY_ERROR, "then-without-lasts", then->span,
                           SPAN_NONE, NULL,
                           "`then` needs `lasts`: `routine %s lasts 30min then %s`", symbol->name,
                           then->text ? then->text : "off");
    bool off;
    const Symbol *next = checks_routine(program, symbol->module, then, &off);
    if (off)
        routine->then = ROUTINE_OFF;
    else if (next)
        routine->then = next->index;
}

/* Rule L7: a chain of `then` may not return to itself. Each routine has one follower, so a walk
 * that is longer than their number has met a loop. */
static void check_chains(ExpandProgram *program, Numbers *numbers) {
    uint16_t count = numbers->target->routine_count;
    bool told[LIMIT_ROUTINES] = {false};
    for (uint16_t i = 0; i < count; i++) {
        char loop[600] = "";
        size_t used = 0;
        uint16_t at = i, steps = 0;
        bool known = false;
        do {
            known = known || told[at];
            if (used < sizeof loop)
                used += (size_t)snprintf(loop + used, sizeof loop - used, "`%s` -> ",
                                         program->routines[at].name);
            at = program->routines[at].then;
        } while (at < count && at != i && ++steps < count);
        if (at != i || known)
            continue;
        const Symbol *symbol = numbers->symbols[NUMBER_ROUTINES][i];
        diagnostics_report(
            program->modules->sink, SEVERITY_ERROR, "then-circle", symbol->node->c->span, SPAN_NONE,
            NULL, "what comes after `%s` returns to it: %s`%s`", symbol->name, loop, symbol->name);
        do {
            told[at] = true;
            at = program->routines[at].then;
        } while (at != i);
    }
}

static void check_routine(ExpandProgram *program, const Symbol *symbol, RoutineInfo *routine) {
    if (symbol->node->b)
        checks_duration(program, symbol->module, symbol->node->b, "lasts", true, &routine->lasts);
    check_then(program, symbol, routine);
}

/* -------- all -------- */

bool declarations_check(ExpandProgram *program, Program *target) {
    Numbers *numbers = arena_allocate(program->modules->arena, sizeof *numbers);
    if (!numbers || arena_failed(program->modules->arena))
        return false;
    numbers->target = target;
    numbers->modules = program->modules;
    if (!find_routes(program->modules, numbers->routes) || !number_all(numbers) ||
        !name_all(numbers))
        return false;
    program->dials = target->dials;
    program->dial_count = target->dial_count;
    program->routines = target->routines;
    for (uint16_t i = 0; i < program->dial_count; i++)
        check_dial(program, numbers->symbols[NUMBER_DIALS][i], &target->dials[i]);
    for (uint16_t i = 0; i < target->routine_count; i++)
        check_routine(program, numbers->symbols[NUMBER_ROUTINES][i], &target->routines[i]);
    check_chains(program, numbers);
    return true;
}
