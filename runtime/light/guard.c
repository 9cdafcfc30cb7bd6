#include "runtime/light/guard.h"

#include <stddef.h>
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/light/mix.h"

enum { GUARD_STEPS = 24 }; /* of bisection: shares are multiples of 2^-24 */

struct Guard {
    Flash *flash; /* told what was shown, nothing else */
    size_t values;
    float *shown;
    float *mixed;
};

Guard *guard_create(uint32_t pixels) {
    Guard *guard = memory_allocate(1, sizeof *guard);
    if (guard == NULL)
        return NULL;
    guard->values = 3 * (size_t)pixels;
    guard->flash = flash_create(pixels);
    guard->shown = memory_allocate(guard->values, sizeof *guard->shown);
    guard->mixed = memory_allocate(guard->values, sizeof *guard->mixed);
    if (guard->flash == NULL || guard->shown == NULL || guard->mixed == NULL) {
        guard_free(guard);
        return NULL;
    }
    return guard;
}

void guard_free(Guard *guard) {
    if (guard == NULL)
        return;
    flash_free(guard->flash);
    memory_release(guard->shown);
    memory_release(guard->mixed);
    memory_release(guard);
}

void guard_restart(Guard *guard) {
    flash_restart(guard->flash);
}

/* The share that is shown was tried itself, or it is 0: the last frame again, which completes no
 * transition (flash.h), whatever came before. So nothing that goes out breaks the rule, also where
 * the shares that break it are not all above those that keep it.
 *
 * Once the frames wanted stay the same, what is shown goes straight to them. On a straight way a
 * pixel completes at most one transition of a kind, so the mean has one and the pixels four; when a
 * second has gone by, no more than these are in it, and the frame wanted passes. */
static void guard_hold(Guard *guard, int64_t microseconds, float *light) {
    double keeps = 0.0, breaks = 1.0;
    for (int step = 0; step < GUARD_STEPS; step++) {
        double share = 0.5 * (keeps + breaks);
        light_mix_frames(guard->shown, light, share, guard->values, guard->mixed);
        if (flash_would_break(guard->flash, microseconds, guard->mixed))
            breaks = share;
        else
            keeps = share;
    }
    light_mix_frames(guard->shown, light, keeps, guard->values, light);
}

bool guard_frame(Guard *guard, int64_t microseconds, float *light) {
    /* The first frame of all completes nothing, so `shown` is read only when there is one. */
    bool held = flash_would_break(guard->flash, microseconds, light);
    if (held)
        guard_hold(guard, microseconds, light);
    flash_frame(guard->flash, microseconds, light);
    if (guard->values > 0)
        memcpy(guard->shown, light, guard->values * sizeof *light);
    return held;
}

const FlashSeen *guard_seen(const Guard *guard) {
    return flash_seen(guard->flash);
}
