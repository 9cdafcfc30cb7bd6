/* Tokens to the grammar: words that depend on what follows, and going on after a mistake. */
#include "lang/syntax.h"
#include "runtime/core/limits.h"

#include "grammar.h"

typedef struct Feed {
    Syntax *s;
    void *grammar;
    Token brace; /* the one that is open: the grammar knows braces at the top level only */
    int quiet;   /* so many tokens more are not reported: something before them was */
    int linear;  /* 1 after the word of `linear(...)`, 2 within its parentheses, more in inner ones
                  */
} Feed;

enum { QUIET_TOKENS = 2 };

static const Token *feed_peek(const Syntax *s, uint32_t ahead) {
    uint32_t at = s->at + ahead;
    return &s->tokens[at < s->token_count ? at : s->token_count - 1];
}

static bool feed_is_word(const Syntax *s, const Token *token, const char *word) {
    uint32_t i = 0;
    for (; word[i]; i++)
        if (token->begin + i >= token->end || s->text[token->begin + i] != word[i])
            return false;
    return token->begin + i == token->end;
}

static bool feed_is_driver(int kind) {
    return kind == TK_OVER || kind == TK_EVERY || kind == TK_FOR || kind == TK_ALONG ||
           kind == TK_THROUGHOUT;
}

static bool feed_is_moment(int kind) {
    return kind == TK_TIME || kind == TK_SUN || kind == TK_TWILIGHT;
}

/* `play` stands further along the line: no expression holds one, so this is an entry. */
static bool feed_plays(const Syntax *s) {
    for (uint32_t i = 1;; i++) {
        const Token *token = feed_peek(s, i);
        if (token->kind == 0 || token->first_on_line)
            return false;
        if (token->kind == TK_PLAY)
            return true;
    }
}

static bool feed_begins_entry(const Feed *feed, const Token *token) {
    const Syntax *s = feed->s;
    int next = feed_peek(s, 1)->kind;
    if (!feed->s->in_brace && feed_is_moment(next))
        return true;
    return token->first_on_line && feed_plays(s);
}

/* `at 06:30 / 24` outside a routine: no entry goes on like this, so it is a stop of a ramp. */
static bool feed_is_stop(const Feed *feed) {
    switch (feed_peek(feed->s, 2)->kind) {
    case TK_SLASH:
    case TK_STAR:
    case TK_PLUS:
    case TK_MINUS:
    case TK_ARROW:
    case TK_BAR:
    case TK_EASE:
        break;
    default:
        if (!feed_is_driver(feed_peek(feed->s, 2)->kind))
            return false;
    }
    return feed_peek(feed->s, 1)->kind == TK_TIME && grammar_accepts(feed->grammar, TK_AT);
}

/* `30 min`: a value whose unit stands apart. */
static void feed_join_unit(Syntax *s, Token *token, const Token *unit) {
    char text[EXCERPT + 4], hint[EXCERPT + 20];
    if (unit->kind != TK_NAME || unit->first_on_line)
        return;
    const char *word =
        literal_unit_word((const char *)s->text + unit->begin, unit->end - unit->begin);
    if (!word)
        return;
    snprintf(hint, sizeof hint, "`%s%s`", syntax_excerpt(s, token->begin, token->end, text), word);
    syntax_error(s, "unit-apart", token->begin, unit->end, hint,
                 "a unit stands at its number without a space");
    token->kind = TK_BAD;
    token->end = unit->end;
    s->at++;
    s->tokens[s->at] = *token;
}

/* `linear(0 -50%, 1)`: in CSS the blank separates an output from its place, so that the minus
 * belongs to the per cent. */
static void feed_join_minus(const Feed *feed, Token *token, const Token *next) {
    Syntax *s = feed->s;
    if (feed->linear != 2 || s->at == 0 || next->kind != TK_PERCENT || next->begin != token->end)
        return;
    const Token *before = &s->tokens[s->at - 1];
    if (before->end == token->begin || (before->kind != TK_NUMBER && before->kind != TK_PERCENT))
        return;
    token->kind = TK_PERCENT;
    token->number = -next->number;
    token->end = next->end;
    s->at++;
    s->tokens[s->at] = *token;
}

/* Rule T6: words whose token depends on the next ones. */
static void feed_look_ahead(const Feed *feed, Token *token) {
    Syntax *s = feed->s;
    const Token *next = feed_peek(s, 1);
    switch (token->kind) {
    case TK_AT:
        if (feed_begins_entry(feed, token) && feed_is_stop(feed))
            hint_moment_in_ramp(s, *token, *next);
        else if (feed_begins_entry(feed, token))
            token->kind = TK_ATMOMENT;
        break;
    case TK_BY:
        if (feed_begins_entry(feed, token))
            token->kind = TK_BYMOMENT;
        break;
    case TK_UNTIL:
        if (next->kind == TK_CLOCK)
            token->kind = TK_UNTILCLOCK;
        break;
    case TK_EASE:
        if (next->kind == TK_LPAREN && token->end - token->begin == 4)
            token->kind = TK_EASECALL;
        break;
    case TK_AND:
        if (!feed_is_driver(feed_peek(s, 2)->kind))
            break;
        if (feed_is_word(s, next, "back"))
            token->kind = TK_ANDBACK;
        else if (feed_is_word(s, next, "round"))
            token->kind = TK_ANDROUND;
        if (token->kind != TK_AND) {
            token->end = next->end;
            s->at++;
            s->tokens[s->at] = *token;
        }
        break;
    case TK_NUMBER:
        feed_join_unit(s, token, next);
        break;
    case TK_MINUS:
        feed_join_minus(feed, token, next);
        break;
    default:
        break;
    }
}

/* Follows the parentheses of `linear(...)`, where that is an easing and no name. */
static void feed_note_linear(Feed *feed, const Token *token) {
    int kind = token->kind;
    if (kind == TK_EASEFN)
        feed->linear =
            feed_is_word(feed->s, token, "linear") && !grammar_accepts(feed->grammar, TK_NUMBER);
    else if (feed->linear == 1 && kind != TK_LPAREN)
        feed->linear = 0;
    else if (feed->linear && kind == TK_LPAREN)
        feed->linear++;
    else if (feed->linear && kind == TK_RPAREN && --feed->linear == 1)
        feed->linear = 0;
}

/* Words that begin something new at the top level wherever they stand. */
static bool feed_is_starter(int kind) {
    return kind == TK_USE || kind == TK_DIAL || kind == TK_ROUTINE || kind == TK_LAMP ||
           kind == TK_WHEN || kind == TK_BETWEEN || kind == TK_ATMOMENT || kind == TK_BYMOMENT ||
           kind == TK_UNTILCLOCK;
}

/* `event` and `place` are names, too, unless they begin a line after a mistake, or a name or a
 * number follows. */
static bool feed_is_soft_starter(const Feed *feed, const Token *token, bool later) {
    int next = feed_peek(feed->s, 1)->kind;
    if (feed->s->in_brace || (token->kind != TK_EVENT && token->kind != TK_PLACE))
        return false;
    if (later && token->first_on_line)
        return true;
    return token->kind == TK_EVENT ? next == TK_NAME || grammar_is_soft(next)
                                   : next == TK_NUMBER || next == TK_MINUS;
}

static void feed_shift(Feed *feed, Token token) {
    Syntax *s = feed->s;
    if (grammar_is_full(feed->grammar)) {
        syntax_error(s, "too-deep", token.begin, token.end, "`let`s for its parts",
                     "this nests more than %d deep", LIMIT_HEIGHT);
        s->gave_up = true;
        return;
    }
    feed_note_linear(feed, &token);
    grammar_feed(feed->grammar, token);
    if (token.kind == TK_LBRACE) {
        feed->brace = token;
        s->in_brace = true;
    } else if (token.kind == TK_RBRACE) {
        s->in_brace = false;
    }
    if (feed->quiet)
        feed->quiet--;
}

static void feed_kind(Feed *feed, int kind, Token place) {
    place.kind = (uint16_t)kind;
    place.end = place.begin;
    feed_shift(feed, place);
}

/* The `)` that closes what is open at s->at, on the way to it no word that begins anew; or 0. */
static uint32_t feed_closing(const Syntax *s) {
    int depth = 0;
    for (uint32_t at = s->at; at < s->token_count; at++) {
        int kind = s->tokens[at].kind;
        if (kind == TK_LPAREN)
            depth++;
        else if (kind == TK_RPAREN && depth-- == 0)
            return at;
        else if (kind == 0 || feed_is_starter(kind) || kind == TK_PAINT || kind == TK_LET ||
                 kind == TK_LBRACE || kind == TK_RBRACE || kind == TK_PLAY)
            return 0;
    }
    return 0;
}

/* The `{` of a routine or lamp whose heading went wrong; or 0. */
static uint32_t feed_opening(const Syntax *s) {
    for (uint32_t at = s->at; at < s->token_count; at++) {
        int kind = s->tokens[at].kind;
        if (kind == TK_LBRACE)
            return at;
        if (kind == 0 || kind == TK_RBRACE || kind == TK_PAINT || kind == TK_LET ||
            feed_is_starter(kind))
            return 0;
    }
    return 0;
}

/* Passes over tokens until one begins something new. */
static void feed_skip(Feed *feed) {
    Syntax *s = feed->s;
    int depth = 0;
    for (bool first = true;; first = false, s->at++) {
        Token *token = &s->tokens[s->at];
        uint32_t at = s->at;
        Token seen = *token;
        if (seen.kind == TK_AT || seen.kind == TK_BY || seen.kind == TK_UNTIL)
            feed_look_ahead(feed, &seen);
        s->at = at;
        bool on_lamp = seen.kind == TK_LAMP && at > 0 && s->tokens[at - 1].kind == TK_ON;
        if (seen.kind == 0 || (feed_is_starter(seen.kind) && !on_lamp))
            return;
        if (seen.kind == TK_LBRACE)
            depth++;
        else if (seen.kind == TK_RBRACE && feed->s->in_brace && depth == 0)
            return;
        else if (seen.kind == TK_RBRACE && depth > 0)
            depth--;
        else if (depth == 0 && (seen.kind == TK_LET || seen.kind == TK_PAINT) &&
                 grammar_accepts(feed->grammar, seen.kind))
            return;
        else if (depth == 0 && feed_is_soft_starter(feed, &seen, !first))
            return;
        else if (feed->s->in_brace && seen.first_on_line && !first &&
                 !grammar_accepts(feed->grammar, TK_PAINT) &&
                 grammar_accepts(feed->grammar, seen.kind))
            return;
    }
}

/* The token at s->at does not fit and was reported. Takes back what was begun, puts a hole in its
 * place and moves s->at to where the text makes sense again. */
static void feed_recover(Feed *feed) {
    Syntax *s = feed->s;
    Token here = s->tokens[s->at];
    /* Behind the `}` of a body the grammar has not closed it yet: nothing in it is taken back. */
    bool closed = s->at > 0 && s->tokens[s->at - 1].kind == TK_RBRACE && !s->in_brace &&
                  grammar_accepts(feed->grammar, TK_USE);
    int statement = closed ? 0 : grammar_distance(feed->grammar, TK_HOLE);
    int header = grammar_distance(feed->grammar, TK_HOLE_HEADER);
    int paren = grammar_distance(feed->grammar, TK_HOLE_PAREN);
    uint32_t found;
    if (paren >= 0 && (statement < 0 || paren < statement) && (found = feed_closing(s)) != 0) {
        grammar_drop(feed->grammar, paren);
        feed_kind(feed, TK_HOLE_PAREN, here);
        s->at = found;
    } else if (header >= 0 && (statement < 0 || header <= statement) &&
               (found = feed_opening(s)) != 0) {
        grammar_drop(feed->grammar, header);
        feed_kind(feed, TK_HOLE_HEADER, here);
        s->at = found;
    } else if (statement >= 0) {
        grammar_drop(feed->grammar, statement);
        feed_kind(feed, TK_HOLE, here);
        feed_skip(feed);
    } else {
        s->gave_up = true;
    }
}

/* A word of the top level, or the end, where a `}` is missing. */
static void feed_close_brace(Feed *feed, const Token *token) {
    Syntax *s = feed->s;
    hint_unclosed(s, feed->brace, token);
    feed_kind(feed, TK_RBRACE, *token);
    feed->quiet = 0;
}

/* A token that the lexer has reported: it stands for a name or a value, or is left out. */
static void feed_bad(Feed *feed, Token token) {
    int next = feed_peek(feed->s, 1)->kind;
    bool left_out = token.number == BAD_SIGN && next && grammar_accepts(feed->grammar, next);
    if (token.number == BAD_NAME && grammar_accepts(feed->grammar, TK_NAME) &&
        !grammar_accepts(feed->grammar, TK_NUMBER)) {
        token.kind = TK_NAME;
        feed_shift(feed, token);
    } else if (!left_out && grammar_accepts(feed->grammar, TK_BAD)) {
        feed_shift(feed, token);
    }
    feed->quiet = QUIET_TOKENS;
}

/* Nothing inside braces begins with this, and all that stands in them is complete. */
static bool feed_closes(const Feed *feed, int kind) {
    return feed->s->in_brace && (kind == 0 || feed_is_starter(kind)) &&
           grammar_accepts(feed->grammar, TK_RBRACE);
}

/* One token that does not fit. True: look at s->at again; false: it is done with. */
static bool feed_unexpected(Feed *feed, Token token) {
    Syntax *s = feed->s;
    int insert = 0;
    Repair repair = unexpected_token(s, feed->grammar, feed->quiet > 0, &insert);
    switch (repair) {
    case REPAIR_RETRY:
        return true;
    case REPAIR_DROP:
        return false;
    case REPAIR_INSERT:
        feed_kind(feed, insert, token);
        return true;
    default:
        break;
    }
    uint32_t before = s->at;
    feed_recover(feed);
    feed->quiet = 0;
    return s->at > before || feed_closes(feed, s->tokens[s->at].kind) ||
           grammar_accepts(feed->grammar, s->tokens[s->at].kind);
}

/* A word of the top level inside braces that are closed further on: the word is misplaced, the
 * brace is not missing. */
static bool feed_is_misplaced(const Syntax *s) {
    int depth = 0;
    for (uint32_t at = s->at; s->tokens[at].kind; at++) {
        if (s->tokens[at].kind == TK_LBRACE)
            depth++;
        else if (s->tokens[at].kind == TK_RBRACE && depth-- == 0)
            return true;
    }
    return false;
}

static void feed_pass_misplaced(Feed *feed, Token token) {
    Syntax *s = feed->s;
    hint_misplaced(s, token);
    feed_kind(feed, TK_HOLE, token);
    s->at++;
    feed_skip(feed);
}

static void feed_token(Feed *feed) {
    Syntax *s = feed->s;
    Token token = s->tokens[s->at];
    feed_look_ahead(feed, &token);
    s->tokens[s->at] = token;
    if (token.kind == TK_BAD) {
        feed_bad(feed, token);
        s->at++;
    } else if (feed_closes(feed, token.kind) && feed_is_misplaced(s)) {
        feed_pass_misplaced(feed, token);
    } else if (feed_closes(feed, token.kind)) {
        feed_close_brace(feed, &token);
    } else if (grammar_accepts(feed->grammar, token.kind)) {
        feed_shift(feed, token);
        s->at++;
    } else if (!feed_unexpected(feed, token)) {
        s->at++;
    }
}

bool feed_all(Syntax *s) {
    Feed feed = {.s = s, .grammar = grammar_create(s)};
    if (!feed.grammar) {
        s->no_memory = true;
        return false;
    }
    for (s->at = 0; s->at < s->token_count && !s->gave_up && !arena_failed(s->arena);)
        feed_token(&feed);
    grammar_free(feed.grammar);
    return !arena_failed(s->arena);
}
