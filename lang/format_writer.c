#include "lang/format_writer.h"

#include <string.h>

#include "runtime/core/memory.h"

void writer_bytes(Writer *writer, const char *bytes, size_t length) {
    if (writer->failed)
        return;
    if (writer->length + length + 1 > writer->room) {
        size_t room = (writer->length + length + 1) * 2;
        char *larger = memory_resize(writer->bytes, room, 1);
        if (!larger) {
            writer->failed = true;
            return;
        }
        writer->bytes = larger;
        writer->room = room;
    }
    memcpy(writer->bytes + writer->length, bytes, length);
    writer->length += length;
    writer->bytes[writer->length] = '\0';
}

void writer_text(Writer *writer, const char *text) {
    writer_bytes(writer, text, strlen(text));
}

void writer_span(Writer *writer, Span span) {
    writer_bytes(writer, writer->source + span.begin, span.end - span.begin);
}

void writer_break(Writer *writer, unsigned depth) {
    const char mark[2] = {WRITER_BREAK, (char)(depth < 3 ? 3 : depth > 120 ? 120 : depth)};
    writer_bytes(writer, mark, 2);
}

void writer_align(Writer *writer) {
    const char mark = WRITER_ALIGN;
    writer_bytes(writer, &mark, 1);
}

void writer_quoted(Writer *writer, const char *text) {
    writer_text(writer, "\"");
    for (; *text; text++) {
        if (*text == '"' || *text == '\\')
            writer_text(writer, "\\");
        writer_bytes(writer, text, 1);
    }
    writer_text(writer, "\"");
}
