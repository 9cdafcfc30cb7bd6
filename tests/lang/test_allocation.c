/* Memory that runs out at every allocation in turn: no crash, no leak, no program, and the one
 * diagnostic of it. */
#include "expect.h"

#include "runtime/core/bytecode.h"

/* True where everything went well. */
static bool compile_with(MemoryFile *files, unsigned long fail_at, bool *had_room) {
    memory_fail_at(fail_at);
    Compilation *compilation = compile_files(files);
    memory_fail_at(0);
    *had_room = compilation != NULL;
    if (!compilation)
        return false;
    bool fine = lang_program(compilation) != NULL;
    Diagnostics *sink = lang_diagnostics(compilation);
    if (!fine && diagnostics_count(sink, SEVERITY_ERROR) == 0) {
        said_print(compilation);
        fail_msg("allocation %lu: no program, and nothing said", fail_at);
    }
    if (!fine)
        assert_int_equal(said_count(compilation, "out-of-memory"), 1);
    lang_free(compilation);
    return fine;
}

static void exhaust(MemoryFile *files) {
    unsigned long n = 0, refused = 0;
    bool fine = false, had_room;
    assert_int_equal(memory_live(), 0);
    while (!fine) {
        fine = compile_with(files, ++n, &had_room);
        refused += !had_room;
        if (memory_live() != 0)
            fail_msg("%s: allocation %lu leaves %lu blocks", files[0].text, n, memory_live());
        assert_true(n < 100000);
    }
    assert_true(n > 10);
    assert_true(refused <= 3); /* only what the compilation itself is made of */
}

static void exhaust_text(const char *text) {
    MemoryFile files[] = {{.path = "home.gloam", .text = text}, {0}};
    exhaust(files);
}

static void test_routines(void **state) {
    (void)state;
    exhaust_text("routine hello { paint gold }");
    exhaust_text("let ember = #3a0f00 let soft(c, level) = c * level\n"
                 "dial warmth = 40% from 0% to 100% \"How warm\" dial tone = gold eased 2s\n"
                 "routine a lasts 30min then b {\n"
                 "  let beat = tick(6s)\n"
                 "  paint black -> ember at 40% -> 2000K -> 2700K throughout\n"
                 "  paint soft(tone, warmth) * (0 -> 1 and back every 6s ease-in-out) "
                 "where pixel == floor(random(beat) * pixels)\n}\n"
                 "routine b lasts 1s { paint a where within(left) paint red blended screen }\n");
    exhaust_text(
        "routine c { paint (gold -> black at 20% -> black every 4s) delayed pos * 4s\n"
        "paint oklch(75%, 0.12, angle + t / 30s * 1turn) where x > y\n"
        "paint red | lime | blue for 1s each\n"
        "paint red -> lime -> blue and round along fract(pos - t / 20s) in oklch longer hue\n"
        "paint white where (0 -> 1 every 2s steps(4, jump-end)) * "
        "(0 -> 1 every 3s linear(0, 0.5 20% 80%, 1)) }");
}

static void test_house(void **state) {
    (void)state;
    MemoryFile files[] = {
        {.path = "home.gloam",
         .text = "use \"dusk.gloam\" use \"palette.gloam\" as p\n"
                 "place 51.45, -2.59 zone \"Europe/London\"\n"
                 "lamp tree { shape points \"tree.csv\" part low 0..1 group ends 0, 2 }\n"
                 "event rung dial passing = 0\n"
                 "routine r lasts 1min { paint p.ember * warmth }\n"
                 "by 03:10 on tue..sat play r with warmth = 80% on lamp tree part low\n"
                 "at sunset - 20min not after 21:00 play dusk fading 2min\n"
                 "when rung play r when passing > 50% play dusk for 2min\n"
                 "between 21:00 and 02:30 keep level under 10%\n"
                 "until clock is set play off"},
        {.path = "dusk.gloam",
         .text = "use \"palette.gloam\" dial warmth = 40% routine dusk { paint ember * warmth }"},
        {.path = "palette.gloam", .text = "let ember = #3a0f00"},
        {.path = "tree.csv", .text = "x,y,z\n0,0,0\n1,0,0\n1,1,1\n"},
        {0}};
    exhaust(files);
}

/* With mistakes in the text there is no success to wait for: as many allocations as it takes. */
static void test_mistakes(void **state) {
    (void)state;
    static const char *const texts[] = {
        "let a = b let b = a routine r { let c = 1 let c = 2 paint q where a }",
        "dial d = 5 from 0s to 1s routine r lasts 0s then r { paint 2s + 30% }",
        "at 19:30 play daybrake on lamp shelf with x = 3\nby 03:10 play off",
        "lamp l { pixels 0 chip foo port \"x\" part a 3..1 }",
        "routine r { paint gold over 2s paint (red",
        "use \"gone.gloam\" use \"home.gloam\""};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        MemoryFile files[] = {{.path = "home.gloam", .text = texts[i]}, {0}};
        unsigned long before = memory_count();
        Compilation *compilation = compile_files(files);
        assert_null(lang_program(compilation));
        lang_free(compilation);
        unsigned long count = memory_count() - before;
        for (unsigned long n = 1; n <= count; n++) {
            bool had_room;
            assert_false(compile_with(files, n, &had_room));
            if (memory_live() != 0)
                fail_msg("%s: allocation %lu leaves %lu blocks", texts[i], n, memory_live());
        }
    }
}

static void test_printing_needs_no_memory(void **state) {
    (void)state;
    Compilation *compilation = compile_text("routine r { paint 2s + 30% }");
    memory_fail_at(1);
    char text[2000];
    FILE *out = fmemopen(text, sizeof text, "w");
    diagnostics_print(lang_diagnostics(compilation), out, false);
    diagnostics_print_json(lang_diagnostics(compilation), out);
    fclose(out);
    memory_fail_at(0);
    assert_non_null(strstr(text, "home.gloam:1:"));
    lang_free(compilation);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_routines),
        cmocka_unit_test(test_house),
        cmocka_unit_test(test_mistakes),
        cmocka_unit_test(test_printing_needs_no_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
