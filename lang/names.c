#include "lang/names.h"

#include <stdlib.h>
#include <string.h>

#include "lang/builtins.h"
#include "lang/colour_names.h"

/* -------- declaring -------- */

static bool is_symbol(const Node *item, SymbolKind *kind) {
    switch (item->kind) {
    case NODE_LET:
        *kind = item->b ? SYMBOL_FUNCTION : SYMBOL_LET;
        break;
    case NODE_DIAL:
        *kind = SYMBOL_DIAL;
        break;
    case NODE_EVENT:
        *kind = SYMBOL_EVENT;
        break;
    case NODE_ROUTINE:
        *kind = SYMBOL_ROUTINE;
        break;
    case NODE_LAMP:
        *kind = SYMBOL_LAMP;
        break;
    default:
        return false;
    }
    return item->a && item->a->kind == NODE_NAME;
}

static int by_name(const void *a, const void *b) {
    const Symbol *const *left = a, *const *right = b;
    int order = strcmp((*left)->name, (*right)->name);
    if (order)
        return order;
    return *left < *right ? -1 : *left > *right;
}

static void sort_symbols(Diagnostics *sink, Module *module) {
    for (uint32_t i = 0; i < module->symbol_count; i++)
        module->sorted[i] = &module->symbols[i];
    qsort(module->sorted, module->symbol_count, sizeof module->sorted[0], by_name);
    for (uint32_t i = 0; i < module->symbol_count; i++) {
        Symbol *symbol = module->sorted[i];
        const Symbol *first =
            module->sorted_count ? module->sorted[module->sorted_count - 1] : NULL;
        if (first && strcmp(first->name, symbol->name) == 0)
            names_report_twice(sink, symbol->node, first->node);
        else
            module->sorted[module->sorted_count++] = symbol;
    }
}

void names_report_twice(Diagnostics *sink, const Node *second, const Node *first) {
    bool lets = first->kind == NODE_LET && second->kind == NODE_LET;
    const Node *name = second->kind == NODE_NAME ? second : second->a;
    const Node *other = first->kind == NODE_NAME ? first : first->a;
    diagnostics_report(sink, SEVERITY_ERROR, "named-twice", name->span, SPAN_NONE, NULL,
                       "%s`%s` is named already at line %u",
                       lets ? "nothing changes here: a `let` names an expression; " : "",
                       name->text, diagnostics_line(sink, other->span));
}

void names_warn_hidden(Diagnostics *sink, const Node *name) {
    FunctionId id;
    uint32_t rgb;
    const char *what = NULL;
    Severity severity = SEVERITY_WARNING;
    if (moment_find(name->text)) {
        what = "built-in name of the moment";
    } else if (function_find(name->text, &id) || strcmp(name->text, "ease") == 0) {
        what = "built-in function";
    } else if (strcmp(name->text, "off") == 0) {
        what = "built-in routine of no light";
    } else if (colour_name_find(name->text, &rgb)) {
        what = "colour of that name";
        severity = SEVERITY_NOTE;
    }
    if (what)
        diagnostics_report(sink, severity, "hides-built-in", name->span, SPAN_NONE, NULL,
                           "`%s` is yours here and hides the %s", name->text, what);
}

bool names_declare(Modules *modules, Module *module) {
    SymbolKind kind;
    size_t count = 0;
    for (const Node *item = module->tree.items; item; item = item->next)
        count += is_symbol(item, &kind);
    module->symbols = arena_allocate(modules->arena, count * sizeof *module->symbols);
    module->sorted = arena_allocate(modules->arena, count * sizeof *module->sorted);
    if (arena_failed(modules->arena))
        return false;
    for (const Node *item = module->tree.items; item; item = item->next) {
        if (!is_symbol(item, &kind))
            continue;
        Symbol *symbol = &module->symbols[module->symbol_count++];
        *symbol = (Symbol){.kind = kind, .name = item->a->text, .node = item, .module = module};
        if (kind != SYMBOL_LAMP)
            names_warn_hidden(modules->sink, item->a);
    }
    sort_symbols(modules->sink, module);
    return true;
}

bool names_all_whole(const Modules *modules) {
    for (uint32_t i = 0; i < modules->count; i++)
        if (!modules->modules[i]->tree.whole)
            return false;
    return true;
}

/* -------- finding -------- */

static int compare_name(const void *name, const void *symbol) {
    return strcmp(name, (*(Symbol *const *)symbol)->name);
}

Symbol *names_find_own(const Module *module, const char *name) {
    if (module->sorted_count == 0)
        return NULL;
    Symbol **found =
        bsearch(name, module->sorted, module->sorted_count, sizeof module->sorted[0], compare_name);
    return found ? *found : NULL;
}

static Symbol *find_brought(const Module *module, const char *name) {
    Symbol *symbol = names_find_own(module, name);
    return symbol && symbol->kind != SYMBOL_LAMP ? symbol : NULL;
}

Symbol *names_find(Module *module, const char *name) {
    Symbol *symbol = names_find_own(module, name);
    for (uint32_t i = 0; i < module->plain_count && !symbol; i++)
        symbol = find_brought(module->plain[i], name);
    return symbol;
}

Symbol *names_find_member(Module *module, const char *prefix, const char *name,
                          bool *prefix_known) {
    *prefix_known = false;
    for (uint32_t i = 0; i < module->named_count; i++) {
        if (strcmp(module->named[i].alias, prefix) != 0)
            continue;
        *prefix_known = true;
        return find_brought(module->named[i].module, name);
    }
    return NULL;
}

/* -------- nearest -------- */

/* Bounds that keep a file of many mistakes quick to check. */
enum { NEAREST_CANDIDATES = 1000, NEAREST_ERRORS = 200 };

static size_t collect(const Module *module, unsigned kinds, bool own, const char **names,
                      size_t count) {
    for (uint32_t i = 0; i < module->sorted_count && count < NEAREST_CANDIDATES; i++) {
        const Symbol *symbol = module->sorted[i];
        if (kinds & 1u << symbol->kind && (own || symbol->kind != SYMBOL_LAMP))
            names[count++] = symbol->name;
    }
    return count;
}

const char *names_nearest(Module *module, const char *name, unsigned kinds, Diagnostics *sink,
                          uint32_t *line) {
    const char *names[NEAREST_CANDIDATES];
    *line = 0;
    if (diagnostics_count(sink, SEVERITY_ERROR) > NEAREST_ERRORS)
        return NULL;
    size_t count = collect(module, kinds, true, names, 0);
    for (uint32_t i = 0; i < module->plain_count; i++)
        count = collect(module->plain[i], kinds, false, names, count);
    const char *nearest = diagnostics_nearest(name, names, count);
    const Symbol *own = nearest ? names_find_own(module, nearest) : NULL;
    if (own)
        *line = diagnostics_line(sink, own->node->a->span);
    return nearest;
}
