/* Prints the trees of files, and what is said of them: for comparing two builds of the grammar. */
#include <stdio.h>
#include <stdlib.h>

#include "lang/parse.h"

static void dump(const Node *node, int depth) {
    for (; node; node = node->next) {
        printf("%*s%d.%d %u..%u %.17g %s\n", 2 * depth, "", node->kind, node->word,
               node->span.begin, node->span.end, node->number, node->text ? node->text : "");
        const Node *kids[] = {node->a, node->b, node->c, node->d, node->e};
        for (int i = 0; i < 5; i++) {
            if (kids[i])
                printf("%*s%c:\n", 2 * depth + 1, "", 'a' + i);
            dump(kids[i], depth + 1);
        }
    }
}

int main(int count, char **arguments) {
    static char text[1 << 21];
    for (int i = 1; i < count; i++) {
        FILE *file = fopen(arguments[i], "rb");
        if (!file)
            return 2;
        size_t length = fread(text, 1, sizeof text, file);
        fclose(file);
        Arena *arena = arena_create();
        Diagnostics *sink = diagnostics_create();
        SourceTree tree;
        parse_source(arena, sink, diagnostics_add_file(sink, arguments[i], text, length), &tree);
        printf("== %s %s\n", arguments[i], tree.whole ? "whole" : "with errors");
        dump(tree.items, 0);
        diagnostics_print(sink, stdout, false);
        diagnostics_free(sink);
        arena_free(arena);
    }
    return 0;
}
