/* One text parsed, and its tree as a line of text, for tests.
 *
 * 3 is a number, 0.4p a percentage, 2e6us a duration, 0.25tr an angle, 2700K, 06:30 as 23400s, a
 * colour #ff8800, a hole ?. Everything else is (kind.word=number:text kid kid ...), without what is
 * 0 or missing; `-` is a missing kid before others; kids that are lists stand in [ ]. */
#ifndef GLOAM_TESTS_LANG_PARSED_H
#define GLOAM_TESTS_LANG_PARSED_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <cmocka.h>

#include "lang/parse.h"

typedef struct Parsed {
    Arena *arena;
    Diagnostics *sink;
    SourceTree tree;
    bool fine; /* what parse_source returned */
} Parsed;

static inline Parsed parsed_bytes(const char *text, size_t length) {
    Parsed parsed = {.arena = arena_create(), .sink = diagnostics_create()};
    assert_non_null(parsed.arena);
    assert_non_null(parsed.sink);
    uint32_t file = diagnostics_add_file(parsed.sink, "test.gloam", text, length);
    parsed.fine = parse_source(parsed.arena, parsed.sink, file, &parsed.tree);
    return parsed;
}

static inline Parsed parsed(const char *text) {
    return parsed_bytes(text, strlen(text));
}

static inline void parsed_free(Parsed *parsed) {
    diagnostics_free(parsed->sink);
    arena_free(parsed->arena);
}

static const char *const parsed_kinds[NODE_KIND_COUNT] = {
    [NODE_MEMBER] = "member",
    [NODE_CALL] = "call",
    [NODE_EASE] = "ease",
    [NODE_PARENS] = "parens",
    [NODE_NEGATE] = "negate",
    [NODE_NOT] = "not",
    [NODE_IF] = "if",
    [NODE_DELAYED] = "delayed",
    [NODE_RAMP] = "ramp",
    [NODE_STOP] = "stop",
    [NODE_DRIVER] = "driver",
    [NODE_EASING] = "easing",
    [NODE_EASING_ARGUMENT] = "argument",
    [NODE_SPACE] = "space",
    [NODE_USE] = "use",
    [NODE_LET] = "let",
    [NODE_DIAL] = "dial",
    [NODE_EVENT] = "event",
    [NODE_ROUTINE] = "routine",
    [NODE_PAINT] = "paint",
    [NODE_PLACE] = "place",
    [NODE_UNTIL_CLOCK] = "until-clock",
    [NODE_ENTRY] = "entry",
    [NODE_WHEN] = "when",
    [NODE_BETWEEN] = "between",
    [NODE_LAMP] = "lamp",
    [NODE_PLAY] = "play",
    [NODE_SETTING] = "setting",
    [NODE_ON_LAMP] = "on-lamp",
    [NODE_FOR] = "for",
    [NODE_UNTIL] = "until",
    [NODE_MOMENT] = "moment",
    [NODE_MOMENT_RANGE] = "moments",
    [NODE_BOUND] = "bound",
    [NODE_DAYS] = "days",
    [NODE_RANGE] = "range",
    [NODE_WEEKDAY] = "weekday",
    [NODE_MONTH] = "month",
    [NODE_DATE] = "date",
    [NODE_PROPERTY] = "property",
    [NODE_VOLT] = "volt",
    [NODE_AMPERE] = "ampere",
    [NODE_HERTZ] = "hertz",
    [NODE_TEXT] = "text",
};

static inline void parsed_one(const Node *node, FILE *out);

static inline void parsed_list(const Node *node, FILE *out) {
    if (!node->next) {
        parsed_one(node, out);
        return;
    }
    for (const Node *at = node; at; at = at->next) {
        fprintf(out, at == node ? "[" : " ");
        parsed_one(at, out);
    }
    fprintf(out, "]");
}

static inline bool parsed_leaf(const Node *node, FILE *out) {
    static const char *const binary[] = {
        "+", "-", "*", "/", "==", "!=", "<", "<=", ">", ">=", "and", "or"};
    switch (node->kind) {
    case NODE_HOLE:
        fprintf(out, "?");
        return true;
    case NODE_NUMBER:
        fprintf(out, "%.15g", node->number);
        return true;
    case NODE_PERCENT:
        fprintf(out, "%.15gp", node->number);
        return true;
    case NODE_DURATION:
        fprintf(out, "%.15gus", node->number);
        return true;
    case NODE_ANGLE:
        fprintf(out, "%.15gtr", node->number);
        return true;
    case NODE_KELVIN:
        fprintf(out, "%.15gK", node->number);
        return true;
    case NODE_CLOCK:
        fprintf(out, "%.15gs", node->number);
        return true;
    case NODE_COLOUR:
        fprintf(out, "#%06x", (unsigned)node->number);
        return true;
    case NODE_TRUTH:
        fprintf(out, node->number != 0.0 ? "true" : "false");
        return true;
    case NODE_NAME:
        fprintf(out, "%s", node->text);
        return true;
    case NODE_BINARY:
        fprintf(out, "(%s ", binary[node->word]);
        parsed_list(node->a, out);
        fprintf(out, " ");
        parsed_list(node->b, out);
        fprintf(out, ")");
        return true;
    default:
        return false;
    }
}

static inline void parsed_one(const Node *node, FILE *out) {
    if (parsed_leaf(node, out))
        return;
    const Node *kids[] = {node->a, node->b, node->c, node->d, node->e};
    int count = 5;
    while (count && !kids[count - 1])
        count--;
    fprintf(out, "(%s", parsed_kinds[node->kind] ? parsed_kinds[node->kind] : "UNNAMED");
    if (node->word)
        fprintf(out, ".%d", node->word);
    if (node->number != 0)
        fprintf(out, "=%.15g", node->number);
    if (node->text)
        fprintf(out, ":%s", node->text);
    for (int i = 0; i < count; i++) {
        fprintf(out, " ");
        if (kids[i])
            parsed_list(kids[i], out);
        else
            fprintf(out, "-");
    }
    fprintf(out, ")");
}

enum { PARSED_ROOM = 4000 };

static inline const char *parsed_text(const Node *list, char out[PARSED_ROOM]) {
    memset(out, 0, PARSED_ROOM);
    if (!list)
        return out;
    FILE *stream = fmemopen(out, PARSED_ROOM - 1, "w");
    assert_non_null(stream);
    parsed_list(list, stream);
    fclose(stream);
    return out;
}

/* The items of a text without mistakes. */
static inline void parsed_check(const char *text, const char *expected) {
    char found[PARSED_ROOM];
    Parsed parse = parsed(text);
    assert_true(parse.fine);
    if (!parse.tree.whole || strcmp(parsed_text(parse.tree.items, found), expected) != 0) {
        diagnostics_print(parse.sink, stderr, false);
        fail_msg("of: %s\nexpected %s\nfound    %s", text, expected, found);
    }
    parsed_free(&parse);
}

/* The same of an expression. */
static inline void parsed_expression(const char *expression, const char *expected) {
    char text[2000], whole[PARSED_ROOM];
    snprintf(text, sizeof text, "let x = %s", expression);
    snprintf(whole, sizeof whole, "(let x - %s)", expected);
    parsed_check(text, whole);
}

#endif
