/* The formatter: statements become lines, comments find their places, lines are broken where they
 * are too long and lined up with their neighbours. What a line looks like depends on the tree, on
 * whether a block stood on one line, and on blank lines (one is kept), so formatting twice is
 * formatting once. */
#include <string.h>

#include "lang/compile.h"
#include "lang/format_writer.h"
#include "runtime/core/memory.h"

typedef struct Line {
    char *code;      /* with marks; NULL: a comment alone, or a blank line */
    Span comment;    /* behind the code, or alone */
    bool commented;  /* there is one */
    unsigned indent; /* columns */
    int kind;        /* only lines of one kind are lined up; 0: never */
} Line;

typedef struct Formatter {
    const SourceTree *tree;
    const char *source;
    size_t length;
    uint32_t comment; /* the next one to place */
    uint32_t reached; /* source byte behind what was placed last */
    bool apart;       /* a blank line is due before what comes next */
    Line *lines;
    size_t count, room;
    bool failed;
} Formatter;

static Line *add_line(Formatter *f, unsigned indent) {
    if (f->count == f->room) {
        size_t room = f->room ? f->room * 2 : 64;
        Line *larger = f->failed ? NULL : memory_resize(f->lines, room, sizeof *larger);
        if (!larger) {
            f->failed = true;
            return NULL;
        }
        f->lines = larger;
        f->room = room;
    }
    f->lines[f->count] = (Line){.indent = indent};
    return &f->lines[f->count++];
}

/* Whether a blank line stands in the source between two bytes. */
static bool blank_between(const Formatter *f, uint32_t begin, uint32_t end) {
    int newlines = 0;
    for (uint32_t i = begin; i < end; i++) {
        if (f->source[i] == '\n' && ++newlines == 2)
            return true;
        if (f->source[i] != '\n' && f->source[i] != ' ' && f->source[i] != '\t' &&
            f->source[i] != '\r')
            newlines = 0;
    }
    return false;
}

static bool one_line(const Formatter *f, Span span) {
    return !memchr(f->source + span.begin, '\n', span.end - span.begin);
}

/* A blank line before what begins at `begin`, where the source has one and it is not the first of
 * its block. */
static void keep_blank(Formatter *f, uint32_t begin, bool first) {
    if (!first && (f->apart || blank_between(f, f->reached, begin)))
        add_line(f, 0);
    f->apart = false;
}

/* Comments that begin before `end`, each on a line of its own. */
static void place_comments(Formatter *f, uint32_t end, unsigned indent, bool *first) {
    while (f->comment < f->tree->comment_count) {
        Span span = f->tree->comments[f->comment].span;
        if (span.begin >= end)
            return;
        keep_blank(f, span.begin, *first);
        Line *line = add_line(f, indent);
        if (line) {
            line->comment = span;
            line->commented = true;
        }
        *first = false;
        f->reached = span.end;
        f->comment++;
    }
}

/* The comment that stands behind `end` on its line goes to the line written last. */
static void place_trailing(Formatter *f, uint32_t end) {
    f->reached = end;
    if (f->failed || f->comment == f->tree->comment_count)
        return;
    Span span = f->tree->comments[f->comment].span;
    if (span.begin < end || !one_line(f, (Span){0, end, span.begin}))
        return;
    Line *line = &f->lines[f->count - 1];
    line->comment = span;
    line->commented = true;
    f->comment++;
    f->reached = span.end;
}

static void add_code(Formatter *f, Writer *writer, unsigned indent, int kind) {
    Line *line = writer->failed ? NULL : add_line(f, indent);
    if (line) {
        line->code = writer->bytes;
        line->kind = kind;
    } else {
        memory_release(writer->bytes);
        f->failed = true;
    }
}

/* Columns of a piece of code, marks counted as the spaces they become. */
static unsigned piece_columns(const char *code, const char *end) {
    unsigned width = 0;
    for (; code < end; code++) {
        if (*code == WRITER_BREAK) {
            code++;
            width++;
        } else if (*code != WRITER_ALIGN) {
            width += (*code & 0xC0) != 0x80;
        }
    }
    return width;
}

static unsigned columns(const char *code) {
    return piece_columns(code, code + strlen(code));
}

static bool comments_inside(const Formatter *f, Span span) {
    for (uint32_t i = f->comment; i < f->tree->comment_count; i++)
        if (f->tree->comments[i].span.begin >= span.begin)
            return f->tree->comments[i].span.begin < span.end;
    return false;
}

static const Node *body_of(const Node *node) {
    return node->kind == NODE_ROUTINE ? node->d : node->kind == NODE_LAMP ? node->b : NULL;
}

/* The whole block on one line, where it stood on one and fits. */
static bool block_on_one_line(const Formatter *f, const Node *node, Writer *writer) {
    if (!one_line(f, node->span) || comments_inside(f, node->span))
        return false;
    format_statement(writer, node);
    writer_text(writer, " {");
    for (const Node *part = body_of(node); part; part = part->next) {
        writer_text(writer, " ");
        format_statement(writer, part);
    }
    writer_text(writer, " }");
    return writer->failed || columns(writer->bytes) <= FORMAT_COLUMNS;
}

static void format_block(Formatter *f, const Node *node) {
    Writer writer = {.source = f->source};
    const Node *body = body_of(node);
    format_statement(&writer, node);
    writer_text(&writer, " {");
    add_code(f, &writer, 0, 0);
    const char *brace =
        memchr(f->source + node->span.begin, '{', node->span.end - node->span.begin);
    if (brace)
        place_trailing(f, (uint32_t)(brace - f->source) + 1);
    bool first = true;
    for (const Node *part = body; part && !f->failed; part = part->next) {
        place_comments(f, part->span.end, FORMAT_INDENT, &first);
        keep_blank(f, part->span.begin, first);
        first = false;
        Writer inner = {.source = f->source};
        format_statement(&inner, part);
        add_code(f, &inner, FORMAT_INDENT, part->kind);
        place_trailing(f, part->span.end);
    }
    place_comments(f, node->span.end, FORMAT_INDENT, &first);
    Writer close = {.source = f->source};
    writer_text(&close, "}");
    add_code(f, &close, 0, 0);
    place_trailing(f, node->span.end);
}

static int kind_of(const Node *node) {
    switch (node->kind) {
    case NODE_ENTRY:
    case NODE_WHEN:
    case NODE_BETWEEN:
    case NODE_UNTIL_CLOCK:
        return NODE_ENTRY;
    default:
        return node->kind;
    }
}

/* An item with its comments; true where it takes several lines and so stands apart. */
static bool format_item(Formatter *f, const Node *item, bool *first, bool apart) {
    bool block = item->kind == NODE_ROUTINE || item->kind == NODE_LAMP;
    Writer writer = {.source = f->source};
    bool tall = block && !block_on_one_line(f, item, &writer);
    if (!block)
        format_statement(&writer, item);
    f->apart = apart || tall;
    place_comments(f, block ? item->span.begin : item->span.end, 0, first);
    keep_blank(f, item->span.begin, *first);
    *first = false;
    if (tall) {
        memory_release(writer.bytes);
        format_block(f, item);
    } else {
        add_code(f, &writer, 0, kind_of(item));
        place_trailing(f, item->span.end);
    }
    return tall;
}

static void format_items(Formatter *f) {
    bool first = f->reached == 0, apart = false;
    for (const Node *item = f->tree->items; item && !f->failed; item = item->next)
        apart = format_item(f, item, &first, apart);
    f->apart = apart;
    place_comments(f, (uint32_t)f->length + 1, 0, &first);
}

/* ---- from lines to text ---- */

/* Columns before the mark at which a line is lined up; 0 where it has none, or is too long. */
static unsigned align_column(const Line *line) {
    const char *mark = line->code ? strchr(line->code, WRITER_ALIGN) : NULL;
    if (!mark || line->indent + columns(line->code) > FORMAT_COLUMNS)
        return 0;
    return piece_columns(line->code, mark);
}

/* How far the mark of each line of a run of neighbours is moved to: the widest of them, as long as
 * no line grows too long. */
static unsigned run_column(const Line *lines, size_t count, size_t *run) {
    unsigned widest = 0, most_behind = 0; /* columns of a line but for those before its mark */
    for (*run = 0; *run < count; ++*run) {
        const Line *line = &lines[*run];
        unsigned column = align_column(line);
        if (!column || line->kind != lines[0].kind || line->indent != lines[0].indent)
            break;
        unsigned behind = line->indent + columns(line->code) - column;
        most_behind = behind > most_behind ? behind : most_behind;
        unsigned wider = column > widest ? column : widest;
        if (most_behind + wider > FORMAT_COLUMNS)
            return widest;
        widest = wider;
    }
    return widest;
}

static void put_spaces(Writer *out, unsigned count) {
    while (count--)
        writer_text(out, " ");
}

/* A piece of code on one line; `pad` spaces at the mark. */
static void put_plain(Writer *out, const char *code, const char *end, unsigned pad) {
    for (; code < end; code++) {
        if (*code == WRITER_BREAK) {
            code++;
            writer_text(out, " ");
        } else if (*code == WRITER_ALIGN) {
            put_spaces(out, pad);
        } else {
            writer_bytes(out, code, 1);
        }
    }
}

/* Code that may be too long: broken at all its shallowest breaks, and each piece again. */
static void put_broken(Writer *out, const char *code, const char *end, unsigned indent) {
    int shallowest = 0;
    if (indent + piece_columns(code, end) > FORMAT_COLUMNS)
        for (const char *p = code; p < end; p++)
            if (*p == WRITER_BREAK && (++p, !shallowest || *p < shallowest))
                shallowest = *p;
    if (!shallowest) {
        put_plain(out, code, end, 0);
        return;
    }
    bool first = true;
    const char *from = code;
    for (const char *p = code; p <= end; p++) {
        if (p < end && !(p[0] == WRITER_BREAK && p[1] == shallowest)) {
            p += *p == WRITER_BREAK;
            continue;
        }
        if (!first) {
            writer_text(out, "\n");
            put_spaces(out, indent + FORMAT_INDENT);
        }
        put_broken(out, from, p, indent + FORMAT_INDENT);
        first = false;
        from = p + 2;
        p++;
    }
}

/* Where the comments of a run of neighbouring lines stand: two spaces behind the widest. */
static unsigned comment_column(const Line *lines, size_t count, const unsigned *pads) {
    unsigned widest = 0;
    for (size_t i = 0; i < count && lines[i].code && lines[i].commented; i++) {
        if (lines[i].kind != lines[0].kind || (i > 0 && !lines[i].kind))
            break;
        unsigned width = lines[i].indent + columns(lines[i].code) + pads[i];
        if (width > widest && width <= FORMAT_COLUMNS)
            widest = width;
    }
    return widest + 2;
}

static void put_comment(Writer *out, const Formatter *f, Span span) {
    while (span.end > span.begin && strchr(" \t\r", f->source[span.end - 1]))
        span.end--;
    writer_bytes(out, f->source + span.begin, span.end - span.begin);
}

static void put_line(Writer *out, const Formatter *f, const Line *line, unsigned pad,
                     unsigned comment_at) {
    unsigned width = line->code ? line->indent + columns(line->code) + pad : 0;
    bool long_line = width > FORMAT_COLUMNS;
    if (line->commented && (!line->code || long_line)) {
        put_spaces(out, line->indent);
        put_comment(out, f, line->comment);
        writer_text(out, "\n");
    }
    if (line->code) {
        put_spaces(out, line->indent);
        if (long_line)
            put_broken(out, line->code, line->code + strlen(line->code), line->indent);
        else
            put_plain(out, line->code, line->code + strlen(line->code), pad);
        if (line->commented && !long_line) {
            put_spaces(out, comment_at > width ? comment_at - width : 2);
            put_comment(out, f, line->comment);
        }
        writer_text(out, "\n");
    } else if (!line->commented) {
        writer_text(out, "\n");
    }
}

static void put_lines(Writer *out, const Formatter *f, unsigned *pads) {
    for (size_t i = 0; i < f->count;) {
        size_t run;
        unsigned column = run_column(f->lines + i, f->count - i, &run);
        for (size_t k = 0; k < run; k++)
            pads[i + k] = column - align_column(&f->lines[i + k]);
        i += run ? run : 1;
    }
    unsigned comment_at = 0;
    for (size_t i = 0; i < f->count; i++) {
        const Line *line = &f->lines[i];
        bool run = i > 0 && f->lines[i - 1].code && f->lines[i - 1].commented && line->kind &&
                   f->lines[i - 1].kind == line->kind;
        if (line->code && line->commented && !run)
            comment_at = comment_column(line, f->count - i, pads + i);
        put_line(out, f, line, pads[i], comment_at);
    }
}

static bool format_tree(const SourceTree *tree, const char *text, size_t length, char **out,
                        size_t *out_length) {
    Formatter f = {.tree = tree, .source = text, .length = length};
    Writer writer = {.source = text};
    writer_bytes(&writer, "", 0);
    if (length >= 2 && memcmp(text, "#!", 2) == 0) {
        const char *end = memchr(text, '\n', length);
        size_t first = end ? (size_t)(end - text) : length;
        while (first && text[first - 1] == '\r')
            first--;
        writer_bytes(&writer, text, first);
        writer_text(&writer, "\n");
        f.reached = (uint32_t)first;
    }
    format_items(&f);
    unsigned *pads = memory_allocate(f.count, sizeof *pads);
    if (pads && !f.failed)
        put_lines(&writer, &f, pads);
    bool failed = f.failed || !pads || writer.failed;
    for (size_t i = 0; i < f.count; i++)
        memory_release(f.lines[i].code);
    memory_release(f.lines);
    memory_release(pads);
    if (failed) {
        memory_release(writer.bytes);
        return false;
    }
    *out = writer.bytes;
    *out_length = writer.length;
    return true;
}

bool lang_format(Diagnostics *sink, const char *name, const char *text, size_t length, char **out,
                 size_t *out_length) {
    *out = NULL;
    *out_length = 0;
    Arena *arena = arena_create();
    uint32_t file = diagnostics_add_file(sink, name, text, length);
    SourceTree tree = {0};
    bool done = false;
    if (arena && file != UINT32_MAX && parse_source(arena, sink, file, &tree) && tree.whole)
        done = format_tree(&tree, text, length, out, out_length);
    arena_free(arena);
    return done;
}
