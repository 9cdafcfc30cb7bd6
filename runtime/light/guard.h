/* The flash guard: whatever comes in, what goes out keeps the rule of flash.h.
 *
 * A frame that breaks nothing passes bit for bit. One that would complete the seventh transition of
 * a kind within a second is mixed towards the last one shown, just so far (to 2^-24 of the way)
 * that it does not; so long as it would, again and again. It remembers what it showed: one of the
 * few places with a memory. Nothing is allocated after guard_create. */
#ifndef GLOAM_LIGHT_GUARD_H
#define GLOAM_LIGHT_GUARD_H

#include "runtime/light/flash.h"

typedef struct Guard Guard;

Guard *guard_create(uint32_t pixels); /* NULL: out of memory */
void guard_free(Guard *guard);
/* Forgets what was shown. */
void guard_restart(Guard *guard);

/* Looks at a frame and holds it back where it must, in place. Times are those at which frames are
 * shown and never fall. True where the frame was changed. */
bool guard_frame(Guard *guard, int64_t microseconds, float *light);
/* What went out so far. */
const FlashSeen *guard_seen(const Guard *guard);

#endif
