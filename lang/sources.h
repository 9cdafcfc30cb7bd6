/* Source texts known to a sink: lines, columns, and the characters of UTF-8 as a terminal shows
 * them. Used by the diagnostics only. */
#ifndef GLOAM_LANG_SOURCES_H
#define GLOAM_LANG_SOURCES_H

#include <stddef.h>
#include <stdint.h>

/* The first character at or behind a multiple of so many bytes, and its column: a long line is not
 * counted from its beginning for each place in it. */
enum { SOURCE_STRIDE = 1024 };
typedef struct SourceMark {
    uint32_t byte, column;
} SourceMark;

typedef struct Source {
    char *name;
    char *text; /* NUL-terminated copy */
    size_t length;
    uint32_t line_count;
    uint32_t *lines;   /* the byte at which each line begins */
    SourceMark *marks; /* one a stride */
} Source;

typedef struct Sources {
    Source *items;
    uint32_t count;
} Sources;

/* UINT32_MAX: out of memory. */
uint32_t sources_add(Sources *sources, const char *name, const char *text, size_t length);
const Source *sources_get(const Sources *sources, uint32_t file); /* NULL: no such file */
void sources_free(Sources *sources);

uint32_t source_line_of(const Source *source, uint32_t byte); /* from 1 */
void source_position(const Source *source, uint32_t byte, uint32_t *line, uint32_t *column);

#define UTF8_INVALID 0xFFFFFFFFu

/* Reads one code point; *size bytes, 1 for a byte that is no UTF-8 (then UTF8_INVALID). */
uint32_t utf8_read(const char *text, size_t left, size_t *size);
/* The largest length <= `length` at which no code point is cut in two. */
size_t utf8_cut(const char *text, size_t length);
/* Columns of a terminal: 0, 1 or 2. */
int utf8_width(uint32_t code);
/* Characters that steer a terminal or the direction of writing. */
int utf8_is_control(uint32_t code);

#endif
