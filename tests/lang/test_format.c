/* The formatter: one layout, nothing lost, the same meaning, idempotent. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <glob.h>

#include "runtime/core/bytecode.h"
#include "runtime/core/memory.h"
#include "runtime/library/reader.h"
#include "tests/lang/memory_reader.h"

static char *format(const char *name, const char *text) {
    Diagnostics *sink = diagnostics_create();
    char *out;
    size_t length;
    if (!lang_format(sink, name, text, strlen(text), &out, &length)) {
        diagnostics_print(sink, stderr, false);
        fail_msg("expected %s to be formatted", name);
    }
    assert_int_equal(length, strlen(out));
    diagnostics_free(sink);
    return out;
}

static void expect(const char *text, const char *wanted) {
    char *out = format("text", text);
    assert_string_equal(out, wanted);
    char *again = format("formatted text", out);
    assert_string_equal(again, out);
    memory_release(out);
    memory_release(again);
}

static void test_spaces_and_spelling(void **state) {
    (void)state;
    expect("routine   a{paint #FF8800*50% where x<-1}\n",
           "routine a { paint #ff8800 * 50% where x < -1 }\n");
    expect("let a=(1+2)*-3\r\nlet bc = not (a==2)",
           "let a  = (1 + 2) * -3\nlet bc = not (a == 2)\n");
    expect("at 6:30 play off", "at 06:30 play off\n");
    expect("let s(c,l)=c*l let e = ease(progress,steps(4,jump-end))",
           "let s(c, l) = c * l\nlet e       = ease(progress, steps(4, jump-end))\n");
}

static void test_clauses_in_one_order(void **state) {
    (void)state;
    expect("routine a { paint gold where 50% blended screen }",
           "routine a { paint gold blended screen where 50% }\n");
    expect("dial a = 1s \"label\" eased 2s from 0s to 3s",
           "dial a = 1s from 0s to 3s eased 2s \"label\"\n");
    expect(
        "at sunset-1h30min except sun in nov..feb on tue..sat else 07:00 not before 6:00 play a.b "
        "fading 2s on lamp x part y with k=1,l=2 for 3s",
        "at sunset - 1h30min\n    not before 06:00\n    else 07:00\n    on tue..sat\n    in "
        "nov..feb\n"
        "    except sun\n    play a.b\n    with k = 1, l = 2\n    on lamp x part y\n    for 3s\n"
        "    fading 2s\n");
}

static void test_comments_keep_their_places(void **state) {
    (void)state;
    expect("#!/usr/bin/gloam\n\n\n// head\n\n\n// two\nlet a = 1// tail\n\n\n// end",
           "#!/usr/bin/gloam\n\n// head\n\n// two\nlet a = 1  // tail\n\n// end\n");
    expect("routine a { // open\n// in\npaint gold // layer\n// last\n} // close\n",
           "routine a {  // open\n    // in\n    paint gold  // layer\n    // last\n}  // close\n");
    expect("let a = 1 + // why\n 2\n", "// why\nlet a = 1 + 2\n");
    expect("lamp l { // a\n pixels 3 // b\n shape ring // c\n}",
           "lamp l {  // a\n    pixels 3     // b\n    shape  ring  // c\n}\n");
}

static void test_blank_lines(void **state) {
    (void)state;
    expect("let a = 1\nroutine r {\npaint gold\n\n\n\npaint red\n}\nlet b = 2\n",
           "let a = 1\n\nroutine r {\n    paint gold\n\n    paint red\n}\n\nlet b = 2\n");
    expect("routine a { paint gold }\nroutine b { paint red }\n",
           "routine a { paint gold }\nroutine b { paint red }\n");
}

static void test_long_lines_are_broken(void **state) {
    (void)state;
    expect("routine a {\n paint black -> red at 10% -> gold at 20% -> blue at 30% -> #ff8800 at "
           "50% -> "
           "teal -> navy -> coral every 4s where pixel == 3\n}\n",
           "routine a {\n"
           "    paint black\n"
           "            -> red at 10%\n"
           "            -> gold at 20%\n"
           "            -> blue at 30%\n"
           "            -> #ff8800 at 50%\n"
           "            -> teal\n"
           "            -> navy\n"
           "            -> coral\n"
           "            every 4s\n"
           "        where pixel == 3\n"
           "}\n");
}

static void test_texts_keep_their_escapes(void **state) {
    (void)state;
    expect("dial a = 1 from 0 to 2 \"say \\\"so\\\" \\\\ // no\"\n",
           "dial a = 1 from 0 to 2 \"say \\\"so\\\" \\\\ // no\"\n");
    expect("lamp l { pixels 2 flashes   \"I  know // \\\"x\\\"\" }",
           "lamp l { pixels 2 flashes \"I  know // \\\"x\\\"\" }\n");
}

/* A file of the disk with another text; what it uses is read as it is. */
typedef struct Instead {
    DiskReader disk;
    const char *text;
} Instead;

static ReadStatus instead_read(void *context, const char *path, const char *from, char **text,
                               size_t *length, char **identity, const char **reason) {
    Instead *instead = context;
    LangReader *disk = &instead->disk.reader;
    ReadStatus status = disk->read(disk->context, path, from, text, length, identity, reason);
    if (status != READ_FINE || from)
        return status;
    memory_release(*text);
    *length = strlen(instead->text);
    *text = memory_copy_text(instead->text, *length);
    return READ_FINE;
}

static unsigned char *bytecode_of(const char *path, const char *text, size_t *length) {
    Instead instead = {.text = text};
    disk_reader_start(&instead.disk);
    LangReader reader = {instead_read, &instead};
    Compilation *compilation = lang_compile(&reader, path);
    disk_reader_end(&instead.disk);
    unsigned char *bytes = NULL;
    const Program *program = lang_program(compilation);
    if (program)
        assert_true(bytecode_write(program, &bytes, length));
    lang_free(compilation);
    return bytes;
}

/* Every file that formats: twice is once, and what it compiles to is the same byte for byte. */
static size_t check_files(const char *pattern, unsigned *formatted, unsigned *compiled) {
    glob_t found;
    assert_int_equal(glob(pattern, 0, NULL, &found), 0);
    size_t files = found.gl_pathc;
    for (size_t i = 0; i < found.gl_pathc; i++) {
        char *text;
        size_t length, one_length = 0, two_length = 0;
        const char *reason;
        const char *path = found.gl_pathv[i];
        if (disk_read_file(path, 1 << 20, &text, &length, &reason) != READ_FINE)
            fail_msg("expected to read %s", path);
        Diagnostics *sink = diagnostics_create();
        char *out;
        size_t out_length;
        if (lang_format(sink, path, text, length, &out, &out_length)) {
            ++*formatted;
            char *again = format(path, out);
            assert_string_equal(again, out);
            unsigned char *one = bytecode_of(path, text, &one_length);
            unsigned char *two = bytecode_of(path, out, &two_length);
            assert_int_equal(one != NULL, two != NULL);
            if (one) {
                ++*compiled;
                if (one_length != two_length || memcmp(one, two, one_length) != 0)
                    fail_msg("expected %s to mean the same when formatted", path);
            }
            memory_release(one);
            memory_release(two);
            memory_release(again);
            memory_release(out);
        }
        diagnostics_free(sink);
        memory_release(text);
    }
    globfree(&found);
    return files;
}

static void test_all_files_keep_their_meaning(void **state) {
    (void)state;
    unsigned formatted = 0, compiled = 0;
    size_t examples = check_files("examples/*.gloam", &formatted, &compiled);
    assert_int_equal(formatted, examples);
    assert_int_equal(compiled, examples);
    size_t parsed = check_files("tests/lang/corpus/*", &formatted, &compiled);
    assert_int_equal(formatted, examples + parsed);
    check_files("spec/conformance/*/*.gloam", &formatted, &compiled);
    check_files("tests/fuzz/corpus_text/*", &formatted, &compiled);
    print_message("%u files formatted, %u of them compiled\n", formatted, compiled);
}

static void test_no_allocation_is_lost(void **state) {
    (void)state;
    const char *text = "// c\nroutine a { paint black -> gold every 2s } // d\nlet b = 1\n";
    for (unsigned long n = 1;; n++) {
        unsigned long before = memory_live();
        memory_fail_at(n);
        Diagnostics *sink = diagnostics_create();
        char *out = NULL;
        size_t length;
        bool done = sink && lang_format(sink, "text", text, strlen(text), &out, &length);
        memory_fail_at(0);
        memory_release(out);
        diagnostics_free(sink);
        if (memory_live() != before)
            fail_msg("expected nothing to be left when allocation %lu fails", n);
        if (done)
            return;
        assert_true(n < 10000);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_spaces_and_spelling),
        cmocka_unit_test(test_clauses_in_one_order),
        cmocka_unit_test(test_comments_keep_their_places),
        cmocka_unit_test(test_blank_lines),
        cmocka_unit_test(test_long_lines_are_broken),
        cmocka_unit_test(test_texts_keep_their_escapes),
        cmocka_unit_test(test_all_files_keep_their_meaning),
        cmocka_unit_test(test_no_allocation_is_lost),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
