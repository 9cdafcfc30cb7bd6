/* Files that use each other: the input is cut at zero bytes into a main file and up to three more,
 * which have the names that the others are likely to use. Whatever they say, the compilation ends
 * with a program or an error, and nothing is left. */
#include <stdio.h>
#include <stdlib.h>

#include "tests/lang/memory_reader.h"

#define HOLDS(condition)                                                                           \
    do {                                                                                           \
        if (!(condition)) {                                                                        \
            fprintf(stderr, "%s:%d: expected %s\n", __FILE__, __LINE__, #condition);               \
            abort();                                                                               \
        }                                                                                          \
    } while (0)

int LLVMFuzzerTestOneInput(const unsigned char *bytes, size_t size);

int LLVMFuzzerTestOneInput(const unsigned char *bytes, size_t size) {
    static const char *const NAMES[] = {"a.gloam", "b.gloam", "in/c.gloam", "p.csv"};
    MemoryFile files[5] = {{0}};
    char *copy = malloc(size + 1);
    HOLDS(copy);
    memcpy(copy, bytes, size);
    copy[size] = '\0';
    size_t begin = 0, count = 0;
    for (size_t i = 0; i <= size && count < 4; i++) {
        if (i < size && (copy[i] != '\0' || count == 3))
            continue;
        files[count] =
            (MemoryFile){.path = NAMES[count], .text = copy + begin, .length = i - begin};
        count++;
        begin = i + 1;
    }
    unsigned long before = memory_live();
    Compilation *compilation = compile_files(files);
    HOLDS(compilation);
    Diagnostics *sink = lang_diagnostics(compilation);
    HOLDS((lang_program(compilation) != NULL) == (diagnostics_count(sink, SEVERITY_ERROR) == 0));
    lang_free(compilation);
    HOLDS(memory_live() == before);
    free(copy);
    return 0;
}
