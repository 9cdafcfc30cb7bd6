/* Does a dawn click? The largest jump from one frame to the next, in units of CIE L* of the lamp's
 * mean luminance, over half an hour at 60 frames a second: the lantern's ring of 16 one-wire
 * pixels, dithered and not, and one clocked pixel with and without its level.
 *
 * Sources: CIE 1976 lightness, constants 216/24389 and 24389/27; luminance of linear sRGB, weights
 * of IEC 61966-2-1; the first steps of eight bits from tests/data/light/pwm8_lstar_steps.csv. What
 * is expected of the numbers is derived beside each check; the numbers themselves are printed. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/library/gloam.h"
#include "runtime/light/dither.h"
#include "runtime/light/quantise.h"
#include "tests/support/table.h"

#define KAPPA (24389.0 / 27.0) /* the slope of L* below 216/24389 of full light: its steepest */

enum { RING = 16, FRAMES = 30 * 60 * 60 };

static const double WEIGHT[3] = {0.2126, 0.7152, 0.0722};

static const char *const DAWN = "routine dawn lasts 30min {\n"
                                "    paint black -> #3a0f00 at 40% -> 2000K -> 2700K throughout\n"
                                "}\n";
/* Even in linear light, to be slow at the dark end too. */
static const char *const WHITE = "routine dawn lasts 30min {\n"
                                 "    paint black -> white throughout in srgb-linear\n"
                                 "}\n";

static uint32_t ranks[RING];

static double lightness(double luminance) {
    return luminance > 216.0 / 24389.0 ? 116.0 * cbrt(luminance) - 16.0 : KAPPA * luminance;
}

/* -------- ways to make bytes -------- */

typedef enum Way { NEAREST, DITHERED, SHIFTED, CLOCKED_FREE, CLOCKED_FULL, WAYS } Way;

static const char *const WAY_NAMES[WAYS] = {
    "ring of 16, to nearest", "ring of 16, dithered", "ring of 16, dithered, channels apart",
    "one clocked pixel, level free", "one clocked pixel, level 31"};

/* The other choice: the channels of a pixel a third of the thresholds apart. */
static void shifted(const float *light, uint8_t *bytes) {
    for (uint32_t i = 0; i < 3 * RING; i++) {
        uint32_t rank = (ranks[i / 3] + i % 3 * RING / 3) % RING;
        bytes[i] = (uint8_t)(255.0 * fmin((double)light[i], 1.0) + dither_threshold(rank, RING));
    }
}

/* Mean luminance of what is shown. */
static double luminance(Way way, const float *light) {
    bool clocked = way == CLOCKED_FREE || way == CLOCKED_FULL;
    Quantiser it = {.pixels = clocked ? 1 : RING, .channels = 3, .level = clocked};
    uint8_t bytes[4 * RING];
    it.ranks = way == DITHERED ? ranks : NULL;
    it.level_free = way == CLOCKED_FREE;
    if (way == SHIFTED)
        shifted(light, bytes);
    else
        quantise(&it, light, 0, bytes);
    double sum = 0.0;
    for (uint32_t pixel = 0; pixel < it.pixels; pixel++)
        for (int channel = 0; channel < 3; channel++) {
            double code = bytes[(clocked ? 4u : 3u) * pixel + channel];
            sum += WEIGHT[channel] * code * (clocked ? bytes[4 * pixel + 3] / 31.0 : 1.0);
        }
    return sum / 255.0 / it.pixels;
}

/* -------- half an hour -------- */

typedef struct Dawn {
    double jump[WAYS], at[WAYS];
    double steepest;    /* the most a channel rises from one frame to the next */
    double first_green; /* what a whole step of green is in L*, where green passes half a code */
} Dawn;

static Dawn dawn_of(const char *text) {
    gloam_program *program = gloam_compile_text("dawn.gloam", text, strlen(text));
    gloam_lamp ring = gloam_ring(RING);
    gloam_routine *routine = gloam_open(program, NULL, &ring, NULL);
    assert_non_null(routine);
    Dawn it = {.steepest = 0.0};
    double before[WAYS] = {0}, last[3] = {0};
    for (int64_t frame = 0; frame <= FRAMES; frame++) {
        float light[3 * RING];
        gloam_render(routine, frame * 1000000 / 60, NULL, light);
        double half = 0.5 / 255.0, green = (double)light[1];
        if (green >= half && last[1] < half) {
            double dark = WEIGHT[0] * ((double)light[0] + half);
            it.first_green = lightness(dark + WEIGHT[1] / 255.0) - lightness(dark);
        }
        for (int channel = 0; channel < 3; channel++) {
            it.steepest = fmax(it.steepest, fabs((double)light[channel] - last[channel]));
            last[channel] = (double)light[channel];
        }
        for (int way = 0; way < WAYS; way++) {
            double now = lightness(luminance((Way)way, light));
            if (fabs(now - before[way]) > it.jump[way]) {
                it.jump[way] = fabs(now - before[way]);
                it.at[way] = (double)frame / 60.0;
            }
            before[way] = now;
        }
    }
    gloam_close(routine);
    gloam_free(program);
    return it;
}

static void say(const char *name, const Dawn *it) {
    for (int way = 0; way < WAYS; way++)
        printf("measured %s, %s: largest jump %.4f L*, at %.0f s\n", name, WAY_NAMES[way],
               it->jump[way], it->at[way]);
}

/* Slow enough that no channel of the ring takes two of its steps of 1 / (16 * 255) in one frame,
 * the luminance rises by at most one step of all three: 1 / (16 * 255), and L* by KAPPA of that. */
static double dithered_most(const Dawn *it) {
    assert_true(it->steepest < 1.0 / (RING * 255.0));
    return KAPPA / (RING * 255.0);
}

static void test_dawn(void **state) {
    (void)state;
    Dawn it = dawn_of(DAWN);
    say("dawn", &it);
    double most = dithered_most(&it);
    assert_true(it.jump[DITHERED] <= most * 1.000001);
    assert_true(it.jump[SHIFTED] <= most * 1.000001);
    /* To nearest, all pixels take the first step of green in one frame, over the red that is there
     * (which is rounded up by at most half a code). */
    assert_true(it.first_green > 0.0);
    assert_true(it.jump[NEAREST] >= it.first_green * 0.999);
    assert_true(it.jump[NEAREST] >= it.jump[DITHERED] * it.first_green / most);
    printf("measured dawn: dithering divides the largest jump by %.1f (at least %.1f by theory)\n",
           it.jump[NEAREST] / it.jump[DITHERED], it.first_green / most);
    /* One step of level 1 is a 31st of one of level 31. */
    assert_true(it.jump[CLOCKED_FREE] < it.jump[CLOCKED_FULL]);
    assert_true(fabs(it.jump[CLOCKED_FULL] - it.jump[NEAREST]) < 1e-9); /* the same rounding */
}

static void test_white(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/pwm8_lstar_steps.csv", 45);
    double first = table_number(table, 0, "step_to_next");
    assert_true(fabs(first - KAPPA / 255.0) < 1e-4); /* 3.5423 */
    table_free(table);
    Dawn it = dawn_of(WHITE);
    say("white", &it);
    /* Both in the straight part of L*: to nearest one step of eight bits, dithered a 16th of it. */
    assert_true(fabs(it.jump[NEAREST] - first) < 1e-4);
    assert_true(fabs(it.jump[DITHERED] - first / RING) < 1e-4);
    assert_true(it.jump[DITHERED] <= dithered_most(&it) * 1.000001);
    /* Channels apart gain nothing: they have the same thresholds, in other pixels. */
    assert_true(fabs(it.jump[SHIFTED] - it.jump[DITHERED]) < 1e-9);
    assert_true(fabs(it.jump[CLOCKED_FULL] - first) < 1e-4);
    printf("measured white: dithering divides the largest jump by %.1f (channels apart: %.1f)\n",
           it.jump[NEAREST] / it.jump[DITHERED], it.jump[NEAREST] / it.jump[SHIFTED]);
}

/* -------- the look of very little light -------- */

/* r, g, b of each pixel that is lit, `-` where it is dark. */
static void print_lit(const char *name, const uint8_t *bytes) {
    printf("measured %s:", name);
    for (int pixel = 0; pixel < RING; pixel++) {
        printf(" ");
        for (int channel = 0; channel < 3; channel++)
            if (bytes[3 * pixel + channel])
                printf("%c", "rgb"[channel]);
        if (!bytes[3 * pixel] && !bytes[3 * pixel + 1] && !bytes[3 * pixel + 2])
            printf("-");
    }
    printf("\n");
}

/* Pixels in which a smaller channel of the light outshines a larger one: a hue it has not. */
static int strangers(const float *light, const uint8_t *bytes) {
    int count = 0;
    for (int pixel = 0; pixel < RING; pixel++) {
        const float *want = light + 3 * pixel;
        const uint8_t *got = bytes + 3 * pixel;
        count += (want[0] >= want[1] && got[0] < got[1]) ||
                 (want[1] >= want[0] && got[1] < got[0]) ||
                 (want[1] >= want[2] && got[1] < got[2]) || (want[2] >= want[1] && got[2] < got[1]);
    }
    return count;
}

static void test_little_light(void **state) {
    (void)state;
    Quantiser it = {.pixels = RING, .channels = 3, .ranks = ranks};
    static const struct {
        const char *name;
        float codes[3];
    } lights[] = {{"white at 0.3 of a code", {0.3f, 0.3f, 0.3f}},
                  {"white at 1.5 codes", {1.5f, 1.5f, 1.5f}},
                  {"first ember, 0.5 0.06 0", {0.5f, 0.06f, 0.0f}}};
    for (size_t i = 0; i < sizeof lights / sizeof *lights; i++) {
        float light[3 * RING];
        uint8_t together[3 * RING], apart[3 * RING];
        char name[100];
        for (int j = 0; j < 3 * RING; j++)
            light[j] = lights[i].codes[j % 3] / 255.0f;
        quantise(&it, light, 0, together);
        shifted(light, apart);
        if (lights[i].codes[0] < 1.0f) {
            snprintf(name, sizeof name, "%s, channels together", lights[i].name);
            print_lit(name, together);
            snprintf(name, sizeof name, "%s, channels apart", lights[i].name);
            print_lit(name, apart);
        }
        printf("measured %s: pixels of a hue the light has not: %d together, %d apart\n",
               lights[i].name, strangers(light, together), strangers(light, apart));
        assert_int_equal(strangers(light, together), 0);
    }
}

int main(void) {
    gloam_lamp lamp = gloam_ring(RING);
    ShapeRequest request = {.form = FORM_RING, .pixels = lamp.pixels};
    Shape *shape = shape_create(&request);
    if (!shape || !dither_ranks(shape, ranks))
        return 1;
    shape_free(shape);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_dawn),
        cmocka_unit_test(test_white),
        cmocka_unit_test(test_little_light),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
