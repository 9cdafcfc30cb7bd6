/* The flash guard: whatever comes in, what goes out keeps the rule of WCAG 2.2, SC 2.3.1, as a
 * second analyser over the output sees it, and as a second way to count does; and what keeps the
 * rule passes bit for bit. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/core/memory.h"
#include "runtime/light/guard.h"
#include "runtime/light/mix.h"
#include "tests/support/chance.h"
#include "tests/support/flashes.h"

enum { PIXELS_MOST = 32, VALUES_MOST = 3 * PIXELS_MOST };

typedef enum Sort {
    SORT_STROBE,     /* two colours */
    SORT_OPPOSITION, /* two groups of pixels in opposition */
    SORT_PART,       /* some of the pixels */
    SORT_WILD,       /* any light */
    SORT_REDS,       /* reds of all strengths, black, white, blue */
    SORT_STAIRS,     /* up and down in steps */
    SORT_NEAR,       /* a change of 0.10, a hair more or less, off what was shown last */
    SORT_NEAR_REDS,  /* to the edge of saturation and beyond */
    SORT_GENTLE,     /* seldom a transition */
    SORTS
} Sort;

/* What comes in. */
typedef struct Feed {
    Sort sort;
    uint32_t pixels;
    double flashes; /* a second */
    double frames;  /* a second */
    double dropped; /* part of the frames */
    float one[3], other[3];
    uint32_t first; /* pixels of the first group */
} Feed;

static float any(void) {
    return (float)chance_unit();
}

static void colour_any(float *colour) {
    static const float known[][3] = {{0, 0, 0}, {1, 1, 1}, {1, 0, 0}, {0, 0, 1}, {0.05f, 0, 0}};
    size_t choice = (size_t)(chance_unit() * 8.0);
    for (size_t i = 0; i < 3; i++)
        colour[i] = choice < 5 ? known[choice][i] : any();
}

static Feed feed_any(Sort sort) {
    static const double rates[] = {24.0, 30.0, 50.0, 60.0, 100.0, 240.0};
    Feed feed = {.sort = sort};
    feed.pixels = chance_unit() < 0.3 ? 1 : 1 + (uint32_t)(chance_unit() * PIXELS_MOST);
    feed.flashes = 3.0 + floor(chance_unit() * 28.0);
    feed.frames = rates[(size_t)(chance_unit() * 6.0)];
    feed.dropped = chance_unit() < 0.5 ? 0.0 : 0.7 * chance_unit();
    colour_any(feed.one);
    colour_any(feed.other);
    feed.first = 1 + (uint32_t)(chance_unit() * feed.pixels);
    return feed;
}

/* Off `value` by 0.10 or about it, up or down, within 0..1. */
static float near_step(float value) {
    static const double over[] = {0.0, 1e-7, -1e-7, -9e-7, -1.1e-6, 1e-6, 1e-3, -1e-3, 0.1, 0.4};
    double step = 0.1 + over[(size_t)(chance_unit() * 10.0)];
    double next = value + (chance_unit() < 0.5 ? step : -step);
    return (float)(next < 0.0 || next > 1.0 ? value : next);
}

static void near_red(float *colour) {
    double strength = chance_unit(), rest = strength * 0.25 * (1.0 + 1e-5 * (chance_unit() - 0.5));
    double green = rest * chance_unit();
    colour[0] = (float)strength;
    colour[1] = (float)green;
    colour[2] = (float)(rest - green);
    if (chance_unit() < 0.5)
        colour_any(colour);
}

static void feed_pixel(const Feed *feed, int frame, bool flash, const float *shown, float *pixel) {
    switch (feed->sort) {
    case SORT_WILD:
        for (int i = 0; i < 3; i++)
            pixel[i] = any();
        return;
    case SORT_REDS:
        colour_any(pixel);
        return;
    case SORT_NEAR:
        pixel[0] = pixel[1] = pixel[2] = near_step(shown[1]);
        return;
    case SORT_NEAR_REDS:
        near_red(pixel);
        return;
    case SORT_STAIRS:
        for (int i = 0; i < 3; i++)
            pixel[i] = (float)(flash ? 10 - frame % 11 : frame % 11) / 10.0f;
        return;
    default:
        memcpy(pixel, flash ? feed->one : feed->other, 3 * sizeof *pixel);
    }
}

static void feed_frame(const Feed *feed, int frame, double seconds, const float *shown,
                       float *light) {
    bool flash = (int64_t)floor(2.0 * feed->flashes * seconds) % 2 != 0, whole = any() < 0.5f;
    for (uint32_t i = 0; i < feed->pixels; i++) {
        bool first = i < feed->first, now = flash;
        if (feed->sort == SORT_OPPOSITION)
            now = flash != first;
        if (feed->sort == SORT_PART)
            now = flash && first;
        if (feed->sort == SORT_GENTLE)
            now = chance_unit() < 0.01;
        if (i > 0 && whole && feed->sort >= SORT_WILD)
            memcpy(light + 3 * i, light, 3 * sizeof *light);
        else
            feed_pixel(feed, frame, now, shown + 3 * i, light + 3 * i);
    }
}

static Seen mean_of(const float *light, uint32_t pixels) {
    Seen sum = {0.0, 0.0, 0.0};
    for (uint32_t i = 0; i < pixels; i++) {
        sum.r += light[3 * i];
        sum.g += light[3 * i + 1];
        sum.b += light[3 * i + 2];
    }
    return (Seen){sum.r / pixels, sum.g / pixels, sum.b / pixels};
}

/* The rule to the letter: a change that comes within the slack of 0.10 is none. */
static int change_of_mean(Seen a, Seen b) {
    return chain_luminance(a, b, 0.1, 0.8 - 2e-6);
}

static bool keeps(const FlashSeen *seen) {
    return seen->most[FLASH_GENERAL] < FLASH_TOO_MANY && seen->most[FLASH_RED] < FLASH_TOO_MANY;
}

typedef struct Watch {
    Guard *guard;
    Flash *came, *went;
    uint32_t pixels;
    int held, passed;
    bool shown;
    float last[VALUES_MOST];
} Watch;

static void watch_begin(Watch *watch, uint32_t pixels) {
    *watch = (Watch){.pixels = pixels};
    watch->guard = guard_create(pixels);
    watch->came = flash_create(pixels);
    watch->went = flash_create(pixels);
    assert_true(watch->guard != NULL && watch->came != NULL && watch->went != NULL);
}

static void watch_end(Watch *watch) {
    guard_free(watch->guard);
    flash_free(watch->came);
    flash_free(watch->went);
}

/* Whether the light `step` / 2^24 of the way has gone as far as `shown` everywhere; or farther
 * somewhere. */
static bool mix_reaches(const Watch *watch, const float *wanted, double step, const float *shown,
                        bool farther) {
    size_t values = 3 * (size_t)watch->pixels;
    float mixed[VALUES_MOST];
    light_mix_frames(watch->last, wanted, ldexp(step, -24), values, mixed);
    for (size_t i = 0; i < values; i++) {
        double way = fabs((double)mixed[i] - watch->last[i]);
        double gone = fabs((double)shown[i] - watch->last[i]);
        if (farther ? way > gone : way < gone)
            return farther;
    }
    return !farther;
}

/* The first step that reaches; 2^24 does. */
static double first_step(const Watch *watch, const float *wanted, const float *shown,
                         bool farther) {
    double below = -1.0, step = ldexp(1.0, 24);
    while (step - below > 1.0) {
        double middle = floor(0.5 * (below + step));
        if (mix_reaches(watch, wanted, middle, shown, farther))
            step = middle;
        else
            below = middle;
    }
    return step;
}

/* Some share of the way was shown, and 2^-24 more would have broken the rule. (Of several shares
 * with the same light the largest counts.) */
static void expect_edge(const Watch *watch, int64_t time, const float *wanted, const float *shown) {
    size_t values = 3 * (size_t)watch->pixels;
    float mixed[VALUES_MOST];
    double step = first_step(watch, wanted, shown, false);
    light_mix_frames(watch->last, wanted, ldexp(step, -24), values, mixed);
    assert_memory_equal(mixed, shown, values * sizeof *mixed);
    double more = first_step(watch, wanted, shown, true);
    light_mix_frames(watch->last, wanted, ldexp(more, -24), values, mixed);
    assert_true(flash_would_break(watch->went, time, mixed));
}

/* One frame through the guard; everything that must hold of it. `light` becomes what went out. */
static void watch_frame(Watch *watch, int64_t time, float *light) {
    size_t values = 3 * (size_t)watch->pixels;
    float wanted[VALUES_MOST];
    memcpy(wanted, light, values * sizeof *light);
    bool breaks = flash_would_break(watch->went, time, wanted);
    bool held = guard_frame(watch->guard, time, light);
    assert_int_equal(held, breaks);
    assert_int_equal(held, memcmp(light, wanted, values * sizeof *light) != 0);
    for (size_t i = 0; i < values && watch->shown; i++)
        assert_true(light[i] >= fminf(watch->last[i], wanted[i]) &&
                    light[i] <= fmaxf(watch->last[i], wanted[i]));
    if (held && (watch->held % 8 == 0 || watch->pixels == 1))
        expect_edge(watch, time, wanted, light);
    flash_frame(watch->came, time, wanted);
    flash_frame(watch->went, time, light);
    assert_true(keeps(flash_seen(watch->went)));
    assert_memory_equal(flash_seen(watch->went), guard_seen(watch->guard), sizeof(FlashSeen));
    watch->held += held;
    watch->passed += !held;
    if (keeps(flash_seen(watch->came)))
        assert_int_equal(watch->held, 0);
    watch->shown = true;
    memcpy(watch->last, light, values * sizeof *light);
}

static int64_t feed_time(const Feed *feed, int64_t time) {
    int64_t step = (int64_t)(1e6 / feed->frames);
    int64_t next = time + step;
    while (chance_unit() < feed->dropped)
        next += step + (int64_t)(3.0 * chance_unit()) - 1;
    return next;
}

/* Then the last colours stay: after a second at the latest they are shown. */
static void watch_rest(Watch *watch, const Feed *feed, int64_t time, const float *wanted) {
    float light[VALUES_MOST];
    size_t bytes = 3 * (size_t)watch->pixels * sizeof *light;
    for (int64_t until = time + 1000000; time < until;) {
        time = feed_time(feed, time);
        memcpy(light, wanted, bytes);
        watch_frame(watch, time < until ? time : until, light);
    }
    assert_memory_equal(light, wanted, bytes);
}

static void watch_feed(const Feed *feed, int *held, int *passed) {
    static Seen means[CHAIN_LONG];
    static int64_t times[CHAIN_LONG];
    Watch watch;
    watch_begin(&watch, feed->pixels);
    unsigned long allocations = memory_count();
    float light[VALUES_MOST] = {0}, wanted[VALUES_MOST];
    int64_t time = (int64_t)(chance_unit() * 1e9);
    int count = 120 + (int)(chance_unit() * 120.0);
    for (int i = 0; i < count; i++) {
        feed_frame(feed, i, (double)time / 1e6, watch.last, light);
        memcpy(wanted, light, sizeof wanted);
        watch_frame(&watch, time, light);
        means[i] = mean_of(light, feed->pixels);
        times[i] = time;
        time = feed_time(feed, time);
    }
    /* Opposing changes of the mean: one of them may have been counted before the second. */
    assert_in_range(chain_second(means, times, (size_t)count, change_of_mean), 0, 7);
    watch_rest(&watch, feed, time, wanted);
    assert_int_equal(memory_count(), allocations);
    *held += watch.held;
    *passed += watch.passed;
    watch_end(&watch);
}

static void test_feeds(void **state) {
    (void)state;
    chance_state = 21;
    for (int sort = 0; sort < SORTS; sort++) {
        int held = 0, passed = 0;
        for (int run = 0; run < 100; run++) {
            Feed feed = feed_any((Sort)sort);
            watch_feed(&feed, &held, &passed);
        }
        /* Both happen; what is gentle passes (expected above, frame by frame). */
        assert_true(passed > 1000);
        assert_true(sort == SORT_GENTLE || held > 100);
    }
}

/* Every rate of flashes at 60 frames a second, white on black. */
static void test_strobes(void **state) {
    (void)state;
    chance_state = 22;
    for (int rate = 4; rate <= 30; rate++)
        for (uint32_t pixels = 1; pixels <= 4; pixels += 3) {
            Feed feed = {SORT_STROBE, pixels, rate, 60.0, 0.0, {1, 1, 1}, {0, 0, 0}, 1};
            int held = 0, passed = 0;
            watch_feed(&feed, &held, &passed);
            assert_true(held > 0);
        }
    Watch watch; /* three flashes a second keep the rule to the microsecond */
    watch_begin(&watch, 1);
    for (int i = 0; i < 600; i++) {
        float value = (float)(i / 10 % 2), light[3] = {value, value, value};
        watch_frame(&watch, (int64_t)floor(i * 1e6 / 60 + 0.5), light);
    }
    assert_int_equal(watch.held, 0);
    assert_int_equal(flash_seen(watch.went)->most[FLASH_GENERAL], 6);
    watch_end(&watch);
}

/* The longest possible holding: six transitions at once, then one wanted for ever. */
static void test_release(void **state) {
    (void)state;
    Watch watch;
    watch_begin(&watch, 1);
    for (int i = 0; i < 7; i++) {
        float light[3] = {(float)(i % 2), (float)(i % 2), (float)(i % 2)};
        watch_frame(&watch, 1000 * i, light);
    }
    assert_int_equal(watch.held, 0);
    assert_int_equal(flash_seen(watch.went)->most[FLASH_GENERAL], 6);
    float light[3] = {1.0f, 1.0f, 1.0f};
    watch_frame(&watch, 1000999, light);
    assert_int_equal(watch.held, 1);
    assert_true(light[0] > 0.099f && light[0] < 0.1f);
    light[0] = light[1] = light[2] = 1.0f;
    watch_frame(&watch, 1001000, light); /* one second after the first transition */
    assert_int_equal(watch.held, 1);
    watch_end(&watch);
}

static void test_restart(void **state) {
    (void)state;
    Guard *guard = guard_create(1);
    int held = 0;
    for (int i = 0; i < 60; i++) {
        float light[3] = {(float)(i % 2), (float)(i % 2), (float)(i % 2)};
        if (i % 5 == 0)
            guard_restart(guard);
        held += guard_frame(guard, i, light);
    }
    assert_int_equal(held, 0);
    assert_int_equal(guard_seen(guard)->total[FLASH_GENERAL], 4);
    guard_free(guard);
}

/* What is no light does not loosen the guard. */
static void test_outside(void **state) {
    (void)state;
    chance_state = 23;
    const float odd[] = {NAN, INFINITY, -INFINITY, -1.0f, 2.0f, 3e38f, -3e38f, 1e-45f, 0.0f, 1.0f};
    Guard *guard = guard_create(3);
    Flash *went = flash_create(3);
    int held = 0;
    for (int i = 0; i < 4000; i++) {
        float light[9];
        for (int value = 0; value < 9; value++)
            light[value] = odd[(size_t)(chance_unit() * 10.0)];
        held += guard_frame(guard, i * 16667, light);
        flash_frame(went, i * 16667, light);
    }
    assert_true(held > 100);
    assert_true(keeps(flash_seen(went)));
    guard_free(guard);
    flash_free(went);
    guard = guard_create(0);
    for (int i = 0; i < 20; i++)
        assert_false(guard_frame(guard, i, NULL));
    guard_free(guard);
    guard_free(NULL);
}

static void test_memory(void **state) {
    (void)state;
    unsigned long live = memory_live();
    for (unsigned long fail = 1; fail <= 5; fail++) {
        memory_fail_at(fail);
        assert_null(guard_create(16));
        assert_int_equal(memory_live(), live);
    }
    memory_fail_at(6);
    Guard *guard = guard_create(16);
    memory_fail_at(0);
    assert_non_null(guard);
    guard_free(guard);
    assert_int_equal(memory_live(), live);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_feeds),   cmocka_unit_test(test_strobes),
        cmocka_unit_test(test_release), cmocka_unit_test(test_restart),
        cmocka_unit_test(test_outside), cmocka_unit_test(test_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
