/* Whole programs through the expander: the programs that must be short and clear, what a program
 * is made into, limits, and running out of memory at every allocation. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <cmocka.h>

#include "rendered.h"

typedef struct Wish {
    const char *wish, *text;
} Wish;

static const Wish programs[] = {
    {"fill in 10 s, soft edge", "routine p1 {\n    paint gold where t / 10s * pixels - pixel\n}\n"},
    {"a tail running round",
     "routine p2 {\n    paint (gold -> black at 20% -> black every 4s) delayed pos * 4s\n}\n"},
    {"slow swell", "routine p3 {\n    paint black -> 2700K and back every 8s ease-in-out\n}\n"},
    {"three colours, one second each, hard",
     "routine p4 {\n    paint red | lime | blue for 1s each\n}\n"},
    {"the same, soft", "routine p5 {\n    paint red -> lime -> blue and round for 1s each\n}\n"},
    {"one pixel at a time, colour by lot",
     "routine p6 {\n    let beat = tick(2s)\n    paint draw(beat, coral, gold, teal) * (0 -> 1 "
     "and back every 2s) where pixel == floor(random(beat) * pixels)\n}\n"},
    {"all hues round the ring",
     "routine p7 {\n    paint oklch(75%, 0.12, angle + t / 30s * 1turn)\n}\n"},
    {"glowing coals", "routine p8 {\n    paint black -> #a01000 -> #ff5000 -> gold along "
                      "noise(pos * 5, t / 300ms)\n}\n"},
    {"slow waves on a grid", "routine p9 {\n    paint (navy -> teal and back every 20s "
                             "ease-in-out) delayed (x + y) * 5s\n}\n"},
    {"clock hands",
     "routine p10 {\n    paint gold where 1 - apart(angle / 1turn, hour / 12) * pixels\n}\n"},
    {"moon on a grid or ball",
     "routine p11 {\n    let edge = cos(moonage * 1turn) * sqrt(1 - y * y)\n    paint white "
     "where radius <= 1 and (if moonage < 0.5 then x > edge else x < -edge)\n}\n"},
    {"countdown of 20 minutes",
     "routine p12 lasts 20min then off { paint gold where (1 - progress) * pixels - pixel }\n"},
    {"thermometer", "dial outside = 10\nroutine p13 {\n    paint blue -> gold at 60% -> red "
                    "along pos where (outside + 10) / 50 * pixels - pixel\n}\n"},
    {"beacon", "routine p14 {\n    paint red | black every 2s\n}\n"},
    {"weather by a dial", "dial sky = 1\nroutine p15 {\n    paint in_turn(sky, gold, silver, "
                          "steelblue, indigo)\n}\n"},
    {"15 stairs, one after another", "routine p16 {\n    paint (black -> 2700K over 600ms) "
                                     "delayed floor(pos * 15) * 400ms\n}\n"},
    {"dawn, lower half first", "routine p17 {\n    paint (black -> #3a0f00 -> 2000K -> 2700K "
                               "over 30min) delayed (y + 1) * 5min\n}\n"},
    {"candle", "routine p18 {\n    paint 1900K * (45% + 25% * noise(t / 180ms) + 10% * noise(t "
               "/ 60ms, 7))\n}\n"},
    {"wave through two lamps", "dial stand = 0\nroutine p19 {\n    paint (navy -> teal and "
                               "back every 10s) delayed (pos + stand) * 5s\n}\n"},
    {"stars, new ones each round",
     "routine p20 {\n    paint (white * (0 -> 1 -> 0 every 3s) * random(pixel, tick(3s))) "
     "delayed random(pixel, 2) * 3s\n}\n"},
    {"own rhythm for each pixel", "routine p21 {\n    paint gold * (0 -> 1 at 10% -> 0 at 40% "
                                  "-> 0 every 4s + random(pixel) * 5s)\n}\n"},
    {"a dot to and fro", "routine p22 {\n    let spot = 0 -> 1 and back every 4s ease-in-out\n "
                         "   paint gold where 1.5 - abs(pos - spot) * pixels\n}\n"},
    {"three colours repeating along a strip",
     "routine p23 {\n    paint in_turn(pixel, red, white, lime)\n}\n"},
    {"colour of the day",
     "routine p24 {\n    paint 1900K -> 5000K at 50% -> 1900K along hour / 24\n}\n"},
    {"striking the hour", "routine p25 {\n    paint gold | black every 2s where t < 2s * "
                          "(mod(floor(hour) + 11, 12) + 1)\n}\n"},
    {"working-day bar", "routine p26 {\n    paint teal where pos < (hour - 9) / 8\n}\n"},
    {"welcome, then steady", "routine p27 lasts 4s then glow { paint (black -> gold over 2s "
                             "ease-out) delayed pos * 2s }\nroutine glow { paint gold }\n"},
    {"rain, a column each", "routine p28 {\n    paint (teal -> black at 30% -> black every "
                            "1500ms) delayed (1 - y) * 700ms + random(x) * 3s\n}\n"},
    {"bedtime", "routine p29 lasts 30min { paint 2700K -> 1900K at 60% -> black throughout }\n"},
    {"moon on a ring or strip",
     "routine p30 {\n    paint white where moonlit * pixels - pixel\n}\n"},
    {"warmth by a dial", "dial warmth = 40% from 0% to 100%\nroutine p31 {\n    paint 1900K -> "
                         "4000K along warmth\n}\n"},
    {"stay in bed, get up, off",
     "routine hush { paint #200800 }\nroutine up { paint lime }\n"
     "at 19:00 play hush\nat 06:30 play up\nat 09:00 play off\nuntil clock is set play hush\n"},
};

static void wishes(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof programs / sizeof programs[0]; i++) {
        Compilation *compilation = compile_text(programs[i].text);
        Diagnostics *sink = lang_diagnostics(compilation);
        bool stays = strstr(programs[i].wish, "stay in bed") != NULL; /* bright round the clock */
        if (!lang_program(compilation) || diagnostics_count(sink, SEVERITY_ERROR) ||
            (!stays && diagnostics_count(sink, SEVERITY_WARNING))) {
            said_print(compilation);
            fail_msg("expected no mistakes: %s", programs[i].wish);
        }
        lang_free(compilation);
    }
}

/* -------- what a program is made into -------- */

static const Code *code_of(const Compilation *compilation, uint16_t routine) {
    const Program *program = lang_program(compilation);
    assert_non_null(program);
    return &program->routines[routine].code;
}

static uint32_t instructions(const Code *code, Section section) {
    return code->lengths[section];
}

static void slowest_rate(void **state) {
    (void)state;
    Compilation *compilation = compile_text("dial d = 1 from 0 to 2\n"
                                            "routine fixed { paint gold * (2 + 3) }\n"
                                            "routine set { paint gold * d }\n"
                                            "routine each { paint red -> blue along pos }\n"
                                            "routine moving { paint gold * fract(t / 2s) }\n");
    assert_int_equal(code_of(compilation, 0)->stillness, STILL_ALWAYS);
    for (int section = 0; section < SECTION_COUNT; section++)
        assert_int_equal(instructions(code_of(compilation, 0), section), 0);
    assert_int_equal(code_of(compilation, 1)->stillness, STILL_ALWAYS);
    assert_int_equal(instructions(code_of(compilation, 1), SECTION_FRAME), 0);
    assert_int_equal(code_of(compilation, 2)->stillness, STILL_ALWAYS);
    assert_int_equal(instructions(code_of(compilation, 2), SECTION_FRAME), 0);
    assert_int_equal(code_of(compilation, 3)->stillness, STILL_NEVER);
    assert_int_equal(instructions(code_of(compilation, 3), SECTION_EACH), 0);
    lang_free(compilation);
}

/* A let used twice under one clock is worked out once. */
static void shared(void **state) {
    (void)state;
    Compilation *compilation =
        compile_text("routine once { let n = noise(pos * 5, t / 1s) paint gold * n }\n"
                     "routine twice { let n = noise(pos * 5, t / 1s) paint gold * (n * n + n) }\n");
    uint32_t once = instructions(code_of(compilation, 0), SECTION_PIXEL);
    uint32_t twice = instructions(code_of(compilation, 1), SECTION_PIXEL);
    assert_true(twice <= once + 2);
    lang_free(compilation);
}

static void groups_and_dials(void **state) {
    (void)state;
    Compilation *compilation =
        compile_text("dial seen = 1\ndial watched = 50%\n"
                     "routine a { paint gold where within(left) and not within(right) }\n"
                     "routine b { paint red * seen where within(right) }\n"
                     "when watched > 60% play a for 2s\n");
    const Program *program = lang_program(compilation);
    assert_non_null(program);
    assert_int_equal(program->group_count, 2);
    assert_string_equal(program->groups[0], "left");
    assert_string_equal(program->groups[1], "right");
    assert_true(program->dials[0].used);
    assert_true(program->dials[1].used);
    lang_free(compilation);
}

static void costs(void **state) {
    (void)state;
    Compilation *compilation =
        compile_text("routine a {\n    paint navy\n    paint gold where noise(pos, t / 1s)\n"
                     "    paint b where 50%\n}\nroutine b { paint red -> lime along pos }\n");
    uint32_t count;
    const RoutineCost *found = lang_costs(compilation, &count);
    assert_int_equal(count, 2);
    assert_string_equal(found[0].name, "a");
    assert_int_equal(found[0].layer_count, 3);
    assert_int_equal(found[0].layers[0].rate.when, WHEN_FIXED);
    assert_int_equal(found[0].layers[1].rate.when, WHEN_MOVING);
    assert_int_equal(found[0].layers[1].rate.where, WHERE_EACH);
    assert_int_equal(found[0].layers[2].rate.when, WHEN_SET);
    assert_int_equal(found[0].layers[2].rate.where, WHERE_EACH);
    assert_true(found[0].layers[1].cost.pixel > 0);
    assert_true(found[0].total.pixel >= found[0].layers[1].cost.pixel);
    lang_free(compilation);
}

static void other_files(void **state) {
    (void)state;
    MemoryFile files[] = {
        {.path = "home.gloam",
         .text =
             "use \"dusk.gloam\"\nuse \"colours.gloam\" as p\n"
             "let ember = p.ember\nroutine a { paint p.glow(ember, 2) paint dusk where 50% }\n"},
        {.path = "dusk.gloam",
         .text = "let own = 3s\nroutine dusk lasts 9s { paint black -> gold over own }\n"},
        {.path = "colours.gloam",
         .text = "let ember = #3a0f00\nlet glow(c, n) = c * (n + more)\nlet more = 1\n"},
        {0}};
    Compilation *compilation = compile_files(files);
    if (!lang_program(compilation))
        said_print(compilation);
    assert_non_null(lang_program(compilation));
    assert_int_equal(lang_program(compilation)->routine_count, 2);
    lang_free(compilation);
    files[0].text = "use \"colours.gloam\" as p\nroutine a { paint p.glow(2s, p.amber) }\n";
    compilation = compile_files(files);
    const Diagnostic *unknown = said(compilation, "unknown-name");
    assert_non_null(unknown);
    assert_string_equal(unknown->message, "no value named `amber` in `p`");
    lang_free(compilation);
    files[0].text = "use \"colours.gloam\" as p\nroutine a { paint p.glow(gold, 2s) }\n";
    compilation = compile_files(files);
    const Diagnostic *inside = said(compilation, "cannot-add");
    assert_non_null(inside);
    assert_string_equal(inside->message, "cannot add a duration (`n`) and a number (`more`) "
                                         "(in `glow`, colours.gloam line 2)");
    lang_free(compilation);
}

/* -------- limits -------- */

/* `count` lets, each of the one before by `form` (with its number, and that of the one before
 * twice), and a routine that paints the last. */
static char *chain(const char *first, const char *form, int count) {
    char *text = malloc(200 + (size_t)count * 120);
    assert_non_null(text);
    size_t at = (size_t)sprintf(text, "routine test { paint a%d }\nlet a0 = %s\n", count, first);
    for (int i = 1; i <= count; i++)
        at += (size_t)snprintf(text + at, 120, form, i, i - 1, 1 << (i - 1) % 26, i - 1,
                               2 << (i - 1) % 26);
    return text;
}

static const Diagnostic *only_error(Compilation *compilation, const char *code) {
    const Diagnostic *diagnostic = said(compilation, code);
    if (!diagnostic || diagnostics_count(lang_diagnostics(compilation), SEVERITY_ERROR) != 1)
        said_print(compilation);
    assert_non_null(diagnostic);
    assert_int_equal(diagnostics_count(lang_diagnostics(compilation), SEVERITY_ERROR), 1);
    assert_null(lang_program(compilation));
    return diagnostic;
}

/* Rule M2: each let doubles the clocks of the one before; the message names a let. */
static void doubling(void **state) {
    (void)state;
    static const char *const form = "let a%d = (a%d delayed %dms) + (a%d delayed %dms)\n";
    char *text = chain("gold * fract(t / 3s)", form, 6);
    Compilation *compilation = compile_text(text);
    assert_non_null(lang_program(compilation));
    lang_free(compilation);
    free(text);
    static const int counts[] = {14, 18, 24};
    for (size_t i = 0; i < sizeof counts / sizeof counts[0]; i++) {
        text = chain("gold * fract(t / 3s)", form, counts[i]);
        compilation = compile_text(text);
        const Diagnostic *diagnostic = only_error(compilation, "too-large");
        char name[40];
        said_text(compilation, diagnostic->span, name, sizeof name);
        assert_true(name[0] == 'a' && strlen(name) <= 3);
        assert_non_null(strstr(diagnostic->message, name));
        lang_free(compilation);
        free(text);
    }
}

/* A chain of n lets that add stands 2 n + 2 deep. */
static void depth(void **state) {
    (void)state;
    static const char *const form = "let a%d = a%d + gold\n";
    char *text = chain("red", form, LIMIT_DEPTH / 2 - 1);
    Compilation *compilation = compile_text(text);
    assert_null(said(compilation, "too-deep"));
    lang_free(compilation);
    free(text);
    text = chain("red", form, LIMIT_DEPTH / 2);
    compilation = compile_text(text);
    only_error(compilation, "too-deep");
    lang_free(compilation);
    free(text);
    text = chain("red", form, 8 * LIMIT_DEPTH);
    compilation = compile_text(text);
    only_error(compilation, "too-deep");
    lang_free(compilation);
    free(text);
}

static void names_of_groups(void **state) {
    (void)state;
    for (int over = 0; over < 2; over++) {
        char *text = malloc(40 * (LIMIT_GROUPS + 4));
        assert_non_null(text);
        size_t at = (size_t)sprintf(text, "routine a { ");
        for (int i = 0; i < LIMIT_GROUPS + over; i++)
            at += (size_t)sprintf(text + at, "paint gold where within(g%d)\n", i);
        sprintf(text + at, "}\n");
        Compilation *compilation = compile_text(text);
        if (over)
            only_error(compilation, "too-large");
        else
            assert_null(said(compilation, "too-large"));
        lang_free(compilation);
        free(text);
    }
}

/* Routines that paint one another twice each: layers are counted, too. */
static void many_layers(void **state) {
    (void)state;
    char text[4000];
    size_t at = (size_t)sprintf(text, "routine r0 { paint gold where pos }\n");
    for (int i = 1; i <= 24; i++)
        at += (size_t)sprintf(text + at, "routine r%d { paint r%d paint r%d where 50%% }\n", i,
                              i - 1, i - 1);
    Compilation *compilation = compile_text(text);
    const Diagnostic *diagnostic = said(compilation, "too-large");
    assert_non_null(diagnostic);
    assert_null(lang_program(compilation));
    lang_free(compilation);
}

/* -------- memory -------- */

static void without_memory(void **state) {
    (void)state;
    static const char *const text =
        "dial warmth = 40% from 0% to 100% eased 2s\nlet soft(c, n) = c * n delayed 1s\n"
        "let lone = 2s + wrong\n"
        "routine a lasts 9s {\n"
        "    let here = soft(gold, fract(t / 2s)) + soft(red, warmth)\n"
        "    paint here -> blue at 2s -> lime and back over 5s ease-in-out in oklch longer hue\n"
        "    paint draw(pixel, red, lime, blue) where noise(pos * 3, t / 1s)\n"
        "    paint b delayed pos * 3s blended screen where within(left)\n}\n"
        "routine b { paint 2700K * (0 -> 1 over 3s linear(0, 0.4 20%, 1)) }\n";
    unsigned long live = memory_live(), before = memory_count();
    Compilation *compilation = compile_text(text);
    assert_non_null(said(compilation, "unknown-name"));
    lang_free(compilation);
    unsigned long needed = memory_count() - before;
    assert_true(needed > 30);
    for (unsigned long n = 1; n <= needed; n++) {
        memory_fail_at(n);
        compilation = compile_text(text);
        memory_fail_at(0);
        if (compilation) {
            assert_null(lang_program(compilation));
            assert_true(diagnostics_count(lang_diagnostics(compilation), SEVERITY_ERROR) > 0);
            lang_free(compilation);
        }
        assert_int_equal(memory_live(), live);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(wishes),          cmocka_unit_test(slowest_rate),
        cmocka_unit_test(shared),          cmocka_unit_test(groups_and_dials),
        cmocka_unit_test(costs),           cmocka_unit_test(other_files),
        cmocka_unit_test(doubling),        cmocka_unit_test(depth),
        cmocka_unit_test(names_of_groups), cmocka_unit_test(many_layers),
        cmocka_unit_test(without_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
