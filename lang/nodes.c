/* Making nodes. Height and number of nodes are limited here and nowhere else. */
#include <string.h>

#include "lang/syntax.h"
#include "runtime/core/limits.h"

#include "grammar.h"

static Node *node_new(Syntax *s, NodeKind kind, uint32_t begin, uint32_t end) {
    if (s->node_count == LIMIT_NODES && !s->gave_up) {
        syntax_error(s, "too-many-nodes", begin, end, NULL,
                     "a file has at most %d parts of statements: use several files", LIMIT_NODES);
        s->gave_up = true;
    }
    s->node_count++;
    Node *node = arena_allocate(s->arena, sizeof *node);
    node->kind = (uint16_t)kind;
    node->height = 1;
    node->span = syntax_span(s, begin, end);
    return node;
}

Node *node_leaf(Syntax *s, NodeKind kind, Token token) {
    Node *node = node_new(s, kind, token.begin, token.end);
    node->number = token.number;
    return node;
}

Node *node_word(Syntax *s, NodeKind kind, Token token) {
    Node *node = node_new(s, kind, token.begin, token.end);
    node->text =
        arena_copy_text(s->arena, (const char *)s->text + token.begin, token.end - token.begin);
    /* An easing where a name is wanted: soft words are names, but not those with a minus. */
    if (kind == NODE_NAME && token.kind != TK_HYPHENNAME && strchr(node->text, '-'))
        syntax_error(s, "minus-in-name", token.begin, token.end, NULL,
                     "`%s` is an easing and no name: names have no minus", node->text);
    return node;
}

Node *node_text(Syntax *s, NodeKind kind, Token token) {
    char plain[LIMIT_TEXT_BYTES + 1];
    size_t length = 0;
    for (uint32_t at = token.begin + 1; at + 1 < token.end && length < LIMIT_TEXT_BYTES; at++) {
        if (s->text[at] == '\\')
            at++;
        plain[length++] = (char)s->text[at];
    }
    Node *node = node_new(s, kind, token.begin, token.end);
    node->text = arena_copy_text(s->arena, plain, length);
    return node;
}

Node *node_hole(Syntax *s, uint32_t begin, uint32_t end) {
    return node_new(s, NODE_HOLE, begin, end);
}

static unsigned node_list_height(const Node *list) {
    unsigned height = 0;
    for (const Node *node = list; node; node = node->next)
        if (node->height > height)
            height = node->height;
    return height;
}

Node *node_extend(Syntax *s, Node *node, uint32_t end) {
    /* Without memory, nodes share one block: no link may be followed. */
    if (arena_failed(s->arena))
        return node;
    Node *const kids[] = {node->a, node->b, node->c, node->d, node->e};
    unsigned height = 0;
    for (size_t i = 0; i < sizeof kids / sizeof kids[0]; i++) {
        unsigned of_kid = node_list_height(kids[i]);
        height = of_kid > height ? of_kid : height;
    }
    node->span.end = end;
    node->height = (uint16_t)(height + 1);
    if (height < LIMIT_HEIGHT)
        return node;
    /* A sum of a million terms meets the limit again and again: said once for what follows on. */
    if (s->deep_end == 0 || node->span.begin >= s->deep_end)
        syntax_error(s, "too-deep", node->span.begin, end, "`let`s for its parts",
                     "this nests more than %d deep", LIMIT_HEIGHT);
    s->deep_end = end;
    *node = (Node){.kind = NODE_HOLE, .height = 1, .span = node->span};
    return node;
}

Node *node_make(Syntax *s, NodeKind kind, uint32_t begin, uint32_t end, Node *a, Node *b, Node *c) {
    Node *node = node_new(s, kind, begin, end);
    node->a = a;
    node->b = b;
    node->c = c;
    return node_extend(s, node, end);
}

Node *node_binary(Syntax *s, Binary word, Node *a, Node *b) {
    Node *node = node_new(s, NODE_BINARY, a->span.begin, b->span.end);
    node->word = (uint16_t)word;
    node->a = a;
    node->b = b;
    return node_extend(s, node, b->span.end);
}

Node *node_ramp(Syntax *s, unsigned flags, NodeList stops, Node *driver, Node *easing,
                Node *space) {
    Node *last = space ? space : easing ? easing : driver;
    Node *node = node_new(s, NODE_RAMP, stops.first->span.begin, last->span.end);
    if (stops.count > LIMIT_STOPS)
        syntax_error(s, "too-many-stops", stops.first->span.begin, stops.last->span.end, NULL,
                     "a ramp has at most %d stops, this has %u", LIMIT_STOPS, stops.count);
    node->word = (uint16_t)flags;
    node->a = stops.first;
    node->b = driver;
    node->c = easing;
    node->d = space;
    return node_extend(s, node, last->span.end);
}

/* "sunset", "civil dusk": one blank between, whatever stands in the text. */
Node *node_sun(Syntax *s, Token first, Token last) {
    char words[2 * LIMIT_NAME_BYTES + 2];
    int length = snprintf(words, sizeof words, "%.*s", (int)(first.end - first.begin),
                          (const char *)s->text + first.begin);
    if (last.begin != first.begin)
        length += snprintf(words + length, sizeof words - (size_t)length, " %.*s",
                           (int)(last.end - last.begin), (const char *)s->text + last.begin);
    Node *node = node_new(s, NODE_MOMENT, first.begin, last.end);
    node->word = MOMENT_SUN;
    node->text = arena_copy_text(s->arena, words, (size_t)length);
    return node;
}

Node *node_property(Syntax *s, Property word, Token keyword, Node *a) {
    Node *node = node_new(s, NODE_PROPERTY, keyword.begin, keyword.end);
    node->word = (uint16_t)word;
    node->a = a;
    return node_extend(s, node, a ? a->span.end : keyword.end);
}

Node *node_shape(Syntax *s, Token word, uint32_t end, Node *a, Node *b, bool flag) {
    Node *node = node_word(s, NODE_PROPERTY, word);
    node->word = PROPERTY_SHAPE;
    node->number = flag;
    node->a = a;
    node->b = b;
    return node_extend(s, node, end);
}

NodeList list_one(Node *node) {
    return (NodeList){node, node, 1};
}

NodeList list_add(NodeList list, Node *node) {
    if (!node)
        return list;
    if (!list.first)
        return list_one(node);
    list.last->next = node;
    return (NodeList){list.first, node, list.count + 1};
}

void node_append(Node **list, Node *node) {
    while (*list)
        list = &(*list)->next;
    *list = node;
}

void syntax_item(Syntax *s, Node *item) {
    if (!item)
        return;
    if (s->last_item)
        s->last_item->next = item;
    else
        s->tree->items = item;
    s->last_item = item;
}
