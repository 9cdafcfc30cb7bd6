/* What is wrong, where, and what to write instead. One sink a compilation; every message goes
 * through diagnostics_report and is printed by lang/diagnostics.c in the GNU form or as JSON.
 *
 * Sentences: no capital at the start, no full stop at the end, names and code in `backquotes`.
 * Each has a code, a lower-case word with hyphens ("ramp-without-driver"), that never changes. */
#ifndef GLOAM_LANG_DIAGNOSTICS_H
#define GLOAM_LANG_DIAGNOSTICS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/* Bytes begin..end (end is behind the last) of file number `file`. */
typedef struct Span {
    uint32_t file, begin, end;
} Span;

static const Span SPAN_NONE = {UINT32_MAX, 0, 0};

typedef enum Severity { SEVERITY_ERROR, SEVERITY_WARNING, SEVERITY_NOTE } Severity;

typedef struct Diagnostic {
    Severity severity;
    const char *code;
    Span span;   /* SPAN_NONE: the file as a whole (then `file` alone is set, or nothing) */
    Span second; /* underlined too, with ~~~, where it lies on the same line; or SPAN_NONE */
    char *message;
    char *hint; /* what to write instead, or NULL; printed as `write: HINT` */
} Diagnostic;

typedef struct Diagnostics Diagnostics;

Diagnostics *diagnostics_create(void); /* NULL: out of memory */
void diagnostics_free(Diagnostics *sink);

/* Makes a source known and returns its file number; name and text are copied.
 * UINT32_MAX where memory ran out. */
uint32_t diagnostics_add_file(Diagnostics *sink, const char *name, const char *text, size_t length);
const char *diagnostics_file_name(const Diagnostics *sink, uint32_t file);
const char *diagnostics_file_text(const Diagnostics *sink, uint32_t file, size_t *length);

/* Line and column of a byte, from 1; columns count code points. */
void diagnostics_position(const Diagnostics *sink, uint32_t file, uint32_t byte, uint32_t *line,
                          uint32_t *column);

unsigned diagnostics_line(const Diagnostics *sink, Span span); /* that of its first byte */

/* Reports. `hint` may be NULL, else it is copied as it stands. The message is made from format as
 * by printf and cut at 1,000 bytes. The same code at the same span is kept once. */
#if defined(__GNUC__)
__attribute__((format(printf, 7, 8)))
#endif
void diagnostics_report(Diagnostics *sink, Severity severity, const char *code, Span span,
                        Span second, const char *hint, const char *format, ...);

/* True where that code was reported at that span. */
bool diagnostics_reported(const Diagnostics *sink, const char *code, Span span);
size_t diagnostics_count(const Diagnostics *sink, Severity severity);
size_t diagnostics_total(const Diagnostics *sink);
const Diagnostic *diagnostics_at(const Diagnostics *sink, size_t index); /* in the order of text */
bool diagnostics_out_of_memory(const Diagnostics *sink);

/* Prints all, in the order of files and text, the first LIMIT_DIAGNOSTICS_SHOWN errors and all
 * else up to the same number; then says how many more there are. `colour`: with SGR sequences. */
void diagnostics_print(const Diagnostics *sink, FILE *out, bool colour);
/* The first error as one line, for who has room for no more: `home.gloam:3:1: what is wrong`.
 * False: there is none (`sink` may be NULL), and `text` is left as it was. */
bool diagnostics_first_error(const Diagnostics *sink, char *text, size_t size);
/* One JSON array (RFC 8259): file, line, column, end_line, end_column, severity, code, message,
 * hint (null where there is none). */
void diagnostics_print_json(const Diagnostics *sink, FILE *out);

/* The nearest of `count` names to `name` by edit distance (with transpositions; at most a third of
 * the name's length, ignoring case first), or NULL. */
const char *diagnostics_nearest(const char *name, const char *const *names, size_t count);

/* In place: `?` for each byte that is no UTF-8 and each character that steers a terminal. */
void diagnostics_clean(char *text);

#endif
