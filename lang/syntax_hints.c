/* What is said of mistakes that have rules of their own in the grammar. */
#include <string.h>

#include "lang/syntax.h"

const char *syntax_excerpt(const Syntax *s, uint32_t begin, uint32_t end,
                           char buffer[EXCERPT + 4]) {
    size_t out = 0;
    for (uint32_t at = begin; at < end; at++) {
        unsigned char c = s->text[at];
        bool blank = c == ' ' || c == '\t' || c == '\n' || c == '\r';
        if (blank && out && buffer[out - 1] == ' ')
            continue;
        /* Never cut within a character. */
        if (out >= EXCERPT - 4 && (c & 0xc0) != 0x80) {
            memcpy(buffer + out, "...", 4);
            return buffer;
        }
        buffer[out++] = blank ? ' ' : (char)c;
        if (out == EXCERPT)
            break;
    }
    buffer[out] = '\0';
    return buffer;
}

static const char *hint_of_node(const Syntax *s, const Node *node, char buffer[EXCERPT + 4]) {
    return syntax_excerpt(s, node->span.begin, node->span.end, buffer);
}

void hint_no_driver(Syntax *s, const Node *last) {
    syntax_error(s, "ramp-without-driver", last->span.end, last->span.end,
                 "add `over 30min` (once), `every 4s`, `for 1s each` or `along pos`",
                 "this ramp has no driver");
}

void hint_no_ramp(Syntax *s, const Node *stop, const Node *driver) {
    static const char *const WORDS[] = {"over", "every", "for", "throughout", "along"};
    char value[EXCERPT + 4], drive[EXCERPT + 4], hint[2 * EXCERPT + 40];
    snprintf(hint, sizeof hint, "`black -> %s %s`", hint_of_node(s, stop, value),
             hint_of_node(s, driver, drive));
    const char *word = driver->kind == NODE_DRIVER ? WORDS[driver->word] : "a driver";
    syntax_error(s, "driver-without-ramp", driver->span.begin, driver->span.end, hint,
                 "`%s` needs a ramp", word);
}

void hint_chained(Syntax *s, const Node *left, Token relation, const Node *right) {
    char first[EXCERPT + 4], middle[EXCERPT + 4], sign[EXCERPT + 4], last[EXCERPT + 4];
    char hint[4 * EXCERPT];
    if (left->kind != NODE_BINARY)
        return;
    snprintf(hint, sizeof hint, "`%s and %s %s %s`", hint_of_node(s, left, first),
             hint_of_node(s, left->b, middle),
             syntax_excerpt(s, relation.begin, relation.end, sign), hint_of_node(s, right, last));
    syntax_error(s, "chained-comparison", left->span.begin, right->span.end, hint, "compare twice");
}

void hint_no_else(Syntax *s, const Node *last) {
    syntax_error(s, "if-without-else", last->span.end, last->span.end, "`else black`",
                 "`if` always has `else`: what shines otherwise?");
}

void hint_remainder(Syntax *s, const Node *a, Token sign, const Node *b) {
    char first[EXCERPT + 4], second[EXCERPT + 4], hint[2 * EXCERPT + 40];
    snprintf(hint, sizeof hint, "the remainder is `mod(%s, %s)`", hint_of_node(s, a, first),
             hint_of_node(s, b, second));
    syntax_error(s, "per-cent-alone", sign.begin, sign.end, hint,
                 "`%%` is per cent and stands at its number");
}

void hint_layer_outside(Syntax *s, const Node *layer) {
    char text[EXCERPT + 4], hint[EXCERPT + 40];
    snprintf(hint, sizeof hint, "`routine name { %s }`", hint_of_node(s, layer, text));
    syntax_error(s, "layer-outside", layer->span.begin, layer->span.begin + 5, hint,
                 "a layer belongs in a routine");
}

void hint_moment_in_ramp(Syntax *s, Token at, Token time) {
    char text[EXCERPT + 4], hint[EXCERPT + 60];
    syntax_excerpt(s, time.begin, time.end, text);
    snprintf(hint, sizeof hint, "in a ramp `at (%s / 24)`", text);
    syntax_error(s, "moment-in-ramp", at.begin, time.end, hint,
                 "outside a routine `at %s` begins an entry", text);
}

void hint_label_twice(Syntax *s, Token label) {
    syntax_error(s, "stands-twice", label.begin, label.end, NULL, "a dial has one label");
}

void hint_twice(Syntax *s, const char *words, uint32_t begin, uint32_t end) {
    syntax_error(s, "stands-twice", begin, end, NULL, "`%s` stands twice", words);
}

void hint_clause_twice(Syntax *s, const Node *clauses, const Node *clause) {
    static const char *const BOUNDS[] = {"not before", "not after", "else"};
    static const char *const DAYS[] = {"on", "on days", "in", "from", "until", "except"};
    for (const Node *other = clauses; other; other = other->next)
        if (other->word == clause->word) {
            hint_twice(s, (clause->kind == NODE_BOUND ? BOUNDS : DAYS)[clause->word],
                       clause->span.begin, clause->span.end);
            return;
        }
}

void hint_second_end(Syntax *s, const Node *first, const Node *second) {
    if (first->kind == second->kind)
        hint_twice(s, first->kind == NODE_FOR ? "for" : "until", second->span.begin,
                   second->span.end);
    else
        syntax_error(s, "two-ends", second->span.begin, second->span.end, NULL,
                     "a play has one end: `for` or `until`");
}

void hint_space_first(Syntax *s, const Node *space, const Node *driver) {
    char where[EXCERPT + 4], drive[EXCERPT + 4], hint[2 * EXCERPT + 40];
    snprintf(hint, sizeof hint, "`... %s %s`", hint_of_node(s, driver, drive),
             hint_of_node(s, space, where));
    syntax_error(s, "space-before-driver", space->span.begin, space->span.end, hint,
                 "the blend space stands last");
}

void hint_late_days(Syntax *s, const Node *days) {
    char text[EXCERPT + 4], hint[EXCERPT + 40];
    snprintf(hint, sizeof hint, "`%s play ...`", hint_of_node(s, days, text));
    syntax_error(s, "days-after-play", days->span.begin, days->span.end, hint,
                 "days come before `play`");
}

void hint_early_lamp(Syntax *s, const Node *lamp) {
    char text[EXCERPT + 4], hint[EXCERPT + 40];
    snprintf(hint, sizeof hint, "`play ... %s`", hint_of_node(s, lamp, text));
    syntax_error(s, "lamp-before-play", lamp->span.begin, lamp->span.end, hint,
                 "the lamp comes after the routine");
}

void hint_bare_easing(Syntax *s, Token easing) {
    switch (s->text[easing.begin]) {
    case 's':
        syntax_error(s, "bare-easing", easing.begin, easing.end, "`steps(4, jump-end)`",
                     "`steps` needs its number of steps");
        break;
    case 'c':
        syntax_error(s, "bare-easing", easing.begin, easing.end, "`cubic-bezier(0.4, 0, 0.6, 1)`",
                     "`cubic-bezier` needs its four numbers");
        break;
    default:
        syntax_error(s, "bare-easing", easing.begin, easing.end,
                     "leave it out, or `linear(0, 0.2, 1)`",
                     "a ramp without easing is even already: `linear` alone changes nothing");
        break;
    }
}

void hint_unclosed(Syntax *s, Token brace, const Token *next) {
    char word[EXCERPT + 4], hint[EXCERPT + 60];
    uint32_t line, column, other;
    diagnostics_position(s->sink, s->file, brace.begin, &line, &column);
    diagnostics_position(s->sink, s->file, next->begin, &other, &column);
    if (next->kind)
        snprintf(hint, sizeof hint, "`}` before `%s` in line %u",
                 syntax_excerpt(s, next->begin, next->end, word), other);
    else
        snprintf(hint, sizeof hint, "`}` at the end of the file");
    syntax_error(s, "unclosed-brace", brace.begin, brace.end, hint,
                 "the `{` of line %u is not closed", line);
}

void hint_misplaced(Syntax *s, Token word) {
    char text[EXCERPT + 4];
    syntax_error(s, "misplaced-declaration", word.begin, word.end, "it before or after the braces",
                 "`%s` does not belong in a routine or a lamp",
                 syntax_excerpt(s, word.begin, word.end, text));
}

void hint_then_without_lasts(Syntax *s, Token then) {
    syntax_error(s, "then-without-lasts", then.begin, then.end, "`lasts 20min then ...`",
                 "`then` needs `lasts`");
}

void check_colour_call(Syntax *s, const Node *call) {
    static const char *const NAMES[] = {"rgb", "hsl", "hwb", "oklab", "oklch"};
    if (call->kind != NODE_CALL || call->a->kind != NODE_NAME || arena_failed(s->arena))
        return;
    bool colour = false;
    for (size_t i = 0; i < sizeof NAMES / sizeof NAMES[0]; i++)
        colour = colour || strcmp(NAMES[i], call->a->text) == 0;
    const Node *last = call->b;
    while (last && last->next)
        last = last->next;
    if (!colour || !last || last->kind != NODE_BINARY || last->word != BINARY_DIVIDE ||
        last->b->kind != NODE_PERCENT)
        return;
    char text[EXCERPT + 4], hint[EXCERPT + 40];
    snprintf(hint, sizeof hint, "`where %s`", hint_of_node(s, last->b, text));
    syntax_error(s, "transparency", last->b->span.begin, last->b->span.end, hint,
                 "light has no transparency");
}

void check_properties(Syntax *s, const Node *properties) {
    bool seen[PROPERTY_COUNT] = {false};
    if (arena_failed(s->arena))
        return;
    for (const Node *node = properties; node; node = node->next) {
        bool many = node->word == PROPERTY_PART || node->word == PROPERTY_GROUP;
        uint32_t end = node->span.begin;
        while (end < node->span.end && s->text[end] >= 'a' && s->text[end] <= 'z')
            end++;
        char word[EXCERPT + 4];
        if (node->kind == NODE_PROPERTY && seen[node->word] && !many)
            hint_twice(s, syntax_excerpt(s, node->span.begin, end, word), node->span.begin, end);
        if (node->kind == NODE_PROPERTY)
            seen[node->word] = true;
    }
}
