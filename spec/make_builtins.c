/* Prints spec/builtins.md with its tables made anew from lang/builtins.def: the page is the first
 * argument, the renewed page goes to standard output. */
#include <stdio.h>
#include <string.h>

#include "runtime/core/program.h"

typedef struct Row {
    const char *name, *takes;
    unsigned least, most;
    char gives;
    const char *sentence, *domain, *range, *edges;
} Row;

static const Row functions[] = {
#define FUNCTION(id, name, least, most, takes, gives, sentence, domain, range, edges)              \
    {name, takes, least, most, gives, sentence, domain, range, edges},
#define MOMENT(name, type, source, index, sentence, range)
#include "lang/builtins.def"
#undef FUNCTION
#undef MOMENT
};

static const Row moments[] = {
#define FUNCTION(id, name, least, most, takes, gives, sentence, domain, range, edges)
#define MOMENT(name, type, source, index, sentence, range)                                         \
    {name, "", 0, 0, type, sentence, "", range, ""},
#include "lang/builtins.def"
#undef FUNCTION
#undef MOMENT
};

static const char *type_of(char letter) {
    switch (letter) {
    case 'n':
        return "number";
    case 'd':
        return "duration";
    case 'a':
        return "angle";
    case 'c':
        return "colour";
    case 't':
        return "truth";
    case 'x':
        return "number or truth";
    case 'u':
        return "U";
    case 'p':
        return "P";
    case 'v':
        return "V";
    default:
        return "name";
    }
}

static void print_takes(const Row *row) {
    const char *letter = row->takes;
    for (unsigned i = 0; i < row->least; i++) {
        printf("%s%s", i ? ", " : "", type_of(*letter));
        if (letter[1])
            letter++;
    }
    if (row->most > row->least && row->most < 10)
        printf(", up to %u", row->most);
    else if (row->most > row->least)
        printf(", ...");
}

static void print_functions(void) {
    puts("| function | takes | gives | | domain | range | at the edges |");
    puts("|---|---|---|---|---|---|---|");
    for (size_t i = 0; i < sizeof functions / sizeof *functions; i++) {
        const Row *row = &functions[i];
        printf("| `%s` | ", row->name);
        print_takes(row);
        printf(" | %s | %s | %s | %s | %s |\n", type_of(row->gives), row->sentence, row->domain,
               row->range, row->edges);
    }
}

static void print_moments(void) {
    puts("| name | type | | range |\n|---|---|---|---|");
    for (size_t i = 0; i < sizeof moments / sizeof *moments; i++)
        printf("| `%s` | %s | %s | %s |\n", moments[i].name, type_of(moments[i].gives),
               moments[i].sentence, moments[i].range);
}

int main(int count, char **arguments) {
    FILE *page = count == 2 ? fopen(arguments[1], "r") : NULL;
    if (!page) {
        fputs("usage: make_builtins PAGE\n", stderr);
        return 1;
    }
    char line[4096];
    int inside = 0;
    while (fgets(line, sizeof line, page)) {
        if (strstr(line, ": end -->"))
            inside = 0;
        if (!inside)
            fputs(line, stdout);
        if (strncmp(line, "<!-- functions: begin", 21) == 0) {
            inside = 1;
            print_functions();
        } else if (strncmp(line, "<!-- moments: begin", 19) == 0) {
            inside = 1;
            print_moments();
        }
    }
    fclose(page);
    return 0;
}
