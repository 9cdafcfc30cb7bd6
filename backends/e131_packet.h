/* Packets of ANSI E1.31-2018 (streaming ACN), the ones that a source sends. Pure functions; numbers
 * in parentheses are sections of the standard. All fields are big-endian. */
#ifndef GLOAM_BACKENDS_E131_PACKET_H
#define GLOAM_BACKENDS_E131_PACKET_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
    E131_PORT = 5568,           /* UDP (9.3.1) */
    E131_CID_BYTES = 16,        /* a UUID of RFC 4122 (5.6) */
    E131_NAME_BYTES = 64,       /* UTF-8 with its NUL (6.2.2) */
    E131_SLOTS_MOST = 512,      /* without the START code (7.6) */
    E131_UNIVERSE_MOST = 63999, /* from 1 (6.2.7) */
    E131_PRIORITY_MOST = 200,   /* from 0 (6.2.3) */
    E131_DATA_HEAD = 126,       /* octets before the first slot */
    E131_DATA_MOST = E131_DATA_HEAD + E131_SLOTS_MOST,
    E131_SYNC_BYTES = 49
};

/* Options of a data packet (6.2.6). */
enum {
    E131_PREVIEW = 0x80,    /* not for lamps that shine */
    E131_TERMINATED = 0x40, /* the stream ends; receivers ignore the slots */
    E131_FORCE_SYNC = 0x20  /* where synchronisation is lost, light goes on without it */
};

/* What all packets of a source have in common. */
typedef struct E131Source {
    uint8_t cid[E131_CID_BYTES];
    char name[E131_NAME_BYTES]; /* NUL-terminated, the rest NUL too */
    uint8_t priority;
} E131Source;

/* Makes a UUID of version 4 from 16 random bytes (RFC 4122, 4.4). */
void e131_cid(const uint8_t random[E131_CID_BYTES], uint8_t cid[E131_CID_BYTES]);

/* Copies as much UTF-8 as there is room for, without cutting a letter in two. */
void e131_name(const char *text, char name[E131_NAME_BYTES]);

typedef struct E131Data {
    uint16_t universe;    /* 1..E131_UNIVERSE_MOST */
    uint16_t sync;        /* universe of the synchronisation packets; 0: act at once (6.2.4.1) */
    uint8_t sequence;     /* (6.2.5) */
    uint8_t options;      /* (6.2.6) */
    const uint8_t *slots; /* START code 0: plain levels */
    size_t count;         /* of slots, at most E131_SLOTS_MOST */
} E131Data;

/* Writes a data packet (table 4-1) and gives its length, E131_DATA_HEAD + count; 0, and nothing is
 * written, where a value is outside its range. `into` has room for E131_DATA_MOST. */
size_t e131_data_packet(const E131Source *source, const E131Data *data, uint8_t *into);

/* Writes a synchronisation packet (table 4-2), E131_SYNC_BYTES long, and gives its length; 0, and
 * nothing is written, where `sync` is no universe. */
size_t e131_sync_packet(const E131Source *source, uint16_t sync, uint8_t sequence, uint8_t *into);

/* The IPv4 group of a universe, 239.255.high.low (9.3.1); most significant byte first. */
uint32_t e131_group(uint16_t universe);

#endif
