#include "backends/onewire.h"

#include <string.h>

/* Read: the data sheets of the WS2812 (file of 2012-11-01), of the WS2812B (files of 2013-10-31 and
 * 2023-07) and of the SK6812RGBW (Rev 01 of 2015-07-31, section 10). Second hand: the others, as
 * shops and public sources quote them. Nominal time and tolerance as least and most; a rest of more
 * than 50, 280 or 300 us as that. (The drawing of 2023 still says 50 us, its table 300 us.) */
const OnewireSheet onewire_sheets[ONEWIRE_SHEETS] = {
    {"WS2812 (2012-11)", {200, 500}, {550, 850}, {650, 950}, {450, 750}, 50},
    {"WS2812B (2013-10)", {200, 500}, {750, 1050}, {750, 1050}, {200, 500}, 50},
    {"WS2812B (quoted, 0.4 and 0.8 us)", {250, 550}, {650, 950}, {700, 1000}, {300, 600}, 50},
    {"WS2812B-2020", {220, 380}, {580, 1000}, {580, 1000}, {220, 420}, 280},
    {"WS2812B-Mini V3", {220, 380}, {580, 1000}, {580, 1000}, {580, 1000}, 280},
    {"WS2812B (2023-07)", {220, 380}, {750, 1600}, {750, 1600}, {220, 420}, 300},
    {"SK6812RGBW Rev 01 (2015-07)", {150, 450}, {450, 750}, {750, 1050}, {450, 750}, 80},
};

#define SHEET(name) (1u << ONEWIRE_##name)
#define WS2812B_SHEETS                                                                             \
    (SHEET(WS2812B_2013) | SHEET(WS2812B_QUOTED) | SHEET(WS2812B_2020) | SHEET(WS2812B_2023))

/* No sheet of the SK6812 without white was read: it is taken to be the same (common practice, no
 * source). The first of a chip is its usual one; the others serve controllers with other clocks. */
const OnewireProfile onewire_profiles[ONEWIRE_PROFILES] = {
    {"ws2812", {4, 1, 2}, 3200000, SHEET(WS2812_2012)},
    {"ws2812", {8, 2, 4}, 6400000, SHEET(WS2812_2012)},
    {"ws2812b", {4, 1, 3}, 3200000, WS2812B_SHEETS},
    {"ws2812b", {8, 2, 6}, 6400000, WS2812B_SHEETS},
    {"ws2812b", {3, 1, 2}, 2650000, WS2812B_SHEETS},
    {"sk6812", {4, 1, 2}, 3200000, SHEET(SK6812W_2015)},
    {"sk6812", {8, 2, 4}, 6400000, SHEET(SK6812W_2015)},
    {"sk6812w", {4, 1, 2}, 3200000, SHEET(SK6812W_2015)},
    {"sk6812w", {8, 2, 4}, 6400000, SHEET(SK6812W_2015)},
};

static void narrow(OnewireClocks *clocks, uint32_t spi_bits, const uint16_t window[2]) {
    const uint64_t second = 1000000000;
    uint32_t least = (uint32_t)((spi_bits * second + window[1] - 1) / window[1]);
    uint32_t most = (uint32_t)(spi_bits * second / window[0]);
    clocks->least = clocks->least > least ? clocks->least : least;
    clocks->most = clocks->most < most ? clocks->most : most;
}

OnewireClocks onewire_clocks(OnewirePattern pattern, const OnewireSheet *sheet) {
    OnewireClocks clocks = {0, UINT32_MAX};
    narrow(&clocks, pattern.zero, sheet->zero_high);
    narrow(&clocks, pattern.one, sheet->one_high);
    narrow(&clocks, (uint32_t)(pattern.bits - pattern.zero), sheet->zero_low);
    narrow(&clocks, (uint32_t)(pattern.bits - pattern.one), sheet->one_low);
    return clocks;
}

OnewireClocks onewire_range(const OnewireProfile *profile) {
    OnewireClocks all = {0, UINT32_MAX};
    for (int i = 0; i < ONEWIRE_SHEETS; i++) {
        if (!(profile->sheets & 1u << i))
            continue;
        OnewireClocks one = onewire_clocks(profile->pattern, &onewire_sheets[i]);
        all.least = all.least > one.least ? all.least : one.least;
        all.most = all.most < one.most ? all.most : one.most;
    }
    return all;
}

bool onewire_fits(const OnewireProfile *profile, uint32_t hertz) {
    OnewireClocks clocks = onewire_range(profile);
    return clocks.least <= hertz && hertz <= clocks.most;
}

const OnewireProfile *onewire_profile(const char *chip, uint32_t hertz) {
    for (int i = 0; i < ONEWIRE_PROFILES; i++) {
        const OnewireProfile *profile = &onewire_profiles[i];
        if (strcmp(profile->chip, chip) == 0 && (hertz == 0 || onewire_fits(profile, hertz)))
            return profile;
    }
    return NULL;
}

void onewire_table(OnewirePattern pattern, OnewireTable *table) {
    memset(table, 0, sizeof *table);
    table->pattern = pattern;
    for (int value = 0; value < 256; value++)
        for (int bit = 0; bit < 8; bit++) {
            int high = value >> (7 - bit) & 1 ? pattern.one : pattern.zero;
            for (int i = 0; i < high; i++) {
                int place = bit * pattern.bits + i;
                table->codes[value][place / 8] |= (uint8_t)(0x80 >> place % 8);
            }
        }
}

size_t onewire_rest(uint32_t hertz) {
    return (size_t)(((uint64_t)ONEWIRE_REST * hertz + 7999999) / 8000000);
}

uint64_t onewire_length(OnewirePattern pattern, uint32_t hertz, uint64_t count) {
    return ONEWIRE_LEAD + count * pattern.bits + onewire_rest(hertz);
}

void onewire_frame(const OnewireTable *table, uint32_t hertz, const uint8_t *bytes, size_t count,
                   uint8_t *into) {
    memset(into, 0, ONEWIRE_LEAD);
    into += ONEWIRE_LEAD;
    for (size_t i = 0; i < count; i++) {
        memcpy(into, table->codes[bytes[i]], table->pattern.bits);
        into += table->pattern.bits;
    }
    memset(into, 0, onewire_rest(hertz));
}
