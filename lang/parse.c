/* One file from text to tree, and the reports all parts of that share. */
#include <stdarg.h>
#include <string.h>

#include "lang/syntax.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"

Span syntax_span(const Syntax *s, uint32_t begin, uint32_t end) {
    return (Span){s->file, begin, end};
}

void syntax_error(Syntax *s, const char *code, uint32_t begin, uint32_t end, const char *hint,
                  const char *format, ...) {
    char message[1000];
    va_list arguments;
    s->tree->whole = false;
    if (s->error_count == LIMIT_ERRORS) {
        s->gave_up = true;
        diagnostics_report(s->sink, SEVERITY_ERROR, "too-many-errors", syntax_span(s, begin, end),
                           SPAN_NONE, NULL, "more than %d errors: the rest is not looked at",
                           LIMIT_ERRORS);
    }
    if (s->error_count++ >= LIMIT_ERRORS)
        return;
    va_start(arguments, format);
    vsnprintf(message, sizeof message, format, arguments);
    va_end(arguments);
    diagnostics_report(s->sink, SEVERITY_ERROR, code, syntax_span(s, begin, end), SPAN_NONE, hint,
                       "%s", message);
}

static void parse_keep_comments(Syntax *s) {
    if (!s->comment_count)
        return;
    Comment *kept = arena_allocate(s->arena, s->comment_count * sizeof *kept);
    if (!kept || arena_failed(s->arena)) {
        s->no_memory = true;
        return;
    }
    memcpy(kept, s->comments, s->comment_count * sizeof *kept);
    s->tree->comments = kept;
    s->tree->comment_count = s->comment_count;
}

bool parse_source(Arena *arena, Diagnostics *sink, uint32_t file, SourceTree *tree) {
    size_t length = 0;
    const char *text = diagnostics_file_text(sink, file, &length);
    *tree = (SourceTree){.file = file, .whole = true};
    Syntax state = {.arena = arena,
                    .sink = sink,
                    .tree = tree,
                    .text = (const unsigned char *)text,
                    .length = (uint32_t)length,
                    .file = file},
           *s = &state;
    if (length > LIMIT_SOURCE_BYTES) {
        syntax_error(s, "file-too-long", 0, 0, NULL, "a file has at most %d bytes, this has %zu",
                     LIMIT_SOURCE_BYTES, length);
        return !diagnostics_out_of_memory(sink);
    }
    bool went = lex_all(s) && feed_all(s);
    parse_keep_comments(s);
    memory_release(s->tokens);
    memory_release(s->comments);
    return went && !s->no_memory && !arena_failed(arena) && !diagnostics_out_of_memory(sink);
}
