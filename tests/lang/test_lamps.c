/* Lamps and places: every property, its ranges, and the file of `points` (section 8 of the
 * language). Numbers of pixels of a ball: a class I geodesic sphere of frequency f has 10 f^2 + 2
 * vertices and 20 f^2 faces (Wenninger, Spherical Models, 1979; from memory). */
#include "expect.h"
#include "runtime/core/limits.h"

static const LampInfo *lamp_of(Compilation *compilation) {
    uint32_t count;
    const LampInfo *lamps = lang_lamps(compilation, &count);
    if (diagnostics_total(lang_diagnostics(compilation)))
        said_print(compilation);
    assert_int_equal(diagnostics_total(lang_diagnostics(compilation)), 0);
    assert_int_equal(count, 1);
    return lamps;
}

static void test_every_property(void **state) {
    (void)state;
    Compilation *compilation =
        compile_text("lamp shelf { pixels 60 shape ring turned 90deg mirrored chip sk6812w "
                     "port \"/dev/spidev0.1\" order grbw supply 5V 2500mA level 60% white 6500K "
                     "part left 0..29 part right 30..59 group ends 0..3, 56..59, 58 "
                     "draws 20mA idle 1mA gain 100%, 85%, 70% die 4000K dither time repaint 1min "
                     "clock 3200kHz ends last flashes \"I know that flashing can harm\" }");
    const LampInfo *lamp = lamp_of(compilation);
    assert_string_equal(lamp->name, "shelf");
    assert_int_equal(lamp->pixels, 60);
    assert_int_equal(lamp->shape, SHAPE_RING);
    assert_true(lamp->turned == 0.25 && lamp->mirrored);
    assert_string_equal(lamp->chip, "sk6812w");
    assert_string_equal(lamp->port, "/dev/spidev0.1");
    assert_string_equal(lamp->order, "grbw");
    assert_true(lamp->supply_volt == 5 && lamp->supply_ampere == 2.5);
    assert_true(lamp->level == 0.6 && lamp->white_kelvin == 6500 && lamp->die_kelvin == 4000);
    assert_true(lamp->draws_ampere == 0.02 && lamp->idle_ampere == 0.001);
    assert_true(lamp->gain[0] == 1 && lamp->gain[1] == 0.85 && lamp->gain[2] == 0.7);
    assert_string_equal(lamp->dither, "time");
    assert_string_equal(lamp->ends, "last");
    assert_string_equal(lamp->flashes, "I know that flashing can harm");
    assert_true(lamp->repaint == 60e6 && lamp->clock_hertz == 3200e3);
    assert_int_equal(lamp->group_count, 3);
    assert_true(lamp->groups[0].is_part && !lamp->groups[2].is_part);
    assert_int_equal(lamp->groups[1].runs[0][0], 30);
    assert_int_equal(lamp->groups[1].runs[0][1], 59);
    assert_int_equal(lamp->groups[2].run_count, 2); /* 58 lies in 56..59 */
    assert_int_equal(lamp->groups[2].runs[1][0], 56);
    assert_int_equal(lamp->groups[2].runs[1][1], 59);
    lang_free(compilation);
}

static void test_what_is_not_said(void **state) {
    (void)state;
    Compilation *compilation = compile_text("lamp lantern { pixels 16 }");
    const LampInfo *lamp = lamp_of(compilation);
    assert_int_equal(lamp->shape, SHAPE_STRIP);
    assert_null(lamp->chip);
    assert_null(lamp->port);
    assert_null(lamp->order);
    assert_true(lamp->level == 1 && lamp->supply_ampere == 0);
    assert_true(lamp->universe == 1 && lamp->priority == 100); /* ANSI E1.31, 6.2.3 */
    assert_true(lamp->draws_ampere < 0 && lamp->idle_ampere < 0);
    assert_true(lamp->gain[0] == 1 && lamp->gain[1] == 1 && lamp->gain[2] == 1);
    lang_free(compilation);
}

static void expect_pixels(const char *properties, uint32_t pixels) {
    char text[200];
    snprintf(text, sizeof text, "lamp l { %s }", properties);
    Compilation *compilation = compile_text(text);
    assert_int_equal(lamp_of(compilation)->pixels, pixels);
    lang_free(compilation);
}

static void test_shapes_give_pixels(void **state) {
    (void)state;
    expect_pixels("shape grid 8 by 4", 32);
    expect_pixels("shape grid 8 by 4 zigzag pixels 32", 32);
    expect_pixels("shape ball 1", 12);
    expect_pixels("shape ball 1 faces", 20);
    expect_pixels("shape ball 4", 162);
    expect_pixels("shape ball 8", 642);
    expect_pixels("shape ball 8 faces", 1280);
    expect_pixels("shape ring pixels 100000", 100000);
    expect("lamp l { shape grid 8 by 4 pixels ⟦30⟧ }", "error pixels-and-shape");
    expect("lamp l { shape ball ⟦9⟧ }", "error out-of-range");
    expect("lamp l { shape ball ⟦0⟧ }", "error out-of-range");
    expect("lamp l { shape ball ⟦1.5⟧ }", "error out-of-range");
    expect("lamp l { shape grid ⟦0⟧ by 4 }", "error out-of-range");
    expect("lamp l { ⟦shape grid 400 by 400⟧ }", "error out-of-range");
    expect("lamp l { pixels ⟦0⟧ }", "error out-of-range");
    expect("lamp l { pixels ⟦100001⟧ }", "error out-of-range");
    expect("lamp l { pixels ⟦1.5⟧ }", "error out-of-range");
    expect("lamp ⟦l⟧ { shape ring }", "error no-pixels");
    expect("lamp ⟦l⟧ { }", "error no-pixels");
}

static void test_words(void **state) {
    (void)state;
    expect("lamp l { pixels 1 chip ⟦ws2812c⟧ }", "error unknown-word");
    expect_message("lamp l { pixels 1 chip ws2821b }", "unknown-word",
                   "no chip `ws2821b`; there are `ws2812`, `ws2812b`, `sk6812`, `sk6812w`, "
                   "`apa102`, `sk9822`",
                   "ws2812b");
    static const char *const chips[] = {"ws2812",  "ws2812b", "sk6812",
                                        "sk6812w", "apa102",  "sk9822"};
    char text[100];
    for (size_t i = 0; i < 6; i++) {
        snprintf(text, sizeof text, "lamp l { pixels 1 chip %s%s }", chips[i],
                 strcmp(chips[i], "sk6812w") == 0 ? " die 4000K" : "");
        expect_silence(text);
    }
    expect("lamp l { pixels 1 dither ⟦space⟧ }", "error unknown-word");
    expect_silence("lamp l { pixels 1 dither level }");
    expect("lamp l { pixels 1 ends ⟦first⟧ }", "error unknown-word");
    expect_silence("lamp l { pixels 1 ends off }");
}

static void test_order(void **state) {
    (void)state;
    static const char *const fine[] = {"rgb", "rbg", "grb", "gbr", "brg", "bgr", "grbw", "wrgb"};
    static const char *const wrong[] = {"rg", "rgbb", "rrb", "xgb", "rgbwr", "RGB", "rgbx"};
    char text[100];
    for (size_t i = 0; i < sizeof fine / sizeof fine[0]; i++) {
        snprintf(text, sizeof text, "lamp l { pixels 1 order %s }", fine[i]);
        expect_silence(text);
    }
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        snprintf(text, sizeof text, "lamp l { pixels 1 order ⟦%s⟧ }", wrong[i]);
        expect(text, "error unknown-order");
    }
    expect("lamp l { pixels 1 chip ws2812b order ⟦grbw⟧ }", "error order-and-chip");
    expect("lamp l { pixels 1 chip sk6812w die 4000K order ⟦grb⟧ }", "error order-and-chip");
    expect_silence("lamp l { pixels 1 chip sk6812w die 4000K order grbw }");
}

static void test_ports(void **state) {
    (void)state;
    static const char *const fine[] = {"/dev/spidev0.0", "/dev/spidev10.1", "e131:192.0.2.7",
                                       "e131:2001:db8::7", "e131:lantern.example"};
    static const char *const wrong[] = {"",
                                        "/dev/ttyS0",
                                        "/dev/spidev0",
                                        "/dev/spidev.0",
                                        "/dev/spidev0.",
                                        "/dev/spidev0.0/../../sda",
                                        "/dev/spidev0.0x",
                                        "e131:",
                                        "e131:a b",
                                        "e131:a/b",
                                        "/etc/passwd",
                                        "192.0.2.7"};
    char text[120];
    for (size_t i = 0; i < sizeof fine / sizeof fine[0]; i++) {
        snprintf(text, sizeof text, "lamp l { pixels 1 port \"%s\" }", fine[i]);
        expect_silence(text);
    }
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        snprintf(text, sizeof text, "lamp l { pixels 1 port ⟦\"%s\"⟧ }", wrong[i]);
        expect(text, "error unknown-port");
    }
    /* ANSI E1.31: universes 1 to 63999, priorities 0 to 200 (sections 6.2.3 and 6.2.7) */
    expect_silence("lamp l { pixels 1 port \"e131:192.0.2.7\" universe 63999 priority 200 }");
    expect_silence("lamp l { pixels 1 port \"e131:192.0.2.7\" universe 1 priority 0 }");
    expect("lamp l { pixels 1 port \"e131:192.0.2.7\" universe ⟦0⟧ priority ⟦201⟧ }",
           "error out-of-range, error out-of-range");
    expect("lamp l { pixels 1 port \"e131:192.0.2.7\" universe ⟦64000⟧ }", "error out-of-range");
    expect("lamp l { pixels 1 ⟦universe 1⟧ }", "error needs-network");
    expect("lamp l { pixels 1 port \"/dev/spidev0.0\" ⟦priority 1⟧ }", "error needs-network");
}

static void test_numbers(void **state) {
    (void)state;
    expect("lamp l { pixels 1 supply ⟦0V⟧ 2A }", "error out-of-range");
    expect("lamp l { pixels 1 supply 5V ⟦0mA⟧ }", "error out-of-range");
    expect("lamp l { pixels 1 level ⟦60⟧ }", "error out-of-range");
    expect_message("lamp l { pixels 1 level 60 }", "out-of-range", "`level` goes from 0% to 100%",
                   "level 60%");
    expect("lamp l { pixels 1 level ⟦2s⟧ }", "error needs-number");
    expect("lamp l { pixels 1 level ⟦pos⟧ }", "error not-fixed");
    expect_silence("lamp l { pixels 1 level 0% } lamp m { pixels 1 level 100% }");
    expect("lamp l { pixels 1 white ⟦900K⟧ }", "error out-of-range");
    expect("lamp l { pixels 1 die ⟦25001K⟧ }", "error out-of-range");
    expect_silence("lamp l { pixels 1 white 1000K die 25000K }");
    expect("lamp l { pixels 1 gain 100%, ⟦101%⟧, ⟦0%⟧ }", "error out-of-range, error out-of-range");
    expect("lamp l { pixels 1 draws 1mA idle ⟦2mA⟧ }", "error out-of-range");
    expect("lamp l { pixels 1 draws ⟦0A⟧ idle 0mA }", "error out-of-range");
    expect("lamp l { pixels 1 repaint ⟦0s⟧ }", "error out-of-range");
    expect("lamp l { pixels 1 clock ⟦0kHz⟧ }", "error out-of-range");
    expect("lamp l { pixels 1 flashes ⟦\"yes\"⟧ }", "error flashes-promise");
    expect("lamp l { pixels 1 ⟦pixels⟧ 2 }", "error stands-twice");
}

/* What only some chips have. */
static void test_words_of_chips(void **state) {
    (void)state;
    expect("lamp l { pixels 1 chip ⟦sk6812w⟧ }", "warning white-stays-dark");
    expect("lamp l { pixels 1 chip sk6812 ⟦die 4000K⟧ }", "warning no-white-part");
    expect_silence("lamp l { pixels 1 die 4000K }"); /* no chip is said */
    expect("lamp l { pixels 1 chip ws2812b ⟦dither level⟧ }", "error dither-and-chip");
    expect("lamp l { pixels 1 chip sk9822 ⟦dither time⟧ }", "warning dither-and-chip");
    expect("lamp l { pixels 1 chip apa102 ⟦dither time⟧ }", "warning dither-and-chip");
    expect("lamp l { pixels 1 chip ws2812b supply ⟦12V⟧ 2A }", "warning supply-volts");
    expect("lamp l { pixels 1 chip ws2812b supply ⟦3V⟧ 2A }", "warning supply-volts");
    expect_silence("lamp l { pixels 1 chip ws2812b supply 5.5V 2A } "
                   "lamp m { pixels 1 supply 12V 2A }");
    expect_silence("lamp l { pixels 1 chip ws2812b dither time } "
                   "lamp m { pixels 1 chip apa102 dither level } "
                   "lamp n { pixels 1 chip sk9822 dither level }");
}

/* 60 pixels of 1 mA idle and three channels of 20 mA: one code of each is 20 / 255 mA, so that
 * 60 * (1 + 60 / 255) = 74.1 mA; 12 pixels of a white part besides 12 * (1 + 80 / 255) = 15.8. */
static void test_supply_too_small(void **state) {
    (void)state;
    expect("lamp l { pixels 60 supply 5V ⟦74mA⟧ }", "error supply-too-small");
    expect_silence("lamp l { pixels 60 supply 5V 75mA }");
    expect("lamp l { pixels 12 chip sk6812w die 4000K supply 5V ⟦15mA⟧ }",
           "error supply-too-small");
    expect_silence("lamp l { pixels 12 chip sk6812w die 4000K supply 5V 16mA }");
    expect("lamp l { pixels 60 draws 20mA idle 2mA supply 5V ⟦75mA⟧ }", "error supply-too-small");
    expect_silence("lamp l { pixels 60 draws 2mA idle 0mA supply 5V 2mA }");
}

static void test_parts_and_groups(void **state) {
    (void)state;
    expect("lamp l { pixels 60 part left 0..⟦60⟧ }", "error out-of-range");
    expect("lamp l { pixels 60 part left 30..⟦20⟧ }", "error range-empty");
    expect("lamp l { pixels 60 part left 0..29 part ⟦left⟧ 30..59 }", "error named-twice");
    expect("lamp l { pixels 60 part left 0..29 group ⟦left⟧ 3 }", "error named-twice");
    expect("lamp l { pixels 60 group g 1, ⟦60⟧ }", "error out-of-range");
    expect("lamp l { pixels 60 group g 1..⟦0⟧, 4 }", "error range-empty");
    expect("lamp l { pixels 60 part left ⟦0.5⟧..3 }", "error out-of-range");
    /* the order of the text does not matter; a shape can give the pixels */
    expect_silence("lamp l { part left 0..29 pixels 60 }");
    expect("lamp l { part left 0..⟦32⟧ shape grid 8 by 4 }", "error out-of-range");
    char *text = malloc(20000);
    for (int count = LIMIT_GROUPS; count <= LIMIT_GROUPS + 1; count++) {
        size_t used = (size_t)sprintf(text, "lamp l { pixels 1 ");
        for (int i = 0; i < count; i++)
            used += (size_t)sprintf(text + used, "group g%d 0 ", i);
        sprintf(text + used, "}");
        Compilation *compilation = compile_text(text);
        assert_int_equal(said_count(compilation, "too-many"), count > LIMIT_GROUPS);
        lang_free(compilation);
    }
    free(text);
}

static Compilation *compile_points(const char *points, ReadStatus status) {
    MemoryFile files[] = {{.path = "home.gloam", .text = "lamp tree { shape points \"tree.csv\" }"},
                          {.path = "tree.csv", .text = points, .status = status},
                          {0}};
    return compile_files(files);
}

static void test_points(void **state) {
    (void)state;
    Compilation *compilation = compile_points(
        "\xEF\xBB\xBFx,y,z\r\n0,0,0\r\n 1.5 , -2 ,+3\r\n\r\n6.123e-17,1E2,.5\r\n", READ_FINE);
    const LampInfo *lamp = lamp_of(compilation);
    assert_int_equal(lamp->shape, SHAPE_POINTS);
    assert_int_equal(lamp->pixels, 3);
    assert_int_equal(lamp->point_count, 3);
    assert_true(lamp->points[1].x == 1.5 && lamp->points[1].y == -2 && lamp->points[1].z == 3);
    assert_true(lamp->points[2].x > 6.1229e-17 && lamp->points[2].x < 6.1231e-17);
    assert_true(lamp->points[2].y == 100 && lamp->points[2].z == 0.5);
    lang_free(compilation);
    compilation = compile_points("1,2\n3,4", READ_FINE);
    lamp = lamp_of(compilation);
    assert_int_equal(lamp->pixels, 2);
    assert_true(lamp->points[1].y == 4 && lamp->points[1].z == 0);
    lang_free(compilation);
}

/* The mistake stands in the points' file, at `line` and under `words`. */
static void expect_point_mistake(const char *points, uint32_t line, const char *words) {
    Compilation *compilation = compile_points(points, READ_FINE);
    Diagnostics *sink = lang_diagnostics(compilation);
    const Diagnostic *diagnostic = said(compilation, "points");
    assert_non_null(diagnostic);
    assert_int_equal(diagnostics_total(sink), 1);
    assert_string_equal(diagnostics_file_name(sink, diagnostic->span.file), "tree.csv");
    uint32_t found, column;
    diagnostics_position(sink, diagnostic->span.file, diagnostic->span.begin, &found, &column);
    assert_int_equal(found, line);
    char text[100];
    assert_string_equal(said_text(compilation, diagnostic->span, text, sizeof text), words);
    lang_free(compilation);
}

static void test_point_mistakes(void **state) {
    (void)state;
    expect_point_mistake("0,0\n1,b\n", 2, "b");
    expect_point_mistake("0,0\n1\n", 2, "1");
    expect_point_mistake("0,0\n1,2,3\n", 2, "1,2,3");
    expect_point_mistake("0,0,0,0\n", 1, "0");
    expect_point_mistake("0;0\n", 1, ";0");
    expect_point_mistake("0,0\n1,\n", 2, "");
    expect_point_mistake("0,0\n1e99,0\n", 2, "1e99");
    expect_point_mistake("0,0\nnan,0\n", 2, "nan,0");
    expect_point_mistake("0,0\nx,y\n", 2, "x,y");
    expect_point_mistake("x,y\n", 1, "");
    expect_point_mistake("", 1, "");
    Compilation *compilation = compile_points("", READ_OUTSIDE);
    assert_non_null(said(compilation, "file-outside"));
    lang_free(compilation);
    expect("lamp l { shape points ⟦\"../p.csv\"⟧ }", "error path-upwards");
    expect("lamp l { shape points ⟦\"p.csv\"⟧ }", "error file-missing");
}

static void test_place(void **state) {
    (void)state;
    Compilation *compilation = compile_text("place -51.45, 2.59 zone \"Europe/London\"");
    const PlaceInfo *place = lang_place(compilation);
    assert_true(place->said && place->latitude == -51.45 && place->longitude == 2.59);
    assert_string_equal(place->zone, "Europe/London");
    lang_free(compilation);
    expect_silence("place 90, -180");
    expect_silence("place 0, 0 zone \"Etc/GMT+5\"");
    expect_silence("place 0, 0 zone \"America/Argentina/Buenos_Aires\"");
    expect_silence("place 0, 0 zone \"UTC\"");
    expect("place ⟦91⟧, 0", "error out-of-range");
    expect("place ⟦-91⟧, ⟦181⟧", "error out-of-range, error out-of-range");
    expect("⟦place 0, 0 zone \"\"⟧", "error unknown-zone");
    expect("⟦place 0, 0 zone \"/etc/passwd\"⟧", "error unknown-zone");
    expect("⟦place 0, 0 zone \"../UTC\"⟧", "error unknown-zone");
    expect("⟦place 0, 0 zone \"a//b\"⟧", "error unknown-zone");
    expect("⟦place 0, 0 zone \"Europe/London \"⟧", "error unknown-zone");
    expect("place 0, 0\n⟦place 1, 1⟧", "error said-twice");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_property),
        cmocka_unit_test(test_what_is_not_said),
        cmocka_unit_test(test_shapes_give_pixels),
        cmocka_unit_test(test_words),
        cmocka_unit_test(test_order),
        cmocka_unit_test(test_ports),
        cmocka_unit_test(test_numbers),
        cmocka_unit_test(test_words_of_chips),
        cmocka_unit_test(test_supply_too_small),
        cmocka_unit_test(test_parts_and_groups),
        cmocka_unit_test(test_points),
        cmocka_unit_test(test_point_mistakes),
        cmocka_unit_test(test_place),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
