/* Mistakes that parse, and what a beginner reads of them: one message each, with its words, its
 * place and what to write instead. Then guesses that are legal but hardly meant, each beside one
 * that is close to it and fine. The words are the specification's own. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "said.h"

typedef struct Mistake {
    const char *text; /* a whole file, or the body of a routine that lasts */
    const char *code, *underlined, *second, *message, *hint;
} Mistake;

enum { TEXT_BYTES = 4000 };

/* A text that begins with a word of an item is a file; anything else is the body of a routine. */
static const char *whole_file(const char *text, char *out) {
    static const char *const words[] = {"let ", "dial ", "routine ", "event ", "lamp ", "place "};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strncmp(text, words[i], strlen(words[i])) == 0) {
            snprintf(out, TEXT_BYTES, "%s", text);
            return out;
        }
    snprintf(out, TEXT_BYTES, "routine test lasts 20min {\n    %s\n}\n", text);
    return out;
}

static void check_text(Compilation *compilation, const char *what, const char *expected,
                       const char *found) {
    if (expected && (!found || strcmp(expected, found) != 0)) {
        said_print(compilation);
        fail_msg("%s: expected\n  %s\nfound\n  %s", what, expected, found ? found : "(none)");
    }
}

static void check_mistake(const Mistake *mistake, Severity severity) {
    char file[TEXT_BYTES], text[200];
    Compilation *compilation = compile_text(whole_file(mistake->text, file));
    assert_non_null(compilation);
    const Diagnostic *diagnostic = said(compilation, mistake->code);
    if (!diagnostic) {
        said_print(compilation);
        fail_msg("expected `%s` of: %s", mistake->code, mistake->text);
        return;
    }
    assert_int_equal(diagnostic->severity, severity);
    check_text(compilation, mistake->text, mistake->message, diagnostic->message);
    check_text(compilation, mistake->text, mistake->hint, diagnostic->hint);
    if (!mistake->hint)
        assert_null(diagnostic->hint);
    check_text(compilation, mistake->text, mistake->underlined,
               said_text(compilation, diagnostic->span, text, sizeof text));
    check_text(compilation, mistake->text, mistake->second ? mistake->second : "",
               said_text(compilation, diagnostic->second, text, sizeof text));
    size_t errors = diagnostics_count(lang_diagnostics(compilation), SEVERITY_ERROR);
    if (errors != (severity == SEVERITY_ERROR)) {
        said_print(compilation);
        fail_msg("%zu errors of one mistake: %s", errors, mistake->text);
    }
    assert_int_equal(said_count(compilation, mistake->code), 1);
    lang_free(compilation);
}

static void check_all(const Mistake *mistakes, size_t count, Severity severity) {
    for (size_t i = 0; i < count; i++)
        check_mistake(&mistakes[i], severity);
}

#define CHECK(mistakes, severity) check_all(mistakes, sizeof mistakes / sizeof *mistakes, severity)

static void beginners(void **state) {
    (void)state;
    static const Mistake mistakes[] = {
        {"paint black -> gold over 30", "needs-duration", "30", NULL,
         "`over` needs a duration, this is a number", "`30s` or `30min`?"},
        {"paint gold where 2s + 30%", "cannot-add", "2s", "30%",
         "cannot add a duration (`2s`) and a number (`30%`)", NULL},
        {"paint 2700K * 0 -> 1 over 30min", "ramp-of-two-types", "2700K * 0", "1",
         "this ramp goes from a colour to a number; `*` binds first",
         "`2700K * (0 -> 1 over 30min)`, or `black -> 2700K over 30min`"},
        {"paint 0.5", "paint-needs-colour", "0.5", NULL, "`paint` needs a colour", "`white * 50%`"},
        {"paint 50", "paint-needs-colour", "50", NULL, "`paint` needs a colour", "`white * 50%`"},
        {"paint 2700", "paint-needs-colour", "2700", NULL, "`paint` needs a colour", "`2700K`"},
        {"paint gold - 20%", "cannot-subtract", "gold", "20%",
         "cannot subtract a number (`20%`) from a colour (`gold`)", "`gold * 80%`"},
        {"paint ff8800", "unknown-name", "ff8800", NULL, "no value named `ff8800`", "`#ff8800`?"},
        {"paint transparent", "transparency", "transparent", NULL, "light has no transparency",
         "`#ff8800` and `where 50%`"},
        {"dial warmth = 40% from 0% to 100%\nroutine a { paint rgb(warmth, 0, 0) }", "rgb-of-one",
         "warmth", NULL, "`rgb` counts to 255", "`rgb(255 * warmth, 0, 0)` or `red * warmth`"},
        {"paint gold where sin(t)", "needs-angle", "t", NULL, "`sin` needs an angle",
         "`sin(t / 4s * 1turn)`"},
        {"paint gold where sin(pos)", "needs-angle", "pos", NULL, "`sin` needs an angle",
         "`sin(pos * 1turn)`"},
        {"let x1 = x1 + 1\nroutine a { paint gold where x1 }", "defined-by-itself", "x1", NULL,
         "nothing changes here: a `let` names an expression; `x1` is defined by itself", NULL},
        {"routine a { let beat = 3 let beat = 4 paint gold where beat }", "named-twice", "beat",
         NULL,
         "nothing changes here: a `let` names an expression; `beat` is named already at line 1",
         NULL},
        {"routine dusk { paint gold where progress }", "no-length", "progress", NULL,
         "routine `dusk` has no length", "`routine dusk lasts 30min`"},
        {"routine dusk { paint gold }\nroutine a { paint dusk * 50% }", "routine-calculated",
         "dusk * 50%", NULL, "a routine is painted, not calculated", "`paint dusk where 50%`"},
        {"paint 2000K + 700K", "kelvin-sum", "2000K + 700K", NULL, "this adds two lights",
         "for a warmth between: `2000K -> 2700K along 0.5`"},
        {"dial pace = 4s eased 2s\nroutine a { paint black -> gold and back every pace }",
         "length-moves", "pace", NULL, "the length of a round may not move: phases would race",
         "drop `eased`, or use two routines"},
        {"let ember = #301000\nroutine a { paint embre }", "unknown-name", "embre", NULL,
         "no value named `embre`", "`ember` (line 1)?"},
        {"paint gold -> red along warmth", "unknown-name", "warmth", NULL,
         "no value named `warmth`",
         "`let warmth = ...`, or `dial warmth = ...` for what is set from outside"},
        {"lamp a { pixels 3 level 150% }\nroutine r { paint gold }", "out-of-range", "150%", NULL,
         "`level` goes from 0% to 100%", "level 100%"},
        {"paint glod", "unknown-name", "glod", NULL, "no value named `glod`", "`gold`?"},
        {"paint gold where randon(3)", "unknown-name", "randon", NULL, "no function named `randon`",
         "`random`?"},
    };
    CHECK(mistakes, SEVERITY_ERROR);
}

static void units(void **state) {
    (void)state;
    static const Mistake mistakes[] = {
        {"paint oklch(70%, 0.1, t * 36deg / 1s)", "cannot-multiply", "t", "36deg",
         "cannot multiply a duration (`t`) and an angle (`36deg`)", "`t / 1s * 36deg`"},
        {"paint gold delayed t * 2s", "cannot-multiply", "t", "2s",
         "cannot multiply a duration (`t`) and a duration (`2s`)", "`t * (2s / 1s)`"},
        {"paint gold * t", "cannot-multiply", "gold", "t",
         "cannot multiply a colour (`gold`) and a duration (`t`)", "`gold * (t / 1s)`"},
        {"paint gold * (pos > 0.5)", "cannot-multiply", "gold", "(pos > 0.5)",
         "cannot multiply a colour (`gold`) and a truth (`(pos > 0.5)`)",
         "`if (pos > 0.5) then gold else black`"},
        {"paint gold where 3 / t", "cannot-divide", "3", "t",
         "cannot divide a number (`3`) by a duration (`t`)", "`3 / (t / 1s)`"},
        {"paint gold / red", "cannot-divide", "gold", "red",
         "cannot divide a colour (`gold`) by a colour (`red`)", NULL},
        {"paint gold where t - 3", "cannot-subtract", "t", "3",
         "cannot subtract a number (`3`) from a duration (`t`)", "`3s`"},
        {"paint gold where t > 30", "cannot-compare", "t", "30",
         "cannot compare a duration (`t`) and a number (`30`)", "`30s`"},
        {"paint gold where gold == red", "cannot-compare", "gold == red", NULL,
         "colours cannot be compared", NULL},
        {"paint gold where true < false", "cannot-compare", "true < false", NULL,
         "truths have no order", "`==`, `!=`, `and`, `or`, `not`"},
        {"paint gold where pos and true", "needs-truth", "pos", NULL,
         "`and` needs a truth, this is a number", "`pos > 0`"},
        {"paint gold where not t", "needs-truth", "t", NULL,
         "`not` needs a truth, this is a duration", "`t > 0s`"},
        {"paint if pos > 0.5 then gold else 3", "if-of-two-types", "gold", "3",
         "`then` gives a colour (`gold`), `else` gives a number (`3`): both must be of one type",
         NULL},
        {"paint -gold", "sign-of-colour", "-gold", NULL, "a colour has no sign", "`black - gold`"},
        {"paint gold where 1 / (2 - 2)", "divided-by-zero", "1 / (2 - 2)", "(2 - 2)",
         "this divides by 0", NULL},
        {"paint gold where 1s", "where-needs-share", "1s", NULL,
         "`where` needs a truth or a number, this is a duration", "`1s / 10s`"},
        {"paint gold delayed 3", "needs-duration", "3", NULL,
         "`delayed` needs a duration, this is a number", "`3s` or `3min`?"},
        {"paint angle", "paint-needs-colour", "angle", NULL, "`paint` needs a colour",
         "`oklch(75%, 0.12, angle)`"},
    };
    CHECK(mistakes, SEVERITY_ERROR);
}

static void ramps(void **state) {
    (void)state;
    static const Mistake mistakes[] = {
        {"paint gold -> red at 80% -> blue at 20% over 3s", "places-out-of-order", "20%", "80%",
         "this stop lies at 20%, before the one in front of it at 80%", NULL},
        {"paint gold -> red at 2s -> blue along pos", "place-without-time", "2s", NULL,
         "under `along` a place is a number, this is a duration", "`40%`"},
        {"paint 1900K -> 5000K at 12:30 -> 1900K along hour / 24", "place-of-clock", "12:30", NULL,
         "a place goes from 0 to 1, and `12:30` is 12.5 hours", "`at 12:30 / 24`"},
        {"paint gold -> red at 30% -> gold for 2s each", "place-under-each", "30%", NULL,
         "`for ... each` gives every part the same time: a stop has no place",
         "`every`, with places"},
        {"paint gold ease-in -> red over 3s", "easing-of-first", "ease-in", NULL,
         "no fade leads to the first value", "the easing at the stop that the fade leads to"},
        {"paint gold | red every 3s ease-in", "easing-of-bars", "ease-in", NULL,
         "`|` changes at once: there is nothing to ease", "`->` between the values"},
        {"paint gold | red and round every 3s", "round-of-bars", "gold | red and round every 3s",
         NULL, "`|` goes round by itself: without `and round`", NULL},
        {"paint gold where (true -> false over 2s)", "ramp-of-truths", "true", NULL,
         "truths have no ramp", "`t < 5s`, or a ramp of `0 | 1`"},
        {"paint gold -> red along pos in oklhc", "unknown-space", "oklhc", NULL,
         "no colour space named `oklhc`", "`oklch`?"},
        {"paint gold -> red along pos in srgb longer hue", "hue-without-oklch", "longer", NULL,
         "`srgb` has no hue", "`in oklch longer hue`"},
        {"paint gold where (0 -> 1 along pos in srgb)", "space-of-numbers", NULL, NULL,
         "`in` tells how colours blend, and this ramp is one of numbers", NULL},
        {"paint black -> gold over 0s", "length-not-positive", "0s", NULL,
         "`over` needs a length above 0s", NULL},
        {"paint gold where tick(0s) == 1", "length-not-positive", "0s", NULL,
         "`tick` needs a length above 0s", NULL},
        {"paint black -> gold and back every t", "length-moves", "t", NULL,
         "the length of a round may not move: phases would race",
         "a length that stays as it is: fixed, by a plain dial, or by the pixel"},
        {"paint black -> gold and back every hour * 1s", "length-moves", "hour * 1s", NULL,
         "the length of a round may not move: phases would race",
         "a length that stays as it is: fixed, by a plain dial, or by the pixel"},
        {"routine a { paint black -> gold throughout }", "no-length", "throughout", NULL,
         "routine `a` has no length", "`routine a lasts 30min`"},
        {"dial pace = 4s eased 2s\nroutine a { paint gold where fract(t / pace) }", "phase-races",
         "t / pace", NULL, "`t` may not be stretched by something that moves: phases would race",
         "the length of a driver or of `tick`, which does not move: `every 4s`"},
        {"paint gold where fract(tick(2s) * moonlit)", "phase-races", "tick(2s) * moonlit", NULL,
         "`t` may not be stretched by something that moves: phases would race",
         "the length of a driver or of `tick`, which does not move: `every 4s`"},
        {"paint gold -> red along t", "needs-number", "t", NULL,
         "`along` needs a number from 0 to 1, this is a duration", "`along fract(t / 10s)`"},
        {"paint gold -> red over 2s cubic-bezier(2, 0, 1, 1)", "wrong-easing", NULL, NULL,
         "the first and third number of `cubic-bezier` lie in 0..1", NULL},
        {"paint gold -> red over 2s steps(1, jump-none)", "wrong-easing", NULL, NULL,
         "`jump-none` needs at least 2 steps", "`steps(2, jump-none)`"},
        {"paint gold -> red over 2s steps(1001)", "wrong-easing", NULL, NULL,
         "`steps` takes a whole number from 1 to 1000", "`steps(4, jump-end)`"},
        {"paint gold -> red over 2s steps(pixel)", "wrong-easing", NULL, NULL,
         "the numbers of an easing are fixed", NULL},
        {"paint gold where ease(t, ease-in)", "needs-number", "t", NULL,
         "`ease` needs a number, this is a duration", "`t / 1s`"},
    };
    CHECK(mistakes, SEVERITY_ERROR);
}

static void colours(void **state) {
    (void)state;
    static const Mistake mistakes[] = {
        {"let half = 50%\nroutine a { paint rgb(half, 0, 0) }", "rgb-of-one", "half", NULL,
         "`rgb` counts to 255", "`rgb(255 * half, 0, 0)` or `red * half`"},
        {"paint rgb(10, 20, fract(pos * 3))", "rgb-of-one", "fract(pos * 3)", NULL,
         "`rgb` counts to 255", "`rgb(10, 20, 255 * fract(pos * 3))`"},
        {"paint rgb(300, 0, 0)", "channel-out-of-range", "300", NULL,
         "red counts from 0 to 255, this is `300`", "`255`"},
        {"paint hsl(30deg, 100, 50%)", "channel-out-of-range", "100", NULL,
         "saturation counts from 0 to 100%, this is `100`", "`100%`"},
        {"paint oklch(70%, -0.1, 30deg)", "channel-out-of-range", "-0.1", NULL,
         "chroma is not below 0, this is `-0.1`", NULL},
        {"paint oklch(70%, 0.1, 30)", "needs-angle", "30", NULL,
         "a hue is an angle, this is a number", "`oklch(70%, 0.1, 30deg)`"},
        {"paint oklch(70%, 0.1, pos)", "needs-angle", "pos", NULL,
         "a hue is an angle, this is a number", "`oklch(70%, 0.1, pos * 1turn)`"},
        {"paint 500K", "kelvin-out-of-range", "500K", NULL,
         "a glowing body is known from 1000K to 25000K, this is `500K`", "`1000K`"},
        {"paint 30000K", "kelvin-out-of-range", "30000K", NULL,
         "a glowing body is known from 1000K to 25000K, this is `30000K`", "`25000K`"},
        {"paint gold - 2000K", "kelvin-sum", "gold - 2000K", NULL,
         "this takes one light from another", "for a warmth between: `gold -> 2000K along 0.5`"},
        {"paint Gold", "unknown-name", "Gold", NULL, "no value named `Gold`", "`gold`?"},
        {"paint gold blended sreen", "unknown-blend", "sreen", NULL,
         "no way of blending named `sreen`", "`screen`?"},
    };
    CHECK(mistakes, SEVERITY_ERROR);
    /* two channels, two mistakes */
    Compilation *compilation = compile_text("routine a lasts 1s { paint rgb(progress, pos, 0) }");
    assert_int_equal(said_count(compilation, "rgb-of-one"), 2);
    lang_free(compilation);
}

static void names(void **state) {
    (void)state;
    static const Mistake mistakes[] = {
        {"let soft(v) = v * 2s\nroutine a { paint soft(gold) }", "cannot-multiply", "soft(gold)",
         NULL, "cannot multiply a colour (`v`) and a duration (`2s`) (in `soft`, line 1)",
         "`v * (2s / 1s)`"},
        {"let inner(v) = v + 1\nlet outer(v) = inner(v)\nroutine a { paint outer(gold) }",
         "cannot-add", "outer(gold)", NULL,
         "cannot add a colour (`v`) and a number (`1`) (in `inner`, line 1)",
         "`white * 1` is a light, too"},
        {"let pass(v) = v\nroutine a { paint pass(gold * 2s) }", "cannot-multiply", "gold", "2s",
         "cannot multiply a colour (`gold`) and a duration (`2s`)", "`gold * (2s / 1s)`"},
        {"let soft(v, w) = v * w\nroutine a { paint soft(gold) }", "wrong-count", "soft(gold)",
         NULL, "`soft` takes 2 arguments, here are 1", "`soft(v, w)`"},
        {"let soft(v) = v\nroutine a { paint soft }", "function-without-arguments", "soft", NULL,
         "`soft` is a function", "`soft(v)`"},
        {"let warm = gold\nroutine a { paint warm(3) }", "no-function", "warm", NULL,
         "`warm` is no function: it takes no arguments", "`warm`"},
        {"paint gold where pos(3)", "no-function", "pos", NULL,
         "`pos` is no function: it takes no arguments", "`pos`"},
        {"paint sin", "function-without-arguments", "sin", NULL, "`sin` is a function",
         "`sin(...)`"},
        {"paint gold where max(t)", "wrong-count", "max(t)", NULL,
         "`max` takes 2 to 64 arguments, here are 1", NULL},
        {"paint gold where max(t, 3)", "arguments-of-two-types", "t", "3",
         "`max` needs one type, here are a duration (`t`) and a number (`3`)", "`3s`"},
        {"paint gold where floor(t)", "wrong-argument", "t", NULL,
         "`floor` needs a number, this is a duration", "`floor(t / 1s)`"},
        {"paint gold where random(t)", "wrong-argument", "t", NULL,
         "`random` needs numbers or truths, this is a duration", "`random(tick(2s))`"},
        {"paint gold where noise(t)", "wrong-argument", "t", NULL,
         "`noise` needs a number, this is a duration", "`noise(t / 1s)`"},
        {"paint gold where within(3)", "within-needs-name", "3", NULL,
         "`within` needs the name of a group or part", "`within(block_a)`"},
        {"paint p.ember", "unknown-prefix", "p", NULL, "no file is used as `p`",
         "`use \"file.gloam\" as p`"},
        {"event rang\nroutine a { paint gold where rang }", "event-as-value", "rang", NULL,
         "`rang` is an event: it happens, and has no value", "`when rang play ...`"},
        {"lamp shelf { pixels 60 }\nroutine a { paint shelf }", "lamp-as-value", "shelf", NULL,
         "`shelf` is a lamp, not a value", NULL},
        {"routine b { paint gold }\nroutine a { paint b -> gold over 2s }", "routine-calculated",
         "b", NULL, "a routine is painted, not calculated", "`paint b`"},
        {"paint off", "off-as-value", "off", NULL, "`off` plays in a timetable and is no colour",
         "`black`, or no layer at all"},
        {"let unused = 2s + 30%\nroutine a { paint gold }", "cannot-add", "2s", "30%",
         "cannot add a duration (`2s`) and a number (`30%`)", NULL},
        {"let unused(v) = v + nosuch\nroutine a { paint gold }", "unknown-name", "nosuch", NULL,
         "no value named `nosuch`",
         "`let nosuch = ...`, or `dial nosuch = ...` for what is set from outside"},
        {"routine a { let idle = 2s + 30% paint gold }", "cannot-add", "2s", "30%",
         "cannot add a duration (`2s`) and a number (`30%`)", NULL},
        {"routine a { let idle(v) = v + nosuch paint gold }", "unknown-name", "nosuch", NULL,
         "no value named `nosuch`",
         "`let nosuch = ...`, or `dial nosuch = ...` for what is set from outside"},
    };
    CHECK(mistakes, SEVERITY_ERROR);
}

static void fixed(void **state) {
    (void)state;
    static const Mistake mistakes[] = {
        {"dial d = t\nroutine a { paint gold where d / 1s }", "not-fixed", "t", NULL,
         "this must be fixed, but `t` changes with time", NULL},
        {"dial d = pixels\nroutine a { paint gold where d }", "not-fixed", "pixels", NULL,
         "this must be fixed, but `pixels` differs from lamp to lamp", NULL},
        {"dial d = pos\nroutine a { paint gold where d }", "not-fixed", "pos", NULL,
         "this must be fixed, but `pos` differs from pixel to pixel", NULL},
        {"dial c = 2 dial d = c\nroutine a { paint gold where d + c }", "not-fixed", "c", NULL,
         "this must be fixed, but `c` is a dial", NULL},
        {"dial d = (0 -> 1 over 3s)\nroutine a { paint gold where d }", "not-fixed", NULL, NULL,
         "this must be fixed, but `over` changes with time", NULL},
        {"dial d = tick(3s)\nroutine a { paint gold where d }", "not-fixed", "tick(3s)", NULL,
         "this must be fixed, but `tick` changes with time", NULL},
        {"dial d = nosuch\nroutine a { paint d }", "unknown-name", "nosuch", NULL,
         "no value named `nosuch`",
         "`let nosuch = ...`, or `dial nosuch = ...` for what is set from outside"},
        {"routine a lasts nosuch { paint gold where progress }", "unknown-name", "nosuch", NULL,
         "no value named `nosuch`",
         "`let nosuch = ...`, or `dial nosuch = ...` for what is set from outside"},
        {"dial d = 2\nroutine a { paint gold }\nwhen d + t / 1s > 3 play a for 2s",
         "condition-moves", "t", NULL, "`when` looks at dials, and `t` changes with time",
         "a dial compared: `passing > 50%`"},
        {"routine a { paint gold }\nwhen 2 > 3 play a for 2s", "condition-without-dial", "2 > 3",
         NULL, "`when` needs a dial or an event to watch", "a dial compared: `passing > 50%`"},
        {"dial d = 2\nroutine a { paint gold }\nwhen d play a for 2s", "needs-truth", "d", NULL,
         "`when` needs a truth, this is a number", "`d > 0`"},
    };
    CHECK(mistakes, SEVERITY_ERROR);
}

/* -------- legal, but hardly meant -------- */

static void guesses(void **state) {
    (void)state;
    static const Mistake warnings[] = {
        {"paint gold -> red every 4s", "ramp-jumps", "gold -> red every 4s", NULL,
         "at the end of each round this jumps from `red` to `gold`",
         "`and back` for there and back, `and round` for a last fade to the first value"},
        {"paint gold -> red along fract(pos + t / 4s)", "ramp-jumps", NULL, NULL,
         "at the end of each round this jumps from `red` to `gold`",
         "`and back` for there and back, `and round` for a last fade to the first value"},
        {"paint gold -> red -> blue for 1s each", "ramp-jumps", NULL, NULL,
         "at the end of each round this jumps from `blue` to `gold`",
         "`and back` for there and back, `and round` for a last fade to the first value"},
        {"paint black -> gold along progress", "along-progress", "black -> gold along progress",
         NULL, "the whole lamp changes together here",
         "for a bar that grows: `where pos < progress`; for this fade: `throughout`"},
        {"paint gold -> red every 4s steps(4, jump-end)", "steps-never-last", "steps(4, jump-end)",
         NULL, "these steps never show `red`", "`steps(4, jump-none)` shows both ends"},
        {"paint gold * random(7)", "chance-of-constants", "random(7)", NULL,
         "`random` of what never changes is always the same",
         "`random(tick(2s))` or `random(pixel)`"},
        {"paint gold * noise(0.5)", "chance-of-constants", "noise(0.5)", NULL,
         "`noise` of what never changes is always the same", "`noise(t / 2s)`"},
        {"paint draw(3, gold, red)", "chance-of-constants", "draw(3, gold, red)", NULL,
         "`draw` of what never changes is always the same", "`draw(tick(2s), ...)`"},
        {"paint gold * random(t / 1s)", "chance-every-frame", "random(t / 1s)", NULL,
         "a new number every frame: its look depends on the frame rate", "`random(tick(2s))`?"},
        {"paint rgb(1.0, 0.5, 0)", "rgb-nearly-black", "rgb(1.0, 0.5, 0)", NULL,
         "`rgb` counts to 255: this is nearly black", "`rgb(100%, 50%, 0%)`"},
        {"paint gold where pixel == -1", "beyond-reach", "-1", NULL,
         "`pixel` counts from 0 and is never `-1`", "the last one is `pixels - 1`"},
        {"paint gold where pos > 50", "beyond-reach", "50", NULL,
         "`pos` goes from 0 to 1 and is never `50`", "`50%`?"},
        {"paint gold where 25 < hour", "beyond-reach", "25", NULL,
         "`hour` goes from 0 to 24 and is never `25`", NULL},
        {"paint black -> gold over 40min", "ramp-outlasts", "over 40min", NULL,
         "this takes 40min and the routine lasts 20min: its end is never seen",
         "`throughout`, or a longer `lasts`"},
        {"paint black -> gold at 15s -> red over 10s", "stop-never-reached", "red", NULL,
         "the stop in front lies at 150%: `red` is never reached",
         "a longer time, or an earlier place"},
        {"paint gold where pos == 0.5", "equal-not-whole", "pos == 0.5", NULL,
         "`==` compares exactly, and values that are not whole are hardly ever equal",
         "`abs(pos - 0.5) < 0.05`"},
        {"paint gold where t == 2s", "equal-not-whole", "t == 2s", NULL,
         "`==` compares exactly, and values that are not whole are hardly ever equal",
         "`abs(t - 2s) < 100ms`"},
        {"paint (black -> gold and back every 4s) delayed pixel * 200ms", "delay-by-pixel",
         "pixel * 200ms", NULL, "how this looks depends on the number of pixels of the lamp",
         "`pos * 4s`: 4 s from one end of any lamp to the other"},
        {"dial pace = 4s\nroutine a { paint gold where fract(t / pace) }", "phase-by-dial",
         "t / pace", NULL, "when the dial is turned, the phase jumps, the more the longer `t` is",
         "the dial as the length of a driver or of `tick`: `every pace`"},
        {"paint green paint green where 50%", "green-is-half", "green", NULL,
         "`green` is the half-bright green of CSS: 22 % of the light", "`lime` for full green"},
    };
    static const Mistake notes[] = {
        {"lamp shelf { pixels 60 part left 0..9 }\nroutine a { paint gold where within(lift) }",
         "within-nothing", "lift", NULL,
         "no lamp here has a part or group named `lift`: this is false",
         "`group lift 0..3` in the lamp"},
        {"paint gold where pixel == 3 or pixel == 5", "pixel-from-zero", "pixel == 3", NULL,
         "`pixel` counts from 0: the first pixel is 0, the last `pixels - 1`", NULL},
        {"paint gold * (0 -> 1 over 30min)", "level-ramp", "gold * (0 -> 1 over 30min)", NULL,
         "this ramp is even in physical light, and looks fast at its dark end (the guide shows "
         "both)",
         "`black -> gold` for one that is even to the eye"},
    };
    CHECK(warnings, SEVERITY_WARNING);
    CHECK(notes, SEVERITY_NOTE);
}

/* Close to a guess, and fine: nothing at all is said. */
static void meant(void **state) {
    (void)state;
    static const char *const texts[] = {
        "paint gold -> red and back every 4s",
        "paint gold -> red and round every 4s",
        "paint gold -> black at 20% -> black every 4s",
        "paint gold -> red -> gold every 4s",
        "paint gold -> red over 4s",
        "paint gold | red every 4s",
        "paint gold -> red along pos",
        "paint gold -> red along fract(pos * 3 + t / 4s) * 50%",
        "paint oklch(70%, 0.1, (0deg -> 360deg every 10s))",
        "paint black -> gold throughout",
        "paint black -> gold at 50% along progress",
        "paint black -> red -> gold along progress",
        "paint black -> gold along ease(progress, ease-in)",
        "paint gold -> red over 4s steps(4, jump-end)",
        "paint gold -> red every 4s steps(4, jump-none)",
        "paint gold -> red and round every 4s steps(4, jump-end)",
        "paint gold * random(pixel, 2)",
        "paint gold * random(tick(2s))",
        "paint gold * random(tick(2s) / 7)",
        "paint gold * random(floor(t / 2s))",
        "paint gold * random(hour > 4)",
        "paint gold * random(pos)",
        "paint gold * noise(t / 2s)",
        "paint draw(tick(1s), gold, red)",
        "paint gold where tick(1s) == floor(pos * 4)",
        "paint gold where pixel == floor(random(tick(2s)) * pixels)",
        "paint gold where mod(pixel, 2) == mod(tick(1s), 2)",
        "paint (black -> gold and back every 4s) delayed pos * 4s",
        "dial pace = 4s\nroutine a { paint gold where tick(pace) / 3 }",
        "dial pace = 4s\nroutine a { paint black -> gold and back every pace }",
        "paint gold where fract(t / (random(pixel) * 1s + 1s))",
        "paint lime",
        "paint draw(tick(2s), coral, gold) * (0 -> 1 and back every 2s)",
        "paint gold * (0 -> 1 -> 0 every 3s)",
        "paint rgb(50%, 0, 1)",
        "paint rgb(1, 0, 1)",
        "paint rgb(0.5, 0, 2)",
        "paint gold where pos >= 0 and pos < 1",
        "paint gold where hour < 24",
        "paint gold where pixel > 299",
        "paint black -> gold over 20min",
        "paint black -> gold at 10s -> red over 10s",
        "paint black -> gold at 120% over 10s",
        "paint gold where within(left)",
        "lamp shelf { pixels 60 part left 0..9 }\nroutine a { paint gold where within(left) }",
        "let tan2 = tan(20deg)\nroutine a { paint tan where tan2 }",
        "dial level2 = 3 from 0 to 10\nroutine a { paint rgb(level2 * 25, 0, 0) }",
        "routine a lasts 3s { paint gold }\nroutine b { paint a delayed pos * 2s where 50% }",
    };
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        char file[TEXT_BYTES];
        Compilation *compilation = compile_text(whole_file(texts[i], file));
        if (diagnostics_total(lang_diagnostics(compilation)) > 0) {
            said_print(compilation);
            fail_msg("expected nothing to be said of: %s", texts[i]);
        }
        assert_non_null(lang_program(compilation));
        lang_free(compilation);
    }
}

/* A routine that is painted in another is worked out twice; what is wrong in it is said once. */
static void said_once(void **state) {
    (void)state;
    Compilation *compilation = compile_text("let wrong = 2s + 30%\n"
                                            "routine a { paint gold where wrong }\n"
                                            "routine b { paint a paint a delayed 2s }\n"
                                            "routine c { paint b where wrong paint a where 3s }\n");
    assert_int_equal(said_count(compilation, "cannot-add"), 1);
    assert_int_equal(diagnostics_count(lang_diagnostics(compilation), SEVERITY_ERROR), 2);
    assert_null(lang_program(compilation));
    lang_free(compilation);
    compilation = compile_text("routine a { paint gold where pos > 50 }\n"
                               "routine b { paint a paint a delayed 2s }\n");
    assert_int_equal(said_count(compilation, "beyond-reach"), 1);
    lang_free(compilation);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(beginners), cmocka_unit_test(units), cmocka_unit_test(ramps),
        cmocka_unit_test(colours),   cmocka_unit_test(names), cmocka_unit_test(fixed),
        cmocka_unit_test(guesses),   cmocka_unit_test(meant), cmocka_unit_test(said_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
