/* Files, names, loops: rules M3, M4, M5, M6, M8 and what `use` may reach. */
#include "expect.h"

#include "lang/arena.h"
#include "lang/names.h"

#define USING(other)                                                                               \
    { .path = "dusk.gloam", .text = (other) }

static void expect_using(const char *marked, const char *other, const char *codes) {
    MemoryFile files[] = {{.path = "home.gloam", .text = marked}, USING(other), {0}};
    expect_files(files, codes);
}

static void test_use_brings_definitions(void **state) {
    (void)state;
    static const char other[] = "let ember = #3a0f00 let soft(c) = c * 50% dial warmth = 40%\n"
                                "event rung routine dusk { paint ember * warmth }\n";
    expect_using("use \"dusk.gloam\" routine home { paint soft(ember) * warmth }\n"
                 "when rung play dusk for 1s until clock is set play dusk",
                 other, "");
    expect_using("use \"dusk.gloam\" as p routine home { paint p.soft(p.ember) * p.warmth }\n"
                 "when p.rung play p.dusk for 1s",
                 other, "");
    expect_using("use \"dusk.gloam\" as p routine home { paint ⟦ember⟧ }", other,
                 "error unknown-name");
    expect_using("use \"dusk.gloam\" as p routine home { paint p.⟦embre⟧ }", other,
                 "error unknown-name");
    expect_using("use \"dusk.gloam\" as p routine home { paint ⟦q⟧.ember }", other,
                 "error unknown-prefix");
}

static void test_use_brings_not_what_was_used(void **state) {
    (void)state;
    MemoryFile files[] = {
        {.path = "home.gloam", .text = "use \"dusk.gloam\" routine home { paint ⟦deep⟧ }"},
        {.path = "dusk.gloam", .text = "use \"sub/deep.gloam\" let ember = deep"},
        {.path = "sub/deep.gloam", .text = "let deep = gold"},
        {0}};
    expect_files(files, "error unknown-name");
    files[0].text = "use \"dusk.gloam\" routine home { paint ember }";
    expect_files(files, "");
}

static void test_paths_go_down(void **state) {
    (void)state;
    expect("⟦use \"/etc/hostname\"⟧", "error path-absolute");
    expect("⟦use \"../dusk.gloam\"⟧", "error path-upwards");
    expect("⟦use \"a/../../dusk.gloam\"⟧", "error path-upwards");
    expect("⟦use \"a/..\"⟧", "error path-upwards");
    expect("⟦use \"\"⟧", "error path-empty");
    MemoryFile files[] = {{.path = "home.gloam", .text = "use \"./a/..b/c..d\""},
                          {.path = "a/..b/c..d", .text = "let a = 1"},
                          {0}};
    expect_files(files, "");
}

static void test_files_that_cannot_be_read(void **state) {
    (void)state;
    static const struct {
        ReadStatus status;
        const char *code;
    } rows[] = {{READ_MISSING, "file-missing"},     {READ_REFUSED, "file-refused"},
                {READ_DIRECTORY, "file-is-folder"}, {READ_TOO_LARGE, "file-too-large"},
                {READ_OUTSIDE, "file-outside"},     {READ_FAILED, "file-failed"}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char codes[64];
        snprintf(codes, sizeof codes, "error %s", rows[i].code);
        MemoryFile files[] = {{.path = "home.gloam", .text = "let a = 1 ⟦use \"dusk.gloam\"⟧"},
                              {.path = "dusk.gloam", .status = rows[i].status},
                              {0}};
        expect_files(files, codes);
        /* the main file: told of the file as a whole, by its name */
        MemoryFile alone[] = {{.path = "gone.gloam", .status = rows[i].status}, {0}};
        Compilation *compilation = compile_files(alone);
        assert_null(lang_program(compilation));
        assert_null(lang_main_tree(compilation));
        const Diagnostic *diagnostic = said(compilation, rows[i].code);
        assert_non_null(diagnostic);
        assert_string_equal(
            diagnostics_file_name(lang_diagnostics(compilation), diagnostic->span.file),
            "gone.gloam");
        assert_int_equal(diagnostics_total(lang_diagnostics(compilation)), 1);
        lang_free(compilation);
    }
}

static void test_a_file_that_is_no_text(void **state) {
    (void)state;
    MemoryFile files[] = {{.path = "home.gloam", .text = "⟦use \"dusk.gloam\"⟧"},
                          {.path = "dusk.gloam", .text = "let\0a", .length = 5},
                          {0}};
    expect_files(files, "error file-no-text");
}

static void test_source_size(void **state) {
    (void)state;
    char *text = malloc(LIMIT_SOURCE_BYTES + 2);
    memset(text, '\n', LIMIT_SOURCE_BYTES + 1);
    MemoryFile files[] = {{.path = "home.gloam", .text = text, .length = LIMIT_SOURCE_BYTES}, {0}};
    Compilation *compilation = compile_files(files);
    assert_non_null(lang_program(compilation));
    lang_free(compilation);
    files[0].length++;
    compilation = compile_files(files);
    assert_non_null(said(compilation, "file-too-large"));
    lang_free(compilation);
    free(text);
}

static void test_circles_of_use(void **state) {
    (void)state;
    MemoryFile files[] = {{.path = "home.gloam", .text = "⟦use \"home.gloam\"⟧"}, {0}};
    expect_files(files, "error use-circle");
    MemoryFile three[] = {{.path = "home.gloam", .text = "use \"a.gloam\""},
                          {.path = "a.gloam", .text = "use \"b.gloam\" as q"},
                          {.path = "b.gloam", .text = "use \"home.gloam\""},
                          {0}};
    Compilation *compilation = compile_files(three);
    const Diagnostic *circle = said(compilation, "use-circle");
    assert_non_null(circle);
    assert_string_equal(circle->message, "`home.gloam` uses itself: `home.gloam` -> `a.gloam` -> "
                                         "`b.gloam` -> `home.gloam`");
    assert_string_equal(diagnostics_file_name(lang_diagnostics(compilation), circle->span.file),
                        "b.gloam");
    assert_int_equal(diagnostics_total(lang_diagnostics(compilation)), 1);
    lang_free(compilation);
}

static void test_a_file_reached_twice_is_one(void **state) {
    (void)state;
    MemoryFile files[] = {{.path = "home.gloam",
                           .text = "use \"a.gloam\" use \"b.gloam\" use \"sub/shared.gloam\" "
                                   "use \"sub/shared.gloam\" as p "
                                   "routine home { paint one * two * ember * p.ember * warmth }"},
                          {.path = "a.gloam", .text = "use \"sub/shared.gloam\" let one = ember"},
                          {.path = "b.gloam", .text = "use \"sub/shared.gloam\" let two = ember"},
                          {.path = "sub/shared.gloam", .text = "let ember = gold dial warmth = 1"},
                          {0}};
    expect_files(files, "");
    Compilation *compilation = compile_files(files);
    assert_int_equal(lang_program(compilation)->dial_count, 1);
    assert_string_equal(lang_program(compilation)->dials[0].name, "warmth");
    lang_free(compilation);
}

static void test_clashes(void **state) {
    (void)state;
    expect_using("let ember = gold\n⟦use \"dusk.gloam\"⟧ routine a { paint ember }",
                 "let ember = red", "error use-clash");
    expect_using("let ember = gold\nuse \"dusk.gloam\" as dusk routine a { paint ember }",
                 "let ember = red", "");
    expect_using("let p = gold use \"dusk.gloam\" as ⟦p⟧ routine a { paint p }", "let ember = red",
                 "error named-twice");
    MemoryFile files[] = {{.path = "home.gloam", .text = "use \"a.gloam\" ⟦use \"b.gloam\"⟧"},
                          {.path = "a.gloam", .text = "let ember = gold"},
                          {.path = "b.gloam", .text = "routine ember { paint red }"},
                          {0}};
    expect_files(files, "error use-clash");
    files[0].text = "use \"a.gloam\" as p use \"b.gloam\" as ⟦p⟧";
    expect_files(files, "error named-twice");
    /* lamps are not brought, so they do not clash */
    expect_using("lamp shelf { pixels 3 } ⟦use \"dusk.gloam\"⟧", "lamp shelf { pixels 60 }",
                 "note use-passes-over");
}

static void test_clash_says_where_and_what_to_write(void **state) {
    (void)state;
    MemoryFile files[] = {
        {.path = "home.gloam", .text = "use \"sub/dusk.gloam\"\n\nlet ember = gold"},
        {.path = "sub/dusk.gloam", .text = "let ember = red"},
        {0}};
    Compilation *compilation = compile_files(files);
    const Diagnostic *clash = said(compilation, "use-clash");
    assert_non_null(clash);
    assert_string_equal(clash->message,
                        "`sub/dusk.gloam` brings `ember`, which is named already at line 3");
    assert_string_equal(clash->hint, "use \"sub/dusk.gloam\" as dusk");
    lang_free(compilation);
}

static void test_names_given_twice(void **state) {
    (void)state;
    expect("let a = 1\nlet ⟦a⟧ = 2", "error named-twice");
    expect("let a = 1\ndial ⟦a⟧ = 2", "error named-twice");
    expect("lamp a { pixels 1 }\nroutine ⟦a⟧ { paint red }", "error named-twice");
    expect("let f(a, ⟦a⟧) = a", "error named-twice");
    expect("let a = 1 let f(⟦a⟧) = a", "error named-twice");
    expect("routine r { let a = 1 let ⟦a⟧ = 2 paint red * a }", "error named-twice");
    expect("let a = 1 routine r { let ⟦a⟧ = 2 paint red * a }", "error named-twice");
    /* different scopes do not meet; what was used may be named anew inside */
    expect_silence("let f(a) = a let g(a) = a routine r { let b = 1 paint red * f(b) * g(b) } "
                   "routine s { let b = 2 paint red * b }");
    expect_using("use \"dusk.gloam\" routine r { let ember = 1 paint red * ember }",
                 "let ember = 2", "");
    /* mistake 20 */
    expect_message("\nlet beat = 3\nlet beat = 3", "named-twice",
                   "nothing changes here: a `let` names an expression; `beat` is named already at "
                   "line 2",
                   NULL);
}

static void test_names_that_hide(void **state) {
    (void)state;
    expect("let ⟦angle⟧ = 1 routine r { paint red * angle }", "warning hides-built-in");
    expect("let ⟦noise⟧(a) = a routine r { paint red * noise(1) }", "warning hides-built-in");
    expect("let ⟦gold⟧ = red routine r { paint gold }", "note hides-built-in");
    expect("routine r { let ⟦t⟧ = 1 paint red * t }", "warning hides-built-in");
    expect("let f(⟦x⟧) = x", "warning hides-built-in");
    expect("routine ⟦off⟧ { paint red }", "warning hides-built-in");
    expect_silence("lamp pos { pixels 3 }");
}

static void test_loops(void **state) {
    (void)state;
    expect("let b = ⟦b⟧ + 1", "error defined-by-itself");
    expect("let a = ⟦b⟧ let b = c let c = a routine r { paint red * a * b * c }",
           "error defined-by-itself");
    expect("let f(n) = ⟦f⟧(n - 1) routine r { paint red * f(1) }", "error defined-by-itself");
    expect("routine r { let a = ⟦b⟧ let b = a paint red * a }", "error defined-by-itself");
    expect("routine a { paint ⟦b⟧ } routine b { paint a where 50% }", "error paints-itself");
    expect("routine a { paint ⟦a⟧ }", "error paints-itself");
    expect_message("let x1 = x1 + 1", "defined-by-itself",
                   "nothing changes here: a `let` names an expression; `x1` is defined by itself",
                   NULL);
    expect_message("let a = b let b = c let c = b", "defined-by-itself",
                   "`b` is defined by itself: `b` -> `c` -> `b`", NULL);
    expect_message("routine a { paint b } routine b { paint c } routine c { paint a }",
                   "paints-itself", "routine `a` paints itself: `a` -> `b` -> `c` -> `a`", NULL);
    /* a name that is a parameter inside is another */
    expect_silence("let f(n) = n * 2 routine r { let n = 2 paint red * f(n) }");
    /* within() names a part of the lamp */
    expect_silence("routine within_left { let left = 1 paint red * left where within(left) }");
}

static void test_a_loop_through_a_used_file_is_none(void **state) {
    (void)state;
    /* `a` of the used file is another than `a` here */
    expect_using("use \"dusk.gloam\" as p let a = p.a routine r { paint a }", "let a = gold", "");
}

static void test_long_chains_are_no_matter_of_the_stack(void **state) {
    (void)state;
    enum { LENGTH = 20000 };
    char *text = malloc(LENGTH * 32);
    size_t used = 0;
    for (int i = 0; i < LENGTH; i++)
        used += (size_t)sprintf(text + used, "let a%d = a%d\n", i, (i + 1) % LENGTH);
    Compilation *compilation = compile_text(text);
    assert_non_null(said(compilation, "defined-by-itself"));
    assert_null(lang_program(compilation));
    lang_free(compilation);
    free(text);
}

static void test_unused(void **state) {
    (void)state;
    expect("let ⟦a⟧ = 1 routine r { paint red }", "warning unused-let");
    expect("dial ⟦a⟧ = 1 routine r { paint red }", "warning unused-dial");
    expect("let f(⟦a⟧) = 1 routine r { paint red * f(2) }", "warning unused-parameter");
    expect("routine r { let ⟦a⟧ = 1 paint red }", "warning unused-let");
    /* a dial that is only set is not read */
    expect("dial ⟦a⟧ = 1 routine r { paint red } at 06:00 play r with a = 2 "
           "until clock is set play off",
           "warning unused-dial");
    /* silent at the top of a file without routines, and of a used file */
    expect_silence("let a = 1 dial b = 2");
    expect_using("use \"dusk.gloam\" routine r { paint red }", "let a = 1 routine s { paint red }",
                 "");
    /* read by a timetable or a lamp */
    expect_silence("let a = 5min let b = 50% dial c = 0 routine r { paint red } "
                   "when c > b play r for a until clock is set play off");
    expect_silence("let a = 50% routine r { paint red } lamp shelf { pixels 3 level a }");
    /* after an error of syntax nothing is known */
    Compilation *compilation = compile_text("let a = 1 routine r { paint red *  }");
    assert_null(said(compilation, "unused-let"));
    lang_free(compilation);
}

static void test_an_unused_let_is_checked(void **state) {
    (void)state;
    Compilation *compilation = compile_text("let a = 2s + 30%");
    assert_int_equal(diagnostics_count(lang_diagnostics(compilation), SEVERITY_ERROR), 1);
    lang_free(compilation);
}

static void test_passed_over(void **state) {
    (void)state;
    static const char other[] = "place 51.45, -2.59 lamp shelf { pixels 60 }\n"
                                "routine dusk { paint gold } at 06:00 play dusk\n"
                                "until clock is set play off";
    expect_using("⟦use \"dusk.gloam\"⟧", other, "note use-passes-over");
    MemoryFile files[] = {{.path = "home.gloam", .text = "use \"dusk.gloam\""}, USING(other), {0}};
    Compilation *compilation = compile_files(files);
    uint32_t count;
    lang_lamps(compilation, &count);
    assert_int_equal(count, 0);
    assert_false(lang_place(compilation)->said);
    assert_false(lang_has_timetable(compilation));
    assert_string_equal(said(compilation, "use-passes-over")->message,
                        "`dusk.gloam` has a timetable, a place and a lamp, passed over here: `use` "
                        "brings definitions only");
    lang_free(compilation);
}

static void test_number_of_files(void **state) {
    (void)state;
    static MemoryFile files[LIMIT_FILES + 2];
    static char paths[LIMIT_FILES + 2][16], texts[LIMIT_FILES + 2][32];
    for (int i = 0; i < LIMIT_FILES + 1; i++) {
        snprintf(paths[i], sizeof paths[i], "f%d", i);
        snprintf(texts[i], sizeof texts[i], "use \"f%d\"", i + 1);
        files[i] = (MemoryFile){.path = paths[i], .text = texts[i]};
    }
    texts[LIMIT_FILES - 1][0] = 0; /* as many as there may be */
    Compilation *compilation = compile_files(files);
    assert_non_null(lang_program(compilation));
    lang_free(compilation);
    files[LIMIT_FILES - 1].text = "use \"f64\"";
    files[LIMIT_FILES].text = "let a = 1";
    compilation = compile_files(files);
    assert_int_equal(said_count(compilation, "too-many-files"), 1);
    lang_free(compilation);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_use_brings_definitions),
        cmocka_unit_test(test_use_brings_not_what_was_used),
        cmocka_unit_test(test_paths_go_down),
        cmocka_unit_test(test_files_that_cannot_be_read),
        cmocka_unit_test(test_a_file_that_is_no_text),
        cmocka_unit_test(test_source_size),
        cmocka_unit_test(test_circles_of_use),
        cmocka_unit_test(test_a_file_reached_twice_is_one),
        cmocka_unit_test(test_clashes),
        cmocka_unit_test(test_clash_says_where_and_what_to_write),
        cmocka_unit_test(test_names_given_twice),
        cmocka_unit_test(test_names_that_hide),
        cmocka_unit_test(test_loops),
        cmocka_unit_test(test_a_loop_through_a_used_file_is_none),
        cmocka_unit_test(test_long_chains_are_no_matter_of_the_stack),
        cmocka_unit_test(test_unused),
        cmocka_unit_test(test_an_unused_let_is_checked),
        cmocka_unit_test(test_passed_over),
        cmocka_unit_test(test_number_of_files),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
