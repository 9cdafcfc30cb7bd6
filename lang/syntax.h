/* What the parts of the front end share: tokens, the state of a parse, nodes, hints.
 * Private to lexer.re, literals.c, words.c, nodes.c, grammar.y, feed.c, syntax_*.c and parse.c. */
#ifndef GLOAM_LANG_SYNTAX_H
#define GLOAM_LANG_SYNTAX_H

#include "lang/parse.h"

/* A token is a stretch of the text and owns nothing. kind is a TK_ of the generated grammar.h,
 * 0 at the end of the text. */
typedef struct Token {
    uint32_t begin, end;
    double number; /* as in the node of the same kind; of WEEKDAY and MONTH as in ast.h */
    uint16_t kind;
    bool first_on_line;
} Token;

/* number of a TK_BAD: what it may be besides a value. */
enum { BAD_VALUE, BAD_NAME, BAD_SIGN };

typedef struct NodeList {
    Node *first, *last;
    uint32_t count;
} NodeList;

typedef struct Syntax {
    Arena *arena;
    Diagnostics *sink;
    SourceTree *tree;
    const unsigned char *text;
    uint32_t length, file;
    Token *tokens; /* all of the text, then one of kind 0 */
    uint32_t token_count, token_capacity;
    uint32_t comment_count, comment_capacity;
    Comment *comments; /* moved to the arena at the end */
    Node *last_item;
    uint32_t node_count, error_count;
    uint32_t spelled;    /* how often a word was compared with all others */
    uint32_t comma_at;   /* the last token before which a comma was missed */
    uint32_t comma_call; /* the call in which commas were missed, told once */
    uint32_t at;         /* the token that is being fed */
    uint32_t deep_end;   /* end of the last expression reported as too deep */
    bool in_brace;       /* of a routine or lamp */
    bool gave_up;        /* a limit of the file or of memory was met: nothing more is fed */
    bool no_memory;
} Syntax;

/* ---- reports ---- */
Span syntax_span(const Syntax *s, uint32_t begin, uint32_t end);
#if defined(__GNUC__)
__attribute__((format(printf, 6, 7)))
#endif
void syntax_error(Syntax *s, const char *code, uint32_t begin, uint32_t end, const char *hint,
                  const char *format, ...);

/* ---- lexer.re ---- */
/* Cuts the whole text into s->tokens and s->comments. False: memory ran out. */
bool lex_all(Syntax *s);
/* literals.c: values of tokens that begin with a digit or `#`, with their reports. */
void literal_number(Syntax *s, Token *token);
void literal_percent(Syntax *s, Token *token);
void literal_quantity(Syntax *s, Token *token);
void literal_time(Syntax *s, Token *token);
void literal_date(Syntax *s, Token *token);
void literal_colour(Syntax *s, Token *token);
/* The unit that a word is or means (`min`, `minutes`), or NULL. */
const char *literal_unit_word(const char *word, size_t length);
/* The time of day that digits mean, `7`, `7.30`, `0730`, `730`, or -1; a value of a minute each. */
int literal_clock(const char *digits, size_t length);
/* "1h30min"; buffer of at least 64 bytes. */
void literal_spell_duration(double microseconds, char *buffer, size_t size);

/* ---- words.c ---- */
/* Sets kind and number of a word, plain or hyphenated; false for a hyphenated one not known. */
bool word_classify(const unsigned char *text, Token *token);
/* The word's spelling where the token kind stands for one word, else NULL. */
const char *word_spelling(int kind);
/* The nearest word of the language whose kind passes the test, or NULL; its kind in *kind. */
const char *word_nearest(const char *written, bool (*wanted)(const void *context, int kind),
                         const void *context, int *kind);
const char *word_nearest_hyphenated(const char *written);
/* The English name of the day, else of the month, that is spelt in full or in part, in whatever
 * case (`friday`, `Tues`, `Nov`), else NULL; the word of the language is its first three letters.
 * *number as in ast.h. */
const char *word_calendar(const char *text, size_t length, bool day, int *number);

/* ---- nodes.c: never NULL; a hole where a limit was met ---- */
Node *node_leaf(Syntax *s, NodeKind kind, Token token);
Node *node_word(Syntax *s, NodeKind kind, Token token); /* text is the token's */
Node *node_text(Syntax *s, NodeKind kind, Token token); /* text in quotes */
Node *node_make(Syntax *s, NodeKind kind, uint32_t begin, uint32_t end, Node *a, Node *b, Node *c);
Node *node_extend(Syntax *s, Node *node, uint32_t end); /* after its kids were set: height, span */
Node *node_binary(Syntax *s, Binary word, Node *a, Node *b);
Node *node_hole(Syntax *s, uint32_t begin, uint32_t end);
Node *node_ramp(Syntax *s, unsigned flags, NodeList stops, Node *driver, Node *easing, Node *space);
Node *node_sun(Syntax *s, Token first, Token last);
Node *node_property(Syntax *s, Property word, Token keyword, Node *a); /* a may be NULL */
Node *node_shape(Syntax *s, Token word, uint32_t end, Node *a, Node *b, bool flag);
NodeList list_one(Node *node);
NodeList list_add(NodeList list, Node *node);
void node_append(Node **list, Node *node); /* short lists only */
void syntax_item(Syntax *s, Node *item);   /* item may be NULL */

/* ---- grammar.y ---- */
void *grammar_create(Syntax *s); /* NULL: out of memory */
void grammar_free(void *grammar);
void grammar_feed(void *grammar, Token token);
bool grammar_accepts(const void *grammar, int kind);
/* How many symbols must go from the stack until `kind` can be shifted; -1: never. */
int grammar_distance(const void *grammar, int kind);
void grammar_drop(void *grammar, int count);
bool grammar_is_full(const void *grammar); /* the stack: too deep to go on */
bool grammar_is_soft(int kind);            /* may stand for NAME */
int grammar_token_count(void);
/* generated */
void Grammar(void *grammar, int kind, Token token);
void GrammarInit(void *grammar, Syntax *s);
void GrammarFinalize(void *grammar);
int GrammarFallback(int kind);

/* ---- syntax_hints.c: mistakes that rules of the grammar stand for ---- */
void hint_no_driver(Syntax *s, const Node *last);
void hint_no_ramp(Syntax *s, const Node *stop, const Node *driver);
void hint_chained(Syntax *s, const Node *left, Token relation, const Node *right);
void hint_no_else(Syntax *s, const Node *last);
void hint_remainder(Syntax *s, const Node *a, Token sign, const Node *b);
void hint_layer_outside(Syntax *s, const Node *layer);
void hint_moment_in_ramp(Syntax *s, Token at, Token time);
void hint_label_twice(Syntax *s, Token label);
void hint_twice(Syntax *s, const char *words, uint32_t begin, uint32_t end);
void hint_clause_twice(Syntax *s, const Node *clauses, const Node *clause);
void hint_second_end(Syntax *s, const Node *first, const Node *second);
void hint_space_first(Syntax *s, const Node *space, const Node *driver);
void hint_late_days(Syntax *s, const Node *days);
void hint_early_lamp(Syntax *s, const Node *lamp);
void hint_bare_easing(Syntax *s, Token easing);
void hint_unclosed(Syntax *s, Token brace, const Token *next);
void hint_misplaced(Syntax *s, Token word);
void hint_then_without_lasts(Syntax *s, Token then);
void check_colour_call(Syntax *s, const Node *call); /* `rgb(... / 50%)` */
void check_properties(Syntax *s, const Node *properties);
/* The text of a stretch on one line, cut where it is long. */
enum { EXCERPT = 48 };
const char *syntax_excerpt(const Syntax *s, uint32_t begin, uint32_t end, char buffer[EXCERPT + 4]);

/* ---- feed.c ---- */
/* Feeds all tokens to the grammar; what does not fit is reported, mended or skipped. */
bool feed_all(Syntax *s); /* false: memory ran out */

/* ---- syntax_unexpected.c: the token at s->at does not fit ---- */
typedef enum Repair {
    REPAIR_NONE,   /* reported; skip to where something new begins */
    REPAIR_RETRY,  /* the token's kind was changed: try it again */
    REPAIR_DROP,   /* leave the token out */
    REPAIR_INSERT, /* feed a token of kind *insert before it, then try again */
} Repair;
/* quiet: say nothing, since the token before was wrong already. */
Repair unexpected_token(Syntax *s, const void *grammar, bool quiet, int *insert);

#endif
