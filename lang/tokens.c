#include "lang/tokens.h"

#include <stdlib.h>
#include <string.h>

#include "lang/builtins.h"
#include "lang/colour_names.h"
#include "lang/syntax.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"

#include "grammar.h"

const char *const TOKEN_LOOK_WORDS[LOOK_COUNT] = {
    [LOOK_COMMENT] = "comment", [LOOK_WORD] = "word",         [LOOK_NAME] = "name",
    [LOOK_NUMBER] = "number",   [LOOK_COLOUR] = "colour",     [LOOK_TEXT] = "text",
    [LOOK_SIGN] = "sign",       [LOOK_FUNCTION] = "function", [LOOK_WRONG] = "wrong"};

/* Behind these stands somebody's own name, whatever word it is elsewhere. */
static bool names_next(int kind) {
    return kind == TK_ROUTINE || kind == TK_DIAL || kind == TK_LET || kind == TK_LAMP ||
           kind == TK_EVENT || kind == TK_PLAY || kind == TK_PART || kind == TK_GROUP ||
           kind == TK_DOT || kind == TK_AS;
}

static bool is_letter(unsigned char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '_';
}

static TokenLook look_of_name(const Syntax *s, uint32_t i) {
    const Token *token = &s->tokens[i];
    if (i + 1 < s->token_count && s->tokens[i + 1].kind == TK_LPAREN)
        return LOOK_FUNCTION;
    bool own = i > 0 && names_next(s->tokens[i - 1].kind);
    char name[LIMIT_NAME_BYTES + 1] = "";
    uint32_t rgb, length = token->end - token->begin;
    if (length <= LIMIT_NAME_BYTES)
        memcpy(name, s->text + token->begin, length);
    if (!own && colour_name_find(name, &rgb))
        return LOOK_COLOUR;
    return !own && moment_find(name) ? LOOK_FUNCTION : LOOK_NAME;
}

static TokenLook look_of(const Syntax *s, uint32_t i) {
    const Token *token = &s->tokens[i];
    switch (token->kind) {
    case TK_NAME:
        return look_of_name(s, i);
    case TK_STRING:
        return LOOK_TEXT;
    case TK_COLOUR:
    case TK_KELVIN:
        return LOOK_COLOUR;
    case TK_NUMBER:
    case TK_PERCENT:
    case TK_DURATION:
    case TK_ANGLE:
    case TK_TIME:
    case TK_DATE:
    case TK_VOLT:
    case TK_AMPERE:
    case TK_HERTZ:
        return LOOK_NUMBER;
    case TK_BAD:
        return LOOK_WRONG;
    default:
        break;
    }
    if (!is_letter(s->text[token->begin]))
        return LOOK_SIGN;
    if (i > 0 && names_next(s->tokens[i - 1].kind))
        return LOOK_NAME;
    /* `white 4000K` is a lamp's, `white` by itself a colour. */
    bool white =
        token->kind == TK_WHITE && !(i + 1 < s->token_count && s->tokens[i + 1].kind == TK_KELVIN);
    return white ? LOOK_COLOUR : LOOK_WORD;
}

static int compare(const void *a, const void *b) {
    const LookToken *one = a, *other = b;
    return one->begin < other->begin ? -1 : one->begin > other->begin;
}

static bool collect(const Syntax *s, LookToken **list, uint32_t *count) {
    LookToken *all = memory_allocate((size_t)s->token_count + s->comment_count + 1, sizeof *all);
    if (!all)
        return false;
    uint32_t used = 0;
    for (uint32_t i = 0; i < s->token_count; i++)
        if (s->tokens[i].kind != 0 && s->tokens[i].end > s->tokens[i].begin)
            all[used++] = (LookToken){s->tokens[i].begin, s->tokens[i].end, look_of(s, i)};
    for (uint32_t i = 0; i < s->comment_count; i++)
        all[used++] = (LookToken){s->comments[i].span.begin, s->comments[i].span.end, LOOK_COMMENT};
    qsort(all, used, sizeof *all, compare);
    *list = all;
    *count = used;
    return true;
}

bool tokens_look(const char *text, size_t length, LookToken **list, uint32_t *count) {
    *list = NULL;
    *count = 0;
    if (length > LIMIT_SOURCE_BYTES)
        return true;
    Arena *arena = arena_create();
    Diagnostics *sink = diagnostics_create(); /* what is wrong is told elsewhere */
    SourceTree tree = {0};
    bool made = arena && sink;
    uint32_t file = made ? diagnostics_add_file(sink, "text", text, length) : UINT32_MAX;
    if (file != UINT32_MAX) {
        size_t kept;
        const char *copy = diagnostics_file_text(sink, file, &kept);
        Syntax state = {.arena = arena,
                        .sink = sink,
                        .tree = &tree,
                        .text = (const unsigned char *)copy,
                        .length = (uint32_t)kept,
                        .file = file};
        made = lex_all(&state) && collect(&state, list, count);
        memory_release(state.tokens);
        memory_release(state.comments);
    }
    arena_free(arena);
    diagnostics_free(sink);
    return made && file != UINT32_MAX;
}
