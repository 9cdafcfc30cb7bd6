/* Which colours a terminal gets: NO_COLOR as no-color.org says; the palette of 256 colours is
 * xterm's (6 by 6 by 6 levels 0 95 135 175 215 255, greys 8 + 10 n); COLORTERM and TERM are common
 * practice, no source. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "backends/palette.h"

static void depth(ColourChoice choice, bool terminal, const char *no_color, const char *colorterm,
                  const char *term, Depth wanted) {
    const PaletteEnvironment environment = {no_color, colorterm, term};
    Depth got = palette_depth(choice, terminal, &environment);
    assert_int_equal(got, wanted);
}

static void test_depth(void **state) {
    (void)state;
    depth(COLOUR_AUTO, true, NULL, "truecolor", "xterm-256color", DEPTH_TRUE);
    depth(COLOUR_AUTO, true, NULL, "24bit", "xterm", DEPTH_TRUE);
    depth(COLOUR_AUTO, true, NULL, NULL, "xterm-direct", DEPTH_TRUE);
    depth(COLOUR_AUTO, true, NULL, NULL, "tmux-256color", DEPTH_256);
    depth(COLOUR_AUTO, true, NULL, "yes", "xterm", DEPTH_16);
    depth(COLOUR_AUTO, true, NULL, NULL, "linux", DEPTH_16);
    depth(COLOUR_AUTO, true, NULL, "truecolor", "dumb", DEPTH_NONE);
    depth(COLOUR_AUTO, true, NULL, NULL, NULL, DEPTH_NONE);
    depth(COLOUR_AUTO, false, NULL, "truecolor", "xterm", DEPTH_NONE);
    depth(COLOUR_AUTO, true, "1", "truecolor", "xterm", DEPTH_NONE);
    depth(COLOUR_AUTO, true, "", "truecolor", "xterm", DEPTH_TRUE);
    depth(COLOUR_NEVER, true, NULL, "truecolor", "xterm", DEPTH_NONE);
    depth(COLOUR_ALWAYS, false, "1", "truecolor", "xterm", DEPTH_TRUE);
    depth(COLOUR_ALWAYS, false, NULL, NULL, "dumb", DEPTH_256);
}

static int apart(const int *a, int r, int g, int b) {
    return (a[0] - r) * (a[0] - r) + (a[1] - g) * (a[1] - g) + (a[2] - b) * (a[2] - b);
}

static void colour_of(int code, int *colour) {
    const int levels[] = {0, 95, 135, 175, 215, 255};
    for (int i = 0; i < 3; i++)
        colour[i] = code < 232 ? levels[(code - 16) /
                                        (i == 0   ? 36
                                         : i == 1 ? 6
                                                  : 1) %
                                        6]
                               : 8 + 10 * (code - 232);
}

/* No other of the 240 fixed colours is nearer. */
static void test_256(void **state) {
    (void)state;
    for (int r = 0; r < 256; r += 5)
        for (int g = 0; g < 256; g += 5)
            for (int b = 0; b < 256; b += 5) {
                int code = (int)palette_code(DEPTH_256, (uint8_t)r, (uint8_t)g, (uint8_t)b);
                int colour[3], best = 1 << 30;
                for (int other = 16; other < 256; other++) {
                    colour_of(other, colour);
                    int far = apart(colour, r, g, b);
                    best = far < best ? far : best;
                }
                assert_true(code >= 16 && code < 256);
                colour_of(code, colour);
                if (apart(colour, r, g, b) != best)
                    fail_msg("%d %d %d: %d at %d instead of %d", r, g, b, code,
                             apart(colour, r, g, b), best);
            }
}

static void test_16(void **state) {
    (void)state;
    const struct {
        uint8_t r, g, b;
        uint32_t code;
    } cases[] = {{0, 0, 0, 0},       {255, 0, 0, 9},     {0, 255, 0, 10},   {255, 255, 0, 11},
                 {0, 0, 255, 12},    {255, 0, 255, 13},  {0, 255, 255, 14}, {255, 255, 255, 15},
                 {128, 0, 0, 1},     {0, 128, 0, 2},     {0, 0, 128, 4},    {80, 80, 80, 8},
                 {160, 160, 160, 7}, {255, 190, 120, 11}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        assert_int_equal(palette_code(DEPTH_16, cases[i].r, cases[i].g, cases[i].b), cases[i].code);
}

static void sequence(Depth of, bool ground, uint32_t code, const char *wanted) {
    char text[PALETTE_LONGEST + 1];
    size_t length = palette_sequence(of, ground, code, text);
    assert_true(length <= PALETTE_LONGEST);
    text[length] = '\0';
    assert_string_equal(text, wanted);
}

/* ECMA-48 8.3.117 and ITU-T T.416 as terminals write it, with semicolons. */
static void test_sequences(void **state) {
    (void)state;
    sequence(DEPTH_TRUE, false, 0xffffff, "\x1b[38;2;255;255;255m");
    sequence(DEPTH_TRUE, true, 0x000a64, "\x1b[48;2;0;10;100m");
    sequence(DEPTH_256, false, 16, "\x1b[38;5;16m");
    sequence(DEPTH_256, true, 255, "\x1b[48;5;255m");
    sequence(DEPTH_16, false, 1, "\x1b[31m");
    sequence(DEPTH_16, true, 7, "\x1b[47m");
    sequence(DEPTH_16, false, 8, "\x1b[90m");
    sequence(DEPTH_16, true, 15, "\x1b[107m");
    sequence(DEPTH_NONE, true, 0, "");
}

static void test_letters(void **state) {
    (void)state;
    assert_int_equal(palette_letter(0, 0, 0), '.');
    assert_int_equal(palette_letter(255, 255, 255), '@');
    /* what is lit at all is another letter than what is dark */
    assert_int_equal(palette_letter(5, 0, 0), ':');
    assert_int_equal(palette_letter(0, 0, 1), ':');
    const char *order = ".:-=+*#%@";
    const char *before = order;
    for (int shade = 0; shade < 256; shade++) {
        const char *here =
            strchr(order, palette_letter((uint8_t)shade, (uint8_t)shade, (uint8_t)shade));
        assert_true(here >= before && here <= before + 1);
        before = here;
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_depth),     cmocka_unit_test(test_256),     cmocka_unit_test(test_16),
        cmocka_unit_test(test_sequences), cmocka_unit_test(test_letters),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
