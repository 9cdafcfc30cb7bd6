/* Text to tokens. What is wrong with a token is reported here, once, and the token is mended
 * where one can tell what was meant, else it becomes TK_BAD, which stands for any value. */
#include <string.h>

#include "lang/syntax.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"

#include "grammar.h"

typedef struct Lexer {
    Syntax *s;
    const unsigned char *cursor, *limit;
    bool line_start; /* no token stands before this one on its line */
} Lexer;

static uint32_t lex_offset(const Lexer *lexer, const unsigned char *at) {
    return (uint32_t)(at - lexer->s->text);
}

static void lex_comment(Lexer *lexer, const unsigned char *begin) {
    Syntax *s = lexer->s;
    const unsigned char *end = memchr(begin, '\n', (size_t)(lexer->limit - begin));
    end = end ? end : lexer->limit;
    lexer->cursor = end;
    if (end > begin && end[-1] == '\r')
        end--;
    if (s->comment_count == s->comment_capacity) {
        uint32_t capacity = s->comment_capacity ? 2 * s->comment_capacity : 64;
        Comment *grown = memory_resize(s->comments, capacity, sizeof *grown);
        if (!grown) {
            s->no_memory = true;
            return;
        }
        s->comments = grown;
        s->comment_capacity = capacity;
    }
    s->comments[s->comment_count++] = (Comment){
        syntax_span(s, lex_offset(lexer, begin), lex_offset(lexer, end)), lexer->line_start};
}

/* `#` that begins no colour: what follows was meant as a comment, or is a colour gone wrong. */
static bool lex_hash(Lexer *lexer, Token *token) {
    const unsigned char *begin = lexer->s->text + token->begin;
    if (token->end - token->begin > 1) {
        literal_colour(lexer->s, token);
        return true;
    }
    const unsigned char *end = memchr(begin, '\n', (size_t)(lexer->limit - begin));
    lexer->cursor = end ? end : lexer->limit;
    syntax_error(lexer->s, "hash-comment", token->begin, token->end, "`// ...`",
                 "a comment begins with `//`");
    return false;
}

/* `mon-fri`, `Nov-Feb`, where days or months may stand. */
static bool lex_range(Syntax *s, Token *token) {
    const char *text = (const char *)s->text + token->begin;
    uint32_t length = token->end - token->begin;
    const char *dash = memchr(text, '-', length);
    int number, before = s->token_count ? s->tokens[s->token_count - 1].kind : 0;
    if (before == TK_COMMA && s->token_count > 1)
        before = s->tokens[s->token_count - 2].kind;
    if (before != TK_ON && before != TK_IN && before != TK_EXCEPT && before != TK_WEEKDAY &&
        before != TK_MONTH && before != TK_DATE)
        return false;
    size_t head = (size_t)(dash - text);
    for (int day = 0; day < 2; day++) {
        const char *first = word_calendar(text, head, day, &number);
        const char *last = word_calendar(dash + 1, length - head - 1, day, &number);
        char hint[16];
        if (!first || !last)
            continue;
        snprintf(hint, sizeof hint, "`%.3s..%.3s`", first, last);
        syntax_error(s, "range-sign", token->begin, token->end, hint,
                     "a range is written with `..`");
        token->kind = TK_BAD;
        return true;
    }
    return false;
}

static void lex_word(Syntax *s, Token *token) {
    uint32_t length = token->end - token->begin;
    const char *text = (const char *)s->text + token->begin;
    if (length > LIMIT_NAME_BYTES) {
        syntax_error(s, "name-too-long", token->begin, token->end, NULL,
                     "a name has at most %d bytes, this has %u", LIMIT_NAME_BYTES, length);
        token->kind = TK_BAD;
        return;
    }
    if (word_classify(s->text, token) || lex_range(s, token))
        return;
    char word[LIMIT_NAME_BYTES + 1], under[LIMIT_NAME_BYTES + 1], hint[300];
    char apart[3 * LIMIT_NAME_BYTES + 1];
    size_t out = 0;
    for (uint32_t i = 0; i < length; i++) {
        word[i] = text[i];
        under[i] = text[i] == '-' ? '_' : text[i];
        out += (size_t)snprintf(apart + out, sizeof apart - out, text[i] == '-' ? " %c " : "%c",
                                text[i]);
    }
    word[length] = under[length] = '\0';
    const char *nearest = word_nearest_hyphenated(word);
    token->kind = TK_BAD;
    if (nearest) {
        bool easing = strncmp(nearest, "ease", 4) == 0 || strncmp(nearest, "step", 4) == 0 ||
                      strncmp(nearest, "cubic", 5) == 0;
        snprintf(hint, sizeof hint, "`%s`", nearest);
        syntax_error(s, "unknown-word", token->begin, token->end, hint, "no %s `%s`",
                     easing ? "easing" : "word", word);
        return;
    }
    snprintf(hint, sizeof hint, "`%s`, or `%s` to subtract", under, apart);
    syntax_error(s, "minus-in-name", token->begin, token->end, hint, "names have no minus");
    token->number = BAD_NAME;
}

static void lex_string(Lexer *lexer, Token *token) {
    Syntax *s = lexer->s;
    const unsigned char *at = lexer->cursor;
    uint32_t bytes = 0;
    const char *wrong = NULL;
    uint32_t wrong_at = 0;
    while (at < lexer->limit && *at != '"' && *at != '\n' && *at != '\r') {
        if (*at == '\\' && at + 1 < lexer->limit && at[1] != '\n' && at[1] != '\r') {
            if (at[1] != '"' && at[1] != '\\' && !wrong) {
                wrong = "in a text `\\` stands before `\"` or `\\` only";
                wrong_at = lex_offset(lexer, at);
            }
            at++;
        }
        at++;
        bytes++;
    }
    bool closed = at < lexer->limit && *at == '"';
    lexer->cursor = at + closed;
    token->end = lex_offset(lexer, lexer->cursor);
    token->kind = TK_BAD;
    if (!closed)
        syntax_error(s, "unclosed-text", token->begin, token->end, "`\"...\"`",
                     "this text has no closing quote on its line");
    else if (wrong)
        syntax_error(s, "bad-escape", wrong_at, wrong_at + 2, "`\\\\` for one backslash", "%s",
                     wrong);
    else if (bytes > LIMIT_TEXT_BYTES)
        syntax_error(s, "text-too-long", token->begin, token->end, NULL,
                     "a text has at most %d bytes, this has %u", LIMIT_TEXT_BYTES, bytes);
    else
        token->kind = TK_STRING;
}

/* Signs that are no part of the language but mean something elsewhere; above all kinds of tokens. */
enum {
    LEX_AND = 1000, LEX_OR, LEX_NOT, LEX_SEMICOLON, LEX_ARROW, LEX_DASH, LEX_TIMES, LEX_LE, LEX_GE,
    LEX_NE, LEX_BLANK, LEX_QUOTE, LEX_CURLY,
    LEX_SILENT, /* reported by lex_check_bytes */
    LEX_UNKNOWN
};

/* kind: the token that was meant; 0: the sign is left out. */
static const struct LexStray {
    uint16_t kind;
    const char *same, *message;
} LEX_STRAYS[] = {
    {TK_AND, "`and`", "no `&&` here"},
    {TK_OR, "`or`", "no `||` here"},
    {TK_NOT, "`not`", "no `!` here"},
    {0, NULL, "nothing ends with `;`: leave it out"},
    {TK_ARROW, "`->`", "this arrow is not the one of a ramp"},
    {TK_MINUS, "`-`", "this dash is not a minus sign"},
    {TK_STAR, "`*`", "this is not a sign of the language"},
    {TK_LE, "`<=`", "this is not a sign of the language"},
    {TK_GE, "`>=`", "this is not a sign of the language"},
    {TK_NE, "`!=`", "this is not a sign of the language"},
    {0, NULL, "this blank is a no-break space"},
    {TK_BAD, "`\"...\"`", "a text stands in double quotes"},
    {TK_BAD, "`\"...\"`", "a text stands in straight double quotes"},
};

/* Signs and emoji rather than letters: U+0080 to U+00BF, U+2000 to U+2FFF, U+1F000 on. */
static bool lex_is_sign(const Syntax *s, const Token *token) {
    const unsigned char *text = s->text + token->begin;
    return text[0] < 0x80 ? token->end - token->begin == 1
                          : text[0] == 0xc2 || text[0] == 0xe2 || text[0] == 0xf0;
}

static void lex_unknown(Syntax *s, Token *token) {
    token->kind = TK_BAD;
    token->number = BAD_SIGN;
    syntax_error(s, "stray-character", token->begin, token->end, NULL,
                 lex_is_sign(s, token)
                     ? "this character is not used in the language"
                     : "names are written with `a` to `z`, `A` to `Z`, `0` to `9` and `_`");
}

/* A sign that was found: its report. False where it is left out. */
static bool lex_stray(Syntax *s, Token *token, int kind) {
    if (kind == LEX_SILENT) {
        token->kind = TK_BAD;
        token->number = BAD_SIGN;
        return true;
    }
    if (kind == LEX_UNKNOWN) {
        lex_unknown(s, token);
        return true;
    }
    const struct LexStray *stray = &LEX_STRAYS[kind - LEX_AND];
    token->kind = stray->kind;
    syntax_error(s, "stray-character", token->begin, token->end, stray->same, "%s",
                 stray->message);
    return stray->kind != 0;
}

/* What was found from `begin` to the cursor is of that kind: its value. False where it is no
 * token after all. */
static bool lex_finish(Lexer *lexer, Token *token, const unsigned char *begin, int kind) {
    Syntax *s = lexer->s;
    *token = (Token){.begin = lex_offset(lexer, begin),
                     .end = lex_offset(lexer, lexer->cursor),
                     .kind = (uint16_t)kind};
    switch (kind) {
    case TK_NAME: lex_word(s, token); break;
    case TK_COLOUR: return lex_hash(lexer, token);
    case TK_NUMBER: literal_number(s, token); break;
    case TK_PERCENT: literal_percent(s, token); break;
    case TK_DURATION: literal_quantity(s, token); break;
    case TK_TIME: literal_time(s, token); break;
    case TK_DATE: literal_date(s, token); break;
    case TK_STRING: lex_string(lexer, token); break;
    default: return kind < LEX_AND || lex_stray(s, token, kind);
    }
    return true;
}

static void lex_block_comment(Lexer *lexer, const unsigned char *begin) {
    uint32_t at = lex_offset(lexer, begin);
    syntax_error(lexer->s, "block-comment", at, at + 2, "`// ...`",
                 "a comment begins with `//`");
    while (lexer->cursor + 1 < lexer->limit &&
           !(lexer->cursor[0] == '*' && lexer->cursor[1] == '/'))
        lexer->cursor++;
    lexer->cursor = lexer->cursor + 2 < lexer->limit ? lexer->cursor + 2 : lexer->limit;
}

/*!re2c
re2c:define:YYCTYPE = "unsigned char"; re2c:yyfill:enable = 0; re2c:eof = 0;
re2c:encoding:utf8 = 1; re2c:encoding-policy = fail;
re2c:define:YYCURSOR = "lexer->cursor"; re2c:define:YYLIMIT = "lexer->limit";
digit = [0-9]; number = digit+ ("." digit+)?; letter = [A-Za-z_]; alnum = [A-Za-z0-9_];
name = letter alnum*;
other = [^\x00-\x7f];
*/

/* Bytes that are no UTF-8, and control characters: one report for each run, before all else. */
static void lex_check_bytes(Syntax *s) {
    Lexer state = {.s = s, .cursor = s->text, .limit = s->text + s->length}, *lexer = &state;
    const unsigned char *YYMARKER, *begin;
    int kind = 0; /* of the run: 0 none, 1 broken, 2 control, 3 NUL, 4 CR that ends no line */
    uint32_t run_begin = 0, run_end = 0;
    for (;;) {
        int found;
        begin = lexer->cursor;
        /*!re2c
        $ { found = -1; goto judged; }
        [\x00] { found = 3; goto judged; }
        [\x01-\x08\x0b\x0c\x0e-\x1f\x7f\x80-\x9f] { found = 2; goto judged; }
        [\r]+ "\n" { found = 0; goto judged; }
        [\r] { found = 4; goto judged; }
        [^] { found = 0; goto judged; }
        * { found = 1; goto judged; }
        */
    judged:
        if (kind && (found != kind)) {
            static const char *const CODES[] = {"", "broken-utf-8", "control-character", "nul-byte",
                                                "line-end"};
            static const char *const TEXTS[] = {"", "these bytes are not valid UTF-8",
                                                "control characters have no place in a text",
                                                "a text has no NUL bytes",
                                                "a line ends in LF or CR LF, here is a CR alone"};
            syntax_error(s, CODES[kind], run_begin, run_end, NULL, "%s", TEXTS[kind]);
            kind = 0;
        }
        if (found < 0)
            return;
        if (found && !kind) {
            kind = found;
            run_begin = lex_offset(lexer, begin);
        }
        run_end = lex_offset(lexer, lexer->cursor);
    }
}

/* The next token; kind 0 at the end. Returns false where nothing was found but the cursor moved:
 * call again. */
static bool lex_next(Lexer *lexer, Token *token) {
    const unsigned char *YYMARKER, *YYCTXMARKER, *begin = lexer->cursor;
    (void)YYCTXMARKER;
    int kind;
    /*!re2c
    $ { kind = 0; goto found; }
    [ \t\r]+ { return false; }
    "\n" { lexer->line_start = true; return false; }
    "//" { lex_comment(lexer, begin); return false; }
    "/*" { lex_block_comment(lexer, begin); return false; }
    "#" alnum* { kind = TK_COLOUR; goto found; }
    name ("-" letter alnum*)* { kind = TK_NAME; goto found; }
    number { kind = TK_NUMBER; goto found; }
    number "%" { kind = TK_PERCENT; goto found; }
    number / "%" alnum { kind = TK_NUMBER; goto found; }
    (number letter+)+ number? { kind = TK_DURATION; goto found; }
    "." digit+ { kind = TK_NUMBER; goto found; }
    digit+ ":" [0-9A-Za-z_:]* ("." [0-9A-Za-z_:]+)* { kind = TK_TIME; goto found; }
    digit{4} "-" digit{2} "-" digit{2} { kind = TK_DATE; goto found; }
    ["] { kind = TK_STRING; goto found; }
    "%" { kind = TK_REMAINDER; goto found; }
    "->" { kind = TK_ARROW; goto found; }
    "|" { kind = TK_BAR; goto found; }
    ".." { kind = TK_DOTDOT; goto found; }
    "." { kind = TK_DOT; goto found; }
    "," { kind = TK_COMMA; goto found; }
    "{" { kind = TK_LBRACE; goto found; }
    "}" { kind = TK_RBRACE; goto found; }
    "(" { kind = TK_LPAREN; goto found; }
    ")" { kind = TK_RPAREN; goto found; }
    "=" { kind = TK_EQUALS; goto found; }
    "==" { kind = TK_EQ; goto found; }
    "!=" { kind = TK_NE; goto found; }
    "<" { kind = TK_LT; goto found; }
    "<=" { kind = TK_LE; goto found; }
    ">" { kind = TK_GT; goto found; }
    ">=" { kind = TK_GE; goto found; }
    "+" { kind = TK_PLUS; goto found; }
    "-" { kind = TK_MINUS; goto found; }
    "*" { kind = TK_STAR; goto found; }
    "/" { kind = TK_SLASH; goto found; }
    "&&" { kind = LEX_AND; goto found; }
    "||" { kind = LEX_OR; goto found; }
    "!" { kind = LEX_NOT; goto found; }
    ";" { kind = LEX_SEMICOLON; goto found; }
    "\u2192" { kind = LEX_ARROW; goto found; }
    [\u2212\u2013] { kind = LEX_DASH; goto found; }
    "\u00d7" { kind = LEX_TIMES; goto found; }
    "\u2264" { kind = LEX_LE; goto found; }
    "\u2265" { kind = LEX_GE; goto found; }
    "\u2260" { kind = LEX_NE; goto found; }
    "\u00a0" { kind = LEX_BLANK; goto found; }
    ['] [^'\n]* ['] { kind = LEX_QUOTE; goto found; }
    [\u201c\u201e] [^\n\u201c\u201d]* [\u201c\u201d] { kind = LEX_CURLY; goto found; }
    name? other (other|alnum)* { kind = LEX_UNKNOWN; goto found; }
    [\x00-\x08\x0b\x0c\x0e-\x1f\x7f\x80-\x9f]+ { kind = LEX_SILENT; goto found; }
    [^] { kind = LEX_UNKNOWN; goto found; }
    * { kind = LEX_SILENT; goto found; }
    */
found:
    return lex_finish(lexer, token, begin, kind);
}

/* Broken bytes side by side are one token. */
static bool lex_joins(const Token *last, const Token *token) {
    return last->kind == TK_BAD && token->kind == TK_BAD && last->number == BAD_SIGN &&
           token->number == BAD_SIGN && last->end == token->begin;
}

static bool lex_push(Syntax *s, Token token) {
    if (s->token_count && lex_joins(&s->tokens[s->token_count - 1], &token)) {
        s->tokens[s->token_count - 1].end = token.end;
        return true;
    }
    if (s->token_count == s->token_capacity) {
        uint32_t capacity = s->token_capacity ? 2 * s->token_capacity : 256;
        Token *grown = memory_resize(s->tokens, capacity, sizeof *grown);
        if (!grown) {
            s->no_memory = true;
            return false;
        }
        s->tokens = grown;
        s->token_capacity = capacity;
    }
    s->tokens[s->token_count++] = token;
    return true;
}

/* A byte order mark and a first line that begins with `#!` are passed over. */
static uint32_t lex_first(const Syntax *s) {
    uint32_t at = s->length >= 3 && memcmp(s->text, "\xef\xbb\xbf", 3) == 0 ? 3 : 0;
    if (s->length >= at + 2 && s->text[at] == '#' && s->text[at + 1] == '!')
        while (at < s->length && s->text[at] != '\n')
            at++;
    return at;
}

bool lex_all(Syntax *s) {
    Lexer lexer = {.s = s, .limit = s->text + s->length, .line_start = true};
    lex_check_bytes(s);
    lexer.cursor = s->text + lex_first(s);
    for (;;) {
        Token token = {0};
        while (!lex_next(&lexer, &token))
            if (s->no_memory || s->gave_up)
                break;
        if (s->no_memory)
            return false;
        token.first_on_line = lexer.line_start;
        lexer.line_start = false;
        if (token.kind && s->token_count >= LIMIT_TOKENS) {
            syntax_error(s, "too-many-tokens", token.begin, token.end, NULL,
                         "a file has at most %d words and signs", LIMIT_TOKENS);
            s->gave_up = true;
        }
        if (s->gave_up)
            token = (Token){.begin = token.begin, .end = token.begin};
        if (!lex_push(s, token))
            return false;
        if (token.kind == 0)
            return true;
    }
}
