/* Any bytes as a file of the language (libFuzzer): a tree whose heights, places and lists hold what
 * lang/ast.h says; trees without errors format to a text that formats to itself and has as many
 * items. See slow_fuzz.sh. */
#include <string.h>

#include "lang/tokens.h"
#include "lang/compile.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "tests/fuzz/must.h"

static unsigned check_node(const Node *node, size_t length);

static unsigned check_list(const Node *list, size_t length) {
    unsigned height = 0;
    for (const Node *node = list; node; node = node->next) {
        unsigned one = check_node(node, length);
        height = one > height ? one : height;
    }
    return height;
}

static unsigned check_node(const Node *node, size_t length) {
    Node *const kids[] = {node->a, node->b, node->c, node->d, node->e};
    unsigned height = 0;
    MUST(node->kind < NODE_KIND_COUNT);
    MUST(node->span.begin <= node->span.end && node->span.end <= length);
    MUST(node->kind != NODE_NAME || (node->text && *node->text));
    for (size_t i = 0; i < sizeof kids / sizeof kids[0]; i++) {
        unsigned one = check_list(kids[i], length);
        height = one > height ? one : height;
        for (const Node *kid = kids[i]; kid; kid = kid->next)
            MUST(kid->span.begin >= node->span.begin && kid->span.end <= node->span.end);
    }
    MUST(node->height > height && node->height <= LIMIT_HEIGHT);
    return node->height;
}

static size_t item_count(const SourceTree *tree) {
    size_t count = 0;
    for (const Node *item = tree->items; item; item = item->next)
        count++;
    return count;
}

/* Whether the text parses without an error; how many items it has. */
static bool parses(const char *text, size_t length, size_t *items) {
    Arena *arena = arena_create();
    Diagnostics *sink = diagnostics_create();
    MUST(arena && sink);
    uint32_t file = diagnostics_add_file(sink, "fuzz.gloam", text, length);
    SourceTree tree;
    MUST(parse_source(arena, sink, file, &tree));
    MUST(tree.whole == (diagnostics_count(sink, SEVERITY_ERROR) == 0));
    check_list(tree.items, length);
    for (uint32_t i = 0; i < tree.comment_count; i++) {
        MUST(tree.comments[i].span.end <= length);
        MUST(i == 0 || tree.comments[i - 1].span.end <= tree.comments[i].span.begin);
    }
    bool whole = tree.whole;
    *items = item_count(&tree);
    diagnostics_free(sink);
    arena_free(arena);
    return whole;
}

static char *formatted(const char *text, size_t length, size_t *out_length) {
    char *out = NULL;
    Diagnostics *sink = diagnostics_create();
    MUST(sink);
    MUST(lang_format(sink, "fuzz.gloam", text, length, &out, out_length));
    diagnostics_free(sink);
    return out;
}

/* As a reader sees it: stretches in the order of the text, none within another. */
static void looks(const char *text, size_t length) {
    LookToken *list;
    uint32_t count;
    MUST(tokens_look(text, length, &list, &count));
    for (uint32_t i = 0; i < count; i++) {
        MUST(list[i].begin < list[i].end && list[i].end <= length);
        MUST(i == 0 || list[i - 1].end <= list[i].begin);
        MUST(list[i].look < LOOK_COUNT);
    }
    memory_release(list);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    looks((const char *)data, size);
    size_t items, again_items, once_length, twice_length;
    if (!parses((const char *)data, size, &items))
        return 0;
    char *once = formatted((const char *)data, size, &once_length);
    if (once_length <= LIMIT_SOURCE_BYTES) {
        MUST(parses(once, once_length, &again_items));
        MUST(items == again_items);
        char *twice = formatted(once, once_length, &twice_length);
        MUST(once_length == twice_length && memcmp(once, twice, once_length) == 0);
        memory_release(twice);
    }
    memory_release(once);
    return 0;
}
