/* What the compiler says of a text, for tests. */
#ifndef GLOAM_TESTS_LANG_SAID_H
#define GLOAM_TESTS_LANG_SAID_H

#include "memory_reader.h"

/* The n-th (from 0) diagnostic with that code, or NULL. */
static inline const Diagnostic *said_nth(Compilation *compilation, const char *code, size_t n) {
    Diagnostics *sink = lang_diagnostics(compilation);
    for (size_t i = 0; i < diagnostics_total(sink); i++) {
        const Diagnostic *diagnostic = diagnostics_at(sink, i);
        if (strcmp(diagnostic->code, code) == 0 && n-- == 0)
            return diagnostic;
    }
    return NULL;
}

static inline const Diagnostic *said(Compilation *compilation, const char *code) {
    return said_nth(compilation, code, 0);
}

static inline size_t said_count(Compilation *compilation, const char *code) {
    size_t count = 0;
    while (said_nth(compilation, code, count))
        count++;
    return count;
}

/* The text that a span underlines; "" where there is none. */
static inline const char *said_text(Compilation *compilation, Span span, char *out, size_t room) {
    size_t length;
    out[0] = 0;
    const char *text =
        span.file == UINT32_MAX
            ? NULL
            : diagnostics_file_text(lang_diagnostics(compilation), span.file, &length);
    if (text && span.end >= span.begin && span.end <= length)
        snprintf(out, room, "%.*s", (int)(span.end - span.begin), text + span.begin);
    return out;
}

/* Everything that was said, on standard error: for a test that did not expect it. */
static inline void said_print(Compilation *compilation) {
    diagnostics_print(lang_diagnostics(compilation), stderr, false);
}

#endif
