/* Tokens: their kinds, values and ends. What values should be follows from arithmetic on paper,
 * dates from the Gregorian calendar, colours from CSS Color 4, and which bytes are no UTF-8 from
 * table 3-7 of the Unicode standard (from memory). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <cmocka.h>

#include "lang/syntax.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"

#include "grammar.h"
#include "parsed.h"

typedef struct Lexed {
    Syntax s;
    SourceTree tree;
} Lexed;

static Lexed *lexed_bytes(const char *text, size_t length) {
    Lexed *lexed = calloc(1, sizeof *lexed);
    assert_non_null(lexed);
    Syntax *s = &lexed->s;
    s->arena = arena_create();
    s->sink = diagnostics_create();
    s->file = diagnostics_add_file(s->sink, "test.gloam", text, length);
    s->text = (const unsigned char *)diagnostics_file_text(s->sink, s->file, &length);
    s->length = (uint32_t)length;
    s->tree = &lexed->tree;
    assert_true(lex_all(s));
    return lexed;
}

static void lexed_free(Lexed *lexed) {
    memory_release(lexed->s.tokens);
    memory_release(lexed->s.comments);
    diagnostics_free(lexed->s.sink);
    arena_free(lexed->s.arena);
    free(lexed);
}

static size_t error_count(const Lexed *lexed) {
    return diagnostics_count(lexed->s.sink, SEVERITY_ERROR);
}

/* The text is these tokens, cut at these spaces, and nothing is wrong with them. */
static void check_cut(const char *text, const char *expected) {
    char found[1000] = "";
    Lexed *lexed = lexed_bytes(text, strlen(text));
    for (uint32_t i = 0; i + 1 < lexed->s.token_count; i++) {
        const Token *token = &lexed->s.tokens[i];
        size_t used = strlen(found);
        snprintf(found + used, sizeof found - used, "%s%.*s", i ? " " : "",
                 (int)(token->end - token->begin), text + token->begin);
    }
    if (strcmp(found, expected) != 0 || error_count(lexed)) {
        diagnostics_print(lexed->s.sink, stderr, false);
        fail_msg("`%s` is cut into `%s`, not `%s`", text, found, expected);
    }
    lexed_free(lexed);
}

/* One token of that kind and value. */
static void check_token(const char *text, int kind, double number) {
    Lexed *lexed = lexed_bytes(text, strlen(text));
    if (lexed->s.token_count != 2 || lexed->s.tokens[0].kind != kind ||
        lexed->s.tokens[0].number != number || error_count(lexed)) {
        diagnostics_print(lexed->s.sink, stderr, false);
        fail_msg("`%s`: %u tokens, kind %d, not %d, number %.17g, not %.17g", text,
                 lexed->s.token_count - 1, lexed->s.tokens[0].kind, kind, lexed->s.tokens[0].number,
                 number);
    }
    lexed_free(lexed);
}

/* Exactly one error, with this code and message, around these bytes. */
static void check_wrong_bytes(const char *text, size_t length, const char *code, uint32_t begin,
                              uint32_t end, const char *message) {
    Lexed *lexed = lexed_bytes(text, length);
    const Diagnostic *found = error_count(lexed) ? diagnostics_at(lexed->s.sink, 0) : NULL;
    if (error_count(lexed) != 1 || strcmp(found->code, code) != 0 || found->span.begin != begin ||
        found->span.end != end || (message && strcmp(found->message, message) != 0)) {
        diagnostics_print(lexed->s.sink, stderr, false);
        fail_msg("`%s`: expected %s at %u..%u: %s", text, code, begin, end, message ? message : "");
    }
    lexed_free(lexed);
}

static void check_wrong(const char *text, const char *code, uint32_t begin, uint32_t end,
                        const char *message) {
    check_wrong_bytes(text, strlen(text), code, begin, end, message);
}

static void numbers(void **state) {
    (void)state;
    check_token("0", TK_NUMBER, 0);
    check_token("007", TK_NUMBER, 7);
    check_token("0.25", TK_NUMBER, 0.25);
    check_token("0.1", TK_NUMBER, 0.1);
    check_token("3.14159265358979", TK_NUMBER, 3.14159265358979);
    check_token("999999999999999", TK_NUMBER, 999999999999999.0);
    check_token("0.000000000000001", TK_NUMBER, 1e-15);
    check_token("000000000000000000001.5", TK_NUMBER, 1.5);
    check_token("40%", TK_PERCENT, 0.4);
    check_token("12.5%", TK_PERCENT, 0.125);
    check_token("33.3%", TK_PERCENT, 33.3 / 100);
    check_wrong("1234567890123456", "too-many-digits", 0, 16,
                "a number has at most 15 significant digits and 22 behind the point");
    check_wrong("0.1234567890123456", "too-many-digits", 0, 18, NULL);
    check_wrong("0.00000000000000000000001", "too-many-digits", 0, 25, NULL);
    check_wrong("12345678901234567%", "too-many-digits", 0, 18, NULL);
    check_wrong(".5", "point-first", 0, 2, "a number begins with a digit");
    check_wrong("1e5", "unknown-unit", 1, 2, "unknown unit `e`");
    check_wrong("1_000", "unknown-unit", 1, 2, "unknown unit `_`");
}

static void durations(void **state) {
    (void)state;
    check_token("250ms", TK_DURATION, 250e3);
    check_token("2s", TK_DURATION, 2e6);
    check_token("30min", TK_DURATION, 1800e6);
    check_token("1h", TK_DURATION, 3600e6);
    check_token("1h30min", TK_DURATION, 5400e6);
    check_token("1h2min3s4ms", TK_DURATION, 3723004e3);
    check_token("1.5s", TK_DURATION, 1.5e6);
    check_token("0.001ms", TK_DURATION, 1);
    check_token("0.000001s", TK_DURATION, 1);
    check_token("1.25h", TK_DURATION, 4500e6);
    check_token("0.0000000025h", TK_DURATION, 9);
    /* 2^-10 h = 3.6e9 / 1024 = 3515625 microseconds; 2^-11 h is not whole */
    check_token("0.0009765625h", TK_DURATION, 3515625);
    check_token("1h0.5min", TK_DURATION, 3630e6);
    check_token("2501999792983ms", TK_DURATION, 2501999792983e3);
    check_wrong("0.00048828125h", "duration-not-whole", 0, 14,
                "a duration is a whole number of microseconds and at most 285 years");
    check_wrong("0.0001ms", "duration-not-whole", 0, 8, NULL);
    check_wrong("1s0.0005ms", "duration-not-whole", 0, 10, NULL);
    /* 2^53 microseconds are 2501999.79 hours */
    check_wrong("2502000h", "duration-not-whole", 0, 8, NULL);
    check_wrong("2501999h60min", "duration-not-whole", 0, 13, NULL);
    const char *order = "one duration is written without a space, largest first";
    check_wrong("30min1h", "duration-order", 0, 7, order);
    check_wrong("1.5h30min", "duration-order", 0, 9, order);
    check_wrong("1h1h", "duration-order", 0, 4, order);
    check_wrong("5m", "unknown-unit", 1, 2, "unknown unit `m`");
    check_wrong("1h30m", "unknown-unit", 4, 5, "unknown unit `m`");
    check_wrong("2d", "unknown-unit", 1, 2, "unknown unit `d`");
    check_wrong("30minutes", "unknown-unit", 2, 9, "unknown unit `minutes`");
    check_wrong("2S", "unknown-unit", 1, 2, "unknown unit `S`");
    check_wrong("1h30", "glued-numbers", 0, 4, NULL);
    check_wrong("90deg30min", "glued-numbers", 0, 10, NULL);
}

static void other_units(void **state) {
    (void)state;
    check_token("90deg", TK_ANGLE, 0.25);
    check_token("0.25turn", TK_ANGLE, 0.25);
    check_token("100grad", TK_ANGLE, 0.25);
    check_token("0rad", TK_ANGLE, 0);
    /* a turn is 2 pi radians; 6.28318530717959 is that to 15 digits */
    Lexed *lexed = lexed_bytes("6.28318530717959rad", 19);
    assert_float_equal(lexed->s.tokens[0].number, 1, 1e-14);
    lexed_free(lexed);
    check_token("2700K", TK_KELVIN, 2700);
    check_token("5V", TK_VOLT, 5);
    check_token("2A", TK_AMPERE, 2);
    check_token("20mA", TK_AMPERE, 0.02);
    check_token("3200kHz", TK_HERTZ, 3.2e6);
    check_wrong("2700k", "unknown-unit", 4, 5, "unknown unit `k`");
    check_wrong("10px", "unknown-unit", 2, 4, "unknown unit `px`");
}

static void times_and_dates(void **state) {
    (void)state;
    check_token("06:30", TK_TIME, 23400);
    check_token("6:30", TK_TIME, 23400);
    check_token("00:00", TK_TIME, 0);
    check_token("23:59:59", TK_TIME, 86399);
    check_token("2026-12-24", TK_DATE, 20261224);
    check_token("2024-02-29", TK_DATE, 20240229);
    check_token("2000-02-29", TK_DATE, 20000229);
    const char *day = "a time of day runs from `00:00` to `23:59`";
    check_wrong("24:00", "time-of-day", 0, 5, day);
    check_wrong("12:60", "time-of-day", 0, 5, day);
    check_wrong("12:00:60", "time-of-day", 0, 8, day);
    const char *form = "a time of day is written `07:00`";
    check_wrong("7:5", "time-of-day", 0, 3, form);
    check_wrong("123:00", "time-of-day", 0, 6, form);
    check_wrong("7:30pm", "time-of-day", 0, 6, form);
    check_wrong("7am", "time-of-day", 0, 3, form);
    check_wrong("7:00:00:00", "time-of-day", 0, 10, form);
    const char *none = "there is no such day: a date is written year-month-day, `2026-12-24`";
    check_wrong("2026-02-29", "no-such-day", 0, 10, none);
    check_wrong("1900-02-29", "no-such-day", 0, 10, none);
    check_wrong("2026-04-31", "no-such-day", 0, 10, none);
    check_wrong("2026-13-01", "no-such-day", 0, 10, none);
    check_wrong("2026-00-10", "no-such-day", 0, 10, none);
    check_wrong("2026-10-00", "no-such-day", 0, 10, none);
    check_wrong("0000-01-01", "no-such-day", 0, 10, none);
    check_cut("07:00..21:00", "07:00 .. 21:00");
    check_cut("2026-12-25..2026-12-26", "2026-12-25 .. 2026-12-26");
}

static void colours(void **state) {
    (void)state;
    check_token("#ff8800", TK_COLOUR, 0xff8800);
    check_token("#FF8800", TK_COLOUR, 0xff8800);
    check_token("#f80", TK_COLOUR, 0xff8800);
    check_token("#000", TK_COLOUR, 0);
    check_token("#123", TK_COLOUR, 0x112233);
    check_wrong("#ff880", "colour-digits", 0, 6,
                "a colour has 3 or 6 digits, this has 5; a comment begins with `//`");
    check_wrong("#f", "colour-digits", 0, 2,
                "a colour has 3 or 6 digits, this has 1; a comment begins with `//`");
    check_wrong("#ff88000", "colour-digits", 0, 8, NULL);
    check_wrong("#red", "colour-digits", 0, 4,
                "a colour has 3 or 6 hexadecimal digits; a comment begins with `//`");
    check_wrong("#ff8800_", "colour-digits", 0, 8, NULL);
    check_wrong("#ff880080", "transparency", 0, 9, "light has no transparency");
    check_wrong("#f808", "transparency", 0, 5, "light has no transparency");
    check_wrong("# turn it on", "hash-comment", 0, 1, "a comment begins with `//`");
}

static void names_and_minus(void **state) {
    (void)state;
    check_token("gold", TK_NAME, 0);
    check_token("_a1_B", TK_NAME, 0);
    check_token("Paint", TK_NAME, 0);
    check_token("paint", TK_PAINT, 0);
    check_token("wed", TK_WEEKDAY, 2);
    check_token("weekends", TK_WEEKDAY, 8);
    check_token("dec", TK_MONTH, 12);
    check_token("true", TK_TRUE, 1);
    static const char *const easings[] = {"ease",       "ease-in",  "ease-out", "ease-in-out",
                                          "step-start", "step-end", NULL};
    for (size_t i = 0; easings[i]; i++)
        check_token(easings[i], TK_EASE, 0);
    static const char *const functions[] = {"cubic-bezier", "linear", "steps", NULL};
    for (size_t i = 0; functions[i]; i++)
        check_token(functions[i], TK_EASEFN, 0);
    static const char *const others[] = {"srgb-linear", "plus-lighter", "jump-start", "jump-end",
                                         "jump-both",   "jump-none",    NULL};
    for (size_t i = 0; others[i]; i++)
        check_token(others[i], TK_HYPHENNAME, 0);
    check_cut("t-2s", "t - 2s");
    check_cut("2s-t", "2s - t");
    check_cut("pixels-1", "pixels - 1");
    check_cut("50%-pos", "50% - pos");
    check_cut("a->b", "a -> b");
    check_cut("x<-1", "x < - 1");
    check_cut("1..4", "1 .. 4");
    check_cut("p.ember", "p . ember");
    check_cut("a<=b>=c==d!=e", "a <= b >= c == d != e");
    check_cut("{}(),=+-*/|", "{ } ( ) , = + - * / |");
    check_wrong("my-colour", "minus-in-name", 0, 9, "names have no minus");
    check_wrong("ease-inn", "unknown-word", 0, 8, "no easing `ease-inn`");
    check_wrong("jump-ende", "unknown-word", 0, 9, "no word `jump-ende`");
}

static void reserved_words(void **state) {
    (void)state;
    static const char *const reserved[] = {
        "use", "let", "dial",  "routine", "paint", "lamp", "if",    "then",    "else",
        "and", "or",  "not",   "true",    "false", "over", "every", "along",   "delayed",
        "at",  "in",  "where", "blended", "play",  "on",   "when",  "between", NULL};
    for (size_t i = 0; reserved[i]; i++)
        if (!parse_is_reserved(reserved[i]))
            fail_msg("`%s` is not reserved", reserved[i]);
    static const char *const soft[] = {
        "as",         "from",     "to",         "eased",  "lasts",   "with",    "fading",
        "event",      "each",     "throughout", "back",   "round",   "is",      "set",
        "by",         "ease",     "linear",     "steps",  "shorter", "longer",  "increasing",
        "decreasing", "hue",      "place",      "zone",   "clock",   "sunrise", "sunset",
        "weekdays",   "weekends", "mon",        "sun",    "may",     "days",    "of",
        "until",      "except",   "after",      "before", "for",     "keep",    "level",
        "under",      "pixels",   "shape",      "chip",   "port",    "order",   "supply",
        "white",      "strip",    "ring",       "grid",   "zigzag",  "ball",    "points",
        "part",       "turned",   "mirrored",   "gold",   "off",     "rest",    "",
        NULL};
    for (size_t i = 0; soft[i]; i++) {
        char text[100];
        if (parse_is_reserved(soft[i]))
            fail_msg("`%s` is reserved", soft[i]);
        if (!*soft[i])
            continue;
        snprintf(text, sizeof text, "let %s = 1\nlet other = (%s + %s) * 2\n", soft[i], soft[i],
                 soft[i]);
        Parsed parse = parsed(text);
        if (!parse.tree.whole) {
            diagnostics_print(parse.sink, stderr, false);
            fail_msg("`%s` is no name", soft[i]);
        }
        parsed_free(&parse);
    }
}

static void texts(void **state) {
    (void)state;
    parsed_check("use \"a b.gloam\"", "(use:a b.gloam)");
    parsed_check("use \"a\\\"b\\\\c\"", "(use:a\"b\\c)");
    parsed_check("use \"\"", "(use:)");
    parsed_check("event e \"gr\xc3\xbc\xc3\x9f // {\"", "(event:gr\xc3\xbc\xc3\x9f // { e)");
    check_wrong("\"open", "unclosed-text", 0, 5, "this text has no closing quote on its line");
    check_wrong("\"open\n\"\"", "unclosed-text", 0, 5, NULL);
    check_wrong("\"open\\\"", "unclosed-text", 0, 7, NULL);
    check_wrong("\"a\\n\"", "bad-escape", 2, 4, "in a text `\\` stands before `\"` or `\\` only");
    check_wrong("'text'", "stray-character", 0, 6, "a text stands in double quotes");
}

static void comments_and_lines(void **state) {
    (void)state;
    check_cut("a // b\nc//d", "a c");
    check_cut("a\r\nb\tc\r\n", "a b c");
    check_cut("#!/usr/bin/gloam run\na", "a");
    check_cut("\xef\xbb\xbf#!x\na", "a");
    check_cut("\xef\xbb\xbfgold", "gold");
    check_cut("", "");
    check_cut("// \xc3\xa9 only", "");
    check_wrong("a\n#!b", "hash-comment", 2, 3, NULL);
    check_wrong("a /* b\n c */ d", "block-comment", 2, 4, "a comment begins with `//`");
    Parsed parse = parsed("// one\r\nlet a = 1 // two\n  // three");
    assert_true(parse.tree.whole);
    assert_int_equal(parse.tree.comment_count, 3);
    static const struct {
        uint32_t begin, end;
        bool own_line;
    } expected[] = {{0, 6, true}, {18, 24, false}, {27, 35, true}};
    for (size_t i = 0; i < 3; i++) {
        assert_int_equal(parse.tree.comments[i].span.begin, expected[i].begin);
        assert_int_equal(parse.tree.comments[i].span.end, expected[i].end);
        assert_int_equal(parse.tree.comments[i].own_line, expected[i].own_line);
    }
    parsed_free(&parse);
}

static void bytes(void **state) {
    (void)state;
    const char *broken = "these bytes are not valid UTF-8";
    static const char *const sequences[] = {"\xc0\x80",     "\xc1\xbf",     "\xe0\x80\x80",
                                            "\xed\xa0\x80", "\xed\xbf\xbf", "\xf4\x90\x80\x80",
                                            "\xf5\x80\x80", "\x80",         "\xbf\xbf\xbf",
                                            "\xff\xfe",     "\xf0\x9f\x8c", NULL};
    for (size_t i = 0; sequences[i]; i++) {
        char text[60];
        uint32_t length = (uint32_t)strlen(sequences[i]);
        snprintf(text, sizeof text, "a %s b", sequences[i]);
        check_wrong(text, "broken-utf-8", 2, 2 + length, broken);
        snprintf(text, sizeof text, "a // %s\n b", sequences[i]);
        check_wrong(text, "broken-utf-8", 5, 5 + length, broken);
        snprintf(text, sizeof text, "\"%s\"", sequences[i]);
        check_wrong(text, "broken-utf-8", 1, 1 + length, broken);
    }
    check_cut("\"\xf4\x8f\xbf\xbf\xee\x80\x80\xed\x9f\xbf\"",
              "\"\xf4\x8f\xbf\xbf\xee\x80\x80\xed\x9f\xbf\"");
    check_wrong_bytes("a \0\0\0 b", 7, "nul-byte", 2, 5, "a text has no NUL bytes");
    check_wrong_bytes("\"a\0b\"", 5, "nul-byte", 2, 3, NULL);
    check_wrong("a \x01\x02 b", "control-character", 2, 4,
                "control characters have no place in a text");
    check_wrong("a \x7f b", "control-character", 2, 3, NULL);
    check_wrong("\xc3\xbc"
                "ber",
                "stray-character", 0, 5,
                "names are written with `a` to `z`, `A` to `Z`, `0` to `9` and `_`");
    check_wrong("br\xc3\xbc"
                "cke",
                "stray-character", 0, 7, NULL);
    check_wrong("a [ b", "stray-character", 2, 3, "this character is not used in the language");
}

static void limits(void **state) {
    (void)state;
    char *text = malloc(LIMIT_SOURCE_BYTES + 2);
    assert_non_null(text);
    memset(text, 'a', LIMIT_NAME_BYTES + 1);
    text[LIMIT_NAME_BYTES] = 0;
    check_token(text, TK_NAME, 0);
    text[LIMIT_NAME_BYTES] = 'a';
    text[LIMIT_NAME_BYTES + 1] = 0;
    check_wrong(text, "name-too-long", 0, 65, "a name has at most 64 bytes, this has 65");
    memset(text, 'a', LIMIT_TEXT_BYTES + 3);
    text[0] = text[LIMIT_TEXT_BYTES + 1] = '"';
    text[LIMIT_TEXT_BYTES + 2] = 0;
    check_token(text, TK_STRING, 0);
    text[LIMIT_TEXT_BYTES + 1] = 'a';
    text[LIMIT_TEXT_BYTES + 2] = '"';
    text[LIMIT_TEXT_BYTES + 3] = 0;
    check_wrong(text, "text-too-long", 0, 1027, "a text has at most 1024 bytes, this has 1025");
    for (size_t i = 0; i <= LIMIT_TOKENS; i++)
        memcpy(text + 2 * i, "a ", 2);
    Lexed *lexed = lexed_bytes(text, 2 * LIMIT_TOKENS);
    assert_int_equal(lexed->s.token_count, LIMIT_TOKENS + 1);
    assert_int_equal(error_count(lexed), 0);
    lexed_free(lexed);
    check_wrong_bytes(text, 2 * (LIMIT_TOKENS + 1), "too-many-tokens", 400000, 400001,
                      "a file has at most 200000 words and signs");
    memset(text, ' ', LIMIT_SOURCE_BYTES + 1);
    Parsed parse = parsed_bytes(text, LIMIT_SOURCE_BYTES);
    assert_true(parse.fine && parse.tree.whole);
    parsed_free(&parse);
    parse = parsed_bytes(text, LIMIT_SOURCE_BYTES + 1);
    assert_true(parse.fine && !parse.tree.whole);
    assert_int_equal(diagnostics_total(parse.sink), 1);
    assert_string_equal(diagnostics_at(parse.sink, 0)->message,
                        "a file has at most 1048576 bytes, this has 1048577");
    parsed_free(&parse);
    free(text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers),
        cmocka_unit_test(durations),
        cmocka_unit_test(other_units),
        cmocka_unit_test(times_and_dates),
        cmocka_unit_test(colours),
        cmocka_unit_test(names_and_minus),
        cmocka_unit_test(reserved_words),
        cmocka_unit_test(texts),
        cmocka_unit_test(comments_and_lines),
        cmocka_unit_test(bytes),
        cmocka_unit_test(limits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
