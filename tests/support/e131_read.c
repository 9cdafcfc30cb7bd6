#include "tests/support/e131_read.h"

#include <string.h>

static unsigned long number(const uint8_t *packet, size_t at, size_t octets) {
    unsigned long value = 0;
    for (size_t i = 0; i < octets; i++)
        value = value * 256 + packet[at + i];
    return value;
}

/* Flags in the upper four bits, length in the lower twelve. */
static bool layer_fits(const uint8_t *packet, size_t at, size_t length) {
    return number(packet, at, 2) == 7ul * 4096 + (length - at);
}

static const char *read_data(const uint8_t *packet, size_t length, E131Read *read) {
    if (length < 126 || length > 638)
        return "length of a data packet";
    if (!layer_fits(packet, 38, length))
        return "framing flags and length";
    if (number(packet, 40, 4) != 2)
        return "framing vector";
    if (packet[107] != 0)
        return "source name without its end";
    memcpy(read->name, packet + 44, 64);
    read->priority = packet[108];
    read->sync = (uint16_t)number(packet, 109, 2);
    read->sequence = packet[111];
    read->options = packet[112];
    read->universe = (uint16_t)number(packet, 113, 2);
    if (read->priority > 200)
        return "priority";
    if (read->sync > 63999)
        return "synchronisation address";
    if ((read->options & 0x1F) != 0)
        return "reserved options";
    if (read->universe < 1 || read->universe > 63999)
        return "universe";
    if (!layer_fits(packet, 115, length))
        return "DMP flags and length";
    if (packet[117] != 0x02 || packet[118] != 0xA1)
        return "DMP vector or type";
    if (number(packet, 119, 2) != 0 || number(packet, 121, 2) != 1)
        return "first address or increment";
    read->count = length - 126;
    if (number(packet, 123, 2) != read->count + 1)
        return "property count";
    read->start = packet[125];
    read->slots = packet + 126;
    return read->start != 0 ? "START code" : NULL;
}

static const char *read_sync(const uint8_t *packet, size_t length, E131Read *read) {
    read->is_sync = true;
    if (length != 49)
        return "length of a synchronisation packet";
    if (number(packet, 38, 2) != 0x700B)
        return "framing flags and length";
    if (number(packet, 40, 4) != 1)
        return "framing vector";
    read->sequence = packet[44];
    read->sync = (uint16_t)number(packet, 45, 2);
    if (read->sync < 1 || read->sync > 63999)
        return "synchronisation address";
    return number(packet, 47, 2) != 0 ? "reserved octets" : NULL;
}

const char *e131_read(const uint8_t *packet, size_t length, E131Read *read) {
    static const uint8_t identifier[12] = {0x41, 0x53, 0x43, 0x2D, 0x45, 0x31,
                                           0x2E, 0x31, 0x37, 0,    0,    0};
    memset(read, 0, sizeof *read);
    if (length < 49)
        return "length";
    if (number(packet, 0, 2) != 0x0010 || number(packet, 2, 2) != 0)
        return "preamble or postamble";
    if (memcmp(packet + 4, identifier, sizeof identifier) != 0)
        return "packet identifier";
    if (!layer_fits(packet, 16, length))
        return "root flags and length";
    memcpy(read->cid, packet + 22, 16);
    switch (number(packet, 18, 4)) {
    case 4:
        return read_data(packet, length, read);
    case 8:
        return read_sync(packet, length, read);
    default:
        return "root vector";
    }
}

bool e131_late(uint8_t last, uint8_t next) {
    int difference = (next - last) & 0xFF;
    if (difference >= 128)
        difference -= 256;
    return difference <= 0 && difference > -20;
}
