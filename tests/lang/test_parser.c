/* Trees: what binds tighter, what words mean by what follows them, where nodes begin and end; the
 * limits; hostile texts; memory that runs out. */
#include <glob.h>
#include <stdlib.h>
#include <time.h>

#include "parsed.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"

static void precedence(void **state) {
    (void)state;
    parsed_expression("1 + 2 * 3", "(+ 1 (* 2 3))");
    parsed_expression("1 - 2 - 3", "(- (- 1 2) 3)");
    parsed_expression("8 / 4 / 2", "(/ (/ 8 4) 2)");
    parsed_expression("-1 * 2", "(* (negate 1) 2)");
    parsed_expression("- -1", "(negate (negate 1))");
    parsed_expression("1 - -2", "(- 1 (negate 2))");
    parsed_expression("(1 + 2) * 3", "(* (parens (+ 1 2)) 3)");
    parsed_expression("not a == b", "(not (== a b))");
    parsed_expression("not a and b", "(and (not a) b)");
    parsed_expression("a or b and c", "(or a (and b c))");
    parsed_expression("a and b or c", "(or (and a b) c)");
    parsed_expression("a + 1 < b * 2 and c >= d", "(and (< (+ a 1) (* b 2)) (>= c d))");
    parsed_expression("a != b or a <= b or a > b", "(or (or (!= a b) (<= a b)) (> a b))");
    parsed_expression("if a then b else c + 1", "(if a b (+ c 1))");
    parsed_expression("if a then if b then c else d else e", "(if a (if b c d) e)");
    parsed_expression("if a then b else if c then d else e", "(if a b (if c d e))");
    parsed_expression("if a then b else c delayed 2s", "(if a b (delayed c 2000000us))");
    parsed_expression("a delayed 1s delayed 2s", "(delayed (delayed a 1000000us) 2000000us)");
    parsed_expression("a delayed pos * 1s + 2s", "(delayed a (+ (* pos 1000000us) 2000000us))");
}

static void values(void **state) {
    (void)state;
    parsed_expression("2s", "2000000us");
    parsed_expression("40%", "0.4p");
    parsed_expression("90deg", "0.25tr");
    parsed_expression("2700K", "2700K");
    parsed_expression("06:30", "23400s");
    parsed_expression("#f80", "#ff8800");
    parsed_expression("true", "true");
    parsed_expression("false", "false");
    parsed_expression("p.ember", "(member p ember)");
    parsed_expression("f(1)", "(call f 1)");
    parsed_expression("f(1, x -> y every 2s)",
                      "(call f [1 (ramp [(stop x) (stop y)] (driver.1 2000000us))])");
    parsed_expression("p.f(1, 2)", "(call (member p f) [1 2])");
    parsed_expression("sun (1)", "(call sun 1)");
    parsed_expression("ease(progress, ease-in)", "(ease progress (easing:ease-in))");
    parsed_expression("ease + ease", "(+ ease ease)");
}

static void ramps(void **state) {
    (void)state;
    parsed_expression("a -> b over 2s", "(ramp [(stop a) (stop b)] (driver 2000000us))");
    parsed_expression("a | b | c for 1s each",
                      "(ramp.1 [(stop a) (stop b) (stop c)] (driver.2 1000000us))");
    parsed_expression("a -> b and back every 2s ease-in",
                      "(ramp.2 [(stop a) (stop b)] (driver.1 2000000us) (easing:ease-in))");
    parsed_expression("a -> b and round along fract(c)",
                      "(ramp.4 [(stop a) (stop b)] (driver.4 (call fract c)))");
    parsed_expression("a | b and round throughout", "(ramp.5 [(stop a) (stop b)] (driver.3))");
    parsed_expression("a -> b at 40% ease-out -> c at 10min over 1h in oklch longer hue",
                      "(ramp [(stop a) (stop b 0.4p (easing:ease-out)) (stop c 600000000us)]"
                      " (driver 3600000000us) - (space oklch longer))");
    parsed_expression("a -> b every 2s steps(4, jump-end) in srgb-linear",
                      "(ramp [(stop a) (stop b)] (driver.1 2000000us)"
                      " (easing:steps [(argument 4) (argument:jump-end)]) (space srgb-linear))");
    parsed_expression("a -> b every 2s steps(4, end)",
                      "(ramp [(stop a) (stop b)] (driver.1 2000000us)"
                      " (easing:steps [(argument 4) (argument end)]))");
    parsed_expression("a -> b every 2s linear(0, 0.5 20% 40%, 1 100%)",
                      "(ramp [(stop a) (stop b)] (driver.1 2000000us)"
                      " (easing:linear [(argument 0) (argument 0.5 0.2p 0.4p)"
                      " (argument 1 1p)]))");
    parsed_expression("2700K * 0 -> 1 over 2s",
                      "(ramp [(stop (* 2700K 0)) (stop 1)] (driver 2000000us))");
    parsed_expression("a -> b every 12s delayed pixel * 1s",
                      "(delayed (ramp [(stop a) (stop b)] (driver.1 12000000us))"
                      " (* pixel 1000000us))");
    parsed_expression("a and b -> c or d along e",
                      "(ramp [(stop (and a b)) (stop (or c d))] (driver.4 e))");
    parsed_expression("(a -> b every 1s) -> c every ease ease",
                      "(ramp [(stop (parens (ramp [(stop a) (stop b)] (driver.1 1000000us))))"
                      " (stop c)] (driver.1 ease) (easing:ease))");
    parsed_expression("a and back", "(and a back)");
    parsed_expression("a and round(b) or back", "(or (and a (call round b)) back)");
    parsed_expression("a -> b and back and back every 1s",
                      "(ramp.2 [(stop a) (stop (and b back))] (driver.1 1000000us))");
}

static void declarations(void **state) {
    (void)state;
    parsed_check("use \"a.gloam\" as p use \"b.gloam\"", "[(use:a.gloam p) (use:b.gloam)]");
    parsed_check("let soft(c, level) = c * level", "(let soft [c level] (* c level))");
    parsed_check("dial a = 40%", "(dial a 0.4p)");
    parsed_check("dial a = 1 \"label\" eased 2s from 0 to 2", "(dial:label a 1 0 2 2000000us)");
    parsed_check("event done \"Washing done\" event other",
                 "[(event:Washing done done) (event other)]");
    parsed_check("routine r lasts 20min then s { let a = 1 paint a blended plus-lighter where b\n"
                 "paint c where d blended screen }",
                 "(routine r 1200000000us s [(let a - 1) (paint a plus-lighter b)"
                 " (paint c screen d)])");
    parsed_check("routine r {}", "(routine r)");
    parsed_check("place 51.45, -2.59 zone \"Europe/London\"",
                 "(place:Europe/London 51.45 (negate 2.59))");
    parsed_check("place 1, 2", "(place 1 2)");
    parsed_check("let place = 3 let event = place", "[(let place - 3) (let event - place)]");
}

static void timetables(void **state) {
    (void)state;
    parsed_check("at 19:30 play dusk", "(entry (moment=70200) - - (play dusk))");
    parsed_check("by 03:10 on tue..sat, mon play p.daybreak",
                 "(entry.1 (moment=11400) - (days [(range (weekday=1) (weekday=5)) (range"
                 " (weekday))]) (play (member p daybreak)))");
    parsed_check("at sunset - 20min, civil dusk + 1min not after 21:00 not before 17:00 else 18:00 "
                 "play a",
                 "(entry [(moment.1=-1200000000:sunset) (moment.1=60000000:civil dusk)]"
                 " [(bound.1 75600s) (bound 61200s) (bound.2 64800s)] - (play a))");
    parsed_check("at 07:00 until 2027-01-02 from 2026-12-24 except sun, 2026-12-25..2026-12-26 "
                 "in nov..feb, may on days 1..4 of 8 play a",
                 "(entry (moment=25200) - [(days.4 (date=20270102)) (days.3 (date=20261224))"
                 " (days.5 [(range (weekday=6)) (range (date=20261225) (date=20261226))])"
                 " (days.2 [(range (month=11) (month=2)) (range (month=5))]) (days.1 [1 4 8])]"
                 " (play a))");
    parsed_check("at 07:00..21:00 every 1h play strike",
                 "(entry (moments 25200s 75600s 3600000000us) - - (play strike))");
    parsed_check("at 12:30 play nap until 14:30 fading 2s on lamp l part left with a = 1, p.b = 2s",
                 "(entry (moment=45000) - - (play nap [(setting a 1) (setting (member p b)"
                 " 2000000us)] (on-lamp l left) (until (moment=52200)) 2000000us))");
    parsed_check("when passing > 50% play beacon for 2min",
                 "(when (> passing 0.5p) - - (play beacon - - (for 120000000us)))");
    parsed_check("between 21:00 and sunrise on fri keep level under 10% on lamp l",
                 "(between (moment=75600) (moment.1:sunrise) (days (range (weekday=4))) 0.1p"
                 " (on-lamp l))");
    parsed_check("until clock is set play nightlight", "(until-clock nightlight)");
    parsed_check("let a = b\nat sunset play c\nby nautical dawn play d\nlet by = 1",
                 "[(let a - b) (entry (moment.1:sunset) - - (play c))"
                 " (entry.1 (moment.1:nautical dawn) - - (play d)) (let by - 1)]");
    parsed_check("routine r { let a = b -> c\n at 06:30 / 24 -> d along hour }",
                 "(routine r - - (let a - (ramp [(stop b) (stop c (/ 23400s 24)) (stop d)]"
                 " (driver.4 hour))))");
    parsed_check("let a = b at (06:30 / 24) -> c along hour",
                 "(let a - (ramp [(stop b (parens (/ 23400s 24))) (stop c)] (driver.4 hour)))");
}

static void lamps(void **state) {
    (void)state;
    parsed_check("lamp l { pixels 60 shape strip turned 90deg mirrored chip ws2812b port \"/d\" "
                 "order grb supply 5V 2A level 60% white 6500K part left 0..29 "
                 "group g 0..3, 8 draws 20mA idle 1mA gain 100%, 85%, 70% die 4000K "
                 "dither level repaint 1min clock 3200kHz ends off flashes \"yes\" universe 1 "
                 "priority 100 }",
                 "(lamp l [(property 60) (property.1:strip) (property.2 0.25tr) (property.3)"
                 " (property.4 ws2812b) (property.5 (text:/d)) (property.6 grb)"
                 " (property.7 (volt=5) (ampere=2)) (property.8 0.6p) (property.9 6500K)"
                 " (property.10 left 0 29) (property.11 g [(range 0 3) (range 8)])"
                 " (property.12 (ampere=0.02) (ampere=0.001)) (property.13 1p 0.85p 0.7p)"
                 " (property.14 4000K) (property.15 level) (property.16 60000000us)"
                 " (property.17 (hertz=3200000)) (property.18 off) (property.19 (text:yes))"
                 " (property.20 1) (property.21 100)])");
    parsed_check("lamp l {}", "(lamp l)");
    parsed_check("lamp l { shape grid 8 by 4 zigzag }", "(lamp l (property.1=1:grid 8 4))");
    parsed_check("lamp l { shape grid 8 by 4 }", "(lamp l (property.1:grid 8 4))");
    parsed_check("lamp l { shape ball 4 faces }", "(lamp l (property.1=1:ball 4))");
    parsed_check("lamp l { shape points \"p.csv\" }",
                 "(lamp l (property.1:points - - (text:p.csv)))");
    parsed_check("lamp l { shape ring dither time }",
                 "(lamp l [(property.1:ring) (property.15 time)])");
}

/* The bytes of the first node of a kind, parents before kids. */
static const Node *first_of(const Node *list, NodeKind kind) {
    for (const Node *node = list; node; node = node->next) {
        if (node->kind == kind)
            return node;
        const Node *kids[] = {node->a, node->b, node->c, node->d, node->e};
        for (size_t i = 0; i < 5; i++) {
            const Node *found = first_of(kids[i], kind);
            if (found)
                return found;
        }
    }
    return NULL;
}

static void spans(void **state) {
    (void)state;
    static const struct {
        NodeKind kind;
        const char *text;
    } expected[] = {
        {NODE_ROUTINE, "routine r lasts 2s {\n  paint (a -> b at 40% ease-in over 2s in srgb)"
                       " where f(x) < - 3 // c\n  let y = if a then b else c\n}"},
        {NODE_PAINT, "paint (a -> b at 40% ease-in over 2s in srgb) where f(x) < - 3"},
        {NODE_PARENS, "(a -> b at 40% ease-in over 2s in srgb)"},
        {NODE_RAMP, "a -> b at 40% ease-in over 2s in srgb"},
        {NODE_DRIVER, "over 2s"},
        {NODE_EASING, "ease-in"},
        {NODE_SPACE, "in srgb"},
        {NODE_BINARY, "f(x) < - 3"},
        {NODE_CALL, "f(x)"},
        {NODE_NEGATE, "- 3"},
        {NODE_LET, "let y = if a then b else c"},
        {NODE_IF, "if a then b else c"},
        {NODE_ENTRY, "at sunset - 2min on fri play r on lamp l until 9:00 fading 1s"},
        {NODE_MOMENT, "sunset - 2min"},
        {NODE_DAYS, "on fri"},
        {NODE_PLAY, "play r on lamp l until 9:00 fading 1s"},
        {NODE_ON_LAMP, "on lamp l"},
        {NODE_UNTIL, "until 9:00"},
        {NODE_LAMP, "lamp l { shape grid 2 by 3 supply 5V 2A }"},
        {NODE_PROPERTY, "shape grid 2 by 3"},
    };
    char text[1000];
    snprintf(text, sizeof text, " %s\n%s\n%s ", expected[0].text, expected[12].text,
             expected[18].text);
    Parsed parse = parsed(text);
    assert_true(parse.tree.whole);
    for (size_t i = 0; i < sizeof expected / sizeof expected[0]; i++) {
        const Node *node = first_of(parse.tree.items, expected[i].kind);
        assert_non_null(node);
        char found[1000];
        snprintf(found, sizeof found, "%.*s", (int)(node->span.end - node->span.begin),
                 text + node->span.begin);
        assert_string_equal(found, expected[i].text);
    }
    parsed_free(&parse);
}

/* head, then `count` times piece, then tail */
static char *repeated(const char *head, const char *piece, size_t count, const char *tail) {
    size_t a = strlen(head), b = strlen(piece), c = strlen(tail);
    char *text = malloc(a + b * count + c + 1);
    assert_non_null(text);
    memcpy(text, head, a);
    for (size_t i = 0; i < count; i++)
        memcpy(text + a + i * b, piece, b);
    memcpy(text + a + b * count, tail, c + 1);
    return text;
}

/* NULL: nothing is wrong; else exactly that one thing. Never slow. */
static void check_repeated(const char *head, const char *piece, size_t count, const char *tail,
                           const char *code, const char *message) {
    char *text = repeated(head, piece, count, tail);
    clock_t start = clock();
    Parsed parse = parsed(text);
    double seconds = (double)(clock() - start) / CLOCKS_PER_SEC;
    bool same = diagnostics_total(parse.sink) == (code != NULL);
    if (same && code)
        same = strcmp(diagnostics_at(parse.sink, 0)->code, code) == 0 &&
               strcmp(diagnostics_at(parse.sink, 0)->message, message) == 0;
    if (!same || parse.tree.whole != !code || seconds > 2) {
        diagnostics_print(parse.sink, stderr, false);
        fail_msg("%s%s%zu: expected %s, took %g s", head, piece, count, code ? code : "nothing",
                 seconds);
    }
    parsed_free(&parse);
    free(text);
}

static void limits(void **state) {
    (void)state;
    const char *deep = "this nests more than 200 deep";
    /* a value is 1 high, each sign on top of it one more, the `let` itself another */
    check_repeated("let a = 1", "+1", LIMIT_HEIGHT - 2, "", NULL, NULL);
    check_repeated("let a = 1", "+1", LIMIT_HEIGHT - 1, "", "too-deep", deep);
    check_repeated("let a = ", "-", LIMIT_HEIGHT - 2, "1", NULL, NULL);
    check_repeated("let a = ", "-", LIMIT_HEIGHT - 1, "1", "too-deep", deep);
    check_repeated("let a = (a | b", "|b", LIMIT_STOPS - 2, " every 1s)", NULL, NULL);
    check_repeated("let a = (a | b", "|b", LIMIT_STOPS - 1, " every 1s)", "too-many-stops",
                   "a ramp has at most 256 stops, this has 257");
    check_repeated("let a = f(b", ",b", LIMIT_ARGUMENTS - 1, ")", NULL, NULL);
    check_repeated("let a = f(b", ",b", LIMIT_ARGUMENTS, ")", "too-many-arguments",
                   "a call has at most 64 arguments, this has 65");
    check_repeated("let a(b", ",b", LIMIT_PARAMETERS - 1, ") = b", NULL, NULL);
    check_repeated("let a(b", ",b", LIMIT_PARAMETERS, ") = b", "too-many-parameters",
                   "a function has at most 16 parameters, this has 17");
    /* eight nodes a line: let, its name, two names in two stops, a driver, a ramp */
    check_repeated("", "let x=a|b throughout\n", LIMIT_NODES / 8, "", NULL, NULL);
    check_repeated("", "let x=a|b throughout\n", LIMIT_NODES / 8, "let y = 1", "too-many-nodes",
                   "a file has at most 200000 parts of statements: use several files");
}

static void errors_are_limited(void **state) {
    (void)state;
    for (size_t more = 0; more < 2; more++) {
        char *text = repeated("", "let a = 5m\n", LIMIT_ERRORS + more, "");
        Parsed parse = parsed(text);
        assert_int_equal(diagnostics_total(parse.sink), LIMIT_ERRORS + more);
        const Diagnostic *last = diagnostics_at(parse.sink, LIMIT_ERRORS + more - 1);
        assert_string_equal(last->code, more ? "too-many-errors" : "unknown-unit");
        parsed_free(&parse);
        free(text);
    }
}

static void hostile(void **state) {
    (void)state;
    const char *deep = "this nests more than 200 deep";
    const char *tokens = "a file has at most 200000 words and signs";
    check_repeated("let a = 1", "+1", 1000000 / 2 - 10, "", "too-many-tokens", tokens);
    check_repeated("let a = 1", "+1", 99000, "", "too-deep", deep);
    check_repeated("let a = ", "(", 100000, "1", "too-deep", deep);
    check_repeated("let a = ", "-", 100000, "1", "too-deep", deep);
    check_repeated("let a = ", "not ", 100000, "1", "too-deep", deep);
    check_repeated("let a = ", "f(1,", 45000, "1", "too-deep", deep);
    check_repeated("let a = ", "if b then c else ", 30000, "1", "too-deep", deep);
    check_repeated("let a = b", "-> b", 90000, " every 1s", "too-many-stops",
                   "a ramp has at most 256 stops, this has 90001");
    check_repeated("", "{", 190000, "", "unexpected",
                   "expected something new (`let`, `routine`, `at`, ...) here, this is `{`");
    check_repeated("", "// \n", 250000, "", NULL, NULL);
    check_repeated("let a = \"", "x", 1000000, "", "unclosed-text",
                   "this text has no closing quote on its line");
    check_repeated("let a = ", "1", 1000000, "", "too-many-digits",
                   "a number has at most 15 significant digits and 22 behind the point");
    check_repeated("let a = ", "1h", 500000, "", "glued-numbers",
                   "only the parts of a duration are glued together, each with its unit");
    check_repeated("", "\xff", 1000000, "", "broken-utf-8", "these bytes are not valid UTF-8");
}

/* A call without commas is told once, however long it is. */
static void long_call(void **state) {
    (void)state;
    char *text = repeated("let a = f(", "b ", 150000, ")");
    Parsed parse = parsed(text);
    assert_int_equal(diagnostics_total(parse.sink), 2);
    assert_string_equal(diagnostics_at(parse.sink, 0)->code, "too-many-arguments");
    assert_string_equal(diagnostics_at(parse.sink, 1)->code, "missing-comma");
    parsed_free(&parse);
    free(text);
}

static void memory_runs_out(void **state) {
    (void)state;
    const char *text = "// c\nlet a = f(1 2\nroutine r { paint gold -> red every 2s where x = y\n"
                       "lamp l { pixels 3m }\nat 7:00 on fri sat play r // d\n";
    for (unsigned long n = 1;; n++) {
        unsigned long before = memory_live();
        Arena *arena = arena_create();
        Diagnostics *sink = diagnostics_create();
        uint32_t file = diagnostics_add_file(sink, "test.gloam", text, strlen(text));
        SourceTree tree;
        memory_fail_at(n);
        bool fine = parse_source(arena, sink, file, &tree);
        memory_fail_at(0);
        diagnostics_free(sink);
        arena_free(arena);
        assert_int_equal(memory_live(), before);
        if (fine) {
            assert_true(n > 8);
            return;
        }
    }
}

static void check_corpus(const char *pattern, size_t at_least) {
    glob_t found;
    assert_int_equal(glob(pattern, 0, NULL, &found), 0);
    for (size_t i = 0; i < found.gl_pathc; i++) {
        static char text[LIMIT_SOURCE_BYTES];
        FILE *file = fopen(found.gl_pathv[i], "rb");
        assert_non_null(file);
        size_t length = fread(text, 1, sizeof text, file);
        fclose(file);
        Parsed parse = parsed_bytes(text, length);
        if (!parse.tree.whole || !parse.tree.items) {
            diagnostics_print(parse.sink, stderr, false);
            fail_msg("expected %s to parse", found.gl_pathv[i]);
        }
        parsed_free(&parse);
    }
    assert_true(found.gl_pathc >= at_least);
    globfree(&found);
}

static void corpus(void **state) {
    (void)state;
    check_corpus("tests/lang/corpus/*.gloam", 5);
    check_corpus("spec/conformance/programs/*.gloam", 32);
    check_corpus("examples/*.gloam", 10);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(precedence),
        cmocka_unit_test(values),
        cmocka_unit_test(ramps),
        cmocka_unit_test(declarations),
        cmocka_unit_test(timetables),
        cmocka_unit_test(lamps),
        cmocka_unit_test(spans),
        cmocka_unit_test(limits),
        cmocka_unit_test(errors_are_limited),
        cmocka_unit_test(hostile),
        cmocka_unit_test(long_call),
        cmocka_unit_test(memory_runs_out),
        cmocka_unit_test(corpus),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
