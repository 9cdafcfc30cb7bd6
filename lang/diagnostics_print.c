/* Diagnostics for people (the GNU form) and for programs (JSON). Nothing of a source, a name or a
 * message reaches the output raw: characters that steer a terminal are replaced. */
#include <string.h>

#include "lang/diagnostics.h"
#include "lang/sources.h"
#include "runtime/core/limits.h"

enum {
    INDENT = 4,   /* so that no line of a source can look like a message */
    TAB = 8,      /* columns of a terminal's tab stops */
    WINDOW = 120, /* bytes of a long line that are shown */
    LEAD = 40     /* of these before the place */
};

static const char *const severity_words[] = {"error", "warning", "note"};
static const char *const severity_colours[] = {"\x1b[1;31m", "\x1b[1;35m", "\x1b[1;36m"};

/* -------- for people -------- */

/* What stands for the character on a terminal; *width its columns. `shown` has room for 5. */
static void shown_character(const char *text, size_t size, uint32_t code, char *shown, int *width) {
    *width = 1;
    if (code == UTF8_INVALID) {
        memcpy(shown, "\xEF\xBF\xBD", 4);
    } else if (utf8_is_control(code)) {
        memcpy(shown, "?", 2);
    } else {
        memcpy(shown, text, size);
        shown[size] = 0;
        *width = utf8_width(code);
    }
}

static void print_text(FILE *out, const char *text) {
    size_t left = strlen(text);
    while (left > 0) {
        char shown[5];
        int width;
        size_t size;
        uint32_t code = utf8_read(text, left, &size);
        shown_character(text, size, code, shown, &width);
        fputs(shown, out);
        text += size;
        left -= size;
    }
}

void diagnostics_clean(char *text) {
    char *to = text;
    size_t size;
    for (size_t left = strlen(text); left > 0; text += size, left -= size) {
        uint32_t code = utf8_read(text, left, &size);
        bool shown = code != UTF8_INVALID && !utf8_is_control(code);
        if (shown)
            memmove(to, text, size);
        else
            *to = '?';
        to += shown ? size : 1;
    }
    *to = '\0';
}

typedef struct Excerpt {
    const char *text;
    size_t begin, end;           /* what is shown of the line */
    bool cut_before, cut_behind; /* the line goes on there */
    Span first, second;          /* clipped to the line; second.file UINT32_MAX: none */
} Excerpt;

static Span clip(Span span, size_t begin, size_t end) {
    if (span.begin < begin)
        span.begin = (uint32_t)begin;
    if (span.begin > end)
        span.begin = (uint32_t)end;
    if (span.end > end)
        span.end = (uint32_t)end;
    if (span.end < span.begin)
        span.end = span.begin;
    return span;
}

static size_t character_start(const char *text, size_t from, size_t at) {
    for (int i = 0; i < 3 && at > from && ((unsigned char)text[at] & 0xC0) == 0x80; i++)
        at--;
    return at;
}

/* Cuts a long line to a window in which the span begins, and the second, if both fit. */
static void choose_window(Excerpt *excerpt) {
    size_t begin = excerpt->begin, end = excerpt->end;
    if (end - begin <= WINDOW)
        return;
    size_t focus = excerpt->first.begin;
    if (excerpt->second.file != UINT32_MAX && excerpt->second.begin < focus &&
        focus - excerpt->second.begin < WINDOW - LEAD)
        focus = excerpt->second.begin;
    size_t from = focus - begin > LEAD ? focus - LEAD : begin;
    size_t to = end - from > WINDOW ? from + WINDOW : end;
    if (to - from < WINDOW)
        from = to - WINDOW;
    if (from > begin)
        from = character_start(excerpt->text, begin, from);
    if (to < end)
        to = character_start(excerpt->text, begin, to);
    excerpt->cut_before = from > begin;
    excerpt->cut_behind = to < end;
    excerpt->begin = from;
    excerpt->end = to;
}

/* Walks the shown part twice: once for the text, once for the marks below it. */
static void print_excerpt_row(FILE *out, const Excerpt *excerpt, bool marks) {
    int column = INDENT, blanks = INDENT;
    if (excerpt->cut_before) {
        column += 3;
        blanks += 3;
        if (!marks)
            fputs("    ...", out);
    } else if (!marks) {
        fputs("    ", out);
    }
    bool begun = false;
    for (size_t at = excerpt->begin; at < excerpt->end;) {
        char shown[5];
        int width;
        size_t size;
        uint32_t code = utf8_read(excerpt->text + at, excerpt->end - at, &size);
        shown_character(excerpt->text + at, size, code, shown, &width);
        bool tab = code == '\t';
        if (tab)
            width = TAB - column % TAB;
        column += width;
        bool in_first = at >= excerpt->first.begin && at < excerpt->first.end;
        bool empty_here = at == excerpt->first.begin && excerpt->first.end == at;
        bool in_second = excerpt->second.file != UINT32_MAX && at >= excerpt->second.begin &&
                         at < excerpt->second.end;
        if (!marks) {
            fputs(tab ? "\t" : shown, out);
        } else if (in_first || in_second || empty_here) {
            for (; blanks > 0; blanks--)
                fputc(' ', out);
            for (int i = 0; i < width; i++) {
                bool caret = !begun && (in_first || empty_here);
                fputc(caret ? '^' : in_first || in_second ? '~' : ' ', out);
                begun = begun || caret;
            }
        } else if (tab) {
            for (; blanks > 0; blanks--)
                fputc(' ', out);
            fputc('\t', out);
        } else {
            blanks += width;
        }
        at += size;
    }
    if (!marks && excerpt->cut_behind)
        fputs("...", out);
    if (marks && !begun && excerpt->first.begin >= excerpt->end) {
        for (; blanks > 0; blanks--)
            fputc(' ', out);
        fputc('^', out);
    }
}

static bool is_placed(const Diagnostic *diagnostic) {
    return diagnostic->span.file != UINT32_MAX &&
           (diagnostic->span.begin > 0 || diagnostic->span.end > 0);
}

static void print_excerpt(const Diagnostics *sink, FILE *out, bool colour,
                          const Diagnostic *diagnostic, uint32_t line) {
    Excerpt excerpt = {.second = SPAN_NONE};
    size_t length;
    excerpt.text = diagnostics_file_text(sink, diagnostic->span.file, &length);
    size_t begin = diagnostic->span.begin < length ? diagnostic->span.begin : length;
    while (begin > 0 && excerpt.text[begin - 1] != '\n')
        begin--;
    const char *stop = memchr(excerpt.text + begin, '\n', length - begin);
    size_t end = stop ? (size_t)(stop - excerpt.text) : length;
    if (line == 1 && end - begin >= 3 && memcmp(excerpt.text, "\xEF\xBB\xBF", 3) == 0)
        begin += 3;
    if (end > begin && excerpt.text[end - 1] == '\r')
        end--;
    excerpt.begin = begin;
    excerpt.end = end;
    excerpt.first = clip(diagnostic->span, begin, end);
    if (diagnostic->second.file == diagnostic->span.file && diagnostic->second.begin >= begin &&
        diagnostic->second.begin < end)
        excerpt.second = clip(diagnostic->second, begin, end);
    choose_window(&excerpt);
    print_excerpt_row(out, &excerpt, false);
    fputs(colour ? "\n\x1b[1;32m" : "\n", out);
    print_excerpt_row(out, &excerpt, true);
    fputs(colour ? "\x1b[0m\n" : "\n", out);
}

static void print_one(const Diagnostics *sink, FILE *out, bool colour,
                      const Diagnostic *diagnostic) {
    const char *name = diagnostics_file_name(sink, diagnostic->span.file);
    uint32_t line = 0, column = 0;
    fputs(colour ? "\x1b[1m" : "", out);
    if (name) {
        print_text(out, name);
        if (is_placed(diagnostic)) {
            diagnostics_position(sink, diagnostic->span.file, diagnostic->span.begin, &line,
                                 &column);
            fprintf(out, ":%u:%u", (unsigned)line, (unsigned)column);
        }
        fputs(": ", out);
    }
    fprintf(out, "%s%s: %s", colour ? severity_colours[diagnostic->severity] : "",
            severity_words[diagnostic->severity], colour ? "\x1b[0m" : "");
    print_text(out, diagnostic->message);
    fputc('\n', out);
    if (name && is_placed(diagnostic))
        print_excerpt(sink, out, colour, diagnostic, line);
    if (diagnostic->hint) {
        fputs("    write: ", out);
        print_text(out, diagnostic->hint);
        fputc('\n', out);
    }
}

static void print_more(FILE *out, size_t count, const char *one, const char *several) {
    if (count > 0)
        fprintf(out, "and %zu more %s\n", count, count == 1 ? one : several);
}

void diagnostics_print(const Diagnostics *sink, FILE *out, bool colour) {
    size_t errors = 0, others = 0;
    for (size_t i = 0; i < diagnostics_total(sink); i++) {
        const Diagnostic *diagnostic = diagnostics_at(sink, i);
        size_t *shown = diagnostic->severity == SEVERITY_ERROR ? &errors : &others;
        if (*shown == LIMIT_DIAGNOSTICS_SHOWN)
            continue;
        ++*shown;
        print_one(sink, out, colour, diagnostic);
    }
    print_more(out, diagnostics_count(sink, SEVERITY_ERROR) - errors, "error", "errors");
    print_more(out,
               diagnostics_count(sink, SEVERITY_WARNING) + diagnostics_count(sink, SEVERITY_NOTE) -
                   others,
               "warning or note", "warnings and notes");
}

bool diagnostics_first_error(const Diagnostics *sink, char *text, size_t size) {
    const Diagnostic *first = NULL;
    for (size_t i = 0; sink && !first && i < diagnostics_total(sink); i++)
        if (diagnostics_at(sink, i)->severity == SEVERITY_ERROR)
            first = diagnostics_at(sink, i);
    if (!first)
        return false;
    if (first->span.file == UINT32_MAX) {
        snprintf(text, size, "%s", first->message);
    } else {
        uint32_t line, column;
        diagnostics_position(sink, first->span.file, first->span.begin, &line, &column);
        snprintf(text, size, "%s:%u:%u: %s", diagnostics_file_name(sink, first->span.file),
                 (unsigned)line, (unsigned)column, first->message);
    }
    diagnostics_clean(text); /* it may have been cut, or the name be no UTF-8 */
    return true;
}

/* -------- for programs -------- */

static void json_text(FILE *out, const char *text) {
    if (!text) {
        fputs("null", out);
        return;
    }
    fputc('"', out);
    size_t left = strlen(text);
    while (left > 0) {
        size_t size;
        uint32_t code = utf8_read(text, left, &size);
        if (code == UTF8_INVALID)
            fputs("\xEF\xBF\xBD", out);
        else if (code == '"' || code == '\\')
            fprintf(out, "\\%c", (int)code);
        else if (utf8_is_control(code) && code < 0x10000)
            fprintf(out, "\\u%04x", (unsigned)code);
        else if (utf8_is_control(code)) /* a surrogate pair */
            fprintf(out, "\\u%04x\\u%04x", (unsigned)(0xD800 + ((code - 0x10000) >> 10)),
                    (unsigned)(0xDC00 + ((code - 0x10000) & 0x3FF)));
        else
            fwrite(text, 1, size, out);
        text += size;
        left -= size;
    }
    fputc('"', out);
}

void diagnostics_print_json(const Diagnostics *sink, FILE *out) {
    fputc('[', out);
    for (size_t i = 0; i < diagnostics_total(sink); i++) {
        const Diagnostic *diagnostic = diagnostics_at(sink, i);
        uint32_t line, column, end_line, end_column;
        diagnostics_position(sink, diagnostic->span.file, diagnostic->span.begin, &line, &column);
        diagnostics_position(sink, diagnostic->span.file, diagnostic->span.end, &end_line,
                             &end_column);
        fputs(i ? ",\n {\"file\": " : "\n {\"file\": ", out);
        json_text(out, diagnostics_file_name(sink, diagnostic->span.file));
        fprintf(out,
                ", \"line\": %u, \"column\": %u, \"end_line\": %u, \"end_column\": %u, "
                "\"severity\": \"%s\", \"code\": ",
                (unsigned)line, (unsigned)column, (unsigned)end_line, (unsigned)end_column,
                severity_words[diagnostic->severity]);
        json_text(out, diagnostic->code);
        fputs(", \"message\": ", out);
        json_text(out, diagnostic->message);
        fputs(", \"hint\": ", out);
        json_text(out, diagnostic->hint);
        fputc('}', out);
    }
    fputs(diagnostics_total(sink) ? "\n]\n" : "]\n", out);
}
