/* What is stored for a target of fuzzing is fed to it: what was found once is not found again.
 * Included after cmocka.h. */
#ifndef GLOAM_TESTS_FUZZ_REPLAY_H
#define GLOAM_TESTS_FUZZ_REPLAY_H

#include <glob.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/support/folder.h"

typedef int FuzzTarget(const uint8_t *data, size_t size);

/* Exactly as large as the input, so that a read past its end is seen. */
static inline void feed(FuzzTarget *target, const char *path, const void *bytes, size_t length) {
    uint8_t *copy = malloc(length ? length : 1);
    assert_non_null(copy);
    memcpy(copy, bytes, length);
    /* A target that does not hold ends the program: the last line says with what. */
    printf("%s\n", path);
    fflush(stdout);
    target(copy, length);
    free(copy);
}

/* `stored`: how many there are, so that none is lost unseen. */
static inline void replay(FuzzTarget *target, const char *pattern, size_t stored) {
    glob_t found;
    assert_int_equal(glob(pattern, 0, NULL, &found), 0);
    if (found.gl_pathc != stored)
        fail_msg("%zu files are %s, the test knows of %zu", found.gl_pathc, pattern, stored);
    for (size_t i = 0; i < found.gl_pathc; i++) {
        size_t length;
        char *bytes = file_read(found.gl_pathv[i], &length);
        feed(target, found.gl_pathv[i], bytes, length);
        free(bytes);
    }
    globfree(&found);
}

#endif
