/* Every allocation of the library goes through here, so that tests can fail each in turn.
 * memory_allocate returns zeroed memory or NULL; memory_resize keeps the old block on failure;
 * whoever allocated releases with memory_release (NULL is fine). */
#ifndef GLOAM_CORE_MEMORY_H
#define GLOAM_CORE_MEMORY_H

#include <stddef.h>

void *memory_allocate(size_t count, size_t size); /* overflow of count * size is a failure */
void *memory_resize(void *block, size_t count, size_t size);
void memory_release(void *block);
char *memory_copy_text(const char *text, size_t length); /* NUL-terminated copy, or NULL */

/* Tests only: fail the n-th allocation from now (1 is the next) and every later one; 0: never.
 * memory_live counts blocks that are not released. */
void memory_fail_at(unsigned long n);
unsigned long memory_live(void);
unsigned long memory_count(void); /* allocations so far */

#endif
