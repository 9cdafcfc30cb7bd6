/* The order on the wire against the bit order of the WS2812B data sheet (G7..G0 R7..R0 B7..B0) and
 * the SK6812RGBW data sheet (R, G, B, W). */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/light/order.h"
#include "tests/support/chance.h"

/* rgb(255 0 128) to a chip that wants green first, by the data sheet. */
static void test_sheets(void **state) {
    (void)state;
    const uint8_t pixel[3] = {255, 0, 128}, wanted[3] = {0x00, 0xFF, 0x80};
    uint8_t wire[4];
    order_channels("grb", pixel, 1, wire);
    assert_memory_equal(wire, wanted, 3);
    const uint8_t four[4] = {1, 2, 3, 4}, sold[4] = {2, 1, 3, 4};
    order_channels("rgbw", four, 1, wire);
    assert_memory_equal(wire, four, 4);
    order_channels("grbw", four, 1, wire);
    assert_memory_equal(wire, sold, 4);
}

/* Every place of the wire holds what the order names there, and nothing behind it is written. */
static void check_order(const char *order) {
    enum { PIXELS = 17 };
    const size_t channels = strlen(order);
    uint8_t bytes[4 * PIXELS], wire[4 * PIXELS + 1];
    for (size_t i = 0; i < sizeof bytes; i++)
        bytes[i] = (uint8_t)chance();
    memset(wire, 0x5A, sizeof wire);
    order_channels(order, bytes, PIXELS, wire);
    for (size_t i = 0; i < PIXELS; i++)
        for (size_t place = 0; place < channels; place++) {
            const uint8_t *pixel = bytes + i * channels;
            const char name = order[place];
            uint8_t wanted = name == 'r'   ? pixel[0]
                             : name == 'g' ? pixel[1]
                             : name == 'b' ? pixel[2]
                                           : pixel[3];
            assert_int_equal(wire[i * channels + place], wanted);
        }
    assert_int_equal(wire[PIXELS * channels], 0x5A);
}

static int orders;

static void permute(char *order, size_t from, size_t length) {
    if (from == length) {
        check_order(order);
        orders++;
        return;
    }
    for (size_t i = from; i < length; i++) {
        char here = order[from];
        order[from] = order[i], order[i] = here;
        permute(order, from + 1, length);
        here = order[from];
        order[from] = order[i], order[i] = here;
    }
}

static void test_all(void **state) {
    (void)state;
    chance_state = 31;
    char three[] = "rgb", four[] = "rgbw";
    permute(three, 0, 3);
    assert_int_equal(orders, 6);
    permute(four, 0, 4);
    assert_int_equal(orders, 6 + 24);
    uint8_t untouched = 7;
    order_channels("rgb", &untouched, 0, &untouched);
    assert_int_equal(untouched, 7);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_sheets), cmocka_unit_test(test_all)};
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
