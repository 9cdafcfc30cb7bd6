/* Pictures of days, read back with libpng's own reader: light at its hours, hours that no clock
 * shows, daylight, names over the light, trouble. Where things stand is worked out by hand from the
 * layout. */
#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "backends/days.h"
#include "runtime/core/memory.h"
#include "tests/support/folder.h"
#include "tests/support/picture_read.h"

/* Of the layout of one day 640 wide: the light is 480 wide, 20 an hour, from 64 on. */
enum { WIDE = 640, LEFT = 64, HOUR = 20, RIGHT = 96, TOP = 56, LANES = 3 * 18 + 4 };

static const float *light_of_hours(void *context, uint32_t row, double hour, bool *none) {
    static float light[6];
    (void)context;
    assert_true(hour >= 0.0 && hour < 24.0);
    *none = row == 0 && hour >= 1.0 && hour < 2.0;
    if (*none)
        return NULL;
    /* Pixel 0 is red in the morning, pixel 1 blue from noon; the second day is white. */
    bool morning = hour < 12.0;
    for (int i = 0; i < 6; i++)
        light[i] = row == 1 ? 1.0f : 0.0f;
    light[0] = morning || row == 1 ? 1.0f : 0.0f;
    light[5] = !morning || row == 1 ? 1.0f : 0.0f;
    return light;
}

static const float *light_of_nothing(void *context, uint32_t row, double hour, bool *none) {
    (void)context;
    (void)row;
    *none = false;
    return hour < 20.0 ? light_of_hours(NULL, 1, hour, none) : NULL;
}

static Seen draw(const DaysOptions *own) {
    BackendOptions options = {
        .pixels = 2, .descriptor = file_nameless(), .title = "a day", .own = own};
    BackendError error;
    if (!days_draw(&options, light_of_hours, NULL, &error))
        fail_msg("%s", error.sentence);
    return seen_read(options.descriptor);
}

static bool is_ground(const Seen *seen, int x, int y) {
    return memcmp(seen_at(seen, x, y), seen_at(seen, 2, 2), 3) == 0;
}

/* Whether anything is drawn in a rectangle. */
static bool drawn(const Seen *seen, int left, int top, int right, int bottom) {
    for (int y = top; y < bottom; y++)
        for (int x = left; x < right; x++)
            if (!is_ground(seen, x, y))
                return true;
    return false;
}

static void test_light_stands_at_its_hours(void **state) {
    (void)state;
    DaysRow row = {0};
    DaysOptions own = {.width = WIDE, .height = 300, .row_count = 1, .rows = &row, .moments = 3};
    Seen seen = draw(&own);
    assert_int_equal(seen.width, WIDE);
    assert_int_equal(seen.height, 300);
    int y = TOP + LANES;
    /* Hours 0, 11, 12, 23: the first pixel on top, the second under it. */
    shows(&seen, LEFT, y, 255, 0, 0);
    shows(&seen, LEFT + 12 * HOUR - 1, y, 255, 0, 0);
    shows(&seen, LEFT + 12 * HOUR, y, 0, 0, 0);
    shows(&seen, LEFT + 24 * HOUR - 1, y, 0, 0, 0);
    shows(&seen, LEFT + 12 * HOUR, y + 60, 0, 0, 255);
    shows(&seen, LEFT + 12 * HOUR - 1, y + 60, 0, 0, 0);
    assert_true(is_ground(&seen, LEFT - 1, y) && is_ground(&seen, LEFT + 24 * HOUR, y));
    /* From 1 to 2 the clock shows nothing. */
    shows(&seen, LEFT + HOUR - 1, y, 255, 0, 0);
    shows(&seen, LEFT + 2 * HOUR, y, 255, 0, 0);
    assert_false(drawn(&seen, LEFT + HOUR, y, LEFT + 2 * HOUR, y + 60));
    free(seen.bytes);
}

static void test_daylight(void **state) {
    (void)state;
    DaysRow row = {.sun = true,
                   .light_count = 2,
                   .light = {{0, 1}, {6, 18}},
                   .rises = 6,
                   .sets = 18,
                   .rise_text = "up",
                   .set_text = "down"};
    DaysOptions own = {.width = WIDE, .height = 300, .row_count = 1, .rows = &row, .moments = 1};
    Seen seen = draw(&own);
    /* The line of daylight is what is drawn behind some empty lines under the light at 03:00. */
    int y = TOP + LANES + 10, empty = 0;
    for (; empty < 4; y++)
        empty = is_ground(&seen, LEFT + 3 * HOUR, y) ? empty + 1 : 0;
    while (is_ground(&seen, LEFT + 3 * HOUR, y))
        y++;
    const uint8_t *night = seen_at(&seen, LEFT + 3 * HOUR, y),
                  *day = seen_at(&seen, LEFT + 12 * HOUR, y);
    assert_memory_not_equal(night, day, 3);
    assert_true(day[0] > night[0] && day[1] > night[1]);
    for (int x = LEFT; x < LEFT + 24 * HOUR; x++) {
        bool light = x < LEFT + HOUR || (x >= LEFT + 6 * HOUR && x < LEFT + 18 * HOUR);
        assert_memory_equal(seen_at(&seen, x, y), light ? day : night, 3);
    }
    /* Both words stand under it where they happen. */
    assert_true(drawn(&seen, LEFT + 6 * HOUR, y + 6, LEFT + 6 * HOUR + 18, y + 22));
    assert_true(drawn(&seen, LEFT + 18 * HOUR, y + 6, LEFT + 18 * HOUR + 30, y + 22));
    assert_false(drawn(&seen, LEFT, y + 6, LEFT + 6 * HOUR, y + 22));
    free(seen.bytes);
}

/* Two names an hour apart do not fit beside each other: the earlier stands higher, and its line
 * goes down on the left of the later. */
static void test_names_give_way(void **state) {
    (void)state;
    static const DaysName near[] = {{4, "daybreak"}, {5, "nightlight"}};
    static const DaysName far[] = {{4, "daybreak"}, {12, "nightlight"}};
    static const DaysName same[] = {{4, "daybreak"}, {4.01, "nightlight"}};
    DaysRow row = {.name_count = 2, .names = near};
    DaysOptions own = {.width = WIDE, .height = 300, .row_count = 1, .rows = &row, .moments = 1};
    int low = TOP + LANES - 1, high = low - 30, x = LEFT + 4 * HOUR, later = LEFT + 5 * HOUR;
    Seen seen = draw(&own);
    assert_false(is_ground(&seen, x, low));
    assert_false(is_ground(&seen, x, high));
    assert_false(is_ground(&seen, later, low));
    assert_true(is_ground(&seen, later, high + 4) || !is_ground(&seen, x, high + 4));
    assert_true(drawn(&seen, x + 2, high, x + 60, high + 8)); /* its letters stand high */
    free(seen.bytes);
    row.names = far;
    seen = draw(&own);
    assert_false(is_ground(&seen, x, low));
    assert_true(is_ground(&seen, x, high)); /* both stand low */
    assert_true(is_ground(&seen, LEFT + 12 * HOUR, high));
    assert_false(is_ground(&seen, LEFT + 12 * HOUR, low));
    free(seen.bytes);
    row.names = same; /* one pixel: the later alone */
    seen = draw(&own);
    assert_true(is_ground(&seen, x, high));
    assert_false(is_ground(&seen, x, low));
    free(seen.bytes);
}

/* A name in the last minutes is cut at the edge of the picture, and one under it leaves no trace
 * in the margin. */
static void test_long_names_are_cut(void **state) {
    (void)state;
    static const DaysName names[] = {
        {23.9, "a_routine_with_a_name_that_is_far_too_long_for_the_margin_beside_the_light"}};
    DaysRow row = {.name_count = 1, .names = names};
    DaysOptions own = {.width = WIDE, .height = 300, .row_count = 1, .rows = &row, .moments = 1};
    Seen seen = draw(&own);
    assert_true(drawn(&seen, LEFT + 24 * HOUR, TOP, WIDE - 8, TOP + LANES));
    assert_false(drawn(&seen, WIDE - 8, TOP, WIDE, TOP + LANES));
    free(seen.bytes);
}

static void test_several_days(void **state) {
    (void)state;
    DaysRow rows[3] = {{.label = "Mon"}, {.label = "Tue"}, {.label = "Wed"}};
    DaysOptions own = {.row_count = 3, .rows = rows, .moments = 1};
    Seen seen = draw(&own);
    /* The second is white all day, the first dark on top from noon on, the third as the first. */
    int x = seen.width - RIGHT - 20, white = 0;
    for (int y = 0; y < seen.height; y++)
        if (memcmp(seen_at(&seen, x, y), (uint8_t[]){255, 255, 255}, 3) == 0)
            white++;
    assert_true(white > 20 && white < 60);
    assert_true(drawn(&seen, 16, TOP, 100, TOP + 100)); /* its label */
    free(seen.bytes);
}

/* Every size that is allowed, and names at all hours: nothing but the picture is touched. */
static void test_many_names_and_sizes(void **state) {
    (void)state;
    DaysName names[97];
    for (int i = 0; i < 97; i++)
        names[i] = (DaysName){i / 4.0, i % 3 ? "dusk" : "a_longer_name"};
    for (int width = DAYS_SMALLEST_WIDTH; width < 1400; width += 97) {
        DaysRow rows[7];
        for (int i = 0; i < 7; i++)
            rows[i] = (DaysRow){.label = "Mon", .note = "a note", .name_count = 97, .names = names};
        DaysOptions own = {.width = width,
                           .height = DAYS_SMALLEST_HEIGHT + 6 * DAYS_ROW_HEIGHT,
                           .row_count = 7,
                           .rows = rows,
                           .moments = 1};
        Seen seen = draw(&own);
        assert_int_equal(seen.width, width);
        assert_int_equal(seen.height, own.height);
        free(seen.bytes);
    }
}

static void test_trouble(void **state) {
    (void)state;
    DaysRow row = {0};
    DaysOptions own = {.width = WIDE, .height = 300, .row_count = 1, .rows = &row, .moments = 1};
    int full = open("/dev/full", O_WRONLY);
    BackendOptions options = {.pixels = 2, .descriptor = full, .own = &own};
    BackendError error;
    assert_false(days_draw(&options, light_of_hours, NULL, &error));
    assert_non_null(strstr(error.sentence, strerror(ENOSPC)));
    assert_false(days_draw(&options, light_of_nothing, NULL, &error));
    assert_non_null(strstr(error.sentence, "could not be worked out"));
    close(full);
    unsigned long live = memory_live();
    for (unsigned long n = 1; n <= 5; n++) {
        memory_fail_at(n);
        assert_false(days_draw(&options, light_of_hours, NULL, &error));
        memory_fail_at(0);
        assert_non_null(strstr(error.sentence, strerror(ENOMEM)));
        assert_int_equal(memory_live(), live);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_light_stands_at_its_hours),
        cmocka_unit_test(test_daylight),
        cmocka_unit_test(test_names_give_way),
        cmocka_unit_test(test_long_names_are_cut),
        cmocka_unit_test(test_several_days),
        cmocka_unit_test(test_many_names_and_sizes),
        cmocka_unit_test(test_trouble),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
