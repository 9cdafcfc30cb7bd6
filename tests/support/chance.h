/* Numbers at random for tests, the same on every run: xorshift64* (Vigna 2016). A test sets its own
 * start in chance_state. */
#ifndef GLOAM_TESTS_SUPPORT_CHANCE_H
#define GLOAM_TESTS_SUPPORT_CHANCE_H

#include <stddef.h>
#include <stdint.h>

static uint64_t chance_state = 1;

static inline uint64_t chance(void) {
    chance_state ^= chance_state >> 12;
    chance_state ^= chance_state << 25;
    chance_state ^= chance_state >> 27;
    return chance_state * 0x2545F4914F6CDD1Du;
}

/* 0 to below `end` */
static inline size_t chance_index(size_t end) {
    return (size_t)(chance() % end);
}

/* 0 to below 1 */
static inline double chance_unit(void) {
    return (double)(chance() >> 11) * 0x1p-53;
}

#endif
