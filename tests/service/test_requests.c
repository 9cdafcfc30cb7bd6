/* The page's target of fuzzing with what is stored for it: what was found once is not found again.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <glob.h>

#include "tests/fuzz/fuzz_page.c"

static void stored_requests_hold(void **state) {
    (void)state;
    glob_t found;
    assert_int_equal(glob("tests/fuzz/corpus_page/*", 0, NULL, &found), 0);
    assert_true(found.gl_pathc >= 40);
    for (size_t i = 0; i < found.gl_pathc; i++) {
        static uint8_t bytes[1 << 16];
        FILE *file = fopen(found.gl_pathv[i], "rb");
        assert_non_null(file);
        size_t length = fread(bytes, 1, sizeof bytes, file);
        fclose(file);
        /* Exactly as large as the input; whoever may ask for it asks. */
        uint8_t *copy = malloc(length + 1);
        assert_non_null(copy);
        /* What does not hold ends the program: the last line says with what. */
        printf("%s\n", found.gl_pathv[i]);
        fflush(stdout);
        for (uint8_t who = 0; who < 16; who++) {
            memcpy(copy, bytes, length);
            copy[0] = length > 0 ? who : 0;
            LLVMFuzzerTestOneInput(copy, length);
        }
        free(copy);
    }
    globfree(&found);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(stored_requests_hold)};
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
