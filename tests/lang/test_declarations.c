/* Dials, events and routines: types, ranges, lengths, what follows (section 6 of the language,
 * rules L7, M7). */
#include "expect.h"
#include "runtime/core/limits.h"

#define CHECKED "routine r { paint red }"

static void test_dials(void **state) {
    (void)state;
    Compilation *compilation = compile_text(
        "dial warmth = 40% from 0% to 100% \"How warm\"\n"
        "dial pace = 2s from 500ms to 1min eased 2s\n"
        "dial on_air = true\ndial tone = #ff0000\ndial stand = -1.5\n"
        "routine r { paint tone * warmth * stand * tick(1s) where on_air and t > pace }");
    const Program *program = lang_program(compilation);
    assert_non_null(program);
    assert_int_equal(program->dial_count, 5);
    const DialInfo *dials = program->dials;
    assert_string_equal(dials[0].name, "warmth");
    assert_string_equal(dials[0].label, "How warm");
    assert_int_equal(dials[0].type, DIAL_NUMBER);
    assert_true(dials[0].percent && dials[0].ranged);
    assert_true(dials[0].number == 0.4 && dials[0].from == 0 && dials[0].to == 1);
    assert_int_equal(dials[1].type, DIAL_DURATION);
    assert_true(dials[1].number == 2e6 && dials[1].from == 5e5 && dials[1].to == 6e7);
    assert_true(dials[1].eased == 2e6 && !dials[1].percent && !dials[1].label);
    assert_int_equal(dials[2].type, DIAL_TRUTH);
    assert_true(dials[2].number == 1 && !dials[2].ranged);
    assert_int_equal(dials[3].type, DIAL_COLOUR);
    assert_true(dials[3].colour.r == 1 && dials[3].colour.g == 0);
    assert_true(dials[4].number == -1.5 && !dials[4].ranged && !dials[4].percent);
    for (int i = 0; i < 5; i++)
        assert_true(dials[i].used);
    lang_free(compilation);
}

static void test_dial_that_nothing_reads(void **state) {
    (void)state;
    Compilation *compilation = compile_text("dial a = 1 dial b = 1 let c = b " CHECKED);
    assert_non_null(lang_program(compilation));
    assert_false(lang_program(compilation)->dials[0].used);
    lang_free(compilation);
}

static void test_dial_mistakes(void **state) {
    (void)state;
    expect("dial d = ⟦90deg⟧", "error dial-type");
    expect("dial d = 5 from ⟦0s⟧ to ⟦1s⟧", "error range-type, error range-type");
    expect("dial d = 5s from ⟦0⟧ to 1s", "error range-type");
    expect("dial d = true from ⟦0⟧ to 1", "error range-type");
    expect("dial d = gold from ⟦red⟧ to blue", "error range-type");
    expect("dial d = 5 from ⟦10⟧ to 1", "error range-empty");
    expect("dial d = 5 from ⟦5⟧ to 5", "error range-empty");
    expect("dial d = ⟦11⟧ from 0 to 10", "error default-outside");
    expect("dial d = ⟦-1⟧ from 0 to 10", "error default-outside");
    expect_silence("dial d = 10 from 0 to 10");
    expect_silence("dial d = 0s from 0s to 10s");
    expect("dial d = true eased ⟦1s⟧", "error eased-truth");
    expect("dial d = 1 eased ⟦3⟧", "error needs-duration");
    expect("dial d = 1 eased ⟦-3s⟧", "error duration-too-short");
    expect("dial d = ⟦t⟧", "error not-fixed");
    expect("dial d = 1 from ⟦pos⟧ to 2", "error not-fixed");
}

static void test_dial_of_a_let(void **state) {
    (void)state;
    Compilation *compilation = compile_text(
        "let most = 3 * 2 dial d = most / 2 from 0 to most routine r { paint red * d }");
    assert_non_null(lang_program(compilation));
    assert_true(lang_program(compilation)->dials[0].number == 3);
    assert_true(lang_program(compilation)->dials[0].to == 6);
    lang_free(compilation);
}

static void test_names_from_outside(void **state) {
    (void)state;
    MemoryFile files[] = {
        {.path = "home.gloam",
         .text = "use \"a.gloam\" use \"b.gloam\" as p dial own = 1 event here "
                 "routine home { paint red * own * in_a * p.in_b }"},
        {.path = "a.gloam", .text = "dial in_a = 1 event rung routine ra { paint red }"},
        {.path = "b.gloam", .text = "use \"c.gloam\" as q dial in_b = 1 routine rb { paint q.rc }"},
        {.path = "c.gloam", .text = "dial in_c = 1 routine rc { paint red * in_c }"},
        {0}};
    Compilation *compilation = compile_files(files);
    const Program *program = lang_program(compilation);
    if (!program)
        said_print(compilation);
    assert_non_null(program);
    static const char *const dials[] = {"own", "in_a", "p.in_b", "p.q.in_c"};
    assert_int_equal(program->dial_count, 4);
    for (int i = 0; i < 4; i++)
        assert_string_equal(program->dials[i].name, dials[i]);
    assert_int_equal(program->event_count, 2);
    assert_string_equal(program->events[0].name, "here");
    assert_string_equal(program->events[1].name, "rung");
    /* routines of the main file first */
    static const char *const routines[] = {"home", "ra", "p.rb", "p.q.rc"};
    assert_int_equal(program->routine_count, 4);
    for (int i = 0; i < 4; i++)
        assert_string_equal(program->routines[i].name, routines[i]);
    lang_free(compilation);
}

static void test_two_of_one_name_from_outside(void **state) {
    (void)state;
    /* a and b do not see each other, but a phone would see two dials `warmth` */
    MemoryFile files[] = {{.path = "home.gloam", .text = "⟦use \"a.gloam\"⟧ let one = two"},
                          {.path = "a.gloam", .text = "use \"b.gloam\" let two = 1"},
                          {.path = "b.gloam", .text = "dial warmth = 1"},
                          {0}};
    files[0].text = "⟦use \"a.gloam\"⟧ dial warmth = 1";
    expect_files(files, "error outside-clash");
    files[1].text = "use \"b.gloam\" as q let two = 1";
    files[0].text = "use \"a.gloam\" dial warmth = 1";
    expect_files(files, "");
}

static void test_routines_that_nobody_confuses(void **state) {
    (void)state;
    /* neither of both is visible in the main file */
    MemoryFile files[] = {
        {.path = "home.gloam",
         .text = "use \"a.gloam\" use \"b.gloam\" routine home { paint ra paint rb where 50% }"},
        {.path = "a.gloam", .text = "use \"sub/1-c.gloam\" routine ra { paint glow }"},
        {.path = "b.gloam", .text = "use \"sub/d.gloam\" routine rb { paint glow }"},
        {.path = "sub/1-c.gloam", .text = "routine glow { paint red }"},
        {.path = "sub/d.gloam", .text = "routine glow { paint blue }"},
        {0}};
    Compilation *compilation = compile_files(files);
    const Program *program = lang_program(compilation);
    assert_non_null(program);
    assert_int_equal(program->routine_count, 5);
    for (int i = 0; i < 5; i++)
        for (int k = 0; k < i; k++)
            assert_string_not_equal(program->routines[i].name, program->routines[k].name);
    lang_free(compilation);
}

static void test_routines(void **state) {
    (void)state;
    Compilation *compilation = compile_text("let long = 20min\n"
                                            "routine a lasts long then b { paint red }\n"
                                            "routine b lasts 90s then off { paint red }\n"
                                            "routine c { paint red }");
    const Program *program = lang_program(compilation);
    assert_non_null(program);
    assert_true(program->routines[0].lasts == 1200e6 && program->routines[0].then == 1);
    assert_true(program->routines[1].lasts == 90e6 && program->routines[1].then == ROUTINE_OFF);
    assert_true(program->routines[2].lasts == 0 && program->routines[2].then == ROUTINE_NONE);
    lang_free(compilation);
}

static void test_routine_mistakes(void **state) {
    (void)state;
    expect("routine a lasts ⟦0s⟧ { paint red }", "error duration-too-short");
    expect("routine a lasts ⟦-5s⟧ { paint red }", "error duration-too-short");
    expect("routine a lasts ⟦30⟧ { paint red }", "error needs-duration");
    expect("dial d = 3s routine a lasts ⟦d⟧ { paint red }", "error not-fixed");
    expect("routine a lasts ⟦t⟧ { paint red }", "error not-fixed");
    expect("routine a lasts 1s then ⟦bb⟧ { paint red }", "error unknown-name");
    expect("let b = red routine a lasts 1s then ⟦b⟧ { paint b }", "error no-routine");
    expect("routine a lasts 1s then ⟦a⟧ { paint red }", "error then-circle");
    expect("routine a lasts 1s then ⟦b⟧ { paint red } routine b lasts 1s then a { paint red }",
           "error then-circle");
    expect("routine a lasts 1s then b { paint red } routine b lasts 1s then ⟦c⟧ { paint red } "
           "routine c lasts 1s then b { paint red }",
           "error then-circle");
    /* the words of mistake 3 of the language's list */
    expect_message("routine a lasts 30 { paint red }", "needs-duration",
                   "`lasts` needs a duration, this is a number", "`30s` or `30min`?");
    expect_message("routine one lasts 1s then two { paint red }\n"
                   "routine two lasts 1s then one { paint red }",
                   "then-circle", "what comes after `one` returns to it: `one` -> `two` -> `one`",
                   NULL);
}

static void test_then_needs_lasts(void **state) {
    (void)state;
    Compilation *compilation = compile_text("routine a then off { paint red }");
    assert_null(lang_program(compilation));
    assert_int_equal(diagnostics_count(lang_diagnostics(compilation), SEVERITY_ERROR), 1);
    lang_free(compilation);
}

static void expect_limit(const char *row, int limit) {
    size_t room = (size_t)(limit + 2) * (strlen(row) + 8);
    char *text = malloc(room);
    for (int count = limit; count <= limit + 1; count++) {
        size_t used = 0;
        for (int i = 0; i < count; i++) {
            used += (size_t)snprintf(text + used, room - used, row, i);
            used += (size_t)snprintf(text + used, room - used, "\n");
        }
        Compilation *compilation = compile_text(text);
        assert_int_equal(said_count(compilation, "too-many"), count > limit);
        assert_int_equal(lang_program(compilation) != NULL, count <= limit);
        lang_free(compilation);
    }
    free(text);
}

static void test_limits(void **state) {
    (void)state;
    expect_limit("dial d%d = 1", LIMIT_DIALS);
    expect_limit("event e%d", LIMIT_EVENTS);
    expect_limit("routine r%d { paint red }", LIMIT_ROUTINES);
    expect_limit("lamp l%d { pixels 1 }", LIMIT_LAMPS);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_dials),
        cmocka_unit_test(test_dial_that_nothing_reads),
        cmocka_unit_test(test_dial_mistakes),
        cmocka_unit_test(test_dial_of_a_let),
        cmocka_unit_test(test_names_from_outside),
        cmocka_unit_test(test_two_of_one_name_from_outside),
        cmocka_unit_test(test_routines_that_nobody_confuses),
        cmocka_unit_test(test_routines),
        cmocka_unit_test(test_routine_mistakes),
        cmocka_unit_test(test_then_needs_lasts),
        cmocka_unit_test(test_limits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
