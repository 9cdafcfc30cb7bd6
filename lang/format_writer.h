/* Pieces of the formatter that share a writer; nobody else includes this.
 *
 * A statement is written as one string with marks in it: WRITER_BREAK and a depth byte is a space
 * at which the line may be broken (the shallowest first); WRITER_ALIGN is where neighbours of the
 * same kind are lined up. Both are below space and so cannot come from a source. */
#ifndef GLOAM_LANG_FORMAT_WRITER_H
#define GLOAM_LANG_FORMAT_WRITER_H

#include "lang/ast.h"

enum { WRITER_BREAK = 1, WRITER_ALIGN = 2, FORMAT_COLUMNS = 100, FORMAT_INDENT = 4 };

typedef struct Writer {
    const char *source; /* of the file that the spans are in */
    char *bytes;        /* NUL-terminated; NULL while empty */
    size_t length, room;
    bool failed; /* memory ran out */
} Writer;

void writer_bytes(Writer *writer, const char *bytes, size_t length);
void writer_text(Writer *writer, const char *text);
/* What stands in the source, as it stands. */
void writer_span(Writer *writer, Span span);
void writer_break(Writer *writer, unsigned depth);
void writer_align(Writer *writer);
/* A text in quotes, with its escapes. */
void writer_quoted(Writer *writer, const char *text);

/* An expression whose breaks are at `depth` and below. */
void format_expression(Writer *writer, const Node *node, unsigned depth);
/* A list of expressions or literals, separated by commas. */
void format_list(Writer *writer, const Node *list, unsigned depth);

/* One statement or item without a body: USE, LET, DIAL, EVENT, PAINT, PLACE, UNTIL_CLOCK, ENTRY,
 * WHEN, BETWEEN, PROPERTY; of ROUTINE and LAMP what stands before the brace. */
void format_statement(Writer *writer, const Node *node);

#endif
