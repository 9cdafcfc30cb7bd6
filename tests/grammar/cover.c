/* Walks the tables of the grammar and writes, for each state and each token it acts on, a text that
 * comes by; parses all of them; and tells what was not visited. A text whose derivation has no rule
 * of a mistake must be accepted, any other must be refused. So the words that depend on what
 * follows, the limits and the recovery let everything through that the grammar means to.
 *
 * Built with -DYYCOVERAGE around the generated parser (coverage.sh). Arguments: more files to
 * parse. Prints what is amiss, then `N texts, N pairs, N missed, N wrong`. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "grammar.c"

enum { DEPTH = 48, LENGTH = 24, KEY = 5, TEXT = 2000 };

typedef struct Walk {
    YYACTIONTYPE states[DEPTH];
    YYCODETYPE tokens[LENGTH];
    int depth, length; /* of states, of tokens */
    bool in_brace, mistaken;
} Walk;

typedef struct Queue {
    Walk *walks;
    size_t first, count, room;
} Queue;

static const char *const SPELT[YYNTOKEN] = {
    [TK_NUMBER] = "3",
    [TK_PERCENT] = "40%",
    [TK_DURATION] = "2s",
    [TK_ANGLE] = "90deg",
    [TK_KELVIN] = "2700K",
    [TK_VOLT] = "5V",
    [TK_AMPERE] = "2A",
    [TK_HERTZ] = "3200kHz",
    [TK_TIME] = "19:30",
    [TK_DATE] = "2026-12-24",
    [TK_COLOUR] = "#f80",
    [TK_STRING] = "\"a\"",
    [TK_NAME] = "zeta",
    [TK_HYPHENNAME] = "srgb-linear",
    [TK_EASE] = "ease-in",
    [TK_EASEFN] = "steps",
    [TK_SUN] = "sunset",
    [TK_WEEKDAY] = "fri",
    [TK_MONTH] = "nov",
    [TK_HUEDIR] = "longer",
    [TK_TWILIGHT] = "civil",
    [TK_DAWN] = "dusk",
    [TK_ATMOMENT] = "at",
    [TK_BYMOMENT] = "by",
    [TK_UNTILCLOCK] = "until",
    [TK_EASECALL] = "ease",
    [TK_ANDBACK] = "and back",
    [TK_ANDROUND] = "and round",
    [TK_BAD] = "#ff",
    [TK_REMAINDER] = "%",
    [TK_HOLE] = ")",
    [TK_HOLE_HEADER] = ")",
    [TK_HOLE_PAREN] = "*",
    [TK_LBRACE] = "{",
    [TK_RBRACE] = "}",
    [TK_LPAREN] = "(",
    [TK_RPAREN] = ")",
    [TK_COMMA] = ",",
    [TK_DOT] = ".",
    [TK_DOTDOT] = "..",
    [TK_EQUALS] = "=",
    [TK_EQ] = "==",
    [TK_NE] = "!=",
    [TK_LT] = "<",
    [TK_LE] = "<=",
    [TK_GT] = ">",
    [TK_GE] = ">=",
    [TK_PLUS] = "+",
    [TK_MINUS] = "-",
    [TK_STAR] = "*",
    [TK_SLASH] = "/",
    [TK_ARROW] = "->",
    [TK_BAR] = "|",
};

/* Rules that stand for mistakes, besides those with HOLE or BAD. */
static const char *const MISTAKES[] = {
    "item ::= layer",
    "header ::= ROUTINE NAME THEN NAME",
    "expr ::= IF expr THEN expr",
    "ramp ::= stops",
    "ramp ::= bands",
    "ramp ::= stops space_first",
    "ramp ::= bands space_first",
    "ramp ::= stops space_first back driver ease",
    "ramp ::= bands space_first back driver ease",
    "ramp ::= stop back driver ease space",
    "easing ::= EASEFN",
    "comparison ::= comparison relation add",
    "add ::= add REMAINDER add",
    "entry ::= entry onlamp",
    "play ::= play dayclause",
};

static unsigned char wanted[YYNSTATE][YYNTOKEN]; /* 1: acts on it, 2: a text was made */

static bool is_mistake(unsigned rule) {
    const char *name = yyRuleName[rule];
    for (size_t i = 0; i < sizeof MISTAKES / sizeof MISTAKES[0]; i++)
        if (strcmp(name, MISTAKES[i]) == 0)
            return true;
    return strstr(name, "HOLE") || strstr(name, "BAD");
}

/* What the tables say of that very token, or YY_ERROR_ACTION. */
static YYACTIONTYPE act_on(YYACTIONTYPE state, int token) {
    if (state > YY_MAX_SHIFT)
        return state;
    int i = yy_shift_ofst[state] + token;
    return yy_lookahead[i] == token ? yy_action[i] : yy_default[state];
}

/* One token more. Counts the pairs it comes by that no text has come by; -1: not accepted. */
static int step(Walk *walk, int token, bool mark) {
    int fresh = 0;
    for (;;) {
        YYACTIONTYPE state = walk->states[walk->depth - 1], action = act_on(state, token);
        if (state <= YY_MAX_SHIFT && wanted[state][token] == 1) {
            fresh++;
            if (mark)
                wanted[state][token] = 2;
        }
        if (action == YY_ERROR_ACTION || walk->depth == DEPTH || walk->length == LENGTH)
            return -1;
        if (action == YY_ACCEPT_ACTION)
            return fresh;
        if (action <= YY_MAX_SHIFTREDUCE) {
            walk->states[walk->depth++] =
                (YYACTIONTYPE)(action > YY_MAX_SHIFT ? action + YY_MIN_REDUCE - YY_MIN_SHIFTREDUCE
                                                     : action);
            walk->tokens[walk->length++] = (YYCODETYPE)token;
            walk->in_brace = token == TK_LBRACE || (walk->in_brace && token != TK_RBRACE);
            return fresh;
        }
        unsigned rule = (unsigned)action - YY_MIN_REDUCE;
        walk->mistaken = walk->mistaken || is_mistake(rule);
        walk->depth += yyRuleInfoNRhs[rule];
        walk->states[walk->depth] =
            yy_find_reduce_action(walk->states[walk->depth - 1], yyRuleInfoLhs[rule]);
        walk->depth++;
    }
}

static bool begins_anew(int token) {
    switch (token) {
    case TK_USE:
    case TK_LET:
    case TK_DIAL:
    case TK_ROUTINE:
    case TK_LAMP:
    case TK_WHEN:
    case TK_BETWEEN:
    case TK_ATMOMENT:
    case TK_BYMOMENT:
    case TK_UNTILCLOCK:
    case TK_EVENT:
    case TK_PLACE:
    case TK_PAINT:
        return true;
    default:
        return false;
    }
}

/* Whether a text can have that token there: see the rules of words that depend on what follows. */
static bool can_follow(const Walk *walk, int token) {
    int last = walk->length ? walk->tokens[walk->length - 1] : 0;
    if (token == TK_IFPREC || token == TK_NEG)
        return false;
    if (walk->in_brace &&
        (token == 0 || (begins_anew(token) && token != TK_LET && token != TK_PAINT)))
        return false;
    if (token == TK_AT && !walk->in_brace)
        return false;
    /* what is wrong is passed over up to where something new begins */
    if (last == TK_HOLE)
        return begins_anew(token) || token == TK_RBRACE || token == 0;
    return true;
}

static void push(Queue *queue, const Walk *walk) {
    if (queue->count == queue->room) {
        queue->room = queue->room ? 2 * queue->room : 1024;
        queue->walks = realloc(queue->walks, queue->room * sizeof *queue->walks);
        if (!queue->walks)
            exit(2);
    }
    queue->walks[queue->count++] = *walk;
}

/* Whether the uppermost states were seen before. */
static bool is_known(const Walk *walk, int states) {
    enum { SLOTS = 1 << 22 };
    static uint64_t *seen;
    uint64_t hash = 0x9E3779B97F4A7C15u + walk->in_brace;
    if (!seen)
        seen = calloc(SLOTS, sizeof *seen);
    for (int i = 1; i <= states && i <= walk->depth; i++)
        hash = (hash ^ walk->states[walk->depth - i]) * 0xBF58476D1CE4E5B9u;
    hash ^= hash >> 29;
    for (uint64_t slot = hash % SLOTS;; slot = (slot + 1) % SLOTS) {
        if (seen[slot] == hash)
            return true;
        if (seen[slot] == 0) {
            seen[slot] = hash;
            return false;
        }
    }
}

/* Goes on to the end of a file, always from the walk with the fewest symbols left open. */
static bool complete(Walk *walk) {
    static const uint8_t CLOSERS[] = {
        0,         TK_NUMBER, TK_NAME,     TK_RPAREN,  TK_RBRACE, TK_THEN,   TK_ELSE, TK_EQUALS,
        TK_LBRACE, TK_COMMA,  TK_PLAY,     TK_EACH,    TK_ALONG,  TK_ARROW,  TK_HUE,  TK_TIME,
        TK_DATE,   TK_STRING, TK_DURATION, TK_PERCENT, TK_AMPERE, TK_DOTDOT, TK_KEEP, TK_LEVEL,
        TK_UNDER,  TK_EASE,   TK_LAMP,     TK_WEEKDAY, TK_MONTH,  TK_IS,     TK_SET,  TK_CLOCK,
        TK_DAWN,   TK_STRIP,  TK_BY,       TK_OF,      TK_BEFORE, TK_AND,    TK_IDLE, TK_TO,
        TK_EVERY,  TK_KELVIN, TK_ANGLE,    TK_HERTZ,   TK_VOLT,   TK_LPAREN};
    static Queue open[DEPTH + LENGTH];
    bool found = false;
    for (size_t i = 0; i < DEPTH + LENGTH; i++)
        open[i].count = 0;
    push(&open[walk->depth + walk->length], walk);
    for (int tries = 0, cost = 0; tries < 100000 && cost < DEPTH + LENGTH && !found; tries++) {
        for (cost = 0; cost < DEPTH + LENGTH && !open[cost].count;)
            cost++;
        if (cost == DEPTH + LENGTH)
            break;
        Walk from = open[cost].walks[--open[cost].count];
        for (size_t i = 0; i < sizeof CLOSERS && !found; i++) {
            Walk next = from;
            if (!can_follow(&from, CLOSERS[i]) || step(&next, CLOSERS[i], false) < 0)
                continue;
            found = CLOSERS[i] == 0;
            if (found)
                *walk = next;
            else if (next.depth + next.length < DEPTH + LENGTH)
                push(&open[next.depth + next.length], &next);
        }
    }
    return found;
}

static void spell(const Walk *walk, char *text) {
    size_t used = 0;
    for (int i = 0; i < walk->length; i++) {
        int token = walk->tokens[i];
        const char *word = SPELT[token] ? SPELT[token] : word_spelling(token);
        if (!word) {
            fprintf(stderr, "no spelling of %s\n", yyTokenName[token]);
            exit(2);
        }
        used += (size_t)snprintf(text + used, TEXT - used, "%s%s", begins_anew(token) ? "\n" : " ",
                                 word);
    }
    snprintf(text + used, TEXT - used, "\n");
}

/* Returns whether the text was accepted; *twice: all that was said is that something stands twice.
 */
static bool accepted(const char *name, const char *text, size_t length, bool *twice, bool print) {
    Arena *arena = arena_create();
    Diagnostics *sink = diagnostics_create();
    SourceTree tree;
    parse_source(arena, sink, diagnostics_add_file(sink, name, text, length), &tree);
    *twice = true;
    for (size_t i = 0; i < diagnostics_total(sink); i++)
        *twice = *twice && (strcmp(diagnostics_at(sink, i)->code, "stands-twice") == 0 ||
                            strcmp(diagnostics_at(sink, i)->code, "two-ends") == 0);
    if (print)
        diagnostics_print(sink, stdout, false);
    bool whole = tree.whole;
    diagnostics_free(sink);
    arena_free(arena);
    return whole;
}

static int wrong, texts;

static void try_walk(const Walk *found) {
    char text[TEXT];
    bool twice;
    Walk walk = *found;
    if (!complete(&walk)) {
        spell(&walk, text);
        printf("found no end for:%s", text);
        wrong++;
        return;
    }
    spell(&walk, text);
    texts++;
    bool whole = accepted("text", text, strlen(text), &twice, false);
    if (whole != !walk.mistaken && !(twice && !whole)) {
        printf("%s, wrongly:%s", whole ? "accepted" : "refused", text);
        accepted("text", text, strlen(text), &twice, true);
        wrong++;
    }
}

static void explore(int key) {
    Queue queue = {0};
    Walk start = {.states = {0}, .depth = 1};
    push(&queue, &start);
    while (queue.first < queue.count) {
        Walk from = queue.walks[queue.first++];
        for (int token = 0; token < YYNTOKEN; token++) {
            Walk next = from;
            if (!can_follow(&from, token))
                continue;
            int fresh = step(&next, token, false);
            if (fresh < 0)
                continue;
            if (fresh > 0) {
                Walk again = from;
                step(&again, token, true);
                try_walk(&next);
            }
            if (token && next.length < LENGTH - 10 && !is_known(&next, key))
                push(&queue, &next);
        }
    }
    free(queue.walks);
}

static void read_files(char **paths) {
    static char text[1 << 20];
    for (; *paths; paths++) {
        bool twice;
        FILE *file = fopen(*paths, "rb");
        if (!file) {
            printf("cannot read %s\n", *paths);
            wrong++;
            continue;
        }
        size_t length = fread(text, 1, sizeof text, file);
        fclose(file);
        accepted(*paths, text, length, &twice, false);
    }
}

int main(int count, char **arguments) {
    (void)count;
    int pairs = 0;
    for (int state = 0; state < YYNSTATE; state++)
        for (int token = 0; token < YYNTOKEN; token++)
            if (yy_lookahead[yy_shift_ofst[state] + token] == token) {
                wanted[state][token] = 1;
                pairs++;
            }
    explore(KEY);
    read_files(arguments + 1);
    int missed = GrammarCoverage(NULL);
    for (int state = 0; missed && state < YYNSTATE; state++)
        for (int token = 0; token < YYNTOKEN; token++)
            if (wanted[state][token] && !yycoverage[state][token])
                printf("missed: state %d, %s%s\n", state, yyTokenName[token],
                       wanted[state][token] == 1 ? " (no text)" : "");
    printf("%d texts, %d pairs, %d missed, %d wrong\n", texts, pairs, missed, wrong);
    return missed || wrong;
}
