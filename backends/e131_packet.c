#include "backends/e131_packet.h"

#include <string.h>

enum {
    ROOT_AT = 16, /* where the layers begin, each with flags and length */
    FRAMING_AT = 38,
    DMP_AT = 115
};

static void put16(uint8_t *into, unsigned value) {
    into[0] = (uint8_t)(value >> 8);
    into[1] = (uint8_t)value;
}

static void put32(uint8_t *into, uint32_t value) {
    put16(into, value >> 16);
    put16(into + 2, value & 0xFFFF);
}

/* The flags are always 7; the length counts from its own place to the end (5.4, 6.1, 7.1). */
static void put_length(uint8_t *packet, size_t at, size_t length) {
    put16(packet + at, 0x7000u | (unsigned)(length - at));
}

/* The root layer (5). */
static void put_root(const E131Source *source, uint32_t vector, size_t length, uint8_t *packet) {
    static const uint8_t identifier[12] = "ASC-E1.17"; /* and three NUL */
    put16(packet, 0x0010);
    put16(packet + 2, 0x0000);
    memcpy(packet + 4, identifier, sizeof identifier);
    put_length(packet, ROOT_AT, length);
    put32(packet + 18, vector);
    memcpy(packet + 22, source->cid, E131_CID_BYTES);
}

static bool is_universe(uint16_t universe) {
    return universe >= 1 && universe <= E131_UNIVERSE_MOST;
}

void e131_cid(const uint8_t random[E131_CID_BYTES], uint8_t cid[E131_CID_BYTES]) {
    memmove(cid, random, E131_CID_BYTES);
    cid[6] = (uint8_t)(0x40 | (cid[6] & 0x0F)); /* the version */
    cid[8] = (uint8_t)(0x80 | (cid[8] & 0x3F)); /* the variant */
}

void e131_name(const char *text, char name[E131_NAME_BYTES]) {
    size_t length = strlen(text);
    if (length > E131_NAME_BYTES - 1) {
        length = E131_NAME_BYTES - 1;
        while (length > 0 && ((uint8_t)text[length] & 0xC0) == 0x80)
            length--;
    }
    memset(name, 0, E131_NAME_BYTES);
    memcpy(name, text, length);
}

size_t e131_data_packet(const E131Source *source, const E131Data *data, uint8_t *into) {
    const size_t length = E131_DATA_HEAD + data->count;
    if (!is_universe(data->universe) || data->sync > E131_UNIVERSE_MOST ||
        source->priority > E131_PRIORITY_MOST || data->count > E131_SLOTS_MOST)
        return 0;
    put_root(source, 0x00000004, length, into);
    put_length(into, FRAMING_AT, length);
    put32(into + 40, 0x00000002);
    memcpy(into + 44, source->name, E131_NAME_BYTES);
    into[107] = 0;
    into[108] = source->priority;
    put16(into + 109, data->sync);
    into[111] = data->sequence;
    into[112] = data->options;
    put16(into + 113, data->universe);
    put_length(into, DMP_AT, length);
    into[117] = 0x02;                             /* set property (7.2) */
    into[118] = 0xA1;                             /* type of address and data (7.3) */
    put16(into + 119, 0x0000);                    /* first address (7.4) */
    put16(into + 121, 0x0001);                    /* increment (7.5) */
    put16(into + 123, (unsigned)data->count + 1); /* with the START code (7.6) */
    into[125] = 0x00;                             /* START code (7.7) */
    if (data->count > 0)
        memcpy(into + E131_DATA_HEAD, data->slots, data->count);
    return length;
}

size_t e131_sync_packet(const E131Source *source, uint16_t sync, uint8_t sequence, uint8_t *into) {
    if (!is_universe(sync))
        return 0;
    put_root(source, 0x00000008, E131_SYNC_BYTES, into);
    put_length(into, FRAMING_AT, E131_SYNC_BYTES);
    put32(into + 40, 0x00000001);
    into[44] = sequence;
    put16(into + 45, sync);
    put16(into + 47, 0); /* reserved (6.3.4) */
    return E131_SYNC_BYTES;
}

uint32_t e131_group(uint16_t universe) {
    return 0xEFFF0000u | universe;
}
