/* When dithering in time may not be seen, against tables of IEEE Std 1789-2015 (second hand), and
 * how many frames a wire carries, against arithmetic on the data sheets. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "runtime/light/flicker.h"
#include "tests/support/table.h"

/* tests/data/light/ieee1789_lines.csv, practice 1: the line, and the lowest code within it. */
static void test_lines(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/ieee1789_lines.csv", 36);
    for (size_t row = 0; row < table_rows(table); row++) {
        double hertz = table_number(table, row, "f_Hz");
        double percent = table_number(table, row, "low_risk_mod_pct");
        assert_true(fabs(100.0 * flicker_low_risk(hertz) - percent) <= 5.1e-5);
        int code = 0, wanted = (int)table_number(table, row, "k_lowrisk");
        while (1.0 / (2 * code + 1) > flicker_low_risk(hertz))
            code++;
        assert_int_equal(code, wanted);
        uint8_t bits[256]; /* toggling at `hertz` is half of twice as many frames */
        flicker_bits(2.0 * hertz, bits);
        for (int k = 0; k < 256; k++)
            if ((bits[k] >= 1) != (hertz >= 90.0 && k >= wanted))
                fail_msg("%g Hz, code %d: %d bits", hertz, k, bits[k]);
    }
    table_free(table);
}

/* tests/data/light/temporal_dither.csv: where the lowest frequency is at least 90 Hz the bits are
 * those that the table allows, up to FLICKER_BITS; below 90 Hz there are none. */
static void test_bits(void **state) {
    (void)state;
    static const int codes[] = {0, 1, 2, 4, 8, 16, 32};
    Table *table = table_read("tests/data/light/temporal_dither.csv", 70);
    int fast = 0, allowed = 0;
    for (size_t row = 0; row < table_rows(table); row++) {
        uint8_t bits[256];
        flicker_bits(table_number(table, row, "fps"), bits);
        int wanted = (int)table_number(table, row, "extra_bits_b");
        bool above = table_number(table, row, "lowest_dither_Hz") >= 90.0;
        fast += above;
        for (size_t i = 0; i < sizeof codes / sizeof *codes; i++) {
            char column[8];
            snprintf(column, sizeof column, "ok_k%d", codes[i]);
            bool fine = table_number(table, row, column) == 1.0;
            allowed += above && fine;
            int held = wanted < FLICKER_BITS ? wanted : FLICKER_BITS;
            if (above && (wanted <= FLICKER_BITS || fine) && (bits[codes[i]] >= held) != fine)
                fail_msg("row %zu, code %d: %d bits", row, codes[i], bits[codes[i]]);
            if (!above && bits[codes[i]] >= wanted)
                fail_msg("row %zu, code %d: %d bits below 90 Hz", row, codes[i], bits[codes[i]]);
        }
    }
    assert_true(fast > 5 && allowed > 10);
    table_free(table);
}

/* The rule once more at many rates: the most bits, and no more. */
static void test_bits_are_the_most(void **state) {
    (void)state;
    for (double frames = 1.0; frames < 50000.0; frames *= 1.0173) {
        uint8_t bits[256];
        flicker_bits(frames, bits);
        for (int code = 0; code < 256; code++) {
            int most = 0;
            for (int b = 1; b <= FLICKER_BITS; b++) {
                double hertz = frames / (1 << b);
                double line = hertz > 1250.0 ? 100.0 : 0.08 * hertz;
                if (hertz >= 90.0 && 100.0 / (2 * code + 1) <= line)
                    most = b;
            }
            if (bits[code] != most)
                fail_msg("%g frames, code %d: %d bits, not %d", frames, code, bits[code], most);
        }
    }
}

static void test_nonsense(void **state) {
    (void)state;
    const double rates[] = {NAN, -INFINITY, -1e9, -0.0, 0.0, INFINITY, 179.9};
    for (size_t i = 0; i < sizeof rates / sizeof *rates; i++) {
        uint8_t bits[256];
        flicker_bits(rates[i], bits);
        for (int code = 0; code < 256; code++)
            assert_int_equal(bits[code], 0);
    }
    assert_true(flicker_low_risk(NAN) == 0.0 && flicker_low_risk(-90.0) == 0.0);
    assert_true(flicker_low_risk(INFINITY) == 1.0 && flicker_low_risk(1250.0) == 1.0);
}

/* tests/data/light/frame_times.csv */
static void test_rates(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/frame_times.csv", 13);
    for (size_t row = 0; row < table_rows(table); row++) {
        uint32_t pixels = (uint32_t)table_number(table, row, "pixels");
        const struct {
            const char *column;
            double rate;
        } rates[] = {{"onewire24_max_fps_reset300us", flicker_one_wire_rate(pixels, 3)},
                     {"onewire32_max_fps_reset300us", flicker_one_wire_rate(pixels, 4)},
                     {"clocked_1MHz_fps", flicker_clocked_rate(pixels, 1e6)},
                     {"clocked_8MHz_fps", flicker_clocked_rate(pixels, 8e6)}};
        for (size_t i = 0; i < sizeof rates / sizeof *rates; i++)
            assert_true(fabs(rates[i].rate - table_number(table, row, rates[i].column)) <= 0.0501);
        double bits = table_number(table, row, "clocked_bits");
        assert_true(fabs(1e6 / flicker_clocked_rate(pixels, 1e6) - bits) <= 1e-6);
    }
    table_free(table);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_lines),
        cmocka_unit_test(test_bits),
        cmocka_unit_test(test_bits_are_the_most),
        cmocka_unit_test(test_nonsense),
        cmocka_unit_test(test_rates),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
