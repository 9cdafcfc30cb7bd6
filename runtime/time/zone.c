#include "runtime/time/zone.h"

#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/time/zone_rule.h"

#define ZONE_HEADER 44           /* bytes */
#define ZONE_TYPES 256           /* what a byte can number */
#define ZONE_LEAST_OFFSET -89999 /* RFC 9636 section 3.2: the realistic range */
#define ZONE_MOST_OFFSET 93599
#define ZONE_PROBE 86400 /* seconds: no two changes of a zone lie within two of these */

struct Zone {
    size_t change_count;
    int64_t *changes;  /* instants, ascending */
    uint8_t *becoming; /* the type from each change on */
    size_t type_count; /* 0: the rule alone */
    ZoneType *types;   /* the first is in force before the first change */
    bool ruled;        /* the rule is in force from the last change on */
    ZoneRule rule;
};

/* -------- bytes -------- */

typedef struct ZoneBytes {
    const uint8_t *at;
    size_t left;
} ZoneBytes;

typedef struct ZoneHeader {
    uint8_t version;
    uint32_t utc_count, standard_count, leap_count, change_count, type_count, name_bytes;
} ZoneHeader;

static uint64_t zone_word(const uint8_t *bytes, size_t size) {
    uint64_t value = 0;
    for (size_t i = 0; i < size; i++)
        value = value << 8 | bytes[i];
    return value;
}

static int64_t zone_signed(const uint8_t *bytes, size_t size) {
    uint64_t value = zone_word(bytes, size);
    if (size == 4)
        return (int32_t)(uint32_t)value;
    return (int64_t)value;
}

/* The next `size` bytes, or NULL where there are not that many. */
static const uint8_t *zone_take(ZoneBytes *bytes, uint64_t size) {
    if (size > bytes->left)
        return NULL;
    const uint8_t *taken = bytes->at;
    bytes->at += size;
    bytes->left -= (size_t)size;
    return taken;
}

static bool zone_header(ZoneBytes *bytes, ZoneHeader *header) {
    const uint8_t *at = zone_take(bytes, ZONE_HEADER);
    if (!at || memcmp(at, "TZif", 4) != 0)
        return false;
    header->version = at[4];
    uint32_t *counts[] = {&header->utc_count,    &header->standard_count, &header->leap_count,
                          &header->change_count, &header->type_count,     &header->name_bytes};
    for (size_t i = 0; i < 6; i++)
        *counts[i] = (uint32_t)zone_word(at + 20 + 4 * i, 4);
    return true;
}

/* Bytes of the block behind a header; its times have `size` bytes each. */
static uint64_t zone_block_bytes(const ZoneHeader *header, uint64_t size) {
    return header->change_count * (size + 1) + (uint64_t)header->type_count * 6 +
           header->name_bytes + header->leap_count * (size + 4) + header->standard_count +
           header->utc_count;
}

static bool zone_counts_fit(const ZoneHeader *header) {
    return header->type_count >= 1 && header->type_count <= ZONE_TYPES && header->name_bytes >= 1 &&
           (header->utc_count == 0 || header->utc_count == header->type_count) &&
           (header->standard_count == 0 || header->standard_count == header->type_count);
}

static bool zone_type(const uint8_t *at, const char *names, size_t name_bytes, ZoneType *type) {
    int64_t offset = zone_signed(at, 4);
    size_t place = at[5];
    if (offset < ZONE_LEAST_OFFSET || offset > ZONE_MOST_OFFSET || at[4] > 1 || place >= name_bytes)
        return false;
    const char *name = names + place;
    const char *end = memchr(name, '\0', name_bytes - place);
    if (!end || end - name >= ZONE_NAME_BYTES)
        return false;
    for (const char *c = name; c < end; c++)
        if (*c <= ' ' || *c > '~') /* it is shown on terminals */
            return false;
    type->offset = (int32_t)offset;
    type->summer = at[4] == 1;
    memcpy(type->abbreviation, name, (size_t)(end - name) + 1);
    return true;
}

/* Fills the tables, which have room, from the whole block. */
static bool zone_tables(Zone *zone, const uint8_t *at, const ZoneHeader *header, size_t size) {
    const uint8_t *indices = at + zone->change_count * size;
    const uint8_t *types = indices + zone->change_count;
    const char *names = (const char *)(types + zone->type_count * 6);
    for (size_t i = 0; i < zone->change_count; i++) {
        zone->changes[i] = zone_signed(at + i * size, size);
        zone->becoming[i] = indices[i];
        if (indices[i] >= zone->type_count || (i > 0 && zone->changes[i] <= zone->changes[i - 1]))
            return false;
    }
    for (size_t i = 0; i < zone->type_count; i++)
        if (!zone_type(types + 6 * i, names, header->name_bytes, &zone->types[i]))
            return false;
    return true;
}

/* \n, a TZ string or nothing, \n. */
static bool zone_footer(Zone *zone, ZoneBytes *bytes) {
    const uint8_t *first = zone_take(bytes, 1);
    if (!first || *first != '\n')
        return false;
    const uint8_t *end = memchr(bytes->at, '\n', bytes->left);
    if (!end)
        return false;
    size_t length = (size_t)(end - bytes->at);
    zone->ruled = length > 0;
    return length == 0 || zone_rule_read((const char *)bytes->at, length, &zone->rule);
}

static ZoneStatus zone_read(ZoneBytes bytes, Zone *zone) {
    ZoneHeader header;
    if (!zone_header(&bytes, &header))
        return ZONE_BROKEN;
    size_t size = 4;
    if (header.version != 0) { /* the same again with 64-bit times, behind the first block */
        size = 8;
        if (!zone_take(&bytes, zone_block_bytes(&header, 4)) || !zone_header(&bytes, &header))
            return ZONE_BROKEN;
    }
    if (!zone_counts_fit(&header))
        return ZONE_BROKEN;
    const uint8_t *block = zone_take(&bytes, zone_block_bytes(&header, size));
    if (!block)
        return ZONE_BROKEN;
    if (header.leap_count > 0)
        return ZONE_LEAP_SECONDS;
    zone->change_count = header.change_count;
    zone->type_count = header.type_count;
    zone->changes = memory_allocate(zone->change_count, sizeof *zone->changes);
    zone->becoming = memory_allocate(zone->change_count, sizeof *zone->becoming);
    zone->types = memory_allocate(zone->type_count, sizeof *zone->types);
    if (!zone->changes || !zone->becoming || !zone->types)
        return ZONE_NO_MEMORY;
    bool fine = zone_tables(zone, block, &header, size) && (size == 4 || zone_footer(zone, &bytes));
    return fine ? ZONE_FINE : ZONE_BROKEN;
}

static ZoneStatus zone_finish(ZoneStatus status, Zone *made, Zone **zone) {
    if (status != ZONE_FINE) {
        zone_free(made);
        made = NULL;
    }
    *zone = made;
    return status;
}

ZoneStatus zone_from_bytes(const void *bytes, size_t size, Zone **zone) {
    Zone *made = memory_allocate(1, sizeof *made);
    ZoneStatus status = made ? zone_read((ZoneBytes){bytes, size}, made) : ZONE_NO_MEMORY;
    return zone_finish(status, made, zone);
}

ZoneStatus zone_from_rule(const char *text, Zone **zone) {
    Zone *made = memory_allocate(1, sizeof *made);
    ZoneStatus status = ZONE_NO_MEMORY;
    if (made) {
        made->ruled = true;
        status = zone_rule_read(text, strlen(text), &made->rule) ? ZONE_FINE : ZONE_BROKEN;
    }
    return zone_finish(status, made, zone);
}

void zone_free(Zone *zone) {
    if (!zone)
        return;
    memory_release(zone->changes);
    memory_release(zone->becoming);
    memory_release(zone->types);
    memory_release(zone);
}

/* -------- local time -------- */

static int64_t zone_held(int64_t seconds) {
    if (seconds > ZONE_SECONDS_LIMIT)
        return ZONE_SECONDS_LIMIT;
    return seconds < -ZONE_SECONDS_LIMIT ? -ZONE_SECONDS_LIMIT : seconds;
}

/* How many changes are at or before the instant. */
static size_t zone_changes_until(const Zone *zone, int64_t utc) {
    size_t low = 0, high = zone->change_count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (zone->changes[middle] <= utc)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

static const ZoneType *zone_type_at(const Zone *zone, int64_t utc) {
    size_t passed = zone_changes_until(zone, utc);
    if (zone->ruled && passed == zone->change_count)
        return zone_rule_at(&zone->rule, utc);
    return &zone->types[passed == 0 ? 0 : zone->becoming[passed - 1]];
}

ZoneOffset zone_offset(const Zone *zone, int64_t utc) {
    if (!zone)
        return (ZoneOffset){0, false, "UTC"};
    const ZoneType *type = zone_type_at(zone, zone_held(utc));
    return (ZoneOffset){type->offset, type->summer, type->abbreviation};
}

bool zone_change(const Zone *zone, int64_t first, int64_t last, int64_t *utc) {
    int32_t offset = zone_offset(zone, first).offset;
    if (zone_offset(zone, last).offset == offset)
        return false;
    while (last - first > 1) {
        int64_t middle = first + (last - first) / 2;
        if (zone_offset(zone, middle).offset == offset)
            first = middle;
        else
            last = middle;
    }
    *utc = last;
    return true;
}

ZoneCase zone_to_utc(const Zone *zone, int64_t wall, int64_t *utc) {
    wall = zone_held(wall);
    int64_t before = zone_offset(zone, wall - ZONE_PROBE).offset;
    int64_t after = zone_offset(zone, wall + ZONE_PROBE).offset;
    int64_t first = wall - before, second = wall - after;
    bool first_shown = zone_offset(zone, first).offset == before;
    bool second_shown = after != before && zone_offset(zone, second).offset == after;
    if (first_shown && second_shown) {
        *utc = first < second ? first : second;
        return ZONE_OVERLAP;
    }
    *utc = second_shown ? second : first;
    return first_shown || second_shown ? ZONE_ONCE : ZONE_GAP;
}
