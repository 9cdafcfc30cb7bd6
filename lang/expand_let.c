/* Lets and functions: expanded where they are used, at the time that it is there (rules M1, M2,
 * M3, M8). */
#include "lang/expand_private.h"

#include <stdlib.h>
#include <string.h>

/* -------- loops -------- */

/* Loops were found and told before types are looked at. Where there are some they are met here
 * again, and left alone. */
static bool is_loop(const Context *in, const Node *definition) {
    for (const Context *at = in->expander->loops ? in : NULL; at; at = at->outer)
        if (at->definition == definition) {
            in->expander->failed = true;
            return true;
        }
    return false;
}

static const char *signature(const Context *in, const Node *let) {
    const char *text = expand_print(in, "%s(", let->a->text);
    for (const Node *parameter = let->b; parameter; parameter = parameter->next)
        text = expand_print(in, "%s%s%s", text, parameter->text, parameter->next ? ", " : ")");
    return text;
}

/* -------- lets and arguments -------- */

/* The let that is meant, marked as used; its names are looked up where it was written. */
static const Node *enter_definition(const Meaning *meaning, Context *inner) {
    if (meaning->kind == MEANING_LOCAL) {
        meaning->local->used = true;
        return meaning->local->node;
    }
    meaning->symbol->used = true;
    inner->module = meaning->symbol->module;
    inner->scope = NULL;
    return meaning->symbol->node;
}

Typed expand_let(const Context *in, const Node *reference, const Meaning *meaning) {
    Context inner = *in;
    inner.frame = NULL;
    inner.outer = in;
    inner.reference = reference;
    const Node *let = enter_definition(meaning, &inner);
    if (let->b) {
        expand_error_here(in, "function-without-arguments", reference,
                          expand_print(in, "`%s`", signature(in, let)), "`%s` is a function",
                          let->a->text);
        return NOTHING;
    }
    Typed typed;
    if (expand_recall(in, let, &typed))
        return typed;
    if (is_loop(in, let)) {
        expand_remember(in, let, NOTHING);
        return NOTHING;
    }
    inner.definition = let;
    expand_count(in, let);
    typed = expand(&inner, let->c);
    expand_remember(in, let, typed);
    return typed;
}

Typed expand_argument(const Context *in, Binding *binding) {
    Context inner = *binding->context;
    binding->used = true;
    if (!binding->node)
        return NOTHING;
    inner.clock = in->clock;
    Typed typed;
    if (expand_recall(&inner, binding, &typed))
        return typed;
    typed = expand(&inner, binding->node);
    expand_remember(&inner, binding, typed);
    return typed;
}

/* -------- calls -------- */

static uint32_t length_of(const Node *list) {
    uint32_t count = 0;
    for (; list; list = list->next)
        count++;
    return count;
}

static const char *plural(uint32_t count) {
    return count == 1 ? "argument" : "arguments";
}

static bool bind(const Context *in, const Node *let, const Node *call, Frame *frame) {
    uint32_t wanted = length_of(let->b), given = length_of(call->b);
    if (wanted != given) {
        expand_error(in, "wrong-count", call, NULL, expand_print(in, "`%s`", signature(in, let)),
                     "`%s` takes %u %s, here are %u", let->a->text, (unsigned)wanted,
                     plural(wanted), (unsigned)given);
        return false;
    }
    *frame = (Frame){.function = let, .call = call, .caller = in, .count = wanted};
    frame->bindings = expand_allocate(in, wanted * sizeof(Binding));
    if (!frame->bindings)
        return false;
    const Node *parameter = let->b, *argument = call->b;
    for (uint32_t i = 0; i < wanted; i++) {
        frame->bindings[i] = (Binding){parameter->text, argument, in, false};
        parameter = parameter->next;
        argument = argument->next;
    }
    return true;
}

Typed expand_user_call(const Context *in, const Node *call, const Meaning *meaning) {
    Frame frame;
    Context inner = *in;
    const Node *let = enter_definition(meaning, &inner);
    if (!let->b) {
        expand_error_here(in, "no-function", call->a, expand_print(in, "`%s`", let->a->text),
                          "`%s` is no function: it takes no arguments", let->a->text);
        return NOTHING;
    }
    if (is_loop(in, let) || !bind(in, let, call, &frame))
        return NOTHING;
    inner.frame = &frame;
    inner.outer = in;
    inner.reference = call;
    inner.definition = let;
    expand_count(in, let);
    Typed typed = expand(&inner, let->c);
    for (uint32_t i = 0; i < frame.count; i++)
        if (!frame.bindings[i].used)
            expand(in, frame.bindings[i].node);
    return typed;
}

/* A function that nothing calls: its arguments are of no type, about which all keep silent. */
void expand_check_parameters(const Context *in, const Node *let) {
    uint32_t count = length_of(let->b);
    Frame frame = {.function = let, .call = NULL, .caller = in, .count = count};
    frame.bindings = expand_allocate(in, count * sizeof(Binding));
    if (!frame.bindings)
        return;
    const Node *parameter = let->b;
    for (uint32_t i = 0; i < count; i++, parameter = parameter->next)
        frame.bindings[i] = (Binding){parameter->text, NULL, in, false};
    Context inner = *in;
    inner.frame = &frame;
    inner.outer = in;
    inner.definition = let;
    expand(&inner, let->c);
}

/* -------- the lets of a routine -------- */

static int by_name(const void *a, const void *b) {
    const Node *left = ((const Local *)a)->node, *right = ((const Local *)b)->node;
    int order = strcmp(left->a->text, right->a->text);
    if (order)
        return order;
    return left->span.begin < right->span.begin ? -1 : left->span.begin > right->span.begin;
}

static int name_of(const void *name, const void *local) {
    return strcmp(name, ((const Local *)local)->node->a->text);
}

Local *expand_find_local(const Scope *scope, const char *name) {
    if (!scope || scope->count == 0)
        return NULL;
    return bsearch(name, scope->locals, scope->count, sizeof(Local), name_of);
}

static bool is_let(const Node *item) {
    return item->kind == NODE_LET && item->a && item->a->text;
}

/* Of two of one name, which was reported, the first counts. */
static void fill_scope(Scope *scope, const Node *routine) {
    uint32_t count = 0;
    for (const Node *item = routine->d; item; item = item->next)
        if (is_let(item))
            scope->locals[count++] = (Local){item, false};
    qsort(scope->locals, count, sizeof(Local), by_name);
    for (uint32_t i = 0; i < count; i++) {
        const Local *last = scope->count ? &scope->locals[scope->count - 1] : NULL;
        if (!last || strcmp(last->node->a->text, scope->locals[i].node->a->text) != 0)
            scope->locals[scope->count++] = scope->locals[i];
    }
}

Scope *expand_scope(const Context *in, const Node *routine) {
    Expander *expander = in->expander;
    for (Scope *scope = expander->scopes; scope; scope = scope->next)
        if (scope->routine == routine)
            return scope;
    uint32_t count = 0;
    for (const Node *item = routine->d; item; item = item->next)
        count += is_let(item);
    Scope *scope = expand_allocate(in, sizeof *scope);
    Local *locals = expand_allocate(in, (count + 1) * sizeof *locals);
    if (!scope || !locals)
        return NULL;
    *scope = (Scope){.routine = routine, .locals = locals, .next = expander->scopes};
    fill_scope(scope, routine);
    expander->scopes = scope;
    return scope;
}

void expand_check_locals(const Context *in) {
    for (uint32_t i = 0; i < in->scope->count; i++) {
        Local *local = &in->scope->locals[i];
        if (local->used)
            continue;
        Meaning meaning = {.kind = MEANING_LOCAL, .local = local};
        if (local->node->b)
            expand_check_parameters(in, local->node);
        else
            expand_let(in, local->node->a, &meaning);
    }
}
