/* The file of `shape points`: one pixel a line, x,y or x,y,z, in any unit of length. A first line
 * of words (x,y,z) and empty lines are passed over. */
#include <math.h>
#include <string.h>

#include "lang/checks.h"
#include "runtime/core/memory.h"

typedef struct Table {
    Diagnostics *sink;
    const char *text, *end;
    uint32_t file;
    uint32_t columns; /* 0 until the first line */
    LampInfo *lamp;
} Table;

static void report(Table *table, const char *begin, const char *end, const char *message) {
    Span span = {table->file, (uint32_t)(begin - table->text), (uint32_t)(end - table->text)};
    diagnostics_report(table->sink, SEVERITY_ERROR, "points", span, SPAN_NONE, NULL, "%s", message);
}

static bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

/* A decimal number with an optional exponent; independent of the locale. False where none stands
 * there. *at moves behind it. */
static bool read_number(const char **at, const char *end, double *number) {
    const char *p = *at;
    bool negative = p < end && *p == '-', digits = false, point = false;
    p += p < end && (*p == '-' || *p == '+');
    double value = 0;
    int scale = 0;
    for (; p < end && (is_digit(*p) || (*p == '.' && !point)); p++) {
        if (*p == '.') {
            point = true;
            continue;
        }
        digits = true;
        if (value < 1e15) {
            value = value * 10 + (*p - '0');
            scale -= point;
        } else {
            scale += !point;
        }
        if (scale < -400 || scale > 400)
            return false;
    }
    if (!digits)
        return false;
    if (p < end && (*p == 'e' || *p == 'E')) {
        p++;
        int sign = p < end && *p == '-' ? -1 : 1, exponent = 0;
        p += p < end && (*p == '-' || *p == '+');
        if (p == end || !is_digit(*p))
            return false;
        for (; p < end && is_digit(*p); p++)
            if (exponent < 1000)
                exponent = exponent * 10 + (*p - '0');
        scale += sign * exponent;
    }
    for (; scale > 0 && value <= 1e300; scale--)
        value *= 10;
    for (; scale < 0 && value > 0; scale++)
        value /= 10;
    *number = negative ? -value : value;
    *at = p;
    return true;
}

static const char *skip_blanks(const char *at, const char *end) {
    while (at < end && (*at == ' ' || *at == '\t'))
        at++;
    return at;
}

static bool is_heading(const char *begin, const char *end) {
    static const char letters[] = "xyzXYZ";
    const char *at = skip_blanks(begin, end);
    if (at < end && *at == '"')
        at++;
    return at < end && *at && strchr(letters, *at) != NULL;
}

/* Reads one line into values; 0 where it is wrong and was reported. */
static uint32_t read_line(Table *table, const char *begin, const char *end, double *values) {
    const char *at = begin;
    uint32_t count = 0;
    for (;;) {
        at = skip_blanks(at, end);
        const char *from = at;
        if (count == 3) {
            report(table, from, end, "a line has two or three numbers: `x,y` or `x,y,z`");
            return 0;
        }
        if (!read_number(&at, end, &values[count])) {
            report(table, from, end, "no number stands here: a line is `x,y` or `x,y,z`");
            return 0;
        }
        if (fabs(values[count]) > 1e9) {
            report(table, from, at, "a place is at most 1000000000 away from 0");
            return 0;
        }
        count++;
        at = skip_blanks(at, end);
        if (at == end)
            break;
        if (*at != ',') {
            report(table, at, end, "numbers are separated by commas: `x,y` or `x,y,z`");
            return 0;
        }
        at++;
    }
    if (count < 2 || (table->columns && count != table->columns)) {
        report(table, begin, end,
               count < 2 ? "a line has two or three numbers: `x,y` or `x,y,z`"
                         : "this line has another number of columns than the first");
        return 0;
    }
    table->columns = count;
    return count;
}

/* With points NULL only counts the lines that hold one. False where one is wrong. */
static bool read_lines(Table *table, LampPoint *points, uint32_t *count) {
    const char *at = table->text;
    bool first = true;
    *count = 0;
    if (table->end - at >= 3 && memcmp(at, "\xEF\xBB\xBF", 3) == 0)
        at += 3;
    while (at < table->end) {
        const char *stop = memchr(at, '\n', (size_t)(table->end - at));
        const char *next = stop ? stop + 1 : table->end;
        const char *end = stop ? stop : table->end;
        if (end > at && end[-1] == '\r')
            end--;
        bool empty = skip_blanks(at, end) == end;
        if (!empty && !(first && is_heading(at, end))) {
            double values[3] = {0, 0, 0};
            if (read_line(table, at, end, values) == 0)
                return false;
            if (points)
                points[*count] = (LampPoint){values[0], values[1], values[2]};
            else if (*count == LIMIT_PIXELS) {
                report(table, at, end, "a lamp has at most 100000 pixels");
                return false;
            }
            ++*count;
        }
        first = first && empty;
        at = next;
    }
    return true;
}

static bool take(Checks *checks, Table *table) {
    Arena *arena = checks->program->modules->arena;
    uint32_t count;
    if (!read_lines(table, NULL, &count))
        return true;
    if (count == 0) {
        diagnostics_report(table->sink, SEVERITY_ERROR, "points", (Span){table->file, 0, 0},
                           SPAN_NONE, NULL,
                           "no pixel stands in this file: a line is `x,y` or "
                           "`x,y,z`");
        return true;
    }
    table->lamp->points = arena_allocate(arena, count * sizeof(LampPoint));
    if (arena_failed(arena))
        return false;
    read_lines(table, table->lamp->points, &table->lamp->point_count);
    return true;
}

bool points_read(Checks *checks, const Node *file, LampInfo *lamp) {
    Modules *modules = checks->program->modules;
    char *text = NULL, *identity = NULL;
    size_t length = 0;
    const char *reason = NULL;
    if (!names_check_path(modules->sink, file->span, "points", file->text))
        return true;
    ReadStatus status =
        checks->reader->read(checks->reader->context, file->text, modules->modules[0]->path, &text,
                             &length, &identity, &reason);
    if (status == READ_NO_MEMORY) {
        checks->no_memory = true;
        return false;
    }
    if (status == READ_FINE && length > LIMIT_SOURCE_BYTES) {
        status = READ_TOO_LARGE;
        memory_release(text);
        memory_release(identity);
    }
    if (status != READ_FINE) {
        names_report_unread(modules->sink, file->span, file->text, status, reason);
        return true;
    }
    Table table = {.sink = modules->sink, .text = text, .end = text + length, .lamp = lamp};
    table.file = diagnostics_add_file(modules->sink, identity, text, length);
    checks->no_memory = table.file == UINT32_MAX;
    bool fine = !checks->no_memory && take(checks, &table);
    memory_release(text);
    memory_release(identity);
    return fine;
}
