/* Where pixels are drawn: every pixel somewhere, the right way up, whatever the raster. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "backends/layout.h"
#include "runtime/core/memory.h"
#include "runtime/core/program.h"
#include "runtime/light/shape.h"

static const Arrangement arrangements[] = {ARRANGE_STRIP, ARRANGE_RING, ARRANGE_GRID, ARRANGE_BALL,
                                           ARRANGE_POINTS};

static LayoutRequest request_of(const Shape *shape, int width, int height) {
    const double *const *fields = shape_fields(shape);
    return (LayoutRequest){.arrangement = arrangements[shape_form(shape)],
                           .pixels = shape_pixels(shape),
                           .x = fields[FIELD_X],
                           .y = fields[FIELD_Y],
                           .z = fields[FIELD_Z],
                           .across = shape_across(shape),
                           .up = shape_up(shape),
                           .width = width,
                           .height = height};
}

/* The middle of the dots that show a pixel, from the middle of the raster, y up. */
typedef struct Middle {
    double x, y, dots;
} Middle;

static Middle middle_of(const Layout *layout, uint32_t pixel) {
    Middle middle = {0, 0, 0};
    for (int dot = 0; dot < layout->width * layout->height; dot++)
        for (uint32_t i = layout->first[dot]; i < layout->first[dot + 1]; i++)
            if (layout->pixels[i] == pixel && layout->cover[dot] > 0) {
                middle.x += dot % layout->width + 0.5 - layout->width / 2.0;
                middle.y += layout->height / 2.0 - dot / layout->width - 0.5;
                middle.dots++;
            }
    if (middle.dots > 0) {
        middle.x /= middle.dots;
        middle.y /= middle.dots;
    }
    return middle;
}

/* Lists are in order and name pixels that exist; dots without pixels are not covered. */
static void sound(const Layout *layout, uint32_t pixels) {
    int dots = layout->width * layout->height;
    assert_int_equal(layout->first[0], 0);
    for (int dot = 0; dot < dots; dot++) {
        assert_true(layout->first[dot] <= layout->first[dot + 1]);
        if (layout->first[dot] == layout->first[dot + 1])
            assert_int_equal(layout->cover[dot], 0);
    }
    for (uint32_t i = 0; i < layout->first[dots]; i++)
        assert_true(layout->pixels[i] < pixels);
}

static uint32_t pixels_seen(const Layout *layout, uint32_t pixels) {
    unsigned char *seen = calloc(pixels, 1);
    uint32_t count = 0;
    for (uint32_t i = 0; i < layout->first[layout->width * layout->height]; i++)
        seen[layout->pixels[i]] = 1;
    for (uint32_t i = 0; i < pixels; i++)
        count += seen[i];
    free(seen);
    return count;
}

static const ShapeRequest requests[] = {
    {.form = FORM_STRIP, .pixels = 1},
    {.form = FORM_STRIP, .pixels = 60},
    {.form = FORM_STRIP, .pixels = 300},
    {.form = FORM_STRIP, .pixels = 7001},
    {.form = FORM_STRIP, .pixels = 60, .turned = 0.25},
    {.form = FORM_RING, .pixels = 1},
    {.form = FORM_RING, .pixels = 16},
    {.form = FORM_RING, .pixels = 60},
    {.form = FORM_RING, .pixels = 2000},
    {.form = FORM_GRID, .across = 8, .up = 8, .zigzag = true},
    {.form = FORM_GRID, .across = 16, .up = 4, .turned = 0.25},
    {.form = FORM_GRID, .across = 16, .up = 4, .turned = 0.11},
    {.form = FORM_GRID, .across = 300, .up = 200},
    {.form = FORM_BALL, .frequency = 1},
    {.form = FORM_BALL, .frequency = 4},
    {.form = FORM_BALL, .frequency = 40},
};

static void test_every_pixel(void **state) {
    (void)state;
    const int sizes[][2] = {{100, 60}, {76, 44}, {200, 120}};
    for (size_t i = 0; i < sizeof requests / sizeof *requests; i++)
        for (size_t size = 0; size < 3; size++) {
            Shape *shape = shape_create(&requests[i]);
            LayoutRequest request = request_of(shape, sizes[size][0], sizes[size][1]);
            Layout layout;
            assert_true(layout_create(&layout, &request));
            sound(&layout, request.pixels);
            uint32_t seen = pixels_seen(&layout, request.pixels);
            if (seen != request.pixels)
                fail_msg("shape %zu, size %zu: %u of %u pixels", i, size, seen, request.pixels);
            layout_release(&layout);
            shape_free(shape);
        }
}

static void test_any_size(void **state) {
    (void)state;
    const int sizes[][2] = {{1, 1}, {1, 2}, {2, 1}, {3, 2}, {1, 50}, {50, 2}, {7, 9}};
    for (size_t i = 0; i < sizeof requests / sizeof *requests; i++)
        for (size_t size = 0; size < 7; size++) {
            Shape *shape = shape_create(&requests[i]);
            LayoutRequest request = request_of(shape, sizes[size][0], sizes[size][1]);
            Layout layout;
            assert_true(layout_create(&layout, &request));
            sound(&layout, request.pixels);
            layout_release(&layout);
            shape_free(shape);
        }
}

static Layout layout_of(const ShapeRequest *wanted, int width, int height) {
    Shape *shape = shape_create(wanted);
    LayoutRequest request = request_of(shape, width, height);
    Layout layout;
    assert_true(layout_create(&layout, &request));
    shape_free(shape);
    return layout;
}

/* Pixel 0 at the top, then clockwise, on a circle. */
static void test_ring(void **state) {
    (void)state;
    for (uint32_t pixels = 16; pixels <= 160; pixels *= 10) {
        Layout layout = layout_of(&(ShapeRequest){.form = FORM_RING, .pixels = pixels}, 100, 60);
        for (uint32_t i = 0; i < pixels; i++) {
            Middle middle = middle_of(&layout, i);
            double angle = atan2(middle.x, middle.y) / 6.283185307 - (double)i / pixels;
            angle -= floor(angle + 0.5);
            assert_true(middle.dots > 0);
            assert_true(fabs(angle) < 0.6 / pixels);
            assert_true(fabs(hypot(middle.x, middle.y) - 27.0) < 3.0);
        }
        layout_release(&layout);
    }
}

static void test_strip(void **state) {
    (void)state;
    Layout layout = layout_of(&(ShapeRequest){.form = FORM_STRIP, .pixels = 20}, 100, 40);
    for (uint32_t i = 1; i < 20; i++) {
        Middle before = middle_of(&layout, i - 1), here = middle_of(&layout, i);
        assert_true(here.x - before.x == 5.0 && here.y == before.y);
    }
    layout_release(&layout);
    /* 150 pixels in lines of 75, the second below the first */
    layout = layout_of(&(ShapeRequest){.form = FORM_STRIP, .pixels = 150}, 80, 40);
    Middle last = middle_of(&layout, 74), next = middle_of(&layout, 75);
    assert_true(next.y < last.y && next.x < 0.0 && last.x > 0.0);
    assert_true(middle_of(&layout, 0).x == next.x);
    layout_release(&layout);
}

/* Pixel 0 in the lower left corner; turned a quarter, in the upper left one. */
static void test_grid(void **state) {
    (void)state;
    ShapeRequest wanted = {.form = FORM_GRID, .across = 6, .up = 3};
    Layout layout = layout_of(&wanted, 60, 40);
    Middle first = middle_of(&layout, 0), right = middle_of(&layout, 5);
    Middle above = middle_of(&layout, 6);
    assert_true(first.x < 0 && first.y < 0 && right.x > 0 && right.y == first.y);
    assert_true(above.x == first.x && above.y == first.y + 10);
    assert_true(first.dots == 81); /* 10 by 10 less a gap of one */
    layout_release(&layout);
    wanted.turned = 0.25;
    layout = layout_of(&wanted, 60, 40);
    first = middle_of(&layout, 0);
    right = middle_of(&layout, 5);
    assert_true(first.x < 0 && first.y > 0 && right.x == first.x && right.y < 0);
    layout_release(&layout);
    /* Four pixels to a dot. */
    layout = layout_of(&(ShapeRequest){.form = FORM_GRID, .across = 40, .up = 40}, 20, 20);
    for (int dot = 0; dot < 400; dot++)
        assert_int_equal(layout.first[dot + 1] - layout.first[dot], 4);
    layout_release(&layout);
}

/* The front on the left; what is at the right of the front is at the left of the back. */
static void test_ball(void **state) {
    (void)state;
    Shape *shape = shape_create(&(ShapeRequest){.form = FORM_BALL, .frequency = 4});
    LayoutRequest request = request_of(shape, 120, 60);
    Layout layout;
    assert_true(layout_create(&layout, &request));
    for (uint32_t i = 0; i < request.pixels; i++) {
        Middle middle = middle_of(&layout, i);
        assert_true(middle.dots > 0);
        if (fabs(request.z[i]) < 0.35)
            continue; /* seen on both discs */
        bool back = request.z[i] < 0;
        double centre = back ? 29.5 : -29.5;
        double across = (middle.x - centre) / 28.5, up = (middle.y - 1.0) / 28.5;
        double stretch = sqrt(1.0 + fabs(request.z[i])); /* Lambert's projection */
        assert_true(fabs(across * stretch - (back ? -request.x[i] : request.x[i])) < 0.1);
        assert_true(fabs(up * stretch - request.y[i]) < 0.1);
    }
    assert_int_equal(layout.label_count, 2);
    layout_release(&layout);
    shape_free(shape);
}

static void test_no_memory(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof requests / sizeof *requests; i++) {
        Shape *shape = shape_create(&requests[i]);
        LayoutRequest request = request_of(shape, 40, 30);
        unsigned long live = memory_live();
        Layout layout;
        for (unsigned long n = 1; n <= 12; n++) {
            memory_fail_at(n);
            bool fine = layout_create(&layout, &request);
            memory_fail_at(0);
            if (fine) {
                layout_release(&layout);
                break;
            }
            assert_true(n < 12);
        }
        assert_int_equal(memory_live(), live);
        shape_free(shape);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_pixel), cmocka_unit_test(test_any_size),
        cmocka_unit_test(test_ring),        cmocka_unit_test(test_strip),
        cmocka_unit_test(test_grid),        cmocka_unit_test(test_ball),
        cmocka_unit_test(test_no_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
