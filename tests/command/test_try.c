/* What `gloam try-wiring` makes of what somebody saw. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/command/try_steps.h"

static const char *const ORDERS[] = {"rgb", "rbg", "grb", "gbr", "brg", "bgr"};

/* A strip whose chips take channels in the order `own`, driven as if they took them as `written`:
 * the slot that was meant for a channel lights another. */
static void see(const char *own, const char *written, char seen[3]) {
    static const char channels[] = "rgb";
    for (int c = 0; c < 3; c++)
        seen[c] = own[strchr(written, channels[c]) - written];
}

static void the_order_is_found_from_any_other(void **state) {
    (void)state;
    for (int own = 0; own < 6; own++)
        for (int written = 0; written < 6; written++) {
            char seen[3], right[16];
            see(ORDERS[own], ORDERS[written], seen);
            assert_true(try_order(ORDERS[written], seen, right, sizeof right));
            if (strcmp(right, ORDERS[own]) != 0)
                fail_msg("written %s, seen %.3s: expected %s, not %s", ORDERS[written], seen,
                         ORDERS[own], right);
        }
}

static void a_white_part_stays_where_it_is(void **state) {
    (void)state;
    char right[16];
    assert_true(try_order("grbw", "grb", right, sizeof right));
    assert_string_equal(right, "rgbw");
    assert_true(try_order("wrgb", "brg", right, sizeof right));
    assert_string_equal(right, "wbrg"); /* what was sent as red lights the blue part, and so on */
}

static void what_cannot_be_is_no_order(void **state) {
    (void)state;
    char right[16];
    assert_false(try_order("grb", "rrb", right, sizeof right));
    assert_false(try_order("grb", "rgr", right, sizeof right));
    assert_false(try_order("grb", "rgx", right, sizeof right));
    assert_false(try_order("grb", (const char[3]){'r', 0, 'b'}, right, sizeof right));
    assert_false(try_order("grb", "grb", right, 3));
}

/* Frame by frame, none left out; where there are more pixels than frames in 40 s several at once.
 */
static void each_pixel_is_walked_over(void **state) {
    (void)state;
    static const uint32_t COUNTS[] = {1, 2, 16, 60, 137, 200, 201, 300, 1000, 2500};
    static float light[3 * 2500];
    for (size_t i = 0; i < sizeof COUNTS / sizeof *COUNTS; i++) {
        uint32_t count = COUNTS[i], reached = 0, most = count > 1000 ? count / 1000 + 1 : 1;
        double length = try_length(TRY_WALK, count, 3);
        assert_true(length >= 8 && length <= 40);
        for (int n = 0; (double)n / TRY_FRAMES < length; n++) {
            uint32_t lit = 0, first = count;
            try_light(TRY_WALK, (double)n / TRY_FRAMES, count, light);
            for (uint32_t pixel = count; pixel-- > 0;)
                if (light[3 * pixel] > 0) {
                    first = pixel;
                    lit++;
                }
            assert_in_range(lit, 1, most);
            assert_true(first == reached || first + lit == reached);
            reached = first + lit;
        }
        assert_int_equal(reached, count);
    }
}

static void a_level_falls_to_the_least(void **state) {
    (void)state;
    for (uint8_t level = 1; level <= 31; level++) {
        uint8_t before = level;
        assert_int_equal(try_level(TRY_LEVEL, 0, level), level);
        for (int n = 0; n < 200; n++) {
            uint8_t now = try_level(TRY_LEVEL, (double)n / TRY_FRAMES, level);
            assert_true(now >= 1 && now <= before && before - now <= 1);
            before = now;
        }
        assert_int_equal(before, 1);
        assert_int_equal(try_level(TRY_RED, 5, level), level);
    }
}

/* The orders that are said where one colour is seen wrongly: those that agree with what was seen,
 * and no other. By hand: of `grb` red is sent in the second place; where that looks green, the
 * second place is green: rgb, bgr. */
static void the_words_name_the_orders_that_can_be(void **state) {
    (void)state;
    TryWords words;
    TryAbout about = {.pixels = 16, .order = "grb", .one_wire = true};
    try_words(TRY_RED, &about, &words);
    assert_string_equal(words.look, "all 16 pixels are red");
    assert_non_null(strstr(words.otherwise, "all green: `order rgb` or `order bgr`; "));
    assert_non_null(strstr(words.otherwise, "all blue: `order gbr` or `order rbg`; "));
    about.order = "bgr";
    try_words(TRY_BLUE, &about, &words);
    assert_non_null(strstr(words.otherwise, "all red: `order rgb` or `order rbg`; "));
}

/* Nothing is cut, whatever is tried. */
static void words_fit(void **state) {
    (void)state;
    for (int step = 0; step < TRY_STEPS; step++)
        for (int has = 0; has < 8; has++) {
            TryWords words;
            TryAbout about = {.pixels = 100000,
                              .order = "grbw",
                              .white = has & 1,
                              .level = has & 2,
                              .one_wire = has & 4,
                              .limit = 1234.56,
                              .most = 1234.56};
            try_words((TryStep)step, &about, &words);
            assert_in_range(strlen(words.look), 8, sizeof words.look - 2);
            assert_in_range(strlen(words.otherwise), 8, sizeof words.otherwise - 2);
        }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_order_is_found_from_any_other),
        cmocka_unit_test(a_white_part_stays_where_it_is),
        cmocka_unit_test(what_cannot_be_is_no_order),
        cmocka_unit_test(each_pixel_is_walked_over),
        cmocka_unit_test(a_level_falls_to_the_least),
        cmocka_unit_test(the_words_name_the_orders_that_can_be),
        cmocka_unit_test(words_fit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
