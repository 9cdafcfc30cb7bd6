#include "runtime/core/memory.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

static unsigned long fail_at;
static unsigned long made;
static unsigned long live;

static int refused(void) {
    made++;
    if (fail_at == 0)
        return 0;
    if (fail_at > 1) {
        fail_at--;
        return 0;
    }
    return 1;
}

void *memory_allocate(size_t count, size_t size) {
    if (refused())
        return NULL;
    void *block = calloc(count ? count : 1, size ? size : 1);
    if (block)
        live++;
    return block;
}

void *memory_resize(void *block, size_t count, size_t size) {
    if (size && count > SIZE_MAX / size)
        return NULL;
    if (refused())
        return NULL;
    size_t length = count * size;
    void *moved = realloc(block, length > 0 ? length : 1);
    if (moved && !block)
        live++;
    return moved;
}

void memory_release(void *block) {
    if (block)
        live--;
    free(block);
}

char *memory_copy_text(const char *text, size_t length) {
    char *copy = memory_allocate(length + 1, 1);
    if (copy)
        memcpy(copy, text, length);
    return copy;
}

void memory_fail_at(unsigned long n) {
    fail_at = n;
}

unsigned long memory_live(void) {
    return live;
}

unsigned long memory_count(void) {
    return made;
}
