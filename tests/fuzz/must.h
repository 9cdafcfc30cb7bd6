/* For the targets of fuzzing: what has to hold of every input. */
#ifndef GLOAM_TESTS_FUZZ_MUST_H
#define GLOAM_TESTS_FUZZ_MUST_H

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#define MUST(condition)                                                                            \
    do {                                                                                           \
        if (!(condition)) {                                                                        \
            fprintf(stderr, "%s:%d: expected %s\n", __FILE__, __LINE__, #condition);               \
            abort();                                                                               \
        }                                                                                          \
    } while (0)

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#endif
