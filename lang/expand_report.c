/* How the expander says what is wrong: where, with the user's own words. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "lang/expand_private.h"

enum { TEXT_SHOWN = 120, PRINT_BYTES = 400, REPORT_BYTES = 700 };

uint32_t expand_line(const Context *in, const Node *node) {
    return diagnostics_line(in->expander->sink, node->span);
}

/* The words behind a message that belongs to the inside of a function. */
static const char *inside_text(const Context *in, const Node *node, const Node *shown) {
    const char *name = in->frame->function->a->text;
    uint32_t line = expand_line(in, node);
    if (node->span.file == shown->span.file)
        return expand_print(in, " (in `%s`, line %u)", name, (unsigned)line);
    return expand_print(in, " (in `%s`, %s line %u)", name,
                        diagnostics_file_name(in->expander->sink, node->span.file), (unsigned)line);
}

static void report(const Context *in, Severity severity, const char *code, const Node *node,
                   const Node *second, const char *hint, const char *text) {
    const Node *shown = node;
    const char *inside = "";
    if (in->frame) {
        const Context *outer = in;
        while (outer->frame && outer->frame->call) {
            shown = outer->frame->call;
            outer = outer->frame->caller;
        }
    }
    if (shown != node) {
        inside = inside_text(in, node, shown);
        second = NULL;
    }
    diagnostics_report(in->expander->sink, severity, code, shown->span,
                       second ? second->span : SPAN_NONE, hint, "%s%s", text, inside);
}

void expand_error(const Context *in, const char *code, const Node *node, const Node *second,
                  const char *hint, const char *format, ...) {
    in->expander->failed = true;
    if (in->expander->stopped)
        return;
    char text[REPORT_BYTES];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    report(in, SEVERITY_ERROR, code, node, second, hint, text);
}

void expand_warn(const Context *in, Severity severity, const char *code, const Node *node,
                 const char *hint, const char *format, ...) {
    if (in->expander->stopped)
        return;
    char text[REPORT_BYTES];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    report(in, severity, code, node, NULL, hint, text);
}

void expand_error_here(const Context *in, const char *code, const Node *node, const char *hint,
                       const char *format, ...) {
    in->expander->failed = true;
    if (in->expander->stopped)
        return;
    char text[REPORT_BYTES];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    diagnostics_report(in->expander->sink, SEVERITY_ERROR, code, node->span, SPAN_NONE, hint, "%s",
                       text);
}

bool expand_said(const Diagnostics *sink, const char *code) {
    size_t total = diagnostics_total(sink);
    for (size_t i = 0; i < total; i++) {
        const Diagnostic *diagnostic = diagnostics_at(sink, i);
        if (diagnostic && strcmp(diagnostic->code, code) == 0)
            return true;
    }
    return false;
}

/* Copies with every run of blanks and line ends as one space, comments left out. */
static size_t squeeze(const char *text, size_t length, char *out, size_t room) {
    size_t at = 0;
    bool blank = false;
    for (size_t i = 0; i < length && at + 2 < room; i++) {
        if (text[i] == '/' && i + 1 < length && text[i + 1] == '/') {
            while (i < length && text[i] != '\n')
                i++;
            blank = true;
            continue;
        }
        if (text[i] == ' ' || text[i] == '\t' || text[i] == '\n' || text[i] == '\r') {
            blank = true;
            continue;
        }
        if (blank && at > 0)
            out[at++] = ' ';
        blank = false;
        out[at++] = text[i];
    }
    return at;
}

const char *expand_source(const Context *in, const Node *node) {
    size_t length = 0;
    const char *text = diagnostics_file_text(in->expander->sink, node->span.file, &length);
    char *out = expand_allocate(in, TEXT_SHOWN + 4);
    if (!text || !out || node->span.end > length || node->span.begin > node->span.end)
        return "";
    size_t wanted = node->span.end - node->span.begin;
    size_t got = squeeze(text + node->span.begin, wanted, out, TEXT_SHOWN);
    if (got + 2 >= TEXT_SHOWN)
        memcpy(out + got, "...", 4);
    return out;
}

const char *expand_operand(const Context *in, const Node *node) {
    const char *text = expand_source(in, node);
    switch (node->kind) {
    case NODE_BINARY:
        if (node->word == BINARY_MULTIPLY || node->word == BINARY_DIVIDE)
            return text;
        break;
    case NODE_RAMP:
    case NODE_IF:
    case NODE_DELAYED:
    case NODE_NOT:
        break;
    default:
        return text;
    }
    return expand_print(in, "(%s)", text);
}

const char *expand_print(const Context *in, const char *format, ...) {
    char text[PRINT_BYTES];
    va_list arguments;
    va_start(arguments, format);
    int printed = vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    if (printed < 0)
        return "";
    size_t length = strlen(text);
    char *copy = expand_allocate(in, length + 1);
    if (!copy)
        return "";
    memcpy(copy, text, length + 1);
    return copy;
}
