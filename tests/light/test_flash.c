/* The flash analyser against tests/data/light/flash_cases.csv (WCAG 2.2, SC 2.3.1), against a
 * second way to count, and at its edges by hand. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/core/memory.h"
#include "runtime/light/flash.h"
#include "runtime/light/mix.h"
#include "tests/support/chance.h"
#include "tests/support/flashes.h"
#include "tests/support/table.h"

enum { RING = 16, RATE = 60 };

static const float black[3], white[3] = {1.0f, 1.0f, 1.0f}, red[3] = {1.0f, 0.0f, 0.0f},
                             blue[3] = {0.0f, 0.0f, 1.0f};

static int64_t frame_time(int64_t frame) {
    return (int64_t)floor((double)frame * 1e6 / RATE + 0.5);
}

static void tell(Flash *flash, uint32_t pixels, int64_t time, const float *colour) {
    float light[3 * RING];
    for (size_t i = 0; i < 3 * (size_t)pixels; i++)
        light[i] = colour[i % 3];
    flash_frame(flash, time, light);
}

static void expect_seen(const Flash *flash, FlashKind kind, uint32_t total, uint32_t most,
                        const char *what) {
    const FlashSeen *seen = flash_seen(flash);
    if (seen->total[kind] != total || seen->most[kind] != most)
        fail_msg("%s, kind %d: %u in all, %u in a second, wanted %u, %u", what, (int)kind,
                 seen->total[kind], seen->most[kind], total, most);
}

static void expect_case(const Table *cases, size_t row, const Flash *flash) {
    const char *name = table_text(cases, row, "case");
    expect_seen(flash, FLASH_GENERAL, (uint32_t)table_number(cases, row, "lum_transitions_total"),
                (uint32_t)table_number(cases, row, "lum_max_in_1s"), name);
    expect_seen(flash, FLASH_RED, (uint32_t)table_number(cases, row, "red_transitions_total"),
                (uint32_t)table_number(cases, row, "red_max_in_1s"), name);
    const FlashSeen *seen = flash_seen(flash);
    bool fails =
        seen->most[FLASH_GENERAL] >= FLASH_TOO_MANY || seen->most[FLASH_RED] >= FLASH_TOO_MANY;
    assert_int_equal(fails, strcmp(table_text(cases, row, "verdict"), "FAIL") == 0);
}

/* Each case on one pixel and on a ring: where all pixels are alike both signals agree. */
static void test_table(void **state) {
    (void)state;
    Table *cases = table_read("tests/data/light/flash_cases.csv", 20);
    Table *frames = table_read("tests/data/light/flash_sequences.csv", 3480);
    size_t used = 0;
    for (size_t row = 0; row < 20; row++)
        for (uint32_t pixels = 1; pixels <= RING; pixels += RING - 1) {
            Flash *flash = flash_create(pixels);
            int64_t count = 0;
            for (size_t i = 0; i < table_rows(frames); i++) {
                if (strcmp(table_text(frames, i, "case"), table_text(cases, row, "case")) != 0)
                    continue;
                assert_true(table_number(frames, i, "frame") == (double)count);
                const float colour[3] = {(float)table_number(frames, i, "r"),
                                         (float)table_number(frames, i, "g"),
                                         (float)table_number(frames, i, "b")};
                tell(flash, pixels, frame_time(count++), colour);
            }
            assert_true((double)count == table_number(cases, row, "frames"));
            used += (size_t)count;
            expect_case(cases, row, flash);
            flash_free(flash);
        }
    assert_int_equal(used, 2 * 3480);
    table_free(cases);
    table_free(frames);
}

/* Three seconds of a square wave that begins at `low`. */
static void square(Flash *flash, uint32_t pixels, double rate, const float *low,
                   const float *high) {
    for (int n = 0; n < 3 * RATE; n++)
        tell(flash, pixels, frame_time(n), (int)(2.0 * rate * n / RATE) % 2 == 1 ? high : low);
}

static FlashSeen square_seen(double rate, const float *low, const float *high) {
    Flash *flash = flash_create(1);
    square(flash, 1, rate, low, high);
    FlashSeen seen = *flash_seen(flash);
    flash_free(flash);
    return seen;
}

static FlashSeen greys_seen(double rate, float low, float high) {
    const float dark[3] = {low, low, low}, bright[3] = {high, high, high};
    return square_seen(rate, dark, bright);
}

/* The thresholds of the rule (WCAG 2.2 glossary), and three flashes against four. */
static void test_thresholds(void **state) {
    (void)state;
    assert_int_equal(greys_seen(3, 0.0f, 0.2f).most[FLASH_GENERAL], 6);
    assert_int_equal(greys_seen(4, 0.0f, 0.2f).most[FLASH_GENERAL], 8);
    for (int rate = 1; rate <= 30; rate++)
        assert_int_equal(greys_seen(rate, 0.0f, 0.099f).total[FLASH_GENERAL], 0);
    assert_true(greys_seen(10, 0.0f, 0.1f).most[FLASH_GENERAL] == 20);
    for (int low = 0; low < 8; low++) /* a tenth apart in single precision */
        assert_true(greys_seen(10, (float)low / 10.0f, (float)(low + 1) / 10.0f).most[0] == 20);
    assert_int_equal(greys_seen(10, 0.8f, 1.0f).total[FLASH_GENERAL], 0);
    assert_int_equal(greys_seen(10, nextafterf(0.8f, 0.0f), 1.0f).total[FLASH_GENERAL], 0);
    assert_int_equal(greys_seen(10, 0.79f, 1.0f).most[FLASH_GENERAL], 20);
    FlashSeen seen = square_seen(4, red, blue);
    assert_int_equal(seen.most[FLASH_GENERAL], 8);
    assert_int_equal(seen.most[FLASH_RED], 8);
    seen = square_seen(4, red, black);
    assert_int_equal(seen.total[FLASH_RED], 23);
    seen = square_seen(4, black, red);
    assert_int_equal(seen.total[FLASH_RED], 23);
    const float edge[3] = {nextafterf(0.8f, 0.0f), 0.2f, 0.0f}; /* 0.8 of all but for a rounding */
    assert_int_equal(square_seen(4, edge, blue).total[FLASH_RED], 23);
    const float dim[3] = {1e-3f, 0.0f, 0.0f}; /* the red kind knows no darkness */
    seen = square_seen(4, black, dim);
    assert_int_equal(seen.total[FLASH_RED], 23);
    assert_int_equal(seen.total[FLASH_GENERAL], 0);
}

static void test_pulses(void **state) {
    (void)state;
    for (int pulses = 3; pulses <= 4; pulses++) {
        Flash *flash = flash_create(1);
        for (int n = 0; n < 3 * RATE; n++)
            tell(flash, 1, frame_time(n), n % 15 < 7 && n / 15 < pulses ? white : black);
        /* The first frame is bright already: one transition less than two a pulse. */
        uint32_t wanted = 2 * (uint32_t)pulses - 1;
        expect_seen(flash, FLASH_GENERAL, wanted, wanted, "pulses");
        flash_free(flash);
    }
}

static void test_candle(void **state) {
    (void)state;
    for (int wild = 0; wild < 2; wild++) {
        Flash *flash = flash_create(1);
        for (int n = 0; n < 3 * RATE; n++) {
            double wave = sin(2.0 * 3.14159265358979 * 7.0 * n / RATE);
            float value = (float)(0.30 + (wild ? 0.06 : 0.045) * wave);
            const float colour[3] = {value, value, value};
            tell(flash, 1, frame_time(n), colour);
        }
        assert_int_equal(flash_seen(flash)->most[FLASH_GENERAL] >= FLASH_TOO_MANY, wild);
        flash_free(flash);
    }
}

static void greys(Flash *flash, const double *values, size_t count) {
    for (size_t i = 0; i < count; i++) {
        const float value = (float)values[i], colour[3] = {value, value, value};
        tell(flash, 1, (int64_t)i * 20000, colour);
    }
}

/* A change counts once its darker end is below 0.80, however it began; once only. */
static void test_long_changes(void **state) {
    (void)state;
    Flash *flash = flash_create(1);
    greys(flash, (const double[]){1.0, 0.85, 0.5, 0.0, 0.05, 0.0, 0.09, 0.0}, 8);
    expect_seen(flash, FLASH_GENERAL, 1, 1, "down in steps");
    flash_restart(flash);
    greys(flash, (const double[]){0.75, 0.8, 0.84, 0.86, 0.95, 1.0}, 6);
    expect_seen(flash, FLASH_GENERAL, 1, 1, "up from below 0.8");
    flash_restart(flash);
    greys(flash, (const double[]){0.5, 0.55, 0.45, 0.54, 0.46, 0.55}, 6);
    expect_seen(flash, FLASH_GENERAL, 2, 2, "from the lowest and the highest before the first");
    flash_restart(flash);
    expect_seen(flash, FLASH_GENERAL, 0, 0, "restart");
    flash_free(flash);
}

/* `flashing` of `pixels` between two colours at 10 Hz, the others at rest. */
static FlashSeen partial(uint32_t pixels, uint32_t flashing, const float *low, const float *high) {
    Flash *flash = flash_create(pixels);
    for (int n = 0; n < 3 * RATE; n++) {
        float light[3 * RING];
        for (size_t i = 0; i < 3 * (size_t)pixels; i++)
            light[i] = i < 3 * (size_t)flashing && n / 3 % 2 == 1 ? high[i % 3] : low[i % 3];
        flash_frame(flash, frame_time(n), light);
    }
    FlashSeen seen = *flash_seen(flash);
    flash_free(flash);
    return seen;
}

/* A quarter of the pixels is enough, whatever the mean does. */
static void test_pixels(void **state) {
    (void)state;
    const float grey[3] = {0.2f, 0.2f, 0.2f}, dim[3] = {0.05f, 0.0f, 0.0f};
    static const struct {
        uint32_t pixels, quarter;
    } lamps[] = {{1, 1}, {2, 1}, {3, 1}, {4, 1}, {5, 2}, {8, 2}, {9, 3}, {15, 4}, {16, 4}};
    for (size_t i = 0; i < sizeof lamps / sizeof lamps[0]; i++) {
        uint32_t pixels = lamps[i].pixels, quarter = lamps[i].quarter;
        assert_int_equal(partial(pixels, quarter, black, grey).most[FLASH_GENERAL], 20);
        assert_int_equal(partial(pixels, quarter, black, dim).most[FLASH_RED], 20);
        assert_int_equal(partial(pixels, quarter, black, dim).total[FLASH_GENERAL], 0);
        /* One pixel less flashes by 0.2 / 4 in the mean at most. */
        assert_int_equal(partial(pixels, quarter - 1, black, grey).total[FLASH_GENERAL], 0);
    }
    /* Three of sixteen reds in white: the mean is no red. */
    assert_int_equal(partial(16, 3, white, red).total[FLASH_RED], 0);
    assert_int_equal(partial(16, 4, white, red).most[FLASH_RED], 20);
    /* Three of sixteen, but bright: the mean moves by 3/16. */
    assert_int_equal(partial(16, 3, black, white).most[FLASH_GENERAL], 20);
}

/* Two groups in opposition: `each` of 16 brighten while as many darken. */
static FlashSeen opposition(size_t each) {
    Flash *flash = flash_create(RING);
    for (int n = 0; n < 3 * RATE; n++) {
        float light[3 * RING];
        for (size_t i = 0; i < 3 * RING; i++) {
            size_t group = i / 3 / each;
            bool bright = (n / 3 + (int)group) % 2 == 1;
            light[i] = group < 2 && bright ? 1.0f : 0.0f;
        }
        flash_frame(flash, frame_time(n), light);
    }
    FlashSeen seen = *flash_seen(flash);
    flash_free(flash);
    return seen;
}

static void test_opposition(void **state) {
    (void)state;
    FlashSeen seen = opposition(8); /* the mean rests at 1/2; a frame counts once */
    assert_int_equal(seen.total[FLASH_GENERAL], 59);
    assert_int_equal(seen.most[FLASH_GENERAL], 20);
    assert_int_equal(opposition(4).most[FLASH_GENERAL], 20);
    /* Three up and three down are six pixels, but not a quarter the same way. */
    assert_int_equal(opposition(3).total[FLASH_GENERAL], 0);
}

/* Seven transitions, the last `length` after the first. */
static FlashSeen seven(int64_t start, int64_t length) {
    Flash *flash = flash_create(1);
    tell(flash, 1, start - 5000000, black);
    for (int i = 0; i < 7; i++)
        tell(flash, 1, i < 6 ? start + i * 1013 : start + length, i % 2 == 0 ? white : black);
    FlashSeen seen = *flash_seen(flash);
    flash_free(flash);
    return seen;
}

static void test_second(void **state) {
    (void)state;
    FlashSeen seen = seven(123457, 999999);
    assert_int_equal(seen.most[FLASH_GENERAL], 7);
    assert_int_equal(seen.worst[FLASH_GENERAL], 123457);
    seen = seven(123457, 1000000);
    assert_int_equal(seen.total[FLASH_GENERAL], 7);
    assert_int_equal(seen.most[FLASH_GENERAL], 6);
    Flash *flash = flash_create(1); /* three seconds alike: the first is reported */
    for (int i = 0; i < 4 * 3; i++)
        tell(flash, 1, i / 4 * 5000000 + i % 4 * 10, i % 2 == 0 ? white : black);
    expect_seen(flash, FLASH_GENERAL, 11, 4, "three bursts");
    assert_int_equal(flash_seen(flash)->worst[FLASH_GENERAL], 5000000);
    flash_free(flash);
    assert_int_equal(seven(-999999999, 999999).most[FLASH_GENERAL], 7);
}

/* Two frames a flash, `rate` flashes a second or a hair fewer. */
static bool sustained(double rate, double seconds) {
    Flash *flash = flash_create(1);
    int64_t half = (int64_t)ceil(500000.0 / rate);
    for (int i = 0; (double)(i * half) <= seconds * 1e6; i++)
        tell(flash, 1, i * half, i % 2 == 0 ? black : white);
    bool goes_on = flash_seen(flash)->sustained[FLASH_GENERAL];
    assert_false(flash_seen(flash)->sustained[FLASH_RED]);
    flash_free(flash);
    return goes_on;
}

/* 4 to 6 transitions a second during more than 4 of 5 seconds: common practice, no standard. */
static void test_sustained(void **state) {
    (void)state;
    assert_true(sustained(2.0, 8.0));
    assert_true(sustained(3.0, 8.0));
    assert_false(sustained(1.5, 60.0)); /* 3 a second */
    assert_false(sustained(3.5, 60.0)); /* 7 */
    /* Four a second: the fourth transition, at 1 s, is the first with a full second; the time up to
     * it counts from the third, at 0.75 s. */
    assert_false(sustained(2.0, 4.75));
    assert_true(sustained(2.0, 5.0));
    Flash *flash = flash_create(1); /* three seconds on, two off */
    for (int i = 0; i < 240; i++)
        if (i % 20 < 12)
            tell(flash, 1, i * 250000, i % 2 == 0 ? black : white);
    assert_false(flash_seen(flash)->sustained[FLASH_GENERAL]);
    /* 0.3 s apart, with one wait of 0.45 s: then the next three come too late for a fourth within a
     * second, which leaves 5 - 0.45 - 2 * 0.3 = 3.95 s. */
    flash_restart(flash);
    int64_t time = 0;
    for (int i = 0; i < 31; i++) {
        tell(flash, 1, time, i % 2 == 0 ? black : white);
        time += i == 15 ? 450000 : 300000;
    }
    expect_seen(flash, FLASH_GENERAL, 30, 4, "one wait");
    assert_false(flash_seen(flash)->sustained[FLASH_GENERAL]);
    flash_free(flash);
}

static Seen chance_seen(int sort) {
    Seen colour = {chance_unit(), chance_unit(), chance_unit()};
    if (sort % 4 == 1) /* steps of 0.05: often 0.10 to the letter */
        colour.r = colour.g = colour.b = floor(chance_unit() * 21.0) / 20.0;
    if (sort % 4 == 2) /* bright */
        colour.r = colour.g = colour.b = 0.7 + 0.3 * chance_unit();
    if (sort % 4 == 3 && chance_unit() < 0.4) /* pure reds of all strengths, and black */
        colour.g = colour.b = 0.0;
    if (sort % 4 == 3 && chance_unit() < 0.2)
        colour.r = colour.g = colour.b = 0.0;
    return colour;
}

static void expect_chain(const Flash *flash, const Seen *frames, const int64_t *times, size_t count,
                         FlashKind kind) {
    int (*change)(Seen, Seen) = kind == FLASH_RED ? chain_red : chain_general;
    const FlashSeen *seen = flash_seen(flash);
    assert_int_equal(seen->total[kind], chain_longest(frames, count, change));
    /* In a second: the chain may begin within a change that was counted before the second, and the
     * first counted may have begun before it. */
    int chain = chain_second(frames, times, count, change);
    assert_in_range(chain + 1, seen->most[kind], seen->most[kind] + 2);
}

/* Transitions are the longest chain of opposing changes. In the red kind that is so where every
 * saturated red is the primary itself: else `farthest from the primary` is not `farthest`. */
static void test_chains(void **state) {
    (void)state;
    chance_state = 11;
    for (int run = 0; run < 400; run++) {
        static Seen frames[CHAIN_LONG];
        static int64_t times[CHAIN_LONG];
        size_t count = 20 + (size_t)(chance_unit() * 100.0);
        double wait = 4e5 * chance_unit();
        int64_t time = 0;
        Flash *flash = flash_create(1);
        for (size_t i = 0; i < count; i++) {
            Seen wanted = chance_seen(run);
            const float colour[3] = {(float)wanted.r, (float)wanted.g, (float)wanted.b};
            frames[i] = (Seen){colour[0], colour[1], colour[2]};
            times[i] = time;
            tell(flash, 1, time, colour);
            time += (int64_t)(wait * chance_unit());
        }
        expect_chain(flash, frames, times, count, FLASH_GENERAL);
        if (run % 4 == 3)
            expect_chain(flash, frames, times, count, FLASH_RED);
        flash_free(flash);
    }
}

/* What would break is said before, and nothing is changed by asking. */
static void test_would_break(void **state) {
    (void)state;
    chance_state = 12;
    int breaks = 0;
    for (int run = 0; run < 200; run++) {
        Flash *flash = flash_create(1), *asked = flash_create(1);
        int64_t times[FLASH_KINDS][200] = {{0}}, time = 0;
        for (int i = 0; i < 200; i++) {
            Seen wanted = chance_seen(run);
            const float colour[3] = {(float)wanted.r, (float)wanted.g, (float)wanted.b};
            FlashSeen before = *flash_seen(flash);
            bool said = flash_would_break(asked, time, colour), broke = false;
            tell(flash, 1, time, colour);
            tell(asked, 1, time, colour);
            for (int kind = 0; kind < FLASH_KINDS; kind++) {
                uint32_t total = flash_seen(flash)->total[kind];
                if (total == before.total[kind])
                    continue;
                times[kind][total - 1] = time;
                broke = broke || (total >= 7 && time - times[kind][total - 7] < 1000000);
            }
            assert_int_equal(said, broke);
            breaks += broke;
            time += (int64_t)(3e5 * chance_unit());
        }
        assert_memory_equal(flash_seen(flash), flash_seen(asked), sizeof(FlashSeen));
        flash_free(flash);
        flash_free(asked);
    }
    assert_in_range(breaks, 1000, 39000);
}

/* A frame told again changes nothing. */
static void test_again(void **state) {
    (void)state;
    chance_state = 13;
    for (int run = 0; run < 100; run++) {
        Flash *once = flash_create(4), *twice = flash_create(4);
        for (int i = 0; i < 200; i++) {
            float light[12];
            for (int pixel = 0; pixel < 4; pixel++) {
                Seen colour = chance_seen(run);
                light[3 * pixel] = (float)colour.r;
                light[3 * pixel + 1] = (float)colour.g;
                light[3 * pixel + 2] = (float)colour.b;
            }
            flash_frame(once, i * 20000, light);
            flash_frame(twice, i * 20000, light);
            flash_frame(twice, i * 20000 + 7, light);
        }
        assert_memory_equal(flash_seen(once), flash_seen(twice), sizeof(FlashSeen));
        flash_free(once);
        flash_free(twice);
    }
}

/* Light that is none is held within 0..1. */
static void test_outside(void **state) {
    (void)state;
    const float low[3] = {-3.0f, NAN, -INFINITY}, high[3] = {INFINITY, 2.0f, 1.0f};
    FlashSeen odd = square_seen(4, low, high), even = square_seen(4, black, white);
    assert_memory_equal(&odd, &even, sizeof odd);
    static const float same[][2] = {{0.0f, -3.0f}, {0.0f, NAN}, {1.0f, 5.0f}, {1.0f, INFINITY}};
    for (int channel = 0; channel < 3; channel++)
        for (size_t i = 0; i < 4; i++) {
            float one[3] = {0.3f, 0.3f, 0.3f}, other[3] = {0.3f, 0.3f, 0.3f};
            one[channel] = same[i][0];
            other[channel] = same[i][1];
            FlashSeen seen = square_seen(4, one, other);
            assert_int_equal(seen.total[FLASH_GENERAL] + seen.total[FLASH_RED], 0);
        }
    Flash *flash = flash_create(0);
    for (int i = 0; i < 100; i++) {
        assert_false(flash_would_break(flash, i, NULL));
        flash_frame(flash, i, NULL);
    }
    expect_seen(flash, FLASH_GENERAL, 0, 0, "no pixels");
    flash_free(flash);
    flash_free(NULL);
}

static void test_memory(void **state) {
    (void)state;
    unsigned long live = memory_live();
    for (unsigned long fail = 1; fail <= 2; fail++) {
        memory_fail_at(fail);
        assert_null(flash_create(RING));
        assert_int_equal(memory_live(), live);
    }
    memory_fail_at(0);
    Flash *flash = flash_create(RING);
    unsigned long count = memory_count();
    square(flash, RING, 10.0, black, white);
    flash_restart(flash);
    assert_int_equal(memory_count(), count);
    flash_free(flash);
    assert_int_equal(memory_live(), live);
}

static void test_mix(void **state) {
    (void)state;
    chance_state = 14;
    for (int i = 0; i < 100000; i++) {
        float a = (float)chance_unit(), b = (float)chance_unit(), into;
        light_mix_frames(&a, &b, 0.0, 1, &into);
        assert_memory_equal(&into, &a, sizeof a);
        light_mix_frames(&a, &b, 1.0, 1, &into);
        assert_memory_equal(&into, &b, sizeof b);
        double share = i % 2 ? chance_unit() : 1.0 - ldexp(chance_unit(), -20);
        light_mix_frames(&a, &b, share, 1, &into);
        assert_true(into >= fminf(a, b) && into <= fmaxf(a, b));
        assert_true(fabs(into - (a + share * ((double)b - a))) < 1e-7);
        light_mix_frames(&a, &b, share, 1, &b);
        assert_memory_equal(&into, &b, sizeof b);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_table),        cmocka_unit_test(test_thresholds),
        cmocka_unit_test(test_pulses),       cmocka_unit_test(test_candle),
        cmocka_unit_test(test_long_changes), cmocka_unit_test(test_pixels),
        cmocka_unit_test(test_opposition),   cmocka_unit_test(test_second),
        cmocka_unit_test(test_sustained),    cmocka_unit_test(test_chains),
        cmocka_unit_test(test_would_break),  cmocka_unit_test(test_again),
        cmocka_unit_test(test_outside),      cmocka_unit_test(test_memory),
        cmocka_unit_test(test_mix),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
