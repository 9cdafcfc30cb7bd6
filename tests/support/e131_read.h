/* A strict reader of ANSI E1.31-2018 packets, for tests: every constant, length and range of tables
 * 4-1 and 4-2 is checked. It shares nothing with the sender. */
#ifndef GLOAM_TESTS_E131_READ_H
#define GLOAM_TESTS_E131_READ_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef struct E131Read {
    bool is_sync; /* else data */
    uint8_t cid[16];
    char name[64];
    uint8_t priority, sequence, options, start;
    uint16_t sync, universe; /* a synchronisation packet has no universe */
    size_t count;            /* slots */
    const uint8_t *slots;    /* inside the packet */
} E131Read;

/* NULL where the packet is right, else what is wrong with it. */
const char *e131_read(const uint8_t *packet, size_t length, E131Read *read);

/* Whether a number is late or a repeat, and its packet to be dropped (6.7.2). */
bool e131_late(uint8_t last, uint8_t next);

#endif
