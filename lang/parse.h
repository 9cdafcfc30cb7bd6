/* Text to syntax tree. */
#ifndef GLOAM_LANG_PARSE_H
#define GLOAM_LANG_PARSE_H

#include "lang/arena.h"
#include "lang/ast.h"

/* A comment, kept for the formatter: from `//` to before the line's end. */
typedef struct Comment {
    Span span;
    bool own_line; /* nothing but blanks stands before it on its line */
} Comment;

typedef struct SourceTree {
    uint32_t file; /* number in the sink */
    Node *items;   /* in the order of the text; items in which errors were found may be missing */
    Comment *comments; /* in the order of the text */
    uint32_t comment_count;
    bool whole; /* no error was reported while parsing */
} SourceTree;

/* Parses the text of a file that the sink knows. Every error goes to the sink. Nodes and texts are
 * in the arena. Returns false when memory ran out (arena_failed), else true: with errors, too. */
bool parse_source(Arena *arena, Diagnostics *sink, uint32_t file, SourceTree *tree);

/* True if the word may not be used as a name. */
bool parse_is_reserved(const char *word);

#endif
