#include "runtime/core/memory.h"

#include <stdatomic.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

/* Counters for tests. Objects of several threads may share them, hence atomic; nothing hangs on
 * their order. */
static atomic_ulong fail_at, made, live;

static void count(atomic_ulong *counter) {
    atomic_fetch_add_explicit(counter, 1, memory_order_relaxed);
}

static int refused(void) {
    count(&made);
    unsigned long left = atomic_load_explicit(&fail_at, memory_order_relaxed);
    while (left > 1)
        if (atomic_compare_exchange_weak_explicit(&fail_at, &left, left - 1, memory_order_relaxed,
                                                  memory_order_relaxed))
            return 0;
    return left == 1;
}

void *memory_allocate(size_t number, size_t size) {
    if (refused())
        return NULL;
    void *block = calloc(number ? number : 1, size ? size : 1);
    if (block)
        count(&live);
    return block;
}

void *memory_resize(void *block, size_t number, size_t size) {
    if (size && number > SIZE_MAX / size)
        return NULL;
    if (refused())
        return NULL;
    size_t length = number * size;
    void *moved = realloc(block, length > 0 ? length : 1);
    if (moved && !block)
        count(&live);
    return moved;
}

void memory_release(void *block) {
    if (block)
        atomic_fetch_sub_explicit(&live, 1, memory_order_relaxed);
    free(block);
}

char *memory_copy_text(const char *text, size_t length) {
    char *copy = memory_allocate(length + 1, 1);
    if (copy)
        memcpy(copy, text, length);
    return copy;
}

void memory_fail_at(unsigned long n) {
    atomic_store(&fail_at, n);
}

unsigned long memory_live(void) {
    return atomic_load(&live);
}

unsigned long memory_count(void) {
    return atomic_load(&made);
}
