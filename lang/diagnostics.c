#include "lang/diagnostics.h"

#include <stdarg.h>
#include <string.h>

#include "lang/sources.h"
#include "runtime/core/memory.h"

/* So many are kept; the rest is counted. */
enum { KEPT = 1000, MESSAGE_BYTES = 1000, HINT_BYTES = 2000 };

struct Diagnostics {
    Sources sources;
    Diagnostic *kept[KEPT + 1]; /* sorted by file and place; one more for running out of memory */
    size_t count;
    size_t counts[SEVERITY_NOTE + 1];
    bool out_of_memory;
    Diagnostic memory;
    char memory_message[16];
};

Diagnostics *diagnostics_create(void) {
    Diagnostics *sink = memory_allocate(1, sizeof(Diagnostics));
    if (!sink)
        return NULL;
    memcpy(sink->memory_message, "out of memory", 14);
    sink->memory.severity = SEVERITY_ERROR;
    sink->memory.code = "out-of-memory";
    sink->memory.span = SPAN_NONE;
    sink->memory.second = SPAN_NONE;
    sink->memory.message = sink->memory_message;
    return sink;
}

void diagnostics_free(Diagnostics *sink) {
    if (!sink)
        return;
    for (size_t i = 0; i < sink->count; i++)
        if (sink->kept[i] != &sink->memory)
            memory_release(sink->kept[i]);
    sources_free(&sink->sources);
    memory_release(sink);
}

static bool before(const Span *a, const Span *b) {
    if (a->file != b->file)
        return a->file < b->file;
    if (a->begin != b->begin)
        return a->begin < b->begin;
    return a->end < b->end;
}

static bool same_span(const Span *a, const Span *b) {
    return a->file == b->file && a->begin == b->begin && a->end == b->end;
}

/* The first index whose span is not before `span`. */
static size_t place_of(const Diagnostics *sink, const Span *span) {
    size_t low = 0, high = sink->count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (before(&sink->kept[middle]->span, span))
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static void insert(Diagnostics *sink, Diagnostic *diagnostic) {
    size_t at = place_of(sink, &diagnostic->span);
    while (at < sink->count && same_span(&sink->kept[at]->span, &diagnostic->span))
        at++;
    memmove(&sink->kept[at + 1], &sink->kept[at], (sink->count - at) * sizeof(sink->kept[0]));
    sink->kept[at] = diagnostic;
    sink->count++;
}

static bool is_known(const Diagnostics *sink, const char *code, const Span *span) {
    for (size_t i = place_of(sink, span); i < sink->count; i++) {
        if (!same_span(&sink->kept[i]->span, span))
            return false;
        if (strcmp(sink->kept[i]->code, code) == 0)
            return true;
    }
    return false;
}

static void run_out(Diagnostics *sink) {
    if (sink->out_of_memory)
        return;
    sink->out_of_memory = true;
    if (is_known(sink, sink->memory.code, &sink->memory.span))
        return;
    sink->counts[SEVERITY_ERROR]++;
    insert(sink, &sink->memory);
}

/* Room for one more: an error may push out the last that is none. */
static bool make_room(Diagnostics *sink, Severity severity) {
    if (sink->count < KEPT)
        return true;
    if (severity != SEVERITY_ERROR)
        return false;
    for (size_t i = sink->count; i-- > 0;) {
        if (sink->kept[i]->severity == SEVERITY_ERROR)
            continue;
        memory_release(sink->kept[i]);
        sink->count--;
        memmove(&sink->kept[i], &sink->kept[i + 1], (sink->count - i) * sizeof(sink->kept[0]));
        return true;
    }
    return false;
}

void diagnostics_report(Diagnostics *sink, Severity severity, const char *code, Span span,
                        Span second, const char *hint, const char *format, ...) {
    if (is_known(sink, code, &span))
        return;
    sink->counts[severity]++;
    if (!make_room(sink, severity))
        return;
    char message[MESSAGE_BYTES + 1];
    va_list arguments;
    va_start(arguments, format);
    int printed = vsnprintf(message, sizeof message, format, arguments);
    va_end(arguments);
    if (printed < 0)
        message[0] = 0;
    size_t length = strlen(message);
    if (printed > MESSAGE_BYTES)
        length = utf8_cut(message, length);
    size_t hint_length = hint ? strlen(hint) : 0;
    if (hint_length > HINT_BYTES)
        hint_length = utf8_cut(hint, HINT_BYTES);
    Diagnostic *diagnostic = memory_allocate(1, sizeof(Diagnostic) + length + hint_length + 2);
    if (!diagnostic) {
        sink->counts[severity]--;
        run_out(sink);
        return;
    }
    diagnostic->severity = severity;
    diagnostic->code = code;
    diagnostic->span = span;
    diagnostic->second = second;
    diagnostic->message = (char *)(diagnostic + 1);
    memcpy(diagnostic->message, message, length);
    if (hint) {
        diagnostic->hint = diagnostic->message + length + 1;
        memcpy(diagnostic->hint, hint, hint_length);
    }
    insert(sink, diagnostic);
}

bool diagnostics_reported(const Diagnostics *sink, const char *code, Span span) {
    return is_known(sink, code, &span);
}

size_t diagnostics_count(const Diagnostics *sink, Severity severity) {
    return sink->counts[severity];
}

size_t diagnostics_total(const Diagnostics *sink) {
    return sink->count;
}

const Diagnostic *diagnostics_at(const Diagnostics *sink, size_t index) {
    return index < sink->count ? sink->kept[index] : NULL;
}

bool diagnostics_out_of_memory(const Diagnostics *sink) {
    return sink->out_of_memory;
}

uint32_t diagnostics_add_file(Diagnostics *sink, const char *name, const char *text,
                              size_t length) {
    uint32_t file = sources_add(&sink->sources, name, text, length);
    if (file == UINT32_MAX)
        run_out(sink);
    return file;
}

const char *diagnostics_file_name(const Diagnostics *sink, uint32_t file) {
    const Source *source = sources_get(&sink->sources, file);
    return source ? source->name : NULL;
}

const char *diagnostics_file_text(const Diagnostics *sink, uint32_t file, size_t *length) {
    const Source *source = sources_get(&sink->sources, file);
    *length = source ? source->length : 0;
    return source ? source->text : NULL;
}

void diagnostics_position(const Diagnostics *sink, uint32_t file, uint32_t byte, uint32_t *line,
                          uint32_t *column) {
    const Source *source = sources_get(&sink->sources, file);
    *line = *column = 1;
    if (source)
        source_position(source, byte, line, column);
}

unsigned diagnostics_line(const Diagnostics *sink, Span span) {
    const Source *source = sources_get(&sink->sources, span.file);
    return source ? source_line_of(source, span.begin) : 1;
}
