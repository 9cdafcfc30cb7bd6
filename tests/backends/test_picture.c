/* Pictures, read back with libpng's own reader: size, colours at known places, marks of the axes,
 * the mean of light, trouble with the disk and memory. */
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "backends/picture.h"
#include "runtime/core/memory.h"
#include "tests/support/folder.h"
#include "tests/support/picture_read.h"

/* Of the layout: where the plot begins, and what is round it. */
enum { LEFT = 64, TOP = 64, RIGHT = 44, BOTTOM = 52 };

/* One pixel of four is lit, a second each. */
static const float *chase(void *context, int64_t microseconds) {
    float *light = context;
    memset(light, 0, 12 * sizeof *light);
    int lit = (int)(microseconds / 1000000) % 4;
    light[3 * lit] = 1.0f;
    light[3 * lit + 1] = 0.5f; /* 188 for a screen: CSS Color 4 */
    return light;
}

static void drawn(const BackendOptions *options, PictureRender render, Seen *seen) {
    BackendOptions mine = *options;
    BackendError error;
    float light[64];
    mine.descriptor = file_nameless();
    if (!picture_draw(&mine, render, light, &error))
        fail_msg("%s", error.sentence);
    *seen = seen_read(mine.descriptor);
}

static void test_chase(void **state) {
    (void)state;
    const PictureOptions own = {
        .length = 4000000, .fps = 60, .width = LEFT + 400 + RIGHT, .height = TOP + 80 + BOTTOM};
    const BackendOptions options = {.pixels = 4, .title = "chase", .own = &own};
    Seen seen;
    drawn(&options, chase, &seen);
    assert_int_equal(seen.width, LEFT + 400 + RIGHT);
    assert_int_equal(seen.height, TOP + 80 + BOTTOM);
    for (int pixel = 0; pixel < 4; pixel++)
        for (int second = 0; second < 4; second++)
            for (int column = 0; column < 100; column++)
                for (int line = 0; line < 16; line++) {
                    bool lit = pixel == second;
                    shows(&seen, LEFT + 100 * second + column, TOP + 20 * pixel + line,
                          lit ? 255 : 0, lit ? 188 : 0, 0);
                }
    free(seen.bytes);
}

/* A mark of the time axis is the first line of another colour than the ground below the plot. */
static int marks_in_line(const Seen *seen, int y, int *places) {
    const uint8_t *ground = seen_at(seen, 0, 0);
    int count = 0;
    for (int x = LEFT; x <= LEFT + 400; x++)
        if (memcmp(seen_at(seen, x, y), ground, 3) != 0)
            places[count++] = x - LEFT;
    return count;
}

static void test_time_axis(void **state) {
    (void)state;
    /* 400 columns hold at most 4 labels: one a second for 4 s */
    const PictureOptions own = {
        .length = 4000000, .fps = 60, .width = LEFT + 400 + RIGHT, .height = TOP + 80 + BOTTOM};
    const BackendOptions options = {.pixels = 4, .own = &own};
    Seen seen;
    int places[400];
    drawn(&options, chase, &seen);
    int count = marks_in_line(&seen, TOP + 80 + 10, places); /* the long marks only */
    assert_int_equal(count, 5);
    for (int i = 0; i < 4; i++)
        assert_int_equal(places[i], 100 * i);
    assert_int_equal(places[4], 399);
    count = marks_in_line(&seen, TOP + 80 + 5, places); /* with the small ones, every 0.2 s */
    assert_int_equal(count, 21);
    free(seen.bytes);
}

/* A start that is no round time: the marks stay at round ones. */
static void test_time_axis_start(void **state) {
    (void)state;
    const PictureOptions own = {.start = 2500000,
                                .length = 4000000,
                                .fps = 60,
                                .width = LEFT + 400 + RIGHT,
                                .height = TOP + 80 + BOTTOM};
    const BackendOptions options = {.pixels = 4, .own = &own};
    Seen seen;
    int places[400];
    drawn(&options, chase, &seen);
    assert_int_equal(marks_in_line(&seen, TOP + 80 + 10, places), 4);
    for (int i = 0; i < 4; i++)
        assert_int_equal(places[i], 50 + 100 * i); /* 3 s, 4 s, 5 s, 6 s */
    shows(&seen, LEFT + 49, TOP + 45, 255, 188, 0);
    shows(&seen, LEFT + 50, TOP + 45, 0, 0, 0);
    shows(&seen, LEFT + 50, TOP + 65, 255, 188, 0);
    free(seen.bytes);
}

/* Each column is as long as two frames, of which one is white and one black: half the light is
 * shown as 188, not as 128. */
static const float *flicker(void *context, int64_t microseconds) {
    float *light = context;
    for (int i = 0; i < 12; i++)
        light[i] = microseconds / 10000 % 2 == 0 ? 1.0f : 0.0f;
    return light;
}

static void test_mean_of_light(void **state) {
    (void)state;
    const PictureOptions own = {
        .length = 8000000, .fps = 100, .width = LEFT + 400 + RIGHT, .height = TOP + 80 + BOTTOM};
    const BackendOptions options = {.pixels = 4, .own = &own};
    Seen seen;
    drawn(&options, flicker, &seen);
    for (int x = 0; x < 400; x++)
        shows(&seen, LEFT + x, TOP + 5, 188, 188, 188); /* CSS Color 4 */
    free(seen.bytes);
}

/* Through the interface: frames one by one; a frame is shown until the next one. */
static void test_frames(void **state) {
    (void)state;
    const PictureOptions own = {
        .length = 1000000, .fps = 1, .width = LEFT + 400 + RIGHT, .height = TOP + 80 + BOTTOM};
    BackendOptions options = {.pixels = 1, .own = &own, .descriptor = file_nameless()};
    BackendError error;
    Backend *backend = picture_backend.open(&options, &error);
    assert_non_null(backend);
    const float lights[4][3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 0.5f}, {0, 0, 0}};
    const int64_t times[] = {0, 250000, 500000, 500000};
    for (uint64_t i = 0; i < 4; i++) {
        const BackendFrame frame = {i, times[i], lights[i], NULL};
        assert_int_equal(picture_backend.frame(backend, &frame, &error), BACKEND_FINE);
    }
    assert_int_equal(picture_backend.close(backend, &error), BACKEND_FINE);
    Seen seen = seen_read(options.descriptor);
    shows(&seen, LEFT, TOP + 40, 255, 0, 0);
    shows(&seen, LEFT + 99, TOP + 40, 255, 0, 0);
    shows(&seen, LEFT + 100, TOP + 40, 0, 255, 0);
    shows(&seen, LEFT + 199, TOP + 40, 0, 255, 0);
    shows(&seen, LEFT + 200, TOP + 40, 0, 0, 137); /* a quarter: CSS Color 4 */
    shows(&seen, LEFT + 201, TOP + 40, 0, 0, 0);
    shows(&seen, LEFT + 399, TOP + 40, 0, 0, 0);
    free(seen.bytes);
}

static const float *bright(void *context, int64_t microseconds) {
    (void)microseconds;
    float *light = context;
    for (int i = 0; i < 4; i++) {
        light[3 * i] = 4.0f;
        light[3 * i + 1] = -1.0f;
        light[3 * i + 2] = 2.0f;
    }
    return light;
}

/* The gamut step comes first; a length of 0 is one moment. */
static void test_gamut_and_no_length(void **state) {
    (void)state;
    const PictureOptions own = {.fps = 60};
    const BackendOptions options = {.pixels = 4, .own = &own};
    Seen seen;
    drawn(&options, bright, &seen);
    assert_int_equal(seen.width, LEFT + 1200 + RIGHT);
    shows(&seen, LEFT, TOP + 5, 255, 0, 188);
    shows(&seen, LEFT + 1199, TOP + 5, 255, 0, 188);
    free(seen.bytes);
}

static const float *many(void *context, int64_t microseconds) {
    (void)microseconds;
    return context;
}

/* 2,000 pixels, half of them lit, share rows: the plot is not higher than 768 lines. */
static void test_many_pixels(void **state) {
    (void)state;
    const PictureOptions own = {.length = 1000, .fps = 60, .width = LEFT + 200 + RIGHT};
    BackendOptions options = {.pixels = 2000, .own = &own, .descriptor = file_nameless()};
    float *light = calloc(6000, sizeof *light);
    for (int i = 3000; i < 6000; i++)
        light[i] = 1.0f;
    BackendError error;
    assert_true(picture_draw(&options, many, light, &error));
    Seen seen = seen_read(options.descriptor);
    int plot = seen.height - TOP - BOTTOM;
    assert_true(plot > 384 && plot <= 768);
    shows(&seen, LEFT + 100, TOP, 0, 0, 0);
    shows(&seen, LEFT + 100, TOP + plot / 2 - 2, 0, 0, 0);
    shows(&seen, LEFT + 100, TOP + plot / 2 + 2, 255, 255, 255);
    shows(&seen, LEFT + 100, TOP + plot - 1, 255, 255, 255);
    free(light);
    free(seen.bytes);
}

static void test_largest_and_smallest(void **state) {
    (void)state;
    PictureOptions own = {.length = 1000000,
                          .fps = 60,
                          .width = PICTURE_SMALLEST_WIDTH,
                          .height = PICTURE_SMALLEST_HEIGHT,
                          .note = "a note that is much too long for a picture as small as this"};
    const BackendOptions options = {
        .pixels = 4, .title = "a title that is longer than the picture is wide", .own = &own};
    Seen seen;
    drawn(&options, chase, &seen);
    assert_int_equal(seen.width, PICTURE_SMALLEST_WIDTH);
    free(seen.bytes);
    own.width = PICTURE_LARGEST;
    drawn(&options, chase, &seen);
    assert_int_equal(seen.width, PICTURE_LARGEST);
    free(seen.bytes);
}

static const float *trouble(void *context, int64_t microseconds) {
    (void)context;
    (void)microseconds;
    return NULL;
}

static void test_trouble(void **state) {
    (void)state;
    const PictureOptions own = {.length = 1000, .fps = 60};
    BackendOptions options = {.pixels = 4, .own = &own, .descriptor = -1};
    BackendError error = {""};
    float light[12];
    unsigned long live = memory_live();
    assert_false(picture_draw(&options, trouble, NULL, &error));
    assert_string_not_equal(error.sentence, "");
    assert_false(picture_draw(&options, chase, light, &error));
    assert_non_null(strstr(error.sentence, strerror(EBADF)));
    for (unsigned long n = 1; n <= 6; n++) {
        memory_fail_at(n);
        assert_false(picture_draw(&options, chase, light, &error));
        assert_non_null(strstr(error.sentence, strerror(ENOMEM)));
    }
    memory_fail_at(0);
    assert_int_equal(memory_live(), live);
}

static void test_disk_full(void **state) {
    (void)state;
    int full = open("/dev/full", O_WRONLY);
    if (full < 0) {
        print_message("skipped: no /dev/full here\n");
        skip();
    }
    const PictureOptions own = {.length = 1000, .fps = 60};
    const BackendOptions options = {.pixels = 4, .own = &own, .descriptor = full};
    BackendError error;
    float light[12];
    assert_false(picture_draw(&options, chase, light, &error));
    assert_non_null(strstr(error.sentence, strerror(ENOSPC)));
    close(full);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_chase),           cmocka_unit_test(test_time_axis),
        cmocka_unit_test(test_time_axis_start), cmocka_unit_test(test_mean_of_light),
        cmocka_unit_test(test_frames),          cmocka_unit_test(test_gamut_and_no_length),
        cmocka_unit_test(test_many_pixels),     cmocka_unit_test(test_largest_and_smallest),
        cmocka_unit_test(test_trouble),         cmocka_unit_test(test_disk_full),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
