/* A token that does not fit: what is said of it, and how to go on without saying more. */
#include <stdarg.h>
#include <string.h>
#include <strings.h>

#include "lang/syntax.h"
#include "runtime/core/limits.h"

#include "grammar.h"

typedef struct Unexpected {
    Syntax *s;
    const void *grammar;
    bool quiet;
    Token *token;
    const Token *before; /* NULL: it is the first */
    const Token *after;
    char text[EXCERPT + 4];
    int *insert;
} Unexpected;

static bool accepts(const Unexpected *u, int kind) {
    return grammar_accepts(u->grammar, kind);
}

static bool before_is(const Unexpected *u, int kind) {
    return u->before && u->before->kind == kind;
}

/* A word that begins a line where something new may begin: what stands before it is complete. */
static bool is_stray(const Unexpected *u) {
    return u->token->kind != 0 && u->token->first_on_line &&
           accepts(u, u->s->in_brace ? TK_RBRACE : TK_USE);
}

/* Whether something is missing at the end of the line rather than wrong at the token. */
static bool at_line_end(const Unexpected *u) {
    return u->before && (u->token->kind == 0 || u->token->first_on_line) && !is_stray(u);
}

#if defined(__GNUC__)
__attribute__((format(printf, 4, 5)))
#endif
static void
report(const Unexpected *u, const char *code, const char *hint, const char *format, ...) {
    char message[600];
    va_list arguments;
    if (u->quiet)
        return;
    va_start(arguments, format);
    vsnprintf(message, sizeof message, format, arguments);
    va_end(arguments);
    syntax_error(u->s, code, u->token->begin, u->token->end, hint, "%s", message);
}

/* ---- lists of what is expected ---- */

static const char *const CLASSES[] = {
    [TK_NUMBER] = "a number",
    [TK_PERCENT] = "a percentage",
    [TK_DURATION] = "a duration",
    [TK_ANGLE] = "an angle",
    [TK_KELVIN] = "a warmth",
    [TK_VOLT] = "volts",
    [TK_AMPERE] = "amperes",
    [TK_HERTZ] = "a frequency",
    [TK_TIME] = "a time of day",
    [TK_DATE] = "a date",
    [TK_COLOUR] = "a colour",
    [TK_STRING] = "a text in quotes",
    [TK_NAME] = "a name",
    [TK_EASE] = "an easing",
    [TK_EASEFN] = "an easing",
    [TK_SUN] = "`sunset`",
    [TK_WEEKDAY] = "a day",
    [TK_MONTH] = "a month",
    [TK_TWILIGHT] = "`civil`",
    [TK_DAWN] = "`dusk`",
    [TK_HUEDIR] = "`shorter`",
    [TK_ATMOMENT] = "`at`",
    [TK_BYMOMENT] = "`by`",
    [TK_UNTILCLOCK] = "`until`",
    [TK_ANDBACK] = "`and back`",
    [TK_ANDROUND] = "`and round`",
    [TK_EASECALL] = "`ease(`",
    [TK_HYPHENNAME] = "a name",
    [TK_LBRACE] = "`{`",
    [TK_RBRACE] = "`}`",
    [TK_LPAREN] = "`(`",
    [TK_RPAREN] = "`)`",
    [TK_COMMA] = "`,`",
    [TK_DOT] = "`.`",
    [TK_DOTDOT] = "`..`",
    [TK_EQUALS] = "`=`",
    [TK_EQ] = "`==`",
    [TK_NE] = "`!=`",
    [TK_LT] = "`<`",
    [TK_LE] = "`<=`",
    [TK_GT] = "`>`",
    [TK_GE] = "`>=`",
    [TK_PLUS] = "`+`",
    [TK_MINUS] = "`-`",
    [TK_STAR] = "`*`",
    [TK_SLASH] = "`/`",
    [TK_ARROW] = "`->`",
    [TK_BAR] = "`|`",
};
enum { CLASS_COUNT = sizeof CLASSES / sizeof CLASSES[0], TOKENS = 160, SHOWN = 6 };

/* Kinds that are told as one where `needs` of them (the first ones) are expected together. */
static const struct Group {
    const char *name;
    uint8_t needs;
    uint8_t kinds[24];
} GROUPS[] = {
    {"an expression",
     3,
     {TK_NUMBER, TK_NAME, TK_LPAREN, TK_PERCENT, TK_DURATION, TK_ANGLE, TK_KELVIN, TK_TIME,
      TK_COLOUR, TK_TRUE, TK_FALSE, TK_MINUS, TK_NOT, TK_IF, TK_EASECALL}},
    {"an operator",
     3,
     {TK_PLUS, TK_STAR, TK_SLASH, TK_MINUS, TK_EQ, TK_NE, TK_LT, TK_LE, TK_GT, TK_GE, TK_AND,
      TK_OR}},
    {"something new (`let`, `routine`, `at`, ...)",
     2,
     {TK_USE, TK_ROUTINE, TK_LET, TK_DIAL, TK_LAMP, TK_WHEN, TK_BETWEEN, TK_ATMOMENT, TK_BYMOMENT,
      TK_UNTILCLOCK, TK_EVENT, TK_PLACE, TK_PAINT}},
    {"a layer (`paint gold`)", 1, {TK_PAINT, TK_LET}},
    {"a driver (`over`, `every`, `for`, `along` or `throughout`)",
     2,
     {TK_OVER, TK_EVERY, TK_FOR, TK_ALONG, TK_THROUGHOUT, TK_ANDBACK, TK_ANDROUND}},
    {"an easing", 2, {TK_EASE, TK_EASEFN}},
    {"a name", 2, {TK_NAME, TK_HYPHENNAME}},
    {"a moment (`19:30`, `sunset`, `civil dusk`)", 2, {TK_SUN, TK_TWILIGHT, TK_TIME}},
    {"days (`on fri`, `in nov`, `from`, `until`, `except`)",
     4,
     {TK_IN, TK_FROM, TK_UNTIL, TK_EXCEPT, TK_ON}},
    {"a bound (`not before`, `not after`, `else`)", 2, {TK_NOT, TK_ELSE}},
    {"a property (`pixels`, `shape`, `chip`, `port`, ...)",
     3,
     {TK_PIXELS,  TK_SHAPE,    TK_CHIP, TK_PORT,    TK_ORDER,    TK_SUPPLY,  TK_LEVEL, TK_WHITE,
      TK_TURNED,  TK_MIRRORED, TK_PART, TK_GROUP,   TK_DRAWS,    TK_GAIN,    TK_DIE,   TK_DITHER,
      TK_REPAINT, TK_CLOCK,    TK_ENDS, TK_FLASHES, TK_UNIVERSE, TK_PRIORITY}},
    {"a shape (`strip`, `ring`, `grid`, `ball` or `points`)",
     2,
     {TK_STRIP, TK_RING, TK_GRID, TK_BALL, TK_POINTS}},
};

static const uint8_t AFTER_VALUES[] = {
    TK_LPAREN, TK_DOT,    TK_ARROW,      TK_BAR,     TK_DELAYED, TK_AT,
    TK_EASE,   TK_EASEFN, TK_THROUGHOUT, TK_WHERE,   TK_OVER,    TK_EVERY,
    TK_FOR,    TK_IN,     TK_ALONG,      TK_BLENDED, TK_ANDBACK, TK_ANDROUND};

typedef struct Wanted {
    bool kinds[TOKENS];
} Wanted;

static bool wanted_kind(const void *context, int kind) {
    return ((const Wanted *)context)->kinds[kind];
}

static void expected_kinds(const Unexpected *u, Wanted *wanted) {
    bool name = accepts(u, TK_NAME);
    memset(wanted, 0, sizeof *wanted);
    for (int kind = 1; kind < grammar_token_count() && kind < TOKENS; kind++) {
        bool hidden = kind == TK_BAD || kind == TK_HOLE || kind == TK_HOLE_HEADER ||
                      kind == TK_HOLE_PAREN || kind == TK_REMAINDER || kind == TK_IFPREC ||
                      kind == TK_NEG;
        /* A soft word fits wherever a name does. */
        wanted->kinds[kind] = !hidden && !(name && grammar_is_soft(kind)) && accepts(u, kind);
    }
}

static uint32_t expected_groups(Wanted *wanted, const char *names[], uint32_t room) {
    uint32_t count = 0;
    for (size_t g = 0; g < sizeof GROUPS / sizeof GROUPS[0]; g++) {
        uint8_t found = 0;
        for (uint8_t i = 0; i < GROUPS[g].needs; i++)
            found += wanted->kinds[GROUPS[g].kinds[i]];
        if (found < GROUPS[g].needs || count == room)
            continue;
        names[count++] = GROUPS[g].name;
        for (size_t i = 0; i < sizeof GROUPS[g].kinds && GROUPS[g].kinds[i]; i++)
            wanted->kinds[GROUPS[g].kinds[i]] = false;
        /* What else may follow a value: of little help to whoever left out a sign. */
        if (GROUPS[g].kinds[0] == TK_PLUS)
            for (size_t i = 0; i < sizeof AFTER_VALUES; i++)
                wanted->kinds[AFTER_VALUES[i]] = false;
    }
    return count;
}

/* "an expression, `)` or `,`" */
static void expected_text(const Unexpected *u, char *buffer, size_t size) {
    Wanted wanted;
    const char *names[SHOWN + 1];
    char quoted[SHOWN + 1][40];
    uint32_t count, quotes = 0;
    size_t out = 0;
    expected_kinds(u, &wanted);
    count = expected_groups(&wanted, names, SHOWN);
    bool more = false;
    for (int kind = 1; kind < TOKENS; kind++) {
        if (!wanted.kinds[kind])
            continue;
        if (count == SHOWN) {
            more = true;
            break;
        }
        const char *word = kind < CLASS_COUNT ? CLASSES[kind] : NULL;
        if (!word && word_spelling(kind)) {
            snprintf(quoted[quotes], sizeof quoted[0], "`%s`", word_spelling(kind));
            word = quoted[quotes++];
        }
        if (word)
            names[count++] = word;
    }
    if (count == 0)
        names[count++] = "nothing more";
    for (uint32_t i = 0; i < count && out < size; i++) {
        const char *join = i == 0 ? "" : i + 1 == count && !more ? " or " : ", ";
        out += (size_t)snprintf(buffer + out, size - out, "%s%s", join, names[i]);
    }
    if (more && out < size)
        snprintf(buffer + out, size - out, ", ...");
}

static const char *described(const Unexpected *u, char *buffer, size_t size) {
    const char *what = "";
    if (u->token->kind == 0)
        return "the end of the file";
    if (at_line_end(u))
        return "the end of the line";
    switch (u->token->kind) {
    case TK_NUMBER:
        what = "the number ";
        break;
    case TK_DURATION:
        what = "the duration ";
        break;
    case TK_TIME:
        what = "the time of day ";
        break;
    case TK_DATE:
        what = "the date ";
        break;
    case TK_STRING:
        what = "the text ";
        break;
    default:
        break;
    }
    snprintf(buffer, size, "%s`%s`", what, u->text);
    return buffer;
}

/* What is missing at a line's end is told there, not at the next line. */
static void report_expected(const Unexpected *u) {
    char list[420], this_is[EXCERPT + 40];
    if (u->quiet)
        return;
    expected_text(u, list, sizeof list);
    uint32_t begin = at_line_end(u) ? u->before->end : u->token->begin;
    syntax_error(u->s, "unexpected", begin, at_line_end(u) ? begin : u->token->end, NULL,
                 "expected %s here, this is %s", list, described(u, this_is, sizeof this_is));
}

/* ---- mistakes that can be mended ---- */

static bool is_name(int kind) {
    return kind == TK_NAME || grammar_is_soft(kind);
}

static Repair mend_braces(Unexpected *u) {
    if (u->token->kind == TK_RBRACE && !u->s->in_brace && accepts(u, TK_USE)) {
        report(u, "stray-brace", NULL, "this `}` closes nothing");
        return REPAIR_DROP;
    }
    return REPAIR_NONE;
}

/* `1h 30min` */
static Repair mend_durations(Unexpected *u) {
    char spelt[64], hint[80];
    if (u->token->kind != TK_DURATION || !before_is(u, TK_DURATION) || u->token->first_on_line)
        return REPAIR_NONE;
    literal_spell_duration(u->before->number + u->token->number, spelt, sizeof spelt);
    snprintf(hint, sizeof hint, "`%s`", spelt);
    if (!u->quiet)
        syntax_error(u->s, "duration-order", u->before->begin, u->token->end, hint,
                     "one duration is written without a space, largest first");
    return REPAIR_DROP;
}

static Repair mend_equals(Unexpected *u) {
    if (u->token->kind != TK_EQUALS || !accepts(u, TK_EQ))
        return REPAIR_NONE;
    report(u, "equals-sign", "`==`", "`=` gives a name, `==` compares");
    u->token->kind = TK_EQ;
    return REPAIR_RETRY;
}

static bool is_value(int kind) {
    switch (kind) {
    case TK_NUMBER:
    case TK_PERCENT:
    case TK_DURATION:
    case TK_ANGLE:
    case TK_KELVIN:
    case TK_TIME:
    case TK_COLOUR:
    case TK_TRUE:
    case TK_FALSE:
    case TK_NAME:
    case TK_HYPHENNAME:
    case TK_BAD:
        return true;
    default:
        return grammar_is_soft(kind);
    }
}

/* The `(` that is open at the token. Looks back no further than to the last comma put into the
 * same call, so that a long call without commas takes no longer than its length. */
static uint32_t open_paren(const Syntax *s) {
    uint32_t depth = 0;
    for (uint32_t at = s->at - 1; at > 0; at--) {
        if (depth == 0 && at == s->comma_at)
            return s->comma_call;
        if (s->tokens[at].kind == TK_RPAREN)
            depth++;
        else if (s->tokens[at].kind == TK_LPAREN && depth-- == 0)
            return at;
    }
    return 0;
}

/* The call with that `(`, a comma in each gap between two values: "rgb(255, 136, 0)". */
static bool spell_commas(const Unexpected *u, uint32_t paren, char *buffer, size_t size) {
    const Syntax *s = u->s;
    uint32_t begin = paren - 1, end = 0, depth = 0;
    if (!is_value(s->tokens[begin].kind))
        return false;
    size_t out = 0;
    for (uint32_t at = begin; out < size; at++) {
        const Token *token = &s->tokens[at], *last = &s->tokens[at ? at - 1 : 0];
        bool gap = depth == 1 && at > begin + 1 && is_value(token->kind) &&
                   (is_value(last->kind) || last->kind == TK_RPAREN);
        if (token->kind == 0 || (token->first_on_line && at > begin))
            return false;
        const char *join = at == begin ? "" : gap ? ", " : token->begin > last->end ? " " : "";
        out += (size_t)snprintf(buffer + out, size - out, "%s%.*s", join,
                                (int)(token->end - token->begin),
                                (const char *)s->text + token->begin);
        depth += token->kind == TK_LPAREN;
        if (token->kind == TK_RPAREN && --depth == 0) {
            end = at;
            break;
        }
    }
    return out < size && end >= s->at;
}

static Repair mend_comma(Unexpected *u) {
    char spelt[120], hint[130];
    Syntax *s = u->s;
    if (!accepts(u, TK_COMMA) || !accepts(u, TK_RPAREN) || at_line_end(u) ||
        !is_value(u->token->kind) || accepts(u, u->token->kind))
        return REPAIR_NONE;
    uint32_t paren = open_paren(s);
    if (paren == 0 || s->comma_call != paren) {
        bool known = paren && spell_commas(u, paren, spelt, sizeof spelt);
        snprintf(hint, sizeof hint, "`%s`", spelt);
        report(u, "missing-comma", known ? hint : NULL, "commas between arguments");
    }
    s->comma_call = paren;
    s->comma_at = s->at;
    *u->insert = TK_COMMA;
    return REPAIR_INSERT;
}

/* `on fri sat`, `in nov feb` */
static Repair mend_list(Unexpected *u) {
    static const struct {
        uint8_t kind;
        const char *code, *plural;
    } LISTS[] = {{TK_WEEKDAY, "days-without-comma", "days"},
                 {TK_MONTH, "months-without-comma", "months"},
                 {TK_DATE, "dates-without-comma", "dates"},
                 {TK_TIME, "times-without-comma", "times of day"}};
    char hint[2 * EXCERPT], first[EXCERPT + 4];
    for (size_t i = 0; i < sizeof LISTS / sizeof LISTS[0]; i++) {
        int kind = LISTS[i].kind;
        if (u->token->kind != kind || !before_is(u, kind) || !accepts(u, TK_COMMA) ||
            at_line_end(u))
            continue;
        snprintf(hint, sizeof hint, "`%s, %s`",
                 syntax_excerpt(u->s, u->before->begin, u->before->end, first), u->text);
        report(u, LISTS[i].code, hint, "%s are separated by commas", LISTS[i].plural);
        *u->insert = TK_COMMA;
        return REPAIR_INSERT;
    }
    return REPAIR_NONE;
}

/* `friday`, `January` */
static Repair mend_calendar(Unexpected *u) {
    bool day = accepts(u, TK_WEEKDAY), month = accepts(u, TK_MONTH);
    int number;
    char hint[8];
    if (!is_name(u->token->kind) || !(day || month) || accepts(u, TK_NAME))
        return REPAIR_NONE;
    const char *name = word_calendar(u->text, strlen(u->text), day, &number);
    if (!name)
        return REPAIR_NONE;
    snprintf(hint, sizeof hint, "`%.3s`", name);
    report(u, "calendar-word", hint, "no %s `%s`", day ? "day" : "month", u->text);
    u->token->kind = day ? TK_WEEKDAY : TK_MONTH;
    u->token->number = number;
    return REPAIR_RETRY;
}

/* `mon - fri`, `nov to feb`; `from 2026-12-24 to 2027-01-02` */
static Repair mend_range(Unexpected *u) {
    bool to = is_name(u->token->kind) && strcmp(u->text, "to") == 0;
    bool ranged = before_is(u, TK_WEEKDAY) || before_is(u, TK_MONTH) || before_is(u, TK_DATE);
    char hint[2 * EXCERPT + 24], first[EXCERPT + 4], last[EXCERPT + 4];
    if (!(to || u->token->kind == TK_MINUS) || !ranged || at_line_end(u))
        return REPAIR_NONE;
    syntax_excerpt(u->s, u->before->begin, u->before->end, first);
    syntax_excerpt(u->s, u->after->begin, u->after->end, last);
    if (accepts(u, TK_DOTDOT)) {
        snprintf(hint, sizeof hint, "`%s..%s`", first, last);
        report(u, "range-sign", hint, "a range is written with `..`");
        u->token->kind = TK_DOTDOT;
    } else if (before_is(u, TK_DATE) && accepts(u, TK_UNTIL)) {
        snprintf(hint, sizeof hint, "`from %s until %s`", first, last);
        report(u, "range-sign", hint, "the last day stands behind `until`");
        u->token->kind = TK_UNTIL;
    } else {
        return REPAIR_NONE;
    }
    return REPAIR_RETRY;
}

/* `at 7`, `not before 6.30`, `at 0310`, `by 3h10min` */
static Repair mend_time(Unexpected *u) {
    char hint[16];
    bool number = u->token->kind == TK_NUMBER && !accepts(u, TK_NUMBER);
    bool duration = u->token->kind == TK_DURATION && !accepts(u, TK_DURATION);
    if (!(number || duration) || !accepts(u, TK_TIME))
        return REPAIR_NONE;
    double minutes = u->token->number / 6e7;
    int clock = number ? literal_clock(u->text, strlen(u->text))
                : minutes < 24 * 60 && minutes == (int)minutes ? (int)minutes
                                                               : -1;
    if (clock < 0)
        clock = 7 * 60;
    snprintf(hint, sizeof hint, "`%02d:%02d`", clock / 60, clock % 60);
    report(u, "time-of-day", hint, "a time of day is written `07:00`");
    u->token->kind = TK_TIME;
    u->token->number = clock * 60;
    return REPAIR_RETRY;
}

static Repair mend_name(Unexpected *u) {
    static const uint8_t NAMED[] = {TK_LET,   TK_DIAL, TK_ROUTINE, TK_EVENT, TK_LAMP, TK_PART,
                                    TK_GROUP, TK_AS,   TK_LPAREN,  TK_COMMA, TK_THEN};
    char word[EXCERPT + 4];
    bool named = false;
    for (size_t i = 0; i < sizeof NAMED; i++)
        named = named || before_is(u, NAMED[i]);
    snprintf(word, sizeof word, "%s", u->text);
    if (!named || at_line_end(u) || !accepts(u, TK_NAME) || accepts(u, TK_NUMBER) ||
        !(parse_is_reserved(word) || u->token->kind == TK_EASECALL))
        return REPAIR_NONE;
    report(u, "reserved-word", "choose another name", "`%s` is a word of the language", word);
    u->token->kind = TK_NAME;
    return REPAIR_RETRY;
}

static bool is_driver(int kind) {
    return kind == TK_OVER || kind == TK_EVERY || kind == TK_FOR || kind == TK_ALONG ||
           kind == TK_THROUGHOUT;
}

/* `black -> gold every 4s and back` */
static Repair mend_late_back(Unexpected *u) {
    char word[EXCERPT + 4], driver[EXCERPT + 4] = "every 4s", hint[2 * EXCERPT + 40];
    syntax_excerpt(u->s, u->after->begin, u->after->end, word);
    for (uint32_t at = u->s->at; at > 0 && !u->s->tokens[at].first_on_line; at--)
        if (is_driver(u->s->tokens[at - 1].kind)) {
            syntax_excerpt(u->s, u->s->tokens[at - 1].begin, u->before->end, driver);
            break;
        }
    bool back = strcmp(word, "back") == 0 || strcmp(word, "round") == 0;
    if (u->token->kind != TK_AND || !back)
        return REPAIR_NONE;
    snprintf(hint, sizeof hint, "`and %s %s`", word, driver);
    report(u, "back-after-driver", hint, "`and %s` stands before the driver", word);
    u->s->at++;
    return REPAIR_DROP;
}

/* `black => gold`, `black to gold` */
static Repair mend_arrow(Unexpected *u) {
    Token *next = &u->s->tokens[u->s->at + 1];
    bool pointed =
        u->token->kind == TK_EQUALS && u->after->kind == TK_GT && u->after->begin == u->token->end;
    bool word = is_name(u->token->kind) && strcmp(u->text, "to") == 0 && !at_line_end(u);
    if (!accepts(u, TK_ARROW) || !(pointed || word))
        return REPAIR_NONE;
    report(u, "arrow", "`->`", "a fade is written `->`");
    (pointed ? next : u->token)->kind = TK_ARROW;
    return pointed ? REPAIR_DROP : REPAIR_RETRY;
}

/* `paint = gold`, `routine dusk = {`, `pixels = 16` */
static Repair mend_needless_equals(Unexpected *u) {
    bool nameless = before_is(u, TK_LET) || before_is(u, TK_DIAL) || before_is(u, TK_ROUTINE) ||
                    before_is(u, TK_LAMP) || before_is(u, TK_EVENT);
    if (u->token->kind != TK_EQUALS || !u->before || nameless)
        return REPAIR_NONE;
    report(u, "needless-equals", NULL, "no `=` here: leave it out");
    return REPAIR_DROP;
}

/* `1,5` */
static Repair mend_decimal_comma(Unexpected *u) {
    char hint[2 * EXCERPT], whole[EXCERPT + 4], rest[EXCERPT + 4];
    if (u->token->kind != TK_COMMA || !before_is(u, TK_NUMBER) ||
        u->before->end != u->token->begin || u->after->begin != u->token->end ||
        !(u->after->kind == TK_NUMBER || u->after->kind == TK_PERCENT ||
          u->after->kind == TK_DURATION || u->after->kind == TK_ANGLE))
        return REPAIR_NONE;
    snprintf(hint, sizeof hint, "`%s.%s`",
             syntax_excerpt(u->s, u->before->begin, u->before->end, whole),
             syntax_excerpt(u->s, u->after->begin, u->after->end, rest));
    report(u, "decimal-comma", hint, "a number is written with a point");
    u->s->at++;
    return REPAIR_DROP;
}

/* A word that is nearly one of those that fit. */
static Repair mend_spelling(Unexpected *u) {
    Wanted wanted;
    int kind = 0;
    char hint[EXCERPT + 4];
    if (!is_name(u->token->kind) || u->s->spelled++ >= LIMIT_ERRORS)
        return REPAIR_NONE;
    expected_kinds(u, &wanted);
    const char *nearest = word_nearest(u->text, wanted_kind, &wanted, &kind);
    if (!nearest)
        return REPAIR_NONE;
    snprintf(hint, sizeof hint, "`%s`", nearest);
    report(u, "unknown-word", hint, "no word `%s` here", u->text);
    u->token->kind = (uint16_t)kind;
    return REPAIR_RETRY;
}

/* `fade 2min` behind a play */
static Repair mend_fading(Unexpected *u) {
    if (!accepts(u, TK_FADING) || at_line_end(u) || !is_name(u->token->kind) ||
        (strcmp(u->text, "fade") != 0 && strcmp(u->text, "fades") != 0))
        return REPAIR_NONE;
    report(u, "unknown-word", "`fading`", "no word `%s` here", u->text);
    u->token->kind = TK_FADING;
    return REPAIR_RETRY;
}

/* `play dusk on shelf` */
static Repair mend_on_lamp(Unexpected *u) {
    char hint[EXCERPT + 20];
    if (!before_is(u, TK_ON) || !accepts(u, TK_LAMP) || !is_name(u->token->kind) || at_line_end(u))
        return REPAIR_NONE;
    snprintf(hint, sizeof hint, "`on lamp %s`", u->text);
    report(u, "missing-lamp", hint, "`lamp` is missing before `%s`", u->text);
    *u->insert = TK_LAMP;
    return REPAIR_INSERT;
}

/* `sunset + 10` */
static Repair mend_duration(Unexpected *u) {
    char hint[2 * EXCERPT + 30];
    if (u->token->kind != TK_NUMBER || !accepts(u, TK_DURATION) || accepts(u, TK_NUMBER) ||
        at_line_end(u))
        return REPAIR_NONE;
    snprintf(hint, sizeof hint, "`%ss` or `%smin`?", u->text, u->text);
    report(u, "needs-duration", hint, "this needs a duration, and `%s` is a number", u->text);
    u->token->kind = TK_DURATION;
    u->token->number = 60e6;
    return REPAIR_RETRY;
}

static bool play_follows(const Syntax *s) {
    for (uint32_t at = s->at + 1; at < s->token_count && !s->tokens[at].first_on_line; at++)
        if (s->tokens[at].kind == TK_PLAY)
            return true;
    return false;
}

static Repair mend_play(Unexpected *u) {
    char hint[EXCERPT + 20];
    if (!is_name(u->token->kind) || !accepts(u, TK_PLAY) || accepts(u, TK_NAME) || at_line_end(u) ||
        accepts(u, TK_PLUS) || play_follows(u->s))
        return REPAIR_NONE;
    snprintf(hint, sizeof hint, "`play %s`", u->text);
    report(u, "missing-play", hint, "`play` is missing before `%s`", u->text);
    *u->insert = TK_PLAY;
    return REPAIR_INSERT;
}

/* ---- mistakes that are told and skipped ---- */

/* `gold -> red for 40min` */
static bool tell_each(const Unexpected *u) {
    static const uint8_t OVER[] = {TK_RBRACE, TK_RPAREN, TK_WHERE, TK_PAINT,
                                   TK_EASE,   TK_IN,     TK_LET,   TK_BLENDED};
    char length[EXCERPT + 4], hint[2 * EXCERPT + 60];
    bool over = at_line_end(u);
    for (size_t i = 0; i < sizeof OVER / sizeof OVER[0]; i++)
        over = over || u->token->kind == OVER[i];
    if (!over || !accepts(u, TK_EACH))
        return false;
    uint32_t at = u->s->at;
    while (at > 0 && u->s->tokens[at - 1].kind != TK_FOR)
        at--;
    if (at == 0)
        return false;
    syntax_excerpt(u->s, u->s->tokens[at].begin, u->before->end, length);
    snprintf(hint, sizeof hint, "`over %s` for all of the ramp, or `for %s each`", length, length);
    if (!u->quiet)
        syntax_error(u->s, "for-without-each", u->s->tokens[at - 1].begin, u->before->end, hint,
                     "`for` is the time of each part of a ramp");
    return true;
}

/* `supply 5V` */
static bool tell_amperes(const Unexpected *u) {
    char volts[EXCERPT + 4], hint[EXCERPT + 20];
    if (!before_is(u, TK_VOLT) || !accepts(u, TK_AMPERE))
        return false;
    snprintf(hint, sizeof hint, "`supply %s 2A`",
             syntax_excerpt(u->s, u->before->begin, u->before->end, volts));
    if (!u->quiet)
        syntax_error(u->s, "missing-amperes", u->before->begin, u->before->end, hint,
                     "a supply has amperes, too");
    return true;
}

static bool tell_heading(const Unexpected *u) {
    if (u->token->kind != TK_LBRACE || !u->before)
        return false;
    if (u->before->kind == TK_LAMP)
        report(u, "missing-name", "`lamp shelf {`", "a lamp has a name");
    else if (u->before->kind == TK_ROUTINE)
        report(u, "missing-name", "`routine dusk {`", "a routine has a name");
    else
        return false;
    return true;
}

static bool tell_mixed(const Unexpected *u) {
    bool bar = u->token->kind == TK_BAR && accepts(u, TK_ARROW);
    bool arrow = u->token->kind == TK_ARROW && accepts(u, TK_BAR);
    if (bar || arrow)
        report(u, "mixed-ramp", "parentheses around a ramp within a ramp",
               "`->` and `|` do not go together in one ramp");
    return bar || arrow;
}

static bool tell_driver(const Unexpected *u) {
    char hint[2 * EXCERPT + 60];
    if (u->token->kind != TK_DURATION || !accepts(u, TK_EVERY) || at_line_end(u))
        return false;
    snprintf(hint, sizeof hint, "`over %s` (once) or `every %s` (again and again)", u->text,
             u->text);
    report(u, "ramp-without-driver", hint, "a driver is missing before `%s`", u->text);
    return true;
}

static bool tell_date(const Unexpected *u) {
    if (u->token->kind != TK_NUMBER || !accepts(u, TK_DATE) || accepts(u, TK_NUMBER))
        return false;
    report(u, "date-form", "`2026-12-24`", "a date is written year-month-day");
    return true;
}

/* `50 %` at the end of a value */
static bool tell_per_cent(const Unexpected *u) {
    char number[EXCERPT + 4], hint[EXCERPT + 8];
    if (!before_is(u, TK_REMAINDER) || u->s->at < 2 || u->s->tokens[u->s->at - 2].kind != TK_NUMBER)
        return false;
    const Token *value = &u->s->tokens[u->s->at - 2];
    snprintf(hint, sizeof hint, "`%s%%`", syntax_excerpt(u->s, value->begin, value->end, number));
    if (!u->quiet)
        syntax_error(u->s, "per-cent-alone", value->begin, u->before->end, hint,
                     "`%%` stands at its number without a space");
    return true;
}

/* `red -> if ...`, `2 * if ...` */
static bool tell_inner_if(const Unexpected *u) {
    if (u->token->kind != TK_IF || !accepts(u, TK_NUMBER))
        return false;
    report(u, "inner-if", "`(if pos < 0.5 then gold else teal)`",
           "an `if` within a ramp or a calculation stands in parentheses");
    return true;
}

/* What somebody writes who thinks of a routine as steps. */
static bool tell_steps(const Unexpected *u) {
    static const struct {
        const char *word, *hint;
    } STEPS[] = {{"if", "`paint gold where ...`"},
                 {"for", "what repeats: `every 4s`; what differs: `pixel` or `pos`"},
                 {"loop", "what repeats: `paint black -> gold and back every 4s`"},
                 {"repeat", "what repeats: `paint black -> gold and back every 4s`"},
                 {"while", "what repeats: `paint black -> gold and back every 4s`"},
                 {"wait", "what comes later: `delayed 5s`, or stops of a ramp `at 5s`"},
                 {"sleep", "what comes later: `delayed 5s`, or stops of a ramp `at 5s`"}};
    if (!accepts(u, TK_PAINT) || !accepts(u, TK_RBRACE))
        return false;
    for (size_t i = 0; i < sizeof STEPS / sizeof STEPS[0]; i++)
        if (strcmp(STEPS[i].word, u->text) == 0) {
            report(u, "no-steps", STEPS[i].hint,
                   "a routine has no steps: it says what light there is at every moment");
            return true;
        }
    if (!is_name(u->token->kind) || u->after->kind != TK_EQUALS)
        return false;
    char hint[EXCERPT + 60];
    snprintf(hint, sizeof hint, "`let %s = ...` to name something, `paint ...` for a light",
             u->text);
    report(u, "no-steps", hint, "nothing is set here: a routine is a list of layers");
    return true;
}

/* `(black -> gold every 4s) * 40%` without its parentheses */
static bool tell_open_ramp(const Unexpected *u) {
    bool sign = u->token->kind == TK_STAR || u->token->kind == TK_SLASH;
    if (!sign || accepts(u, u->token->kind) || !accepts(u, TK_PAINT) || accepts(u, TK_NUMBER))
        return false;
    report(u, "open-ramp", "`(black -> gold every 4s) * 40%`, with all of the ramp",
           "to calculate with a ramp, put it in parentheses");
    return true;
}

/* `paint "gold"`, `use palette.gloam` */
static bool tell_quotes(const Unexpected *u) {
    char text[EXCERPT + 4], hint[EXCERPT + 12];
    if (u->token->kind == TK_STRING && accepts(u, TK_NUMBER) && accepts(u, TK_NAME) &&
        u->token->end > u->token->begin + 2) {
        syntax_excerpt(u->s, u->token->begin + 1, u->token->end - 1, text);
        snprintf(hint, sizeof hint, "`%s`", text);
        report(u, "needless-quotes", hint, "a value has no quotes");
        return true;
    }
    if (!before_is(u, TK_USE) || !is_value(u->token->kind) || at_line_end(u))
        return false;
    uint32_t end = u->token->end;
    for (uint32_t at = u->s->at + 1; at < u->s->token_count; at++) {
        if (u->s->tokens[at].kind == 0 || u->s->tokens[at].begin != end)
            break;
        end = u->s->tokens[at].end;
    }
    snprintf(hint, sizeof hint, "`use \"%s\"`", syntax_excerpt(u->s, u->token->begin, end, text));
    report(u, "missing-quotes", hint, "the name of a file stands in quotes");
    return true;
}

Repair unexpected_token(Syntax *s, const void *grammar, bool quiet, int *insert) {
    static Repair (*const MENDS[])(Unexpected *) = {
        mend_braces,        mend_durations, mend_arrow,
        mend_decimal_comma, mend_equals,    mend_needless_equals,
        mend_list,          mend_range,     mend_calendar,
        mend_time,          mend_name,      mend_late_back,
        mend_fading,        mend_duration,  mend_spelling,
        mend_comma,         mend_play,      mend_on_lamp};
    static bool (*const TELLS[])(const Unexpected *) = {
        tell_each,     tell_amperes,  tell_heading, tell_mixed,     tell_driver, tell_date,
        tell_per_cent, tell_inner_if, tell_steps,   tell_open_ramp, tell_quotes};
    Unexpected u = {.s = s,
                    .grammar = grammar,
                    .quiet = quiet,
                    .token = &s->tokens[s->at],
                    .before = s->at ? &s->tokens[s->at - 1] : NULL,
                    .after = &s->tokens[s->at + 1 < s->token_count ? s->at + 1 : s->at],
                    .insert = insert};
    syntax_excerpt(s, u.token->begin, u.token->end, u.text);
    for (size_t i = 0; i < sizeof MENDS / sizeof MENDS[0]; i++) {
        Repair repair = MENDS[i](&u);
        if (repair != REPAIR_NONE)
            return repair;
    }
    for (size_t i = 0; i < sizeof TELLS / sizeof TELLS[0]; i++)
        if (TELLS[i](&u))
            return REPAIR_NONE;
    report_expected(&u);
    return REPAIR_NONE;
}
