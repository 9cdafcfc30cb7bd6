/* Frames of clocked pixels: the bytes by hand, the end by the table, all orders, all levels. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "backends/clocked.h"
#include "tests/support/chance.h"
#include "tests/support/table.h"

/* Red at full level, then a green of 0x80 at level 1, on a wire of blue, green, red: the form
 * 111 + 5 bits of the APA102 and SK9822 (second hand: docs.buspirate.com, a vendor's blog of
 * 2016-12), zeros before and behind. */
static void test_vector(void **state) {
    (void)state;
    static const uint8_t bytes[] = {255, 0, 0, 31, 0, 0x80, 0, 1};
    static const uint8_t wanted[] = {0, 0, 0, 0, 0xFF, 0, 0, 0xFF, 0xE1, 0, 0x80, 0, 0, 0, 0, 0, 0};
    uint8_t wire[sizeof wanted + 1];
    memset(wire, 0x5A, sizeof wire);
    assert_int_equal(clocked_length(2), sizeof wanted);
    clocked_frame("bgr", bytes, true, 2, wire);
    assert_memory_equal(wire, wanted, sizeof wanted);
    assert_int_equal(wire[sizeof wanted], 0x5A);
}

/* tests/data/light/clocked_end_frame.csv */
static void test_ends(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/clocked_end_frame.csv", 17);
    for (size_t row = 0; row < table_rows(table); row++) {
        size_t pixels = (size_t)table_number(table, row, "pixels");
        uint64_t end = (uint64_t)table_number(table, row, "end_bytes");
        assert_int_equal(clocked_length(pixels),
                         table_number(table, row, "total_bytes_with_32bit_zero_frame"));
        uint8_t *bytes = malloc(3 * pixels), *wire = malloc((size_t)clocked_length(pixels));
        memset(bytes, 0xFF, 3 * pixels);
        memset(wire, 0x5A, (size_t)clocked_length(pixels));
        clocked_frame("bgr", bytes, false, pixels, wire);
        for (uint64_t i = 0; i < clocked_length(pixels); i++)
            assert_int_equal(wire[i], i < 4 || i >= 4 + 4 * pixels ? 0 : 0xFF);
        assert_int_equal(clocked_length(pixels) - 4 - 4 * pixels - 4, end);
        free(bytes);
        free(wire);
    }
    table_free(table);
}

/* Half a clock a pixel is there for every length, and no whole byte more. */
static void test_clocks(void **state) {
    (void)state;
    for (uint64_t pixels = 1; pixels <= 1000; pixels++) {
        uint64_t clocks = 8 * (clocked_length(pixels) - 4 - 4 * pixels - 4);
        assert_true(2 * clocks >= pixels && 2 * (clocks - 8) < pixels);
    }
}

static void test_orders(void **state) {
    (void)state;
    static const char *const orders[] = {"rgb", "rbg", "grb", "gbr", "brg", "bgr"};
    enum { PIXELS = 37 };
    chance_state = 311;
    for (int level = 0; level < 2; level++)
        for (size_t o = 0; o < 6; o++) {
            size_t columns = level ? 4 : 3;
            uint8_t bytes[4 * PIXELS], wire[4 + 4 * PIXELS + 4 + 3];
            for (size_t i = 0; i < sizeof bytes; i++)
                bytes[i] = (uint8_t)chance();
            for (size_t i = 0; level && i < PIXELS; i++)
                bytes[4 * i + 3] = (uint8_t)(chance() % 32);
            assert_int_equal(clocked_length(PIXELS), sizeof wire);
            clocked_frame(orders[o], bytes, level, PIXELS, wire);
            for (size_t i = 0; i < PIXELS; i++) {
                const uint8_t *pixel = bytes + columns * i, *sent = wire + 4 + 4 * i;
                assert_int_equal(sent[0], 0xE0 + (level ? pixel[3] : 31));
                for (size_t place = 0; place < 3; place++) {
                    char name = orders[o][place];
                    uint8_t wanted = name == 'r' ? pixel[0] : name == 'g' ? pixel[1] : pixel[2];
                    assert_int_equal(sent[1 + place], wanted);
                }
            }
        }
}

/* Five bits and no more, whatever comes: the three bits before them mark a pixel. */
static void test_levels(void **state) {
    (void)state;
    for (int level = 0; level < 256; level++) {
        const uint8_t bytes[] = {1, 2, 3, (uint8_t)level};
        uint8_t wire[13];
        assert_int_equal(clocked_length(1), sizeof wire);
        clocked_frame("rgb", bytes, true, 1, wire);
        assert_int_equal(wire[4], level < 32 ? 0xE0 | level : 0xFF);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_vector), cmocka_unit_test(test_ends),   cmocka_unit_test(test_clocks),
        cmocka_unit_test(test_orders), cmocka_unit_test(test_levels),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
