/* Expressions in the one layout: one space around what joins, none inside parentheses. */
#include <ctype.h>
#include <stdio.h>

#include "lang/format_writer.h"

static const char *const BINARIES[] = {[BINARY_ADD] = "+",      [BINARY_SUBTRACT] = "-",
                                       [BINARY_MULTIPLY] = "*", [BINARY_DIVIDE] = "/",
                                       [BINARY_EQUAL] = "==",   [BINARY_NOT_EQUAL] = "!=",
                                       [BINARY_LESS] = "<",     [BINARY_LESS_EQUAL] = "<=",
                                       [BINARY_GREATER] = ">",  [BINARY_GREATER_EQUAL] = ">=",
                                       [BINARY_AND] = "and",    [BINARY_OR] = "or"};

void format_list(Writer *writer, const Node *list, unsigned depth) {
    for (const Node *node = list; node; node = node->next) {
        format_expression(writer, node, depth);
        if (node->next) {
            writer_text(writer, ",");
            writer_break(writer, depth);
        }
    }
}

static void format_binary(Writer *writer, const Node *node, unsigned depth) {
    unsigned own = depth;
    if (node->word <= BINARY_SUBTRACT)
        own = depth + 2;
    else if (node->word <= BINARY_DIVIDE)
        own = depth + 3;
    else if (node->word < BINARY_AND)
        own = depth + 1;
    format_expression(writer, node->a, depth);
    writer_break(writer, own);
    writer_text(writer, BINARIES[node->word]);
    writer_text(writer, " ");
    format_expression(writer, node->b, depth);
}

static void format_easing(Writer *writer, const Node *easing, unsigned depth) {
    writer_text(writer, easing->text);
    if (!easing->a)
        return;
    writer_text(writer, "(");
    for (const Node *argument = easing->a; argument; argument = argument->next) {
        if (argument->a)
            format_expression(writer, argument->a, depth + 4);
        else
            writer_text(writer, argument->text);
        for (int i = 0; i < 2; i++) {
            const Node *percent = i ? argument->c : argument->b;
            if (percent) {
                writer_text(writer, " ");
                format_expression(writer, percent, depth + 4);
            }
        }
        if (argument->next) {
            writer_text(writer, ",");
            writer_break(writer, depth + 4);
        }
    }
    writer_text(writer, ")");
}

static void format_driver(Writer *writer, const Node *driver, unsigned depth) {
    static const char *const WORDS[] = {[DRIVER_OVER] = "over ",
                                        [DRIVER_EVERY] = "every ",
                                        [DRIVER_FOR_EACH] = "for ",
                                        [DRIVER_THROUGHOUT] = "throughout",
                                        [DRIVER_ALONG] = "along "};
    writer_text(writer, WORDS[driver->word]);
    if (driver->a)
        format_expression(writer, driver->a, depth + 1);
    if (driver->word == DRIVER_FOR_EACH)
        writer_text(writer, " each");
}

static void format_stop(Writer *writer, const Node *stop, unsigned depth) {
    format_expression(writer, stop->a, depth + 1);
    if (stop->b) {
        writer_text(writer, " at ");
        format_expression(writer, stop->b, depth + 1);
    }
    if (stop->c) {
        writer_text(writer, " ");
        format_easing(writer, stop->c, depth);
    }
}

static void format_ramp(Writer *writer, const Node *node, unsigned depth) {
    for (const Node *stop = node->a; stop; stop = stop->next) {
        if (stop != node->a) {
            writer_break(writer, depth);
            writer_text(writer, node->word & RAMP_BARS ? "| " : "-> ");
        }
        format_stop(writer, stop, depth);
    }
    writer_break(writer, depth);
    if (node->word & RAMP_BACK)
        writer_text(writer, "and back ");
    if (node->word & RAMP_ROUND)
        writer_text(writer, "and round ");
    format_driver(writer, node->b, depth);
    if (node->c) {
        writer_text(writer, " ");
        format_easing(writer, node->c, depth);
    }
    if (node->d) {
        writer_text(writer, " in ");
        writer_text(writer, node->d->a->text);
        if (node->d->b) {
            writer_text(writer, " ");
            writer_text(writer, node->d->b->text);
            writer_text(writer, " hue");
        }
    }
}

static void format_if(Writer *writer, const Node *node, unsigned depth) {
    writer_text(writer, "if ");
    format_expression(writer, node->a, depth + 1);
    writer_break(writer, depth);
    writer_text(writer, "then ");
    format_expression(writer, node->b, depth + 1);
    writer_break(writer, depth);
    writer_text(writer, "else ");
    format_expression(writer, node->c, depth);
}

/* A literal as it was written, but 6:30 as 06:30 and #FF8800 as #ff8800. */
static void format_literal(Writer *writer, const Node *node) {
    const char *text = writer->source + node->span.begin;
    if (node->kind == NODE_CLOCK && node->span.end > node->span.begin + 1 && text[1] == ':')
        writer_text(writer, "0");
    for (uint32_t i = node->span.begin; i < node->span.end; i++) {
        char byte = writer->source[i];
        if (node->kind == NODE_COLOUR)
            byte = (char)tolower((unsigned char)byte);
        writer_bytes(writer, &byte, 1);
    }
}

static void format_call(Writer *writer, const Node *node, unsigned depth) {
    format_expression(writer, node->a, depth);
    writer_text(writer, "(");
    format_list(writer, node->b, depth + 4);
    writer_text(writer, ")");
}

void format_expression(Writer *writer, const Node *node, unsigned depth) {
    switch (node->kind) {
    case NODE_NAME:
        writer_text(writer, node->text);
        break;
    case NODE_MEMBER:
        writer_text(writer, node->a->text);
        writer_text(writer, ".");
        writer_text(writer, node->b->text);
        break;
    case NODE_CALL:
        format_call(writer, node, depth);
        break;
    case NODE_EASE:
        writer_text(writer, "ease(");
        format_expression(writer, node->a, depth + 4);
        writer_text(writer, ", ");
        format_easing(writer, node->b, depth + 4);
        writer_text(writer, ")");
        break;
    case NODE_PARENS:
        writer_text(writer, "(");
        format_expression(writer, node->a, depth + 4);
        writer_text(writer, ")");
        break;
    case NODE_NEGATE:
        writer_text(writer, "-");
        format_expression(writer, node->a, depth);
        break;
    case NODE_NOT:
        writer_text(writer, "not ");
        format_expression(writer, node->a, depth);
        break;
    case NODE_BINARY:
        format_binary(writer, node, depth);
        break;
    case NODE_IF:
        format_if(writer, node, depth);
        break;
    case NODE_DELAYED:
        format_expression(writer, node->a, depth + 1);
        writer_break(writer, depth);
        writer_text(writer, "delayed ");
        format_expression(writer, node->b, depth + 1);
        break;
    case NODE_RAMP:
        format_ramp(writer, node, depth);
        break;
    default:
        format_literal(writer, node);
    }
}
