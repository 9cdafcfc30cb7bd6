/* Currents against the arithmetic of data sheets; the limit by frames at random, whichever way
 * their channels are rounded. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/light/supply.h"
#include "tests/support/chance.h"
#include "tests/support/table.h"

/* tests/data/light/supply_current.csv; three decimals of an ampere. */
static void test_table(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/supply_current.csv", 20);
    for (size_t row = 0; row < 20; row++) {
        uint32_t pixels = (uint32_t)table_number(table, row, "pixels");
        double channels = table_number(table, row, "channels");
        double full = pixels * channels;
        Supply supply = {table_number(table, row, "mA_per_channel") / 1e3,
                         table_number(table, row, "idle_A") / pixels, 0};
        double white = supply_current(&supply, pixels, full);
        double tenth = supply_current(&supply, pixels, full / 10);
        double dark = supply_current(&supply, pixels, 0);
        assert_true(fabs(white - table_number(table, row, "full_white_A")) <= 0.0005 + 1e-12);
        assert_true(fabs(tenth - table_number(table, row, "ten_percent_linear_A")) <= 5.01e-4);
        assert_true(fabs(5 * white - table_number(table, row, "W_at_5V")) <= 0.0051);
        assert_true(fabs(dark - table_number(table, row, "idle_A")) <= 1e-12);
    }
    table_free(table);
}

/* By hand: 12 pixels, 3 channels of 20 mA, 1 mA idle. */
static void test_ring(void **state) {
    (void)state;
    const Supply supply = {0.020, 0.001, 0};
    uint8_t bytes[36];
    memset(bytes, 255, sizeof bytes);
    assert_true(supply_shares(bytes, 12, 3, false) == 36);
    assert_true(fabs(supply_current(&supply, 12, 36) - (0.720 + 0.012)) < 1e-12);
    assert_true(supply_factor(&supply, 12, 3, 36) == 1); /* no limit */
}

/* A code of a pixel with a level is code * level / (255 * 31). */
static void test_shares(void **state) {
    (void)state;
    const uint8_t levels[] = {255, 0, 51, 31, 255, 255, 255, 1, 9, 9, 9, 0};
    double wanted = (306.0 * 31 + 765.0 * 1 + 27.0 * 0) / (255.0 * 31);
    assert_true(fabs(supply_shares(levels, 3, 3, true) - wanted) < 1e-15);
    assert_true(fabs(supply_shares(levels, 3, 4, false) - (337 + 766 + 27) / 255.0) < 1e-15);
    const uint8_t white[] = {1, 2, 3, 4, 31, 0, 0, 0, 255, 31};
    assert_true(fabs(supply_shares(white, 2, 4, true) - 265 / 255.0) < 1e-15);
    assert_true(supply_shares(white, 0, 4, true) == 0);
    static uint8_t most[5 * 100000];
    memset(most, 255, sizeof most);
    for (int i = 4; i < 500000; i += 5)
        most[i] = 31;
    assert_true(supply_shares(most, 100000, 4, true) == 400000);
}

enum { MOST = 300 * 4 };

typedef struct Case {
    uint32_t pixels, channels;
    Supply supply;
    float light[MOST];
    double shares;
} Case;

static void draw_case(Case *test) {
    test->pixels = 1 + (uint32_t)(chance() % 300);
    test->channels = 3 + (uint32_t)(chance() % 2);
    double channel = 0.002 + 0.03 * chance_unit(), idle = channel * chance_unit();
    uint32_t values = test->pixels * test->channels;
    double dark = idle * test->pixels, full = channel * values;
    test->supply = (Supply){channel, idle, dark * 0.8 + (full + 0.4 * dark) * chance_unit()};
    if (chance() % 8 == 0) /* close to dark: only the code in hand is there */
        test->supply.limit_ampere = dark + full * chance_unit() / 128;
    int kind = (int)(chance() % 4);
    double scale = kind == 0 ? 1 : pow(2, -8 * chance_unit());
    test->shares = 0;
    for (uint32_t i = 0; i < values; i++) {
        double value = kind == 1 ? 1.0 : chance_unit();
        double whole = floor(value * 255) / 255; /* kind 2: just above whole codes */
        test->light[i] = (float)(scale * (kind == 2 ? whole + 1e-6 : value));
        test->light[i] = chance() % 16 ? fminf(test->light[i], 1) : 0;
        test->shares += (double)test->light[i];
    }
}

/* One code, rounded `up` (2: always, 1: by lot, 0: never). */
static uint8_t rounded(double codes, int up) {
    bool ceiling = up == 2 || (up == 1 && chance() % 2);
    return (uint8_t)fmin(ceiling ? ceil(codes) : floor(codes), 255);
}

static void check_bytes(const Case *test, float factor, int up) {
    uint8_t bytes[MOST];
    uint32_t values = test->pixels * test->channels;
    for (uint32_t i = 0; i < values; i++)
        bytes[i] = rounded(255.0 * (double)(test->light[i] * factor), up);
    double shares = supply_shares(bytes, test->pixels, test->channels, false);
    double current = supply_current(&test->supply, test->pixels, shares);
    if (current > test->supply.limit_ampere)
        fail_msg("%u pixels: %.12g A of %.12g A", test->pixels, current, test->supply.limit_ampere);
}

/* With a level the codes of a pixel are finer; its level is any that reaches the brightest. */
static void check_levels(const Case *test, float factor) {
    static uint8_t bytes[300 * 5];
    uint32_t channels = test->channels;
    for (uint32_t i = 0; i < test->pixels; i++) {
        double most = 0;
        for (uint32_t c = 0; c < channels; c++)
            most = fmax(most, (double)(test->light[i * channels + c] * factor));
        int level = (int)fmax(1, ceil(31 * most)) + (int)(chance() % 2);
        level = level > 31 ? 31 : level;
        for (uint32_t c = 0; c < channels; c++)
            bytes[i * (channels + 1) + c] =
                rounded(255.0 * 31 / level * (double)(test->light[i * channels + c] * factor), 2);
        bytes[i * (channels + 1) + channels] = (uint8_t)level;
    }
    double shares = supply_shares(bytes, test->pixels, channels, true);
    assert_true(supply_current(&test->supply, test->pixels, shares) <= test->supply.limit_ampere);
}

/* No more is held back than a code a channel and a little. */
static void check_not_wasteful(const Case *test, double factor) {
    double full = test->pixels * test->channels, hand = full / 254;
    double inside = supply_current(&test->supply, test->pixels, test->shares + hand);
    double used = supply_current(&test->supply, test->pixels, test->shares * factor + hand);
    if (inside <= test->supply.limit_ampere)
        assert_true(factor == 1);
    else if (factor > 0 && factor < 1)
        assert_true(used >= test->supply.limit_ampere * (1 - 1e-12));
}

static void test_never_above(void **state) {
    (void)state;
    chance_state = 21;
    int below_dark = 0, dimmed = 0, whole = 0, black = 0;
    static Case test;
    for (int round = 0; round < 4000; round++) {
        draw_case(&test);
        double factor = supply_factor(&test.supply, test.pixels, test.channels, test.shares);
        assert_true(factor >= 0 && factor <= 1);
        if (supply_current(&test.supply, test.pixels, 0) > test.supply.limit_ampere) {
            assert_true(factor == 0);
            below_dark++;
            continue;
        }
        dimmed += factor > 0 && factor < 1;
        whole += factor == 1;
        black += factor == 0;
        for (int up = 0; up < 3; up++)
            check_bytes(&test, (float)factor, up);
        check_levels(&test, (float)factor);
        check_not_wasteful(&test, factor);
    }
    assert_true(below_dark > 50 && dimmed > 500 && whole > 500 && black > 50);
}

static void test_more_supply(void **state) {
    (void)state;
    chance_state = 22;
    static Case test;
    for (int round = 0; round < 200; round++) {
        draw_case(&test);
        double last = 0, most = supply_current(&test.supply, test.pixels, MOST);
        for (int step = 1; step <= 200; step++) {
            test.supply.limit_ampere = most * step / 200;
            double factor = supply_factor(&test.supply, test.pixels, test.channels, test.shares);
            assert_true(factor >= last);
            last = factor;
        }
        assert_true(last == 1);
    }
}

static void test_edges(void **state) {
    (void)state;
    Supply supply = {0.02, 0.001, 0};
    const double full = supply_current(&supply, 60, 180);
    supply.limit_ampere = full;
    assert_true(supply_factor(&supply, 60, 3, 180) == 1); /* full white, and it just suffices */
    assert_true(supply_factor(&supply, 60, 3, 179.9) == 1);
    supply.limit_ampere = nextafter(full, 0);
    assert_true(supply_factor(&supply, 60, 3, 180) < 1);
    supply.limit_ampere = 0.06; /* just the dark lamp */
    assert_true(supply_factor(&supply, 60, 3, 0) == 1);
    assert_true(supply_factor(&supply, 60, 3, 1) == 0);
    supply.limit_ampere = 0.0599;
    assert_true(supply_factor(&supply, 60, 3, 0) == 0);
    /* channels that draw nothing are never too much */
    const Supply free_of_charge = {0, 0.001, 0.1};
    assert_true(supply_factor(&free_of_charge, 60, 3, 180) == 1);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_table),       cmocka_unit_test(test_ring),
        cmocka_unit_test(test_shares),      cmocka_unit_test(test_never_above),
        cmocka_unit_test(test_more_supply), cmocka_unit_test(test_edges),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
