/* One-wire pixels as SPI bits: the windows of the data sheets, each profile inside its sheets, the
 * bytes of every encoding, sizes. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "backends/onewire.h"
#include "runtime/core/chip.h"
#include "tests/support/chance.h"
#include "tests/support/table.h"

/* Nominal time and tolerance, or least and most, in ns, as the sheets print them: WS2812 (file of
 * 2012-11-01), WS2812B (files of 2013-10-31 and 2023-07) and SK6812RGBW Rev 01 were read, the rest
 * is second hand. Order: T0H, T1H, T0L, T1L; rest in us. */
static void test_sheets(void **state) {
    (void)state;
    static const struct {
        OnewireSheetName name;
        int nominal[4], tolerance;
        int least[4], most[4], rest;
    } said[ONEWIRE_SHEETS] = {
        {ONEWIRE_WS2812_2012, {350, 700, 800, 600}, 150, {0}, {0}, 50},
        {ONEWIRE_WS2812B_2013, {350, 900, 900, 350}, 150, {0}, {0}, 50},
        {ONEWIRE_WS2812B_QUOTED, {400, 800, 850, 450}, 150, {0}, {0}, 50},
        {ONEWIRE_WS2812B_2020, {0}, 0, {220, 580, 580, 220}, {380, 1000, 1000, 420}, 280},
        {ONEWIRE_WS2812B_MINI, {0}, 0, {220, 580, 580, 580}, {380, 1000, 1000, 1000}, 280},
        {ONEWIRE_WS2812B_2023, {0}, 0, {220, 750, 750, 220}, {380, 1600, 1600, 420}, 300},
        {ONEWIRE_SK6812W_2015, {300, 600, 900, 600}, 150, {0}, {0}, 80},
    };
    for (int i = 0; i < ONEWIRE_SHEETS; i++) {
        const OnewireSheet *sheet = &onewire_sheets[said[i].name];
        const uint16_t *windows[4] = {sheet->zero_high, sheet->one_high, sheet->zero_low,
                                      sheet->one_low};
        for (int k = 0; k < 4; k++) {
            bool range = said[i].tolerance == 0;
            assert_int_equal(windows[k][0],
                             range ? said[i].least[k] : said[i].nominal[k] - said[i].tolerance);
            assert_int_equal(windows[k][1],
                             range ? said[i].most[k] : said[i].nominal[k] + said[i].tolerance);
        }
        assert_int_equal(sheet->rest, said[i].rest);
        assert_true(sheet->rest <= ONEWIRE_REST);
    }
}

static const OnewireSheet *sheet_of(const char *chip) {
    static const struct {
        const char *chip;
        OnewireSheetName name;
    } names[] = {{"WS2812 (data sheet 2012-11)", ONEWIRE_WS2812_2012},
                 {"WS2812B (data sheet 2013-10)", ONEWIRE_WS2812B_2013},
                 {"WS2812B (0.4/0.8/0.85/0.45 table)", ONEWIRE_WS2812B_QUOTED},
                 {"WS2812B-2020", ONEWIRE_WS2812B_2020},
                 {"WS2812B-Mini V3", ONEWIRE_WS2812B_MINI},
                 {"WS2812B (edition 2023-07)", ONEWIRE_WS2812B_2023},
                 {"SK6812RGBW Rev 01 (2015-07-31)", ONEWIRE_SK6812W_2015}};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        if (strcmp(names[i].chip, chip) == 0)
            return &onewire_sheets[names[i].name];
    fail_msg("no sheet `%s`", chip);
    return NULL;
}

static OnewirePattern pattern_of(const Table *table, size_t row) {
    const char *zero = table_text(table, row, "zero"), *one = table_text(table, row, "one");
    return (OnewirePattern){(uint8_t)strlen(zero), (uint8_t)strspn(zero, "1"),
                            (uint8_t)strspn(one, "1")};
}

/* 2.667 is 8/3 and 3.333 is 10/3 in the table. */
static uint32_t hertz_of(const Table *table, size_t row) {
    const char *text = table_text(table, row, "spi_mhz");
    if (strcmp(text, "2.667") == 0)
        return 8000000 / 3;
    if (strcmp(text, "3.333") == 0)
        return 10000000 / 3;
    return (uint32_t)lround(1e6 * strtod(text, NULL));
}

/* tests/data/light/onewire_spi_timing.csv: windows row by row, and the clocks that fit. */
static void test_timing(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/onewire_spi_timing.csv", 84);
    for (size_t row = 0; row < table_rows(table); row++) {
        const OnewireSheet *sheet = sheet_of(table_text(table, row, "chip"));
        const struct {
            const char *column, *name;
            const uint16_t *window;
        } times[] = {{"T0H_ns", "T0H", sheet->zero_high},
                     {"T1H_ns", "T1H", sheet->one_high},
                     {"T0L_ns", "T0L", sheet->zero_low},
                     {"T1L_ns", "T1L", sheet->one_low}};
        for (size_t i = 0; i < 4; i++) {
            double time = table_number(table, row, times[i].column);
            bool inside = times[i].window[0] <= time && time <= times[i].window[1];
            bool fails = strstr(table_text(table, row, "fails"), times[i].name) != NULL;
            assert_int_equal(inside, !fails);
        }
        OnewireClocks clocks = onewire_clocks(pattern_of(table, row), sheet);
        uint32_t hertz = hertz_of(table, row);
        bool fits = clocks.least <= hertz && hertz <= clocks.most;
        assert_int_equal(fits, table_number(table, row, "ok") == 1);
    }
    table_free(table);
}

/* At the ends of the range all times are inside, one hertz beyond one is not: by multiplication,
 * where the code divides. */
static bool keeps(const OnewireProfile *profile, uint64_t hertz) {
    const OnewirePattern *pattern = &profile->pattern;
    for (int i = 0; i < ONEWIRE_SHEETS; i++) {
        const OnewireSheet *sheet = &onewire_sheets[i];
        const struct {
            unsigned bits;
            const uint16_t *window;
        } times[] = {{pattern->zero, sheet->zero_high},
                     {pattern->one, sheet->one_high},
                     {(unsigned)pattern->bits - pattern->zero, sheet->zero_low},
                     {(unsigned)pattern->bits - pattern->one, sheet->one_low}};
        for (int k = 0; (profile->sheets >> i & 1) && k < 4; k++) {
            uint64_t scaled = 1000000000ull * times[k].bits;
            if (scaled < times[k].window[0] * hertz || scaled > times[k].window[1] * hertz)
                return false;
        }
    }
    return true;
}

static void test_profiles(void **state) {
    (void)state;
    for (int i = 0; i < ONEWIRE_PROFILES; i++) {
        const OnewireProfile *profile = &onewire_profiles[i];
        const Chip *chip = chip_find(profile->chip);
        assert_non_null(chip);
        assert_int_equal(chip->wire, CHIP_ONE_WIRE);
        assert_true(profile->sheets != 0 && profile->sheets < 1u << ONEWIRE_SHEETS);
        assert_true(onewire_fits(profile, profile->hertz) && keeps(profile, profile->hertz));
        OnewireClocks clocks = onewire_range(profile);
        assert_true(keeps(profile, clocks.least) && keeps(profile, clocks.most));
        assert_false(keeps(profile, clocks.least - 1) || keeps(profile, clocks.most + 1));
        assert_true(onewire_fits(profile, clocks.least) && onewire_fits(profile, clocks.most));
        assert_false(onewire_fits(profile, clocks.least - 1));
        assert_false(onewire_fits(profile, clocks.most + 1));
        assert_false(onewire_fits(profile, 0) || onewire_fits(profile, UINT32_MAX));
    }
    for (int i = 0; i < CHIP_COUNT; i++)
        if (CHIPS[i].wire == CHIP_ONE_WIRE)
            assert_non_null(onewire_profile(CHIPS[i].name, 0));
        else
            assert_null(onewire_profile(CHIPS[i].name, 0));
}

/* Clocks at an edge are inside: 1 bit of at most 500 ns and 3 of at least 100 ns; and where the
 * division leaves a rest of 1 (10^9 = 333 * 3003003 + 1) the next one is the first. */
static void test_edges(void **state) {
    (void)state;
    const OnewirePattern pattern = {4, 1, 3};
    OnewireSheet sheet = {"", {1, 500}, {100, 60000}, {1, 60000}, {1, 60000}, 0};
    OnewireClocks clocks = onewire_clocks(pattern, &sheet);
    assert_int_equal(clocks.least, 2000000);
    assert_int_equal(clocks.most, 30000000);
    sheet.zero_high[1] = 333;
    assert_int_equal(onewire_clocks(pattern, &sheet).least, 3003004);
}

/* By hand from the windows: WS2812B, all four sheets, 1000/1110: a SPI bit lasts 300 ns (T1L of the
 * quoted sheet) to 316.67 ns (a third of its T1H, 950 ns). WS2812, 1000/1100: 275 (T1H / 2) to
 * 316.67 ns (T0L / 3). SK6812RGBW: 250 (T0L / 3) to 350 ns (T0L / 3). */
static void test_ranges(void **state) {
    (void)state;
    static const struct {
        const char *chip;
        uint32_t least, most;
    } ranges[] = {{"ws2812b", 3157895, 3333333},
                  {"ws2812", 3157895, 3636363},
                  {"sk6812", 2857143, 4000000},
                  {"sk6812w", 2857143, 4000000}};
    for (size_t i = 0; i < sizeof ranges / sizeof *ranges; i++) {
        const OnewireProfile *usual = onewire_profile(ranges[i].chip, 0);
        OnewireClocks clocks = onewire_range(usual);
        assert_int_equal(clocks.least, ranges[i].least);
        assert_int_equal(clocks.most, ranges[i].most);
        assert_ptr_equal(onewire_profile(ranges[i].chip, ranges[i].least), usual);
        assert_null(onewire_profile(ranges[i].chip, 1000000));
        /* At twice the clock with twice the bits the times are the same. */
        OnewirePattern one = usual->pattern;
        OnewirePattern two = onewire_profile(ranges[i].chip, 6400000)->pattern;
        assert_true(two.bits == 8 && one.bits == 4);
        assert_true(two.zero == 2 * one.zero && two.one == 2 * one.one);
    }
    assert_int_equal(onewire_profile("ws2812b", 2640000)->pattern.bits, 3);
    assert_null(onewire_profile("ws2812b", 2400000));
    assert_null(onewire_profile("ws2812b", 3000000));
}

static void expect_code(OnewirePattern pattern, const Table *table, size_t row,
                        const char *column) {
    OnewireTable codes;
    onewire_table(pattern, &codes);
    int byte = (int)table_number(table, row, "byte");
    char text[17];
    for (int i = 0; i < pattern.bits; i++)
        snprintf(text + 2 * i, 3, "%02X", codes.codes[byte][i]);
    assert_string_equal(text, table_text(table, row, column));
}

/* tests/data/light/onewire_spi_bytes.csv */
static void test_bytes(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/onewire_spi_bytes.csv", 256);
    for (size_t row = 0; row < 256; row++) {
        expect_code((OnewirePattern){3, 1, 2}, table, row, "spi3_hex");
        expect_code((OnewirePattern){4, 1, 3}, table, row, "spi4_hex");
        expect_code((OnewirePattern){8, 2, 6}, table, row, "spi8_hex_C0_FC");
    }
    table_free(table);
}

/* By hand: rgb(255 0 128) to a wire that wants green first, as the WS2812B sheet has it, is 00 FF
 * 80; the SPI bytes follow from 100/110 and 1000/1110. 300 us at 3.2 MHz are 960 bits, at 2.4 MHz
 * 720. */
static void test_frame(void **state) {
    (void)state;
    static const uint8_t bytes[] = {0x00, 0xFF, 0x80};
    static const uint8_t four[] = {0x88, 0x88, 0x88, 0x88, 0xEE, 0xEE,
                                   0xEE, 0xEE, 0xE8, 0x88, 0x88, 0x88};
    static const uint8_t three[] = {0x92, 0x49, 0x24, 0xDB, 0x6D, 0xB6, 0xD2, 0x49, 0x24};
    assert_int_equal(onewire_rest(3200000), 120);
    assert_int_equal(onewire_rest(2400000), 90);
    uint8_t wire[200], zeros[200] = {0};
    OnewireTable table;
    onewire_table((OnewirePattern){4, 1, 3}, &table);
    memset(wire, 0x5A, sizeof wire);
    onewire_frame(&table, 3200000, bytes, 3, wire);
    assert_int_equal(onewire_length(table.pattern, 3200000, 3), ONEWIRE_LEAD + 12 + 120);
    assert_memory_equal(wire, zeros, ONEWIRE_LEAD);
    assert_memory_equal(wire + ONEWIRE_LEAD, four, 12);
    assert_memory_equal(wire + ONEWIRE_LEAD + 12, zeros, 120);
    assert_int_equal(wire[ONEWIRE_LEAD + 12 + 120], 0x5A);
    onewire_table((OnewirePattern){3, 1, 2}, &table);
    memset(wire, 0x5A, sizeof wire);
    onewire_frame(&table, 2400000, bytes, 3, wire);
    assert_memory_equal(wire + ONEWIRE_LEAD, three, 9);
    assert_memory_equal(wire + ONEWIRE_LEAD + 9, zeros, 90);
    assert_int_equal(wire[ONEWIRE_LEAD + 9 + 90], 0x5A);
}

/* The rest lasts as long as any sheet asks for, at every clock, and no byte longer. */
static void test_rest(void **state) {
    (void)state;
    for (uint64_t hertz = 1; hertz < 20000000; hertz += 997) {
        uint64_t bits = 8 * onewire_rest((uint32_t)hertz);
        assert_true(bits * 1000000 >= 300 * hertz);
        assert_true((bits - 8) * 1000000 < 300 * hertz);
    }
}

/* Bits read back by counting high bits: what a pixel does. */
static uint8_t read_byte(const uint8_t *wire, OnewirePattern pattern) {
    int byte = 0;
    for (int bit = 0; bit < 8; bit++) {
        int high = 0;
        for (int i = 0; i < pattern.bits; i++) {
            int place = bit * pattern.bits + i;
            int level = wire[place / 8] >> (7 - place % 8) & 1;
            assert_true(!level || high == i); /* no second rise */
            high += level;
        }
        assert_true(high == pattern.zero || high == pattern.one);
        byte = byte << 1 | (high == pattern.one);
    }
    return (uint8_t)byte;
}

/* Every profile, 1 to 1000 pixels, 3 and 4 bytes each: as long as said, and read back. */
static void test_sizes(void **state) {
    (void)state;
    chance_state = 310;
    for (int i = 0; i < ONEWIRE_PROFILES; i++) {
        const OnewireProfile *profile = &onewire_profiles[i];
        OnewireTable table;
        onewire_table(profile->pattern, &table);
        size_t channels = chip_find(profile->chip)->white ? 4 : 3;
        for (size_t pixels = 1; pixels <= 1000; pixels += pixels < 20 ? 1 : 49) {
            size_t count = channels * pixels, rest = onewire_rest(profile->hertz);
            size_t length = ONEWIRE_LEAD + count * profile->pattern.bits + rest;
            assert_int_equal(onewire_length(profile->pattern, profile->hertz, count), length);
            uint8_t *bytes = malloc(count), *wire = malloc(length + 1);
            for (size_t k = 0; k < count; k++)
                bytes[k] = (uint8_t)chance();
            wire[length] = 0x5A;
            onewire_frame(&table, profile->hertz, bytes, count, wire);
            assert_int_equal(wire[length], 0x5A);
            for (size_t k = 0; k < count; k++)
                assert_int_equal(
                    read_byte(wire + ONEWIRE_LEAD + k * profile->pattern.bits, profile->pattern),
                    bytes[k]);
            for (size_t k = 0; k < rest; k++)
                assert_int_equal(wire[length - 1 - k], 0);
            free(bytes);
            free(wire);
        }
    }
}

/* Pixels that the driver's own 4096 bytes hold without lead and rest, of patterns of 3, 4, 5 and 8
 * bits: 4096 / (3 bytes * bits). */
static void test_room(void **state) {
    (void)state;
    static const struct {
        uint8_t bits;
        uint64_t pixels;
    } rooms[] = {{3, 455}, {4, 341}, {5, 273}, {8, 170}};
    for (size_t i = 0; i < sizeof rooms / sizeof *rooms; i++) {
        OnewirePattern pattern = {rooms[i].bits, 1, 2};
        uint64_t besides = onewire_length(pattern, 3200000, 0);
        assert_int_equal(besides, ONEWIRE_LEAD + 120);
        assert_true(onewire_length(pattern, 3200000, 3 * rooms[i].pixels) - besides <= 4096);
        assert_true(onewire_length(pattern, 3200000, 3 * rooms[i].pixels + 3) - besides > 4096);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sheets),   cmocka_unit_test(test_timing),
        cmocka_unit_test(test_profiles), cmocka_unit_test(test_edges),
        cmocka_unit_test(test_ranges),   cmocka_unit_test(test_bytes),
        cmocka_unit_test(test_frame),    cmocka_unit_test(test_rest),
        cmocka_unit_test(test_sizes),    cmocka_unit_test(test_room),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
