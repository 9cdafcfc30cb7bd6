#include "lang/arena.h"

#include <stdalign.h>
#include <stdint.h>
#include <string.h>

#include "runtime/core/memory.h"

enum { CHUNK_FIRST = 8192, CHUNK_LARGEST = 1 << 18 };

typedef struct Chunk {
    struct Chunk *next;
    alignas(max_align_t) unsigned char bytes[];
} Chunk;

struct Arena {
    Chunk *chunks;
    unsigned char *free; /* in the newest chunk of blocks, zeroed from here on */
    size_t left;
    size_t chunk_size;
    bool failed;
    alignas(max_align_t) unsigned char spare[ARENA_SPARE];
};

Arena *arena_create(void) {
    Arena *arena = memory_allocate(1, sizeof(Arena));
    if (arena)
        arena->chunk_size = CHUNK_FIRST;
    return arena;
}

void arena_free(Arena *arena) {
    if (!arena)
        return;
    Chunk *chunk = arena->chunks;
    while (chunk) {
        Chunk *next = chunk->next;
        memory_release(chunk);
        chunk = next;
    }
    memory_release(arena);
}

bool arena_failed(const Arena *arena) {
    return arena->failed;
}

static unsigned char *add_chunk(Arena *arena, size_t size) {
    Chunk *chunk =
        size < SIZE_MAX - sizeof(Chunk) ? memory_allocate(1, sizeof(Chunk) + size) : NULL;
    if (!chunk)
        return NULL;
    chunk->next = arena->chunks;
    arena->chunks = chunk;
    return chunk->bytes;
}

static void *give_spare(Arena *arena, size_t size) {
    arena->failed = true;
    if (size > ARENA_SPARE)
        return NULL;
    memset(arena->spare, 0, ARENA_SPARE);
    return arena->spare;
}

void *arena_allocate(Arena *arena, size_t size) {
    enum { ALIGN = alignof(max_align_t) };
    if (arena->failed || size > SIZE_MAX - ALIGN)
        return give_spare(arena, size);
    size = (size + ALIGN - 1) / ALIGN * ALIGN;
    if (size == 0)
        size = ALIGN;
    if (size > arena->left) {
        if (size > arena->chunk_size / 4) { /* a chunk of its own; the present one goes on */
            unsigned char *block = add_chunk(arena, size);
            return block ? block : give_spare(arena, size);
        }
        unsigned char *block = add_chunk(arena, arena->chunk_size);
        if (!block)
            return give_spare(arena, size);
        arena->free = block;
        arena->left = arena->chunk_size;
        if (arena->chunk_size < CHUNK_LARGEST)
            arena->chunk_size *= 2;
    }
    void *result = arena->free;
    arena->free += size;
    arena->left -= size;
    return result;
}

const char *arena_copy_text(Arena *arena, const char *text, size_t length) {
    char *copy = length < SIZE_MAX ? arena_allocate(arena, length + 1) : NULL;
    if (!copy || arena->failed)
        return "";
    memcpy(copy, text, length);
    return copy;
}
