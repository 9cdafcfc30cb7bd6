#include "lang/checks.h"

#include <stdio.h>
#include <string.h>

#include "runtime/core/limits.h"

Diagnostics *checks_sink(const Checks *checks) {
    return checks->program->modules->sink;
}

Module *checks_main(const Checks *checks) {
    return checks->program->modules->modules[0];
}

void checks_error(const Checks *checks, const char *code, Span span, const char *hint,
                  const char *message) {
    diagnostics_report(checks_sink(checks), SEVERITY_ERROR, code, span, SPAN_NONE, hint, "%s",
                       message);
}

static void report_no_duration(Diagnostics *sink, const Node *expression, const char *word,
                               Type type) {
    char hint[100] = "";
    if (expression->kind == NODE_NUMBER)
        snprintf(hint, sizeof hint, "`%.15gs` or `%.15gmin`?", expression->number,
                 expression->number);
    diagnostics_report(sink, SEVERITY_ERROR, "needs-duration", expression->span, SPAN_NONE,
                       *hint ? hint : NULL, "`%s` needs a duration, this is %s", word,
                       type_name(type));
}

bool checks_duration(ExpandProgram *program, Module *module, const Node *expression,
                     const char *word, bool positive, double *microseconds) {
    Diagnostics *sink = program->modules->sink;
    FixedValue value = expand_fixed(program, module, expression);
    if (value.type == TYPE_NONE)
        return false;
    if (value.type != TYPE_DURATION) {
        report_no_duration(sink, expression, word, value.type);
        return false;
    }
    if (value.number < 0 || (positive && value.number == 0)) {
        diagnostics_report(sink, SEVERITY_ERROR, "duration-too-short", expression->span, SPAN_NONE,
                           NULL, "`%s` needs a duration %s 0s", word,
                           positive ? "above" : "not below");
        return false;
    }
    *microseconds = value.number;
    return true;
}

bool checks_share(ExpandProgram *program, Module *module, const Node *expression, const char *word,
                  double *share) {
    Diagnostics *sink = program->modules->sink;
    FixedValue value = expand_fixed(program, module, expression);
    if (value.type == TYPE_NONE)
        return false;
    if (value.type != TYPE_NUMBER) {
        diagnostics_report(sink, SEVERITY_ERROR, "needs-number", expression->span, SPAN_NONE, NULL,
                           "`%s` needs a number from 0%% to 100%%, this is %s", word,
                           type_name(value.type));
        return false;
    }
    if (value.number < 0 || value.number > 1) {
        char hint[64] = "";
        if (expression->kind == NODE_NUMBER && value.number <= 100)
            snprintf(hint, sizeof hint, "%s %.15g%%", word, value.number);
        else if (value.number > 1)
            snprintf(hint, sizeof hint, "%s 100%%", word);
        diagnostics_report(sink, SEVERITY_ERROR, "out-of-range", expression->span, SPAN_NONE,
                           *hint ? hint : NULL, "`%s` goes from 0%% to 100%%", word);
        return false;
    }
    *share = value.number;
    return true;
}

Symbol *checks_symbol(Module *module, const Node *name) {
    bool known;
    if (name->kind == NODE_NAME)
        return name->text ? names_find(module, name->text) : NULL;
    if (name->kind == NODE_MEMBER && name->a && name->b && name->a->text && name->b->text)
        return names_find_member(module, name->a->text, name->b->text, &known);
    return NULL;
}

/* What follows the name where an event, a dial, a routine or a lamp is declared. */
static const char *declared_with(const char *what) {
    return strcmp(what, "dial") == 0      ? " = 50%"
           : strcmp(what, "routine") == 0 ? " { paint gold }"
           : strcmp(what, "lamp") == 0    ? " { pixels 16 shape ring }"
                                          : "";
}

void checks_report_unknown(ExpandProgram *program, Module *module, const Node *name,
                           const char *what, unsigned kinds) {
    Diagnostics *sink = program->modules->sink;
    if (!names_all_whole(program->modules))
        return;
    if (name->kind == NODE_MEMBER) {
        bool known;
        names_find_member(module, name->a->text, name->b->text, &known);
        if (known)
            diagnostics_report(sink, SEVERITY_ERROR, "unknown-name", name->b->span, SPAN_NONE, NULL,
                               "no %s `%s` in the file used as `%s`", what, name->b->text,
                               name->a->text);
        else
            diagnostics_report(sink, SEVERITY_ERROR, "unknown-name", name->a->span, SPAN_NONE, NULL,
                               "no file is used as `%s`: `use \"...\" as %s`", name->a->text,
                               name->a->text);
        return;
    }
    uint32_t line;
    const char *nearest = names_nearest(module, name->text, kinds, sink, &line);
    char place[32] = "", hint[LIMIT_NAME_BYTES + 64];
    snprintf(hint, sizeof hint, "`%s %s%s`", what, name->text, declared_with(what));
    if (line)
        snprintf(place, sizeof place, " (line %u)", (unsigned)line);
    diagnostics_report(sink, SEVERITY_ERROR, "unknown-name", name->span, SPAN_NONE,
                       nearest ? NULL : hint, "no %s `%s`%s%s%s%s%s", what, name->text,
                       nearest ? ": `" : "", nearest ? nearest : "", nearest ? "`" : "", place,
                       nearest ? "?" : "");
}

Symbol *checks_routine(ExpandProgram *program, Module *module, const Node *name, bool *off) {
    static const char *const kinds[] = {
        "a name for an expression", "a function", "a dial", "an event", "a routine", "a lamp"};
    *off = false;
    if (name->kind != NODE_NAME && name->kind != NODE_MEMBER)
        return NULL;
    Symbol *symbol = checks_symbol(module, name);
    if (symbol && symbol->kind == SYMBOL_ROUTINE)
        return symbol;
    if (symbol)
        diagnostics_report(program->modules->sink, SEVERITY_ERROR, "no-routine", name->span,
                           SPAN_NONE, NULL, "`%s` is %s, no routine", symbol->name,
                           kinds[symbol->kind]);
    else if (name->kind == NODE_NAME && strcmp(name->text, "off") == 0)
        *off = true;
    else
        checks_report_unknown(program, module, name, "routine", 1u << SYMBOL_ROUTINE);
    return NULL;
}

void checks_report_again(Diagnostics *sink, Span second, Span first, const char *what) {
    diagnostics_report(sink, SEVERITY_ERROR, "said-twice", second, first, NULL,
                       "`%s` is said already at line %u", what, diagnostics_line(sink, first));
}
