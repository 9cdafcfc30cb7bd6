/* The sink and its two ways to print. The GNU form is that of the GNU Coding Standards, section
 * 4.4 "Formatting Error Messages"; JSON is RFC 8259; U+FFFD for bytes that are no UTF-8 is common
 * practice (Unicode 15, section 3.9); widths are those of EastAsianWidth.txt. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <stdlib.h>
#include <cmocka.h>

#include <string.h>

#include "lang/diagnostics.h"
#include "lang/sources.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"

/* A sink with one file; spans are found by the words they cover. */
typedef struct Fixture {
    Diagnostics *sink;
    const char *text;
    uint32_t file;
} Fixture;

static Fixture open_fixture(const char *name, const char *text) {
    Fixture fixture = {.sink = diagnostics_create(), .text = text};
    assert_non_null(fixture.sink);
    fixture.file = diagnostics_add_file(fixture.sink, name, text, strlen(text));
    return fixture;
}

static Span at(const Fixture *fixture, const char *words) {
    const char *found = strstr(fixture->text, words);
    assert_non_null(found);
    uint32_t begin = (uint32_t)(found - fixture->text);
    return (Span){fixture->file, begin, begin + (uint32_t)strlen(words)};
}

static void assert_printed(Fixture *fixture, bool json, const char *expected) {
    char *text = NULL;
    size_t length = 0;
    FILE *out = open_memstream(&text, &length);
    assert_non_null(out);
    if (json)
        diagnostics_print_json(fixture->sink, out);
    else
        diagnostics_print(fixture->sink, out, false);
    fclose(out);
    assert_string_equal(text, expected);
    free(text);
}

static void close_fixture(Fixture *fixture) {
    diagnostics_free(fixture->sink);
    assert_int_equal(memory_live(), 0);
}

static void test_gnu_form(void **state) {
    (void)state;
    Fixture f = open_fixture("home.gloam", "routine a {\n    paint gold + 2s\n}\n");
    diagnostics_report(f.sink, SEVERITY_ERROR, "c", at(&f, "gold"), at(&f, "2s"), "gold",
                       "cannot add %s", "both");
    assert_printed(&f, false,
                   "home.gloam:2:11: error: cannot add both\n"
                   "        paint gold + 2s\n"
                   "              ^~~~   ~~\n"
                   "    write: gold\n");
    close_fixture(&f);
}

static void test_second_before_first(void **state) {
    (void)state;
    Fixture f = open_fixture("f", "one two\n");
    diagnostics_report(f.sink, SEVERITY_WARNING, "c", at(&f, "two"), at(&f, "one"), NULL, "m");
    assert_printed(&f, false, "f:1:5: warning: m\n    one two\n    ~~~ ^~~\n");
    close_fixture(&f);
}

static void test_second_on_another_line_is_not_drawn(void **state) {
    (void)state;
    Fixture f = open_fixture("f", "one\ntwo\n");
    diagnostics_report(f.sink, SEVERITY_NOTE, "c", at(&f, "two"), at(&f, "one"), NULL, "m");
    assert_printed(&f, false, "f:2:1: note: m\n    two\n    ^~~\n");
    close_fixture(&f);
}

static void test_tabs_stay_and_marks_follow(void **state) {
    (void)state;
    Fixture f = open_fixture("f", "\ta\tbc d\n");
    diagnostics_report(f.sink, SEVERITY_ERROR, "c", at(&f, "bc"), SPAN_NONE, NULL, "m");
    assert_printed(&f, false, "f:1:4: error: m\n    \ta\tbc d\n    \t \t^~\n");
    close_fixture(&f);
}

static void test_tab_inside_a_span_is_underlined_to_its_stop(void **state) {
    (void)state;
    Fixture f = open_fixture("f", "a\tb c\n"); /* the tab reaches from column 5 to 8 */
    diagnostics_report(f.sink, SEVERITY_ERROR, "c", at(&f, "a\tb"), SPAN_NONE, NULL, "m");
    assert_printed(&f, false, "f:1:1: error: m\n    a\tb c\n    ^~~~~\n");
    close_fixture(&f);
}

static void test_wide_and_combining_characters(void **state) {
    (void)state;
    /* U+5BBF is W, e with U+0301 takes one column. */
    Fixture f = open_fixture("f", "宿e\xCC\x81 x 宿y\n");
    diagnostics_report(f.sink, SEVERITY_ERROR, "c", at(&f, "x"), at(&f, "宿y"), NULL, "m");
    assert_printed(&f, false, "f:1:5: error: m\n    宿e\xCC\x81 x 宿y\n        ^ ~~~\n");
    close_fixture(&f);
}

static void test_ends_of_lines(void **state) {
    (void)state;
    Fixture f = open_fixture("f", "ab\r\ncd");
    diagnostics_report(f.sink, SEVERITY_ERROR, "c", (Span){f.file, 2, 2}, SPAN_NONE, NULL, "m");
    diagnostics_report(f.sink, SEVERITY_ERROR, "d", (Span){f.file, 1, 5}, SPAN_NONE, NULL, "m");
    diagnostics_report(f.sink, SEVERITY_ERROR, "e", (Span){f.file, 6, 6}, SPAN_NONE, NULL, "m");
    assert_printed(&f, false,
                   "f:1:2: error: m\n    ab\n     ^\n"
                   "f:1:3: error: m\n    ab\n      ^\n"
                   "f:2:3: error: m\n    cd\n      ^\n");
    close_fixture(&f);
}

static void test_byte_order_mark_has_no_column(void **state) {
    (void)state;
    Fixture f = open_fixture("f", "\xEF\xBB\xBFlet\n");
    diagnostics_report(f.sink, SEVERITY_ERROR, "c", at(&f, "let"), SPAN_NONE, NULL, "m");
    assert_printed(&f, false, "f:1:1: error: m\n    let\n    ^~~\n");
    close_fixture(&f);
}

static void test_nothing_drives_the_terminal(void **state) {
    (void)state;
    Fixture f = open_fixture("a\x1b]0;b\x07", "x \x1b[2J \xff \xC2\x9B y\xE2\x80\xAE z\n");
    diagnostics_report(f.sink, SEVERITY_ERROR, "c", at(&f, "z"), SPAN_NONE, "\x1b[31m",
                       "a\x1b[2J\nb\xF0\x9F");
    /* each character is one column: the mark stands below z */
    assert_printed(&f, false,
                   "a?]0;b?:1:15: error: a?[2J?b\xEF\xBF\xBD\xEF\xBF\xBD\n"
                   "    x ?[2J \xEF\xBF\xBD ? y? z\n"
                   "                  ^\n"
                   "    write: ?[31m\n");
    close_fixture(&f);
}

static void test_long_lines_are_cut_around_the_span(void **state) {
    (void)state;
    char text[4001];
    for (int i = 0; i < 4000; i++)
        text[i] = "abcdefghij"[i % 10];
    text[4000] = 0;
    memcpy(text + 2000, "WRONG", 5);
    Fixture f = open_fixture("f", text);
    diagnostics_report(f.sink, SEVERITY_ERROR, "c", at(&f, "WRONG"), SPAN_NONE, NULL, "m");
    char *printed = NULL;
    size_t length;
    FILE *out = open_memstream(&printed, &length);
    diagnostics_print(f.sink, out, false);
    fclose(out);
    const char *line = strchr(printed, '\n') + 1, *marks = strchr(line, '\n') + 1;
    assert_memory_equal(line, "    ...", 7);
    assert_memory_equal(marks - 4, "...\n", 4);
    assert_true(marks - line < 140);
    assert_ptr_equal(strstr(line, "WRONG") - line, strstr(marks, "^~~~~\n") - marks);
    free(printed);
    close_fixture(&f);
}

static void test_order_and_duplicates(void **state) {
    (void)state;
    Fixture f = open_fixture("f", "one two\n");
    uint32_t other = diagnostics_add_file(f.sink, "g", "x\n", 2);
    Span later = {other, 0, 1};
    diagnostics_report(f.sink, SEVERITY_ERROR, "c", SPAN_NONE, SPAN_NONE, NULL, "nowhere");
    diagnostics_report(f.sink, SEVERITY_ERROR, "c", later, SPAN_NONE, NULL, "third");
    diagnostics_report(f.sink, SEVERITY_ERROR, "c", at(&f, "two"), SPAN_NONE, NULL, "second");
    diagnostics_report(f.sink, SEVERITY_ERROR, "c", at(&f, "two"), SPAN_NONE, NULL, "again");
    diagnostics_report(f.sink, SEVERITY_WARNING, "c", at(&f, "one"), SPAN_NONE, NULL, "first");
    diagnostics_report(f.sink, SEVERITY_NOTE, "d", at(&f, "two"), SPAN_NONE, NULL, "other code");
    static const char *const wanted[] = {"first", "second", "other code", "third", "nowhere"};
    assert_int_equal(diagnostics_total(f.sink), 5);
    for (size_t i = 0; i < 5; i++)
        assert_string_equal(diagnostics_at(f.sink, i)->message, wanted[i]);
    assert_int_equal(diagnostics_count(f.sink, SEVERITY_ERROR), 3);
    assert_true(diagnostics_reported(f.sink, "d", at(&f, "two")));
    assert_false(diagnostics_reported(f.sink, "d", at(&f, "one")));
    assert_null(diagnostics_at(f.sink, 5));
    close_fixture(&f);
}

static void test_file_as_a_whole_and_no_file(void **state) {
    (void)state;
    Fixture f = open_fixture("gone.gloam", "");
    diagnostics_report(f.sink, SEVERITY_ERROR, "c", (Span){f.file, 0, 0}, SPAN_NONE, NULL, "gone");
    diagnostics_report(f.sink, SEVERITY_ERROR, "c", SPAN_NONE, SPAN_NONE, NULL, "nowhere");
    assert_printed(&f, false, "gone.gloam: error: gone\nerror: nowhere\n");
    close_fixture(&f);
}

static void report_many(Fixture *f, Severity severity, uint32_t count) {
    for (uint32_t i = 0; i < count; i++)
        diagnostics_report(f->sink, severity, "many", (Span){f->file, i, i + 1}, SPAN_NONE, NULL,
                           "m");
}

static size_t count_lines(Fixture *f, const char *words) {
    char *text = NULL;
    size_t length, count = 0;
    FILE *out = open_memstream(&text, &length);
    diagnostics_print(f->sink, out, false);
    fclose(out);
    for (const char *p = text; (p = strstr(p, words)) != NULL; p++)
        count++;
    free(text);
    return count;
}

static void test_twenty_are_shown_and_the_rest_counted(void **state) {
    (void)state;
    static char text[6000];
    memset(text, 'x', sizeof text - 1);
    Fixture f = open_fixture("f", text);
    report_many(&f, SEVERITY_ERROR, LIMIT_DIAGNOSTICS_SHOWN);
    assert_int_equal(count_lines(&f, "error: m"), LIMIT_DIAGNOSTICS_SHOWN);
    assert_int_equal(count_lines(&f, "more"), 0);
    report_many(&f, SEVERITY_ERROR, LIMIT_DIAGNOSTICS_SHOWN + 1);
    assert_int_equal(count_lines(&f, "error: m"), LIMIT_DIAGNOSTICS_SHOWN);
    assert_int_equal(count_lines(&f, "and 1 more error\n"), 1);
    report_many(&f, SEVERITY_ERROR, LIMIT_DIAGNOSTICS_SHOWN + 7);
    assert_int_equal(count_lines(&f, "and 7 more errors\n"), 1);
    close_fixture(&f);
}

static void test_memory_is_bounded_and_errors_come_first(void **state) {
    (void)state;
    static char text[6000];
    memset(text, 'x', sizeof text - 1);
    Fixture f = open_fixture("f", text);
    report_many(&f, SEVERITY_WARNING, 5000);
    assert_int_equal(diagnostics_count(f.sink, SEVERITY_WARNING), 5000);
    size_t kept = diagnostics_total(f.sink);
    assert_true(kept < 2000);
    diagnostics_report(f.sink, SEVERITY_ERROR, "late", (Span){f.file, 5000, 5001}, SPAN_NONE, NULL,
                       "late");
    assert_int_equal(diagnostics_total(f.sink), kept);
    assert_true(diagnostics_reported(f.sink, "late", (Span){f.file, 5000, 5001}));
    close_fixture(&f);
}

static void test_json(void **state) {
    (void)state;
    Fixture f = open_fixture("a\"b.gloam", "x\ny z\n");
    diagnostics_report(f.sink, SEVERITY_ERROR, "code", at(&f, "z"), SPAN_NONE, "say \\ so",
                       "tab\t, line\n, \x01, \x7f, \xff and \"é\"");
    diagnostics_report(f.sink, SEVERITY_NOTE, "none", SPAN_NONE, SPAN_NONE, NULL, "m");
    assert_printed(
        &f, true,
        "[\n {\"file\": \"a\\\"b.gloam\", \"line\": 2, \"column\": 3, \"end_line\": 2, "
        "\"end_column\": 4, \"severity\": \"error\", \"code\": \"code\", \"message\": "
        "\"tab\\u0009, line\\u000a, \\u0001, \\u007f, \xEF\xBF\xBD and \\\"é\\\"\", "
        "\"hint\": \"say \\\\ so\"},\n"
        " {\"file\": null, \"line\": 1, \"column\": 1, \"end_line\": 1, \"end_column\": 1, "
        "\"severity\": \"note\", \"code\": \"none\", \"message\": \"m\", \"hint\": null}\n]\n");
    close_fixture(&f);
}

static void test_json_of_nothing(void **state) {
    (void)state;
    Fixture f = open_fixture("f", "");
    assert_printed(&f, true, "[]\n");
    close_fixture(&f);
}

static void test_message_is_cut_between_characters(void **state) {
    (void)state;
    char long_text[2000] = "x";
    for (size_t i = 1; i + 2 < sizeof long_text; i += 2)
        memcpy(long_text + i, "é", 3);
    Fixture f = open_fixture("f", "x");
    diagnostics_report(f.sink, SEVERITY_ERROR, "c", at(&f, "x"), SPAN_NONE, NULL, "%s", long_text);
    const char *message = diagnostics_at(f.sink, 0)->message;
    size_t length = strlen(message);
    assert_int_equal(length, 999); /* 1 + 499 * 2: 1,000 would cut the last é in two */
    assert_memory_equal(message + length - 2, "é", 2);
    close_fixture(&f);
}

static void test_out_of_memory_is_one_diagnostic(void **state) {
    (void)state;
    Fixture f = open_fixture("f", "x y");
    memory_fail_at(1);
    diagnostics_report(f.sink, SEVERITY_ERROR, "c", at(&f, "x"), SPAN_NONE, NULL, "m");
    diagnostics_report(f.sink, SEVERITY_ERROR, "d", at(&f, "y"), SPAN_NONE, NULL, "m");
    assert_int_equal(diagnostics_add_file(f.sink, "g", "", 0), UINT32_MAX);
    memory_fail_at(0);
    assert_true(diagnostics_out_of_memory(f.sink));
    assert_int_equal(diagnostics_total(f.sink), 1);
    assert_int_equal(diagnostics_count(f.sink, SEVERITY_ERROR), 1);
    assert_printed(&f, false, "error: out of memory\n");
    close_fixture(&f);
}

static void test_colour_is_switched_off_again(void **state) {
    (void)state;
    Fixture f = open_fixture("f", "x\n");
    diagnostics_report(f.sink, SEVERITY_ERROR, "c", at(&f, "x"), SPAN_NONE, NULL, "m");
    char *text = NULL;
    size_t length;
    FILE *out = open_memstream(&text, &length);
    diagnostics_print(f.sink, out, true);
    fclose(out);
    assert_non_null(strstr(text, "\x1b[1;31merror: \x1b[0mm\n"));
    assert_string_equal(text + length - 5, "\x1b[0m\n");
    free(text);
    close_fixture(&f);
}

static void test_position_counts_code_points(void **state) {
    (void)state;
    Fixture f = open_fixture("f", "é\xff宿x\n\nlast");
    uint32_t line, column;
    diagnostics_position(f.sink, f.file, at(&f, "x").begin, &line, &column);
    assert_int_equal(line, 1);
    assert_int_equal(column, 4);
    diagnostics_position(f.sink, f.file, at(&f, "last").end, &line, &column);
    assert_int_equal(line, 3);
    assert_int_equal(column, 5);
    diagnostics_position(f.sink, f.file, 1000, &line, &column);
    assert_int_equal(line, 3);
    diagnostics_position(f.sink, 99, 0, &line, &column);
    assert_int_equal(line, 1);
    close_fixture(&f);
}

/* Lines of several thousand characters of one to four bytes, against counting by hand the bytes
 * that do not continue a character. */
static void test_position_in_long_lines(void **state) {
    (void)state;
    static const char *const characters[] = {"a", "\xC3\xA9", "\xE2\x86\x92", "\xF0\x9F\x8C\x99"};
    enum { BYTES = 60000 };
    char *text = calloc(BYTES + 8, 1);
    assert_non_null(text);
    strcpy(text, "\xEF\xBB\xBF");
    size_t length = 3;
    for (unsigned i = 0; length < BYTES; i++) {
        const char *next = i % 9001 == 9000 ? "\r\n" : characters[(i * 7 + i / 5) % 4];
        memcpy(text + length, next, strlen(next));
        length += strlen(next);
    }
    Fixture f = open_fixture("home.gloam", text);
    uint32_t line = 1, column = 1;
    for (size_t byte = 3; byte < length; byte++) {
        if (((unsigned char)text[byte] & 0xC0) == 0x80)
            continue;
        uint32_t found_line, found_column;
        diagnostics_position(f.sink, f.file, (uint32_t)byte, &found_line, &found_column);
        assert_int_equal(found_line, line);
        if (text[byte] != '\n') /* the end of a line is at its CR */
            assert_int_equal(found_column, column);
        column = text[byte] == '\n' ? 1 : column + 1;
        line += text[byte] == '\n';
    }
    assert_true(line > 2);
    close_fixture(&f);
    free(text);
}

static void test_nearest(void **state) {
    (void)state;
    static const char *const names[] = {"daybreak", "dusk", "Nightlight", "gold"};
    assert_string_equal(diagnostics_nearest("daybrake", names, 4), "daybreak"); /* ak <-> ka, 2 */
    assert_string_equal(diagnostics_nearest("dsuk", names, 4), "dusk"); /* one transposition */
    assert_string_equal(diagnostics_nearest("GOLD", names, 4), "gold"); /* case */
    assert_string_equal(diagnostics_nearest("nightlihgt", names, 4), "Nightlight");
    assert_string_equal(diagnostics_nearest("gol", names, 4), "gold");
    assert_null(diagnostics_nearest("go", names, 4)); /* 2 of 2: more than a third */
    assert_null(diagnostics_nearest("teal", names, 4));
    assert_null(diagnostics_nearest("", names, 4));
    assert_null(diagnostics_nearest("dusk", names, 0));
}

static void test_utf8(void **state) {
    (void)state;
    /* RFC 3629, section 4 and the examples of section 10. */
    static const struct {
        const char *bytes;
        uint32_t code;
        size_t size;
    } rows[] = {
        {"A", 0x41, 1},
        {"\xE2\x89\xA2", 0x2262, 3},
        {"\xED\x95\x9C", 0xD55C, 3},
        {"\xF0\xA3\x8E\xB4", 0x233B4, 4},
        {"\xC0\x80", UTF8_INVALID, 1},         /* overlong */
        {"\xED\xA1\x8C", UTF8_INVALID, 1},     /* a surrogate */
        {"\xF4\x90\x80\x80", UTF8_INVALID, 1}, /* above U+10FFFF */
        {"\x80", UTF8_INVALID, 1},
        {"\xE2\x89", UTF8_INVALID, 1}, /* cut */
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        size_t size;
        assert_int_equal(utf8_read(rows[i].bytes, strlen(rows[i].bytes), &size), rows[i].code);
        assert_int_equal(size, rows[i].size);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_gnu_form),
        cmocka_unit_test(test_second_before_first),
        cmocka_unit_test(test_second_on_another_line_is_not_drawn),
        cmocka_unit_test(test_tabs_stay_and_marks_follow),
        cmocka_unit_test(test_tab_inside_a_span_is_underlined_to_its_stop),
        cmocka_unit_test(test_wide_and_combining_characters),
        cmocka_unit_test(test_ends_of_lines),
        cmocka_unit_test(test_byte_order_mark_has_no_column),
        cmocka_unit_test(test_nothing_drives_the_terminal),
        cmocka_unit_test(test_long_lines_are_cut_around_the_span),
        cmocka_unit_test(test_order_and_duplicates),
        cmocka_unit_test(test_file_as_a_whole_and_no_file),
        cmocka_unit_test(test_twenty_are_shown_and_the_rest_counted),
        cmocka_unit_test(test_memory_is_bounded_and_errors_come_first),
        cmocka_unit_test(test_json),
        cmocka_unit_test(test_json_of_nothing),
        cmocka_unit_test(test_message_is_cut_between_characters),
        cmocka_unit_test(test_out_of_memory_is_one_diagnostic),
        cmocka_unit_test(test_colour_is_switched_off_again),
        cmocka_unit_test(test_position_counts_code_points),
        cmocka_unit_test(test_position_in_long_lines),
        cmocka_unit_test(test_nearest),
        cmocka_unit_test(test_utf8),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
