/* Memory that is freed as a whole. An allocation never returns NULL: when memory runs out the
 * arena is marked as failed and hands out a spare block again and again, so that a caller can go
 * on to its next check of arena_failed (before it follows any link) without testing each one. */
#ifndef GLOAM_LANG_ARENA_H
#define GLOAM_LANG_ARENA_H

#include <stdbool.h>
#include <stddef.h>

typedef struct Arena Arena;

Arena *arena_create(void); /* NULL: out of memory */
void arena_free(Arena *arena);
bool arena_failed(const Arena *arena);

/* Zeroed, aligned for any type. Sizes above ARENA_SPARE may return NULL when memory ran out. */
enum { ARENA_SPARE = 4096 };
void *arena_allocate(Arena *arena, size_t size);
const char *arena_copy_text(Arena *arena, const char *text, size_t length);

#endif
