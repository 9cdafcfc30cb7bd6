/* The light of a performance on one day, in words of its clock, for tests. */
#ifndef GLOAM_TESTS_PLAYER_SHOW_H
#define GLOAM_TESTS_PLAYER_SHOW_H

#include <math.h>

#include "tests/support/stage.h"

/* Of ease-in-out at a quarter: tests/data/light/easing_cubic_bezier.csv (npm bezier-easing). */
#define QUARTER 0.129161931

typedef struct Show {
    Home home;
    int32_t lamp;
    Performance *performance;
    Overrides *overrides; /* what was done by hand; NULL: nothing */
    Now now;
} Show;

static inline void show_end(Show *show) {
    performance_free(show->performance);
    memory_release(show->overrides);
    home_end(&show->home);
}

static inline int64_t at(const Show *show, const char *now) {
    char text[64];
    snprintf(text, sizeof text, "2026-11-25T%s", now);
    return home_local(&show->home, text);
}

static inline void near_to(const float *light, double red, double green, double blue,
                           const char *what) {
    const double wanted[3] = {red, green, blue};
    for (int i = 0; i < 3; i++)
        if (!(fabs((double)light[i] - wanted[i]) < 2e-7))
            fail_msg("%s: channel %d is %.9g, not %.9g", what, i, (double)light[i], wanted[i]);
}

static inline void pixel_is(const Show *show, int64_t utc, int pixel, double red, double green,
                            double blue, const char *what) {
    float light[3 * HOME_PIXELS];
    assert_true(performance_light(show->performance, utc, light));
    near_to(light + 3 * pixel, red, green, blue, what);
}

/* All pixels. */
static inline void is(const Show *show, const char *now, double red, double green, double blue) {
    for (uint32_t i = 0; i < show->home.lamps[show->lamp].scene.pixels; i++)
        pixel_is(show, at(show, now), (int)i, red, green, blue, now);
}

static inline void changes_at(const Show *show, const char *now, const char *next) {
    int64_t got = performance_changes(show->performance, at(show, now)), wanted = at(show, next);
    if (got != wanted)
        fail_msg("after %s the light changes %.6f s off %s", now, (double)(got - wanted) / 1e6,
                 next);
}

#endif
