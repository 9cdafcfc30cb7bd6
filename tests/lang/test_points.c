/* Files of points (CSV): numbers beside those of the C library's strtod, which rounds correctly;
 * what is no number is said in its line. */
#include "expect.h"

static Compilation *compile_points(const char *points) {
    MemoryFile files[] = {{.path = "home.gloam", .text = "lamp tree { shape points \"tree.csv\" }"},
                          {.path = "tree.csv", .text = points},
                          {0}};
    return compile_files(files);
}

static const LampInfo *points_of(Compilation *compilation, uint32_t count) {
    uint32_t lamps;
    const LampInfo *lamp = lang_lamps(compilation, &lamps);
    said_print(compilation);
    assert_int_equal(lamps, 1);
    assert_int_equal(lamp->point_count, count);
    return lamp;
}

static void test_numbers(void **state) {
    (void)state;
    static const char *const numbers[] = {
        "0",
        "-0",
        "7",
        "+7",
        "-7.25",
        ".5",
        "5.",
        "1e3",
        "1E3",
        "1e+3",
        "25e-2",
        "-2.5E-1",
        "0.1",
        "123456789.123456789",
        "00012",
        "12345678901234567890e-12",
        "0.000000000000000001",
        "1e-300",
        "1e-400",
        "3.14159265358979323846264338327950288419716939937510582097494459",
        "0.00000000000000000000000000000000000000012e40",
        "1e9",
        "-1e9"};
    for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++) {
        char text[200];
        snprintf(text, sizeof text, "%s,1\n1,%s\n", numbers[i], numbers[i]);
        Compilation *compilation = compile_points(text);
        const LampInfo *lamp = points_of(compilation, 2);
        double wanted = strtod(numbers[i], NULL), size = wanted < 0 ? -wanted : wanted;
        double off = lamp->points[0].x - wanted;
        /* A place is scaled to its lamp: a few last bits do not matter. */
        if (off > 4e-15 * size || off < -4e-15 * size)
            fail_msg("%s: %.17g, not %.17g", numbers[i], lamp->points[0].x, wanted);
        assert_true(lamp->points[1].y == lamp->points[0].x);
        lang_free(compilation);
    }
}

static void test_no_numbers(void **state) {
    (void)state;
    static const char *const wrong[] = {"1e",    "1e+",    "1E-",     "-",    "+",    ".",   "-.",
                                        "1.2.3", "--1",    "1 2",     "0x10", "1,,2", "inf", "nan",
                                        "1e10",  "-1e400", "1,2,3,4", "1;2",  "\"1\""};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        char text[200];
        snprintf(text, sizeof text, "0,0\n1,1\n%s,1\n2,2\n", wrong[i]);
        Compilation *compilation = compile_points(text);
        const Diagnostic *diagnostic = said(compilation, "points");
        if (!diagnostic)
            fail_msg("%s: expected a message", wrong[i]);
        uint32_t line, column;
        diagnostics_position(lang_diagnostics(compilation), diagnostic->span.file,
                             diagnostic->span.begin, &line, &column);
        assert_int_equal(line, 3);
        assert_null(lang_program(compilation));
        lang_free(compilation);
    }
    /* Without end, so that the scale of the number is beyond all sense. */
    char text[1200] = "0,0\n";
    memset(text + 4, '9', 1000);
    strcpy(text + 1004, ",1\n");
    Compilation *compilation = compile_points(text);
    assert_non_null(said(compilation, "points"));
    lang_free(compilation);
}

static void test_headings(void **state) {
    (void)state;
    static const char *const fine[] = {"x,y\n1,2\n3,4\n", "\"x\",\"y\"\n1,2\n3,4\n",
                                       "  X , Y\n1,2\n3,4", "\t1\t,\t2\t\r\n\r\n  \n3,4\r\n"};
    for (size_t i = 0; i < sizeof fine / sizeof *fine; i++) {
        Compilation *compilation = compile_points(fine[i]);
        const LampInfo *lamp = points_of(compilation, 2);
        assert_true(lamp->points[0].x == 1 && lamp->points[0].y == 2);
        assert_true(lamp->points[1].x == 3 && lamp->points[1].y == 4);
        lang_free(compilation);
    }
    Compilation *compilation = compile_points("x,y\n");
    assert_null(lang_program(compilation));
    lang_free(compilation);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_numbers),
        cmocka_unit_test(test_no_numbers),
        cmocka_unit_test(test_headings),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
