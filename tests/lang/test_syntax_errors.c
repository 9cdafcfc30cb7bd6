/* Mistakes of syntax: what is said, where, and what to write instead; and that one mistake is told
 * once. The sentences are the project's own; a beginner has to understand them. */
#include "parsed.h"

typedef struct Mistake {
    const char *text; /* each place of an error stands between ⟦ and ⟧ */
    const char *code, *message, *hint;
} Mistake;

enum { TEXT = 2000, PLACES = 20 };

/* Takes the marks out; returns how many places there are. */
static size_t unmark(const char *marked, char out[TEXT], Span spans[PLACES]) {
    size_t count = 0, length = 0;
    for (const char *at = marked; *at;) {
        assert_true(length + 1 < TEXT);
        if (strncmp(at, "⟦", 3) == 0) {
            assert_true(count < PLACES);
            spans[count++] = (Span){0, (uint32_t)length, 0};
            at += 3;
        } else if (strncmp(at, "⟧", 3) == 0) {
            spans[count - 1].end = (uint32_t)length;
            at += 3;
        } else {
            out[length++] = *at++;
        }
    }
    out[length] = 0;
    return count;
}

static bool is_as_expected(const Diagnostic *found, const Mistake *mistake, const Span *span) {
    bool hint = mistake->hint ? found->hint && strcmp(found->hint, mistake->hint) == 0
                              : found->hint == NULL;
    return found->severity == SEVERITY_ERROR && strcmp(found->code, mistake->code) == 0 &&
           strcmp(found->message, mistake->message) == 0 && hint &&
           found->span.begin == span->begin && found->span.end == span->end;
}

static void check(const Mistake *mistakes, size_t count) {
    char text[TEXT];
    Span spans[PLACES];
    for (size_t i = 0; i < count; i++) {
        size_t places = unmark(mistakes[i].text, text, spans);
        Parsed parse = parsed(text);
        assert_true(parse.fine);
        bool same = diagnostics_total(parse.sink) == places && places > 0 && !parse.tree.whole;
        for (size_t place = 0; same && place < places; place++)
            same = is_as_expected(diagnostics_at(parse.sink, place), &mistakes[i], &spans[place]);
        if (!same) {
            diagnostics_print(parse.sink, stderr, false);
            fail_msg("of: %s\nexpected %s: %s\nwrite: %s", mistakes[i].text, mistakes[i].code,
                     mistakes[i].message, mistakes[i].hint ? mistakes[i].hint : "(nothing)");
        }
        parsed_free(&parse);
    }
}

#define CHECK(mistakes) check(mistakes, sizeof mistakes / sizeof *(mistakes))

static void ramps(void **state) {
    (void)state;
    static const char *const none = "this ramp has no driver";
    static const char *const add =
        "add `over 30min` (once), `every 4s`, `for 1s each` or `along pos`";
    static const Mistake mistakes[] = {
        {"routine r {\n    paint black -> gold⟦⟧\n    paint red\n}\n", "ramp-without-driver", none,
         add},
        {"let a = red | lime⟦⟧\nat 03:10 play daybreak\n", "ramp-without-driver", none, add},
        {"let a = black -> gold and back⟦⟧\n", "ramp-without-driver", none, add},
        {"let a = black -> gold ease-in⟦⟧\n", "ramp-without-driver", none, add},
        {"let a = black -> gold in oklch longer hue⟦⟧\n", "ramp-without-driver", none, add},
        {"let a = (black -> gold⟦⟧) * 50%\n", "ramp-without-driver", none, add},
        {"routine r { paint gold ⟦over 2s⟧ }", "driver-without-ramp", "`over` needs a ramp",
         "`black -> gold over 2s`"},
        {"let a = gold and back ⟦every 2s⟧ ease-in in srgb\n", "driver-without-ramp",
         "`every` needs a ramp", "`black -> gold every 2s`"},
        {"let a = gold ⟦for 2s each⟧", "driver-without-ramp", "`for` needs a ramp",
         "`black -> gold for 2s each`"},
        {"routine r { paint gold -> red ⟦for 40min⟧ }", "for-without-each",
         "`for` is the time of each part of a ramp",
         "`over 40min` for all of the ramp, or `for 40min each`"},
        {"let a = (gold -> red ⟦for 40min⟧) * 50%\nlet b = gold -> red ⟦for 40min⟧\nlet c = 3",
         "for-without-each", "`for` is the time of each part of a ramp",
         "`over 40min` for all of the ramp, or `for 40min each`"},
        {"let a = gold ⟦throughout⟧", "driver-without-ramp", "`throughout` needs a ramp",
         "`black -> gold throughout`"},
        {"let a = teal ⟦along pos⟧", "driver-without-ramp", "`along` needs a ramp",
         "`black -> teal along pos`"},
        {"let a = red -> blue ⟦4s⟧\nlet b = 1", "ramp-without-driver",
         "a driver is missing before `4s`", "`over 4s` (once) or `every 4s` (again and again)"},
        {"let a = red -> blue ⟦in oklch⟧ every 4s", "space-before-driver",
         "the blend space stands last", "`... every 4s in oklch`"},
        {"let a = red | blue ⟦in oklch⟧ every 4s", "space-before-driver",
         "the blend space stands last", "`... every 4s in oklch`"},
        {"let a = red -> blue every 4s ⟦and⟧ back ease-in", "back-after-driver",
         "`and back` stands before the driver", "`and back every 4s`"},
        {"let a = red -> lime ⟦|⟧ blue every 3s", "mixed-ramp",
         "`->` and `|` do not go together in one ramp", "parentheses around a ramp within a ramp"},
        {"let a = red | lime ⟦->⟧ blue every 3s", "mixed-ramp",
         "`->` and `|` do not go together in one ramp", "parentheses around a ramp within a ramp"},
        {"let a = 1900K -> 5000K ⟦at 06:30⟧ / 24 -> 1900K along hour / 24", "moment-in-ramp",
         "outside a routine `at 06:30` begins an entry", "in a ramp `at (06:30 / 24)`"},
        {"let a = red -> blue every 4s ⟦linear⟧", "bare-easing",
         "a ramp without easing is even already: `linear` alone changes nothing",
         "leave it out, or `linear(0, 0.2, 1)`"},
        {"let a = red -> blue every 4s ⟦steps⟧", "bare-easing", "`steps` needs its number of steps",
         "`steps(4, jump-end)`"},
        {"let a = red -> blue every 4s ⟦cubic-bezier⟧", "bare-easing",
         "`cubic-bezier` needs its four numbers", "`cubic-bezier(0.4, 0, 0.6, 1)`"},
        {"let a = red -> blue every 4s ⟦ease-inn⟧", "unknown-word", "no easing `ease-inn`",
         "`ease-in`"},
    };
    CHECK(mistakes);
}

static void numbers_and_units(void **state) {
    (void)state;
    static const char *const order = "one duration is written without a space, largest first";
    static const Mistake mistakes[] = {
        {"let a = ⟦1h 30min⟧ * 2", "duration-order", order, "`1h30min`"},
        {"let a = ⟦30min1h⟧", "duration-order", order, "`1h30min`"},
        {"let a = ⟦1.5h30min⟧", "duration-order", order, "`2h`"},
        {"let a = ⟦500ms1s⟧", "duration-order", order, "`1s500ms`"},
        {"let a = ⟦1ms1s0.5ms⟧", "duration-order", order, "`1s1.5ms`"},
        {"let a = 5⟦m⟧", "unknown-unit", "unknown unit `m`",
         "`min` is minutes, `ms` is thousandths of a second"},
        {"let a = 30⟦minutes⟧", "unknown-unit", "unknown unit `minutes`", "`30min`"},
        {"let a = 2⟦sec⟧", "unknown-unit", "unknown unit `sec`", "`2s`"},
        {"let a = 2700⟦k⟧", "unknown-unit", "unknown unit `k`", "`2700K`"},
        {"let a = 2⟦d⟧", "unknown-unit", "unknown unit `d`", "`48h`"},
        {"let a = 3⟦x⟧", "unknown-unit", "unknown unit `x`", "`3 * x` to multiply"},
        {"let a = 1⟦e⟧6", "unknown-unit", "unknown unit `e`",
         "a number has no exponent: all its digits"},
        {"let a = 1⟦_⟧000", "unknown-unit", "unknown unit `_`", "a number has no `_`: digits only"},
        {"let a = ⟦30 min⟧", "unit-apart", "a unit stands at its number without a space",
         "`30min`"},
        {"routine r { paint red -> blue over ⟦30 s⟧ ease-in }", "unit-apart",
         "a unit stands at its number without a space", "`30s`"},
        {"let a = ⟦.5⟧", "point-first", "a number begins with a digit", "`0.5`"},
        {"let a = ⟦1h30⟧", "glued-numbers",
         "only the parts of a duration are glued together, each with its unit", "`1h30min`"},
        {"let a = 10 ⟦%⟧ 3", "per-cent-alone", "`%` is per cent and stands at its number",
         "the remainder is `mod(10, 3)`"},
        {"let a = 10⟦%⟧3", "per-cent-alone", "`%` is per cent and stands at its number",
         "the remainder is `mod(10, 3)`"},
        {"let a = (x + 1) ⟦%⟧ y * 2", "per-cent-alone", "`%` is per cent and stands at its number",
         "the remainder is `mod((x + 1), y)`"},
    };
    CHECK(mistakes);
}

static void colours_and_comments(void **state) {
    (void)state;
    static const Mistake mistakes[] = {
        {"let a = ⟦#ff880⟧ * 2", "colour-digits",
         "a colour has 3 or 6 digits, this has 5; a comment begins with `//`", NULL},
        {"let a = gold ⟦#⟧ turn it on\nlet b = 1", "hash-comment", "a comment begins with `//`",
         "`// ...`"},
        {"⟦#⟧ the baker's file\nlet b = 1", "hash-comment", "a comment begins with `//`",
         "`// ...`"},
        {"let a = gold ⟦#turn⟧ it on\nlet b = 1", "colour-digits",
         "a colour has 3 or 6 hexadecimal digits; a comment begins with `//`", NULL},
        {"let a = ⟦#ff880080⟧", "transparency", "light has no transparency",
         "`#ff8800` and `where 50%`"},
        {"let a = ⟦#f80c⟧", "transparency", "light has no transparency", "`#f80` and `where 80%`"},
        {"let a = rgb(255, 136, 0 / ⟦50%⟧)", "transparency", "light has no transparency",
         "`where 50%`"},
        {"let a = rgb(255 ⟦136⟧ 0)", "missing-comma", "commas between arguments",
         "`rgb(255, 136, 0)`"},
        {"let a = oklch(70% ⟦0.15⟧ 60deg)", "missing-comma", "commas between arguments",
         "`oklch(70%, 0.15, 60deg)`"},
        {"let a = rgb(255, f(1) ⟦0⟧)", "missing-comma", "commas between arguments",
         "`rgb(255, f(1), 0)`"},
        {"let a = f(1 ⟦2⟧) + f(1 ⟦2⟧)", "missing-comma", "commas between arguments", "`f(1, 2)`"},
        {"let a = f(g(1), h(1 ⟦2⟧), 3)", "missing-comma", "commas between arguments", "`h(1, 2)`"},
        {"let a(x ⟦y⟧ z) = x", "missing-comma", "commas between arguments", "`a(x, y, z)`"},
        {"let a = red -> blue every 4s steps(4 ⟦jump-end⟧)", "missing-comma",
         "commas between arguments", "`steps(4, jump-end)`"},
        {"⟦/*⟧ a\nb */ let b = 1", "block-comment", "a comment begins with `//`", "`// ...`"},
    };
    CHECK(mistakes);
}

static void words(void **state) {
    (void)state;
    static const char *const minus = "names have no minus";
    static const Mistake mistakes[] = {
        {"let a = ⟦my-colour⟧ * 2", "minus-in-name", minus,
         "`my_colour`, or `my - colour` to subtract"},
        {"let ⟦my-colour⟧ = gold\nlet b = 1", "minus-in-name", minus,
         "`my_colour`, or `my - colour` to subtract"},
        {"routine r { paint gold where x ⟦=⟧ y blended screen }", "equals-sign",
         "`=` gives a name, `==` compares", "`==`"},
        {"let a = if x ⟦=⟧ 3 then gold else red", "equals-sign", "`=` gives a name, `==` compares",
         "`==`"},
        {"let a = ⟦0.2 < pos < 0.4⟧", "chained-comparison", "compare twice",
         "`0.2 < pos and pos < 0.4`"},
        {"let a = ⟦b == c == d⟧ or e", "chained-comparison", "compare twice",
         "`b == c and c == d`"},
        {"let a = if b then c⟦⟧\nlet d = 1", "if-without-else",
         "`if` always has `else`: what shines otherwise?", "`else black`"},
        {"let a = (if b then c⟦⟧) * 2", "if-without-else",
         "`if` always has `else`: what shines otherwise?", "`else black`"},
        {"let ⟦paint⟧ = 3\nlet b = 1", "reserved-word", "`paint` is a word of the language",
         "choose another name"},
        {"routine ⟦over⟧ lasts 3s { paint gold }", "reserved-word",
         "`over` is a word of the language", "choose another name"},
        {"let f(a, ⟦in⟧) = a", "reserved-word", "`in` is a word of the language",
         "choose another name"},
        {"lamp ⟦{⟧ pixels 3 }", "missing-name", "a lamp has a name", "`lamp shelf {`"},
        {"routine ⟦{⟧ paint gold }", "missing-name", "a routine has a name", "`routine dusk {`"},
        {"⟦rutine⟧ x { paint gold }", "unknown-word", "no word `rutine` here", "`routine`"},
        {"routine x {\n    ⟦Paint⟧ gold\n}", "unknown-word", "no word `Paint` here", "`paint`"},
        {"lamp l { ⟦pixls⟧ 3 chip ws2812b }", "unknown-word", "no word `pixls` here", "`pixels`"},
        {"at 19:30 ⟦paly⟧ dusk", "unknown-word", "no word `paly` here", "`play`"},
        {"let a = b ⟦&&⟧ c", "stray-character", "no `&&` here", "`and`"},
        {"let a = b ⟦||⟧ c", "stray-character", "no `||` here", "`or`"},
        {"let a = ⟦!⟧c", "stray-character", "no `!` here", "`not`"},
        {"let a = 1⟦;⟧ let b = 2⟦;⟧", "stray-character", "nothing ends with `;`: leave it out",
         NULL},
        {"let a = red ⟦→⟧ blue every 4s", "stray-character", "this arrow is not the one of a ramp",
         "`->`"},
        {"let a = 3 ⟦−⟧ 2", "stray-character", "this dash is not a minus sign", "`-`"},
        {"let a = ⟦§⟧ + 1", "stray-character", "this character is not used in the language", NULL},
        {"let a = ⟦“open”⟧ let b = 1", "stray-character", "a text stands in straight double quotes",
         "`\"...\"`"},
        {"use ⟦\"dusk.gloam⟧\nlet a = 1", "unclosed-text",
         "this text has no closing quote on its line", "`\"...\"`"},
        {"use ⟦'dusk.gloam'⟧\nlet a = 1", "stray-character", "a text stands in double quotes",
         "`\"...\"`"},
        {"routine a ⟦then⟧ b { paint gold }", "then-without-lasts", "`then` needs `lasts`",
         "`lasts 20min then ...`"},
    };
    CHECK(mistakes);
}

static void braces(void **state) {
    (void)state;
    static const Mistake mistakes[] = {
        {"⟦paint⟧ gold\nlet a = 1", "layer-outside", "a layer belongs in a routine",
         "`routine name { paint gold }`"},
        {"let a = 1\nroutine x ⟦{⟧\n    paint gold\nroutine y { paint red }", "unclosed-brace",
         "the `{` of line 2 is not closed", "`}` before `routine` in line 4"},
        {"routine x ⟦{⟧ paint gold\nat 19:30 play x\nat 20:00 play off", "unclosed-brace",
         "the `{` of line 1 is not closed", "`}` before `at` in line 2"},
        {"routine x ⟦{⟧ paint gold\n", "unclosed-brace", "the `{` of line 1 is not closed",
         "`}` at the end of the file"},
        {"lamp x ⟦{⟧ pixels 3\nlamp y { pixels 4 }", "unclosed-brace",
         "the `{` of line 1 is not closed", "`}` before `lamp` in line 2"},
        {"routine x { paint gold }\n⟦}⟧\nlet a = 1", "stray-brace", "this `}` closes nothing",
         NULL},
        {"routine x {\n    ⟦dial⟧ a = 1\n    paint gold\n}\nlet a = 1", "misplaced-declaration",
         "`dial` does not belong in a routine or a lamp", "it before or after the braces"},
        {"lamp x {\n    pixels 3\n    ⟦at⟧ 19:30 play dusk on lamp x\n}", "misplaced-declaration",
         "`at` does not belong in a routine or a lamp", "it before or after the braces"},
        {"routine x {\n    ⟦routine⟧ y { paint red }\n    paint gold\n}", "misplaced-declaration",
         "`routine` does not belong in a routine or a lamp", "it before or after the braces"},
    };
    CHECK(mistakes);
}

static void timetables(void **state) {
    (void)state;
    static const char *const time = "a time of day is written `07:00`";
    static const char *const range = "a range is written with `..`";
    static const Mistake mistakes[] = {
        {"at ⟦7⟧ play x", "time-of-day", time, "`07:00`"},
        {"at ⟦7am⟧ play x", "time-of-day", time, "`07:00`"},
        {"at ⟦7pm⟧ play x", "time-of-day", time, "`19:00`"},
        {"at ⟦12am⟧ play x", "time-of-day", time, "`00:00`"},
        {"at ⟦06.30⟧ play x", "time-of-day", time, "`06:30`"},
        {"at ⟦7:30pm⟧ play x", "time-of-day", time, "`19:30`"},
        {"at ⟦20h30⟧ play x", "time-of-day", time, "`20:30`"},
        {"at sunset not before ⟦7h05⟧ play x", "time-of-day", time, "`07:05`"},
        {"at ⟦0310⟧ play x", "time-of-day", time, "`03:10`"},
        {"at ⟦310⟧ play x", "time-of-day", time, "`03:10`"},
        {"by ⟦2030⟧ play x", "time-of-day", time, "`20:30`"},
        {"at ⟦2460⟧ play x", "time-of-day", time, "`07:00`"},
        {"at ⟦310pm⟧ play x", "time-of-day", time, "`15:10`"},
        {"at ⟦7.30pm⟧ play x", "time-of-day", time, "`19:30`"},
        {"at ⟦3h10min⟧ play x", "time-of-day", time, "`03:10`"},
        {"at 03:10 play x until ⟦4h⟧", "time-of-day", time, "`04:00`"},
        {"routine x lasts ⟦2h30⟧ { paint gold }", "glued-numbers",
         "only the parts of a duration are glued together, each with its unit", "`2h30min`"},
        {"at sunset not before ⟦7⟧ play x", "time-of-day", time, "`07:00`"},
        {"between ⟦21⟧ and 02:00 keep level under 10%", "time-of-day", time, "`21:00`"},
        {"at ⟦24:00⟧ play x", "time-of-day", "a time of day runs from `00:00` to `23:59`",
         "`00:00`"},
        {"at 07:00 ⟦19:00⟧ play x", "times-without-comma", "times of day are separated by commas",
         "`07:00, 19:00`"},
        {"at 22:00 on fri ⟦sat⟧ play off", "days-without-comma", "days are separated by commas",
         "`fri, sat`"},
        {"at 22:00 on ⟦friday⟧, sat play off", "calendar-word", "no day `friday`", "`fri`"},
        {"at 22:00 on ⟦Tues⟧ play off", "calendar-word", "no day `Tues`", "`tue`"},
        {"at 22:00 in nov ⟦feb⟧ play off", "months-without-comma", "months are separated by commas",
         "`nov, feb`"},
        {"at 22:00 in ⟦November⟧ play off", "calendar-word", "no month `November`", "`nov`"},
        {"at 22:00 on ⟦mon-fri⟧ play off", "range-sign", range, "`mon..fri`"},
        {"at 22:00 on sun, ⟦Monday-Friday⟧ play off", "range-sign", range, "`mon..fri`"},
        {"at 22:00 in ⟦nov-feb⟧ on sun play off", "range-sign", range, "`nov..feb`"},
        {"at 22:00 on mon ⟦-⟧ fri play off", "range-sign", range, "`mon..fri`"},
        {"at 22:00 on mon ⟦to⟧ fri play off", "range-sign", range, "`mon..fri`"},
        {"at 22:00 in nov ⟦to⟧ feb play off", "range-sign", range, "`nov..feb`"},
        {"at 22:00 except 2026-12-24 ⟦to⟧ 2026-12-26 play off", "range-sign", range,
         "`2026-12-24..2026-12-26`"},
        {"at 22:00 from 2026-12-24 ⟦to⟧ 2027-01-02 play off", "range-sign",
         "the last day stands behind `until`", "`from 2026-12-24 until 2027-01-02`"},
        {"let a = ⟦mon-fri⟧", "minus-in-name", "names have no minus",
         "`mon_fri`, or `mon - fri` to subtract"},
        {"at 22:00 until ⟦2026⟧-1-5 play off\nlet a = 1", "date-form",
         "a date is written year-month-day", "`2026-12-24`"},
        {"at 22:00 from ⟦2026-02-30⟧ play off\nlet a = 1", "no-such-day",
         "there is no such day: a date is written year-month-day, `2026-12-24`", NULL},
        {"at 19:30 ⟦dusk⟧ on lamp shelf", "missing-play", "`play` is missing before `dusk`",
         "`play dusk`"},
        {"at 19:30 play dusk ⟦on fri⟧", "days-after-play", "days come before `play`",
         "`on fri play ...`"},
        {"at 19:30 play dusk fading 2s ⟦until 2026-03-01⟧", "days-after-play",
         "days come before `play`", "`until 2026-03-01 play ...`"},
        {"at 19:30 ⟦on lamp shelf⟧ play dusk", "lamp-before-play",
         "the lamp comes after the routine", "`play ... on lamp shelf`"},
        {"at 19:30 play a for 2h ⟦until 21:00⟧", "two-ends", "a play has one end: `for` or `until`",
         NULL},
        {"at 19:30 play dusk on ⟦shelf⟧\nlet a = 1", "missing-lamp",
         "`lamp` is missing before `shelf`", "`on lamp shelf`"},
        {"at 19:30 play dusk on ⟦shelf⟧ for 5min", "missing-lamp",
         "`lamp` is missing before `shelf`", "`on lamp shelf`"},
        {"at 19:30 play dusk ⟦fade⟧ 2min", "unknown-word", "no word `fade` here", "`fading`"},
        {"at 19:30 play dusk for ⟦30 minutes⟧", "unit-apart",
         "a unit stands at its number without a space", "`30min`"},
        {"at 19:30 play dusk for ⟦2 hours⟧ on lamp shelf", "unit-apart",
         "a unit stands at its number without a space", "`2h`"},
        {"at sunset + ⟦10⟧ play dusk", "needs-duration",
         "this needs a duration, and `10` is a number", "`10s` or `10min`?"},
        {"lamp l { pixels 16 supply ⟦5V⟧ shape ring }", "missing-amperes",
         "a supply has amperes, too", "`supply 5V 2A`"},
        {"at ⟦noon⟧ play x\nat 7:00 play y", "unexpected",
         "expected a moment (`19:30`, `sunset`, `civil dusk`) here, this is `noon`", NULL},
    };
    CHECK(mistakes);
}

static void twice(void **state) {
    (void)state;
    static const Mistake mistakes[] = {
        {"routine r { paint gold where a ⟦where⟧ b }", "stands-twice", "`where` stands twice",
         NULL},
        {"routine r { paint gold blended screen ⟦blended⟧ lighten where a }", "stands-twice",
         "`blended` stands twice", NULL},
        {"dial a = 1 from 0 to 1 ⟦from⟧ 0 to 2", "stands-twice", "`from` stands twice", NULL},
        {"dial a = 1 eased 1s ⟦eased⟧ 2s", "stands-twice", "`eased` stands twice", NULL},
        {"dial a = 1 \"one\" ⟦\"two\"⟧", "stands-twice", "a dial has one label", NULL},
        {"at 9:00 play a with b = 1 ⟦with⟧ c = 2", "stands-twice", "`with` stands twice", NULL},
        {"at 9:00 play a on lamp b ⟦on lamp c⟧", "stands-twice", "`on lamp` stands twice", NULL},
        {"at 9:00 play a for 2s ⟦for 3s⟧", "stands-twice", "`for` stands twice", NULL},
        {"at 9:00 play a until 9:10 ⟦until 9:20⟧", "stands-twice", "`until` stands twice", NULL},
        {"at 9:00 play a fading 2s ⟦fading⟧ 3s", "stands-twice", "`fading` stands twice", NULL},
        {"at 9:00 on fri ⟦on sat⟧ play a", "stands-twice", "`on` stands twice", NULL},
        {"at sunset not before 9:00 ⟦not before 10:00⟧ play a", "stands-twice",
         "`not before` stands twice", NULL},
        {"at sunset else 9:00 ⟦else 10:00⟧ play a", "stands-twice", "`else` stands twice", NULL},
        {"between 9:00 and 10:00 in jan ⟦in feb⟧ keep level under 10%", "stands-twice",
         "`in` stands twice", NULL},
        {"lamp l { pixels 3 ⟦pixels⟧ 4 part a 0..1 part b 1..2 }", "stands-twice",
         "`pixels` stands twice", NULL},
    };
    CHECK(mistakes);
}

/* What comes from other habits of writing. */
static void habits(void **state) {
    (void)state;
    static const char *const steps =
        "a routine has no steps: it says what light there is at every moment";
    static const char *const repeats = "what repeats: `paint black -> gold and back every 4s`";
    static const char *const later = "what comes later: `delayed 5s`, or stops of a ramp `at 5s`";
    static const char *const needless = "no `=` here: leave it out";
    static const char *const arrow = "a fade is written `->`";
    static const char *const ramp = "to calculate with a ramp, put it in parentheses";
    static const char *const around = "`(black -> gold every 4s) * 40%`, with all of the ramp";
    static const char *const per_cent = "`%` stands at its number without a space";
    static const Mistake mistakes[] = {
        {"routine r { ⟦if⟧ pos < 0.5 { paint gold } }", "no-steps", steps,
         "`paint gold where ...`"},
        {"routine r { ⟦for⟧ i in 0..15 { paint gold } }", "no-steps", steps,
         "what repeats: `every 4s`; what differs: `pixel` or `pos`"},
        {"routine r { ⟦loop⟧ { paint gold } }", "no-steps", steps, repeats},
        {"routine r { let a = 2 ⟦repeat⟧ 3 { paint gold } }", "no-steps", steps, repeats},
        {"routine r { ⟦wait⟧ 5s }", "no-steps", steps, later},
        {"routine r { ⟦colour⟧ = gold }", "no-steps",
         "nothing is set here: a routine is a list of layers",
         "`let colour = ...` to name something, `paint ...` for a light"},
        {"routine r {\n    let a = 0\n    ⟦a⟧ = a + 1\n    paint gold * a\n}", "no-steps",
         "nothing is set here: a routine is a list of layers",
         "`let a = ...` to name something, `paint ...` for a light"},
        {"routine r { paint ⟦=⟧ gold }", "needless-equals", needless, NULL},
        {"routine r ⟦=⟧ { paint gold }", "needless-equals", needless, NULL},
        {"lamp l { pixels ⟦=⟧ 16 shape ⟦=⟧ ring }", "needless-equals", needless, NULL},
        {"let a = black ⟦=⟧> gold over 5s", "arrow", arrow, "`->`"},
        {"let a = black ⟦to⟧ gold over 5s", "arrow", arrow, "`->`"},
        {"let a = ⟦50 %⟧", "per-cent-alone", per_cent, "`50%`"},
        {"routine r { paint gold * ⟦50 %⟧ where pos < 0.5 }", "per-cent-alone", per_cent, "`50%`"},
        {"let a = 1⟦,⟧5", "decimal-comma", "a number is written with a point", "`1.5`"},
        {"routine r { paint black -> gold every 4s in oklch ⟦*⟧ 40% }", "open-ramp", ramp, around},
        {"routine r { paint black -> gold over 4s ease-in ⟦/⟧ 2 }", "open-ramp", ramp, around},
        {"routine r { paint ⟦\"gold\"⟧ }", "needless-quotes", "a value has no quotes", "`gold`"},
        {"use ⟦dusk⟧", "missing-quotes", "the name of a file stands in quotes", "`use \"dusk\"`"},
        {"use ⟦dusk⟧.gloam\nlet a = 1", "missing-quotes", "the name of a file stands in quotes",
         "`use \"dusk.gloam\"`"},
        {"lamp l { pixels 256 shape grid 16⟦x⟧16 }", "unknown-unit", "unknown unit `x`",
         "a grid is `16 by 16`"},
        {"let a = red -> blue over 10s ⟦and⟧ back", "back-after-driver",
         "`and back` stands before the driver", "`and back over 10s`"},
    };
    CHECK(mistakes);
}

static void what_is_expected(void **state) {
    (void)state;
    static const Mistake mistakes[] = {
        {"let a = 3 ⟦4⟧\nlet b = 1", "unexpected",
         "expected an operator or something new (`let`, `routine`, `at`, ...) here, "
         "this is the number `4`",
         NULL},
        {"routine r {\n    paint⟦⟧\n}", "unexpected",
         "expected an expression here, this is the end of the line", NULL},
        {"let a = (1 + ⟦)⟧ * 2", "unexpected", "expected an expression here, this is `)`", NULL},
        {"let a = f(1, 2⟦⟧\nlet b = 1", "unexpected",
         "expected an operator, `)` or `,` here, this is the end of the line", NULL},
        {"let a =⟦⟧", "unexpected", "expected an expression here, this is the end of the file",
         NULL},
        {"let ⟦3⟧ = 4", "unexpected", "expected a name here, this is the number `3`", NULL},
        {"routine r lasts ⟦{⟧ paint gold }", "unexpected",
         "expected an expression here, this is `{`", NULL},
        {"lamp l { shape ⟦sphere⟧\n pixels 3 }", "unexpected",
         "expected a shape (`strip`, `ring`, `grid`, `ball` or `points`) here, this is `sphere`",
         NULL},
        {"lamp l { port ⟦3⟧\n pixels 3 }", "unexpected",
         "expected a text in quotes here, this is the number `3`", NULL},
        {"lamp l { ⟦colour⟧ 3\n pixels 3 }", "unexpected",
         "expected a property (`pixels`, `shape`, `chip`, `port`, ...) or `}` here, "
         "this is `colour`",
         NULL},
        {"place 51.45 ⟦-⟧2.59", "unexpected", "expected `,` here, this is `-`", NULL},
        {"dial a ⟦4⟧", "unexpected", "expected `=` here, this is the number `4`", NULL},
        {"until clock ⟦set⟧ play x", "unexpected", "expected `is` here, this is `set`", NULL},
        {"use ⟦->⟧", "unexpected", "expected a text in quotes here, this is `->`", NULL},
    };
    CHECK(mistakes);
}

/* A word that belongs to nothing, behind something complete: told where it stands, and no right
 * line before or behind it is. */
static void stray_words(void **state) {
    (void)state;
    static const char *const BEFORE[] = {"routine r lasts 30min { paint gold }",
                                         "routine r {\n    paint gold\n}",
                                         "lamp l { pixels 16 shape ring }", "event rung \"rung\""};
    static const struct {
        const char *line, *word;
    } STRAYS[] = {{"⟦every⟧ day at 20:00 play r", "`every`"},
                  {"⟦daily⟧ at 20:00 play r", "`daily`"},
                  {"⟦bulb⟧", "`bulb`"},
                  {"⟦evening⟧ { paint gold }", "`evening`"},
                  {"⟦on⟧ mon at 20:00 play r", "`on`"},
                  {"⟦weekdays⟧ at 20:00 play r", "`weekdays`"},
                  {"⟦until⟧ the clock is set play r", "`until`"},
                  {"⟦20:00⟧ play r", "the time of day `20:00`"}};
    for (size_t i = 0; i < sizeof BEFORE / sizeof BEFORE[0]; i++)
        for (size_t j = 0; j < sizeof STRAYS / sizeof STRAYS[0]; j++) {
            char text[TEXT], message[200];
            snprintf(text, sizeof text,
                     "%s\n%s\nat 03:10 play r\nwhen rung play r for 5s\nlet a = 1\n"
                     "until clock is set play off\n",
                     BEFORE[i], STRAYS[j].line);
            snprintf(message, sizeof message,
                     "expected something new (`let`, `routine`, `at`, ...) here, this is %s",
                     STRAYS[j].word);
            check(&(Mistake){text, "unexpected", message, NULL}, 1);
        }
    static const Mistake others[] = {
        {"at 04:00 play r\n⟦bulb⟧\nat 03:10 play r", "unexpected",
         "expected something new (`let`, `routine`, `at`, ...), days (`on fri`, `in nov`, `from`, "
         "`until`, `except`), `for`, `with`, `fading` or `.` here, this is `bulb`",
         NULL},
        {"routine r {\n    paint gold\n    ⟦bulb⟧\n    paint red\n}\nat 03:10 play r", "unexpected",
         "expected an operator, a layer (`paint gold`) or `}` here, this is `bulb`", NULL},
        {"lamp l {\n    pixels 16\n    ⟦colour⟧ grb\n    shape ring\n}\nat 03:10 play r",
         "unexpected",
         "expected a property (`pixels`, `shape`, `chip`, `port`, ...) or `}` here, this is "
         "`colour`",
         NULL},
        {"routine r { paint gold } ⟦bulb⟧\nat 03:10 play r", "unexpected",
         "expected something new (`let`, `routine`, `at`, ...) here, this is `bulb`", NULL},
    };
    CHECK(others);
}

/* Every mistake of a file is told, each once, and what stands between them is kept. */
static void all_in_one_run(void **state) {
    (void)state;
    char text[TEXT], found[PARSED_ROOM];
    Span spans[PLACES];
    size_t places = unmark("let a = (1 + ⟦)⟧\n"
                           "let b = 5⟦m⟧\n"
                           "routine c lasts ⟦{⟧\n"
                           "    paint gold ⟦over 2s⟧\n"
                           "    let d = ⟦*⟧\n"
                           "    paint ⟦]⟧ red\n"
                           "    paint teal\n"
                           "}\n"
                           "lamp e { pixels ⟦ring⟧\n chip apa102 }\n"
                           "at 7:00 play c\n"
                           "when f > ⟦play⟧ c\n"
                           "let g = ⟦#1234567⟧",
                           text, spans);
    Parsed parse = parsed(text);
    if (diagnostics_total(parse.sink) != places) {
        diagnostics_print(parse.sink, stderr, false);
        fail_msg("expected %zu errors", places);
    }
    for (size_t i = 0; i < places; i++) {
        assert_int_equal(diagnostics_at(parse.sink, i)->span.begin, spans[i].begin);
        assert_int_equal(diagnostics_at(parse.sink, i)->span.end, spans[i].end);
    }
    assert_string_equal(parsed_text(parse.tree.items, found),
                        "[(let a - ?) (let b - ?) (routine c ? - [(paint ?) (let d - ?) (paint red)"
                        " (paint teal)]) (lamp e (property.4 apa102)) (entry (moment=25200) - -"
                        " (play c)) (let g - ?)]");
    parsed_free(&parse);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ramps),
        cmocka_unit_test(numbers_and_units),
        cmocka_unit_test(colours_and_comments),
        cmocka_unit_test(words),
        cmocka_unit_test(braces),
        cmocka_unit_test(timetables),
        cmocka_unit_test(twice),
        cmocka_unit_test(habits),
        cmocka_unit_test(what_is_expected),
        cmocka_unit_test(stray_words),
        cmocka_unit_test(all_in_one_run),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
