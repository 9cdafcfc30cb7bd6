#include "tests/support/table.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { COLUMNS_MOST = 64 };

typedef struct Row {
    char *line;
    size_t count;
    char *cells[COLUMNS_MOST];
} Row;

struct Table {
    Row header;
    size_t count;
    Row *rows;
};

/* Cuts the line into cells where it lies. */
static void row_cut(Row *row) {
    char *from = row->line, *into = row->line;
    row->count = 0;
    for (;;) {
        int quoted = *from == '"';
        from += quoted;
        if (row->count < COLUMNS_MOST)
            row->cells[row->count++] = into;
        while (*from != '\0' && (quoted || *from != ',')) {
            if (quoted && *from == '"' && from[1] != '"') {
                quoted = 0;
                from++;
                continue;
            }
            from += quoted && *from == '"';
            *into++ = *from++;
        }
        int more = *from == ',';
        *into++ = '\0';
        from++;
        if (!more)
            return;
    }
}

static void table_take(Table *table, char *line) {
    Row row = {.line = line};
    row_cut(&row);
    if (table->header.line == NULL) {
        table->header = row;
        return;
    }
    table->rows = realloc(table->rows, (table->count + 1) * sizeof *table->rows);
    table->rows[table->count++] = row;
}

Table *table_read(const char *path, size_t rows) {
    FILE *file = fopen(path, "r");
    if (file == NULL)
        fail_msg("%s: %s", path, strerror(errno));
    Table *table = calloc(1, sizeof *table);
    char *line = NULL;
    size_t room = 0;
    while (getline(&line, &room, file) >= 0) {
        line[strcspn(line, "\r\n")] = '\0';
        if (*line == '\0' || (*line == '#' && table->header.line == NULL))
            continue;
        table_take(table, line);
        line = NULL;
        room = 0;
    }
    free(line);
    fclose(file);
    if (table->count != rows)
        fail_msg("%s has %zu rows, not %zu", path, table->count, rows);
    return table;
}

void table_free(Table *table) {
    if (table == NULL)
        return;
    for (size_t i = 0; i < table->count; i++)
        free(table->rows[i].line);
    free(table->rows);
    free(table->header.line);
    free(table);
}

size_t table_rows(const Table *table) {
    return table->count;
}

const char *table_text(const Table *table, size_t row, const char *column) {
    for (size_t i = 0; i < table->header.count; i++)
        if (strcmp(table->header.cells[i], column) == 0)
            return i < table->rows[row].count ? table->rows[row].cells[i] : "";
    return NULL;
}

double table_number(const Table *table, size_t row, const char *column) {
    const char *text = table_text(table, row, column);
    char *end;
    if (text == NULL || *text == '\0')
        return NAN;
    double number = strtod(text, &end);
    return *end == '\0' ? number : NAN;
}
