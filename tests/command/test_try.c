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
    assert_int_equal(right[0], 'w');
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

static void each_pixel_is_walked_over(void **state) {
    (void)state;
    static const uint32_t COUNTS[] = {1, 2, 16, 60, 137};
    float light[3 * 137];
    for (size_t i = 0; i < sizeof COUNTS / sizeof *COUNTS; i++) {
        unsigned char seen[137] = {0};
        for (double at = 0; at < TRY_WALKING; at += 0.01) {
            uint32_t lit = 0;
            try_light(TRY_WALK, at, COUNTS[i], light);
            for (uint32_t pixel = 0; pixel < COUNTS[i]; pixel++)
                if (light[3 * pixel] > 0) {
                    seen[pixel] = 1;
                    lit++;
                }
            assert_int_equal(lit, 1);
        }
        for (uint32_t pixel = 0; pixel < COUNTS[i]; pixel++)
            assert_int_equal(seen[pixel], 1);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_order_is_found_from_any_other),
        cmocka_unit_test(a_white_part_stays_where_it_is),
        cmocka_unit_test(what_cannot_be_is_no_order),
        cmocka_unit_test(each_pixel_is_walked_over),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
