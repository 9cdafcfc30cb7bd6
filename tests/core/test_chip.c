/* The list of chips: what every line must keep, and that the figures which limit a current or judge
 * flicker are not on the wrong side of any source that runtime/core/chips.def names. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/core/chip.h"

static void test_found(void **state) {
    (void)state;
    for (int i = 0; i < CHIP_COUNT; i++)
        assert_ptr_equal(chip_find(CHIPS[i].name), &CHIPS[i]);
    assert_null(chip_find(NULL));
    assert_null(chip_find(""));
    assert_null(chip_find("ws281"));
    assert_null(chip_find("ws2812bb"));
    assert_null(chip_find("WS2812B"));
}

static void test_lines(void **state) {
    (void)state;
    for (int i = 0; i < CHIP_COUNT; i++) {
        const Chip *chip = &CHIPS[i];
        assert_int_equal(strlen(chip->order), chip->white ? 4 : 3);
        for (const char *channel = chip->white ? "rgbw" : "rgb"; *channel; channel++)
            assert_non_null(strchr(chip->order, *channel));
        assert_true(chip->idle_ampere > 0 && chip->idle_ampere < chip->channel_ampere);
        assert_true(chip->channel_ampere < 0.1 && chip->pwm_hertz >= 400);
        assert_true(chip->level == CHIP_LEVEL_NONE || chip->wire == CHIP_CLOCKED);
    }
}

typedef struct Said {
    const char *name;
    double channel_ampere, idle_ampere, pwm_hertz; /* 0: the source does not say */
    const char *source;
} Said;

static const Said said[] = {
    {"ws2812", 0.020, 0, 400, "WS2812 data sheet, PDF of 2012-11-01"},
    {"ws2812b", 0, 0, 400, "WS2812B data sheet, PDF of 2013-10-31"},
    {"ws2812b", 0.016, 0, 2000, "WS2812B data sheet, edition of 2023-07"},
    {"sk6812w", 0, 0.001, 1200, "SK6812RGBW data sheet, Rev 01, 2015-07-31"},
    {"apa102", 0.022, 0.001, 19200, "second hand"},
};

/* Never less current and never faster than a source says. */
static void test_safe_side(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof said / sizeof said[0]; i++) {
        const Chip *chip = chip_find(said[i].name);
        assert_non_null(chip);
        if (chip->channel_ampere < said[i].channel_ampere ||
            chip->idle_ampere < said[i].idle_ampere || chip->pwm_hertz > said[i].pwm_hertz)
            fail_msg("%s is on the wrong side of: %s", said[i].name, said[i].source);
    }
}

/* Orders: WS2812 and WS2812B sheets, "G7..G0 R7..R0 B7..B0"; the others common practice. */
static void test_orders(void **state) {
    (void)state;
    assert_string_equal(chip_find("ws2812")->order, "grb");
    assert_string_equal(chip_find("ws2812b")->order, "grb");
    assert_string_equal(chip_find("sk6812w")->order, "grbw");
    assert_string_equal(chip_find("apa102")->order, "bgr");
    assert_string_equal(chip_find("sk9822")->order, "bgr");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_found),
        cmocka_unit_test(test_lines),
        cmocka_unit_test(test_safe_side),
        cmocka_unit_test(test_orders),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
