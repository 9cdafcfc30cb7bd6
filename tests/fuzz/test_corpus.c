/* The targets of fuzzing with what is stored for them, built like all else: what was found once is
 * not found again. Bytecode comes from the programs of the project, whole, cut and changed. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define LLVMFuzzerTestOneInput fuzz_text
#include "tests/fuzz/fuzz_text.c"
#undef LLVMFuzzerTestOneInput
#define LLVMFuzzerTestOneInput fuzz_use
int fuzz_use(const uint8_t *data, size_t size);
#include "tests/fuzz/fuzz_use.c"
#undef LLVMFuzzerTestOneInput
#define LLVMFuzzerTestOneInput fuzz_bytecode
int fuzz_bytecode(const uint8_t *data, size_t size);
#include "tests/fuzz/fuzz_bytecode.c"
#undef LLVMFuzzerTestOneInput
#define LLVMFuzzerTestOneInput fuzz_state
int fuzz_state(const uint8_t *data, size_t size);
#include "tests/fuzz/fuzz_state.c"
#undef LLVMFuzzerTestOneInput
#define LLVMFuzzerTestOneInput fuzz_request
int fuzz_request(const uint8_t *data, size_t size);
#include "tests/fuzz/fuzz_request.c"
#undef LLVMFuzzerTestOneInput
#define LLVMFuzzerTestOneInput fuzz_socket
int fuzz_socket(const uint8_t *data, size_t size);
#include "tests/fuzz/fuzz_socket.c"
#undef LLVMFuzzerTestOneInput

#include "runtime/library/reader.h"
#include "tests/fuzz/replay.h"

static void test_text(void **state) {
    (void)state;
    replay(fuzz_text, "tests/fuzz/corpus_text/*", 6);
    replay(fuzz_text, "tests/lang/corpus/*", 5);
}

static void test_use(void **state) {
    (void)state;
    replay(fuzz_use, "tests/fuzz/corpus_use/*", 15);
}

static void test_state(void **state) {
    (void)state;
    replay(fuzz_state, "tests/fuzz/corpus_state/*", 10);
}

static void test_request(void **state) {
    (void)state;
    replay(fuzz_request, "tests/fuzz/corpus_request/*", 8);
}

static void test_socket(void **state) {
    (void)state;
    replay(fuzz_socket, "tests/fuzz/corpus_socket/*", 14);
}

static void feed_changed(const char *path, uint8_t *bytes, size_t length) {
    feed(fuzz_bytecode, path, bytes, length);
    for (size_t i = 0; i < 16; i++)
        feed(fuzz_bytecode, path, bytes, length * i / 16);
    for (size_t i = 0; i < 64; i++) {
        uint8_t *one = bytes + length * i / 64;
        uint8_t before = *one;
        *one ^= (uint8_t)(1u << i % 8);
        feed(fuzz_bytecode, path, bytes, length);
        *one = before;
    }
}

static void test_bytecode(void **state) {
    (void)state;
    glob_t found;
    assert_int_equal(glob("examples/*.gloam", 0, NULL, &found), 0);
    for (size_t i = 0; i < found.gl_pathc; i++) {
        DiskReader disk;
        disk_reader_start(&disk);
        Compilation *compilation = lang_compile(&disk.reader, found.gl_pathv[i]);
        disk_reader_end(&disk);
        assert_non_null(compilation);
        unsigned char *bytes;
        size_t length;
        assert_non_null(lang_program(compilation));
        assert_true(bytecode_write(lang_program(compilation), &bytes, &length));
        feed_changed(found.gl_pathv[i], bytes, length);
        memory_release(bytes);
        lang_free(compilation);
    }
    globfree(&found);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_text),   cmocka_unit_test(test_use),
        cmocka_unit_test(test_state),  cmocka_unit_test(test_request),
        cmocka_unit_test(test_socket), cmocka_unit_test(test_bytecode),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
