/* Prints the table of operations for spec/bytecode.md from the one list.
 * With the name of the page, prints the page with its table renewed. */
#include <stdio.h>
#include <string.h>

static const char *const rows[][4] = {
#define OP(name, kinds, form, expression, cost, text) {#name, kinds, #expression, text},
#include "runtime/core/operations.def"
#undef OP
};

static void print_escaped(const char *text) {
    for (; *text; text++) {
        if (*text == '|')
            putchar('\\');
        putchar(*text);
    }
}

static void print_table(void) {
    puts("| # | operation | kinds | result | |\n|---|---|---|---|---|");
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        printf("| %zu | %s | `%s` | `", i, rows[i][0], rows[i][1]);
        print_escaped(rows[i][2]);
        fputs("` | ", stdout);
        print_escaped(rows[i][3]);
        puts(" |");
    }
}

int main(int count, char **arguments) {
    if (count < 2) {
        print_table();
        return 0;
    }
    FILE *page = fopen(arguments[1], "r");
    if (!page) {
        perror(arguments[1]);
        return 1;
    }
    char line[4096];
    int inside = 0;
    while (fgets(line, sizeof line, page)) {
        if (strncmp(line, "<!-- operations: end", 20) == 0)
            inside = 0;
        if (!inside)
            fputs(line, stdout);
        if (strncmp(line, "<!-- operations: begin", 22) == 0) {
            inside = 1;
            print_table();
        }
    }
    fclose(page);
    return 0;
}
