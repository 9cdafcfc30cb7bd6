/* The page's target of fuzzing with what is stored for it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/fuzz/fuzz_page.c"
#include "tests/fuzz/replay.h"

/* The first byte is who asks: whoever may ask for it asks. */
static int fuzz_whoever(const uint8_t *data, size_t size) {
    uint8_t *copy = malloc(size ? size : 1);
    assert_non_null(copy);
    for (uint8_t who = 0; who < 16; who++) {
        memcpy(copy, data, size);
        copy[0] = size > 0 ? who : 0;
        LLVMFuzzerTestOneInput(copy, size);
    }
    free(copy);
    return 0;
}

static void stored_requests_hold(void **state) {
    (void)state;
    replay(fuzz_whoever, "tests/fuzz/corpus_page/*", 67);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(stored_requests_hold)};
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
