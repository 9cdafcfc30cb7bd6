/* One-wire pixels at 800 kbit/s through the data line of an SPI port: each bit is a few SPI bits,
 * first high, then low. No pattern of high and low times lies inside the windows of every data
 * sheet, so each chip has profiles of its own. Pure functions. */
#ifndef GLOAM_BACKENDS_ONEWIRE_H
#define GLOAM_BACKENDS_ONEWIRE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* What a data sheet allows: nanoseconds, least and most, of the high and the low time of a bit. */
typedef struct OnewireSheet {
    const char *name;
    uint16_t zero_high[2], one_high[2], zero_low[2], one_low[2];
    uint16_t rest; /* microseconds low that end a frame, at least */
} OnewireSheet;

typedef enum OnewireSheetName {
    ONEWIRE_WS2812_2012,
    ONEWIRE_WS2812B_2013,
    ONEWIRE_WS2812B_QUOTED,
    ONEWIRE_WS2812B_2020,
    ONEWIRE_WS2812B_MINI,
    ONEWIRE_WS2812B_2023,
    ONEWIRE_SK6812W_2015,
    ONEWIRE_SHEETS
} OnewireSheetName;
extern const OnewireSheet onewire_sheets[ONEWIRE_SHEETS];

/* SPI bits of a bit, and how many of them are high, the first ones. */
typedef struct OnewirePattern {
    uint8_t bits, zero, one; /* bits at most 8 */
} OnewirePattern;

/* The clocks, in hertz, at which all times lie inside; none where least is above most. */
typedef struct OnewireClocks {
    uint32_t least, most;
} OnewireClocks;
OnewireClocks onewire_clocks(OnewirePattern pattern, const OnewireSheet *sheet);

typedef struct OnewireProfile {
    const char *chip; /* name of chips.def */
    OnewirePattern pattern;
    uint32_t hertz;  /* its usual clock */
    uint32_t sheets; /* bit 1 << OnewireSheetName: the sheets whose windows it keeps */
} OnewireProfile;
enum { ONEWIRE_PROFILES = 9 };
extern const OnewireProfile onewire_profiles[ONEWIRE_PROFILES];

/* The clocks that keep all sheets of the profile; whether one does. */
OnewireClocks onewire_range(const OnewireProfile *profile);
bool onewire_fits(const OnewireProfile *profile, uint32_t hertz);
/* The first profile of the chip that fits the clock, 0: the chip's usual one. NULL: none. */
const OnewireProfile *onewire_profile(const char *chip, uint32_t hertz);

enum {
    ONEWIRE_REST = 300, /* microseconds low behind a frame: the most that any sheet asks for */
    ONEWIRE_LEAD = 1    /* zero bytes before it, so that the first bit rises from low */
};

/* What each byte becomes: pattern.bits SPI bytes. */
typedef struct OnewireTable {
    OnewirePattern pattern;
    uint8_t codes[256][8];
} OnewireTable;
void onewire_table(OnewirePattern pattern, OnewireTable *table);

/* Zero bytes that last for ONEWIRE_REST. */
size_t onewire_rest(uint32_t hertz);
/* SPI bytes of a frame of `count` bytes: lead, bytes, rest. */
uint64_t onewire_length(OnewirePattern pattern, uint32_t hertz, uint64_t count);
/* Writes onewire_length(table->pattern, hertz, count) bytes. `bytes` in the order of the wire. */
void onewire_frame(const OnewireTable *table, uint32_t hertz, const uint8_t *bytes, size_t count,
                   uint8_t *into);

#endif
