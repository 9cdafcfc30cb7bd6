/* What expressions are worth: every expectation is worked out from the formulas of
 * spec/meaning.md (the section is named), the colours from the tables of CSS. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "rendered.h"
#include "runtime/core/colour.h"
#include "tests/support/table.h"

/* -------- numbers -------- */

typedef struct Worth {
    const char *expression; /* a number; white times it is painted */
    double seconds;
    uint32_t pixel;
    double expected;
} Worth;

static void check_worth(const Worth *worth) {
    char body[1000];
    Rendered rendered;
    snprintf(body, sizeof body, "let worth = %s\npaint white * worth", worth->expression);
    if (!render_body(body, worth->seconds, &rendered))
        fail_msg("not compiled: %s", worth->expression);
    double found = (double)rendered.light[worth->pixel][0];
    double bound = 4e-6 * fmax(1.0, fabs(worth->expected));
    if (!(fabs(found - worth->expected) <= bound))
        fail_msg("%s at %g s, pixel %u: expected %.9g, found %.9g", worth->expression,
                 worth->seconds, worth->pixel, worth->expected, found);
}

static void check_worths(const Worth *worths, size_t count) {
    for (size_t i = 0; i < count; i++)
        check_worth(&worths[i]);
}

#define CHECK(worths) check_worths(worths, sizeof worths / sizeof *worths)

static void numbers(void **state) { /* sections 1 and 7 */
    (void)state;
    static const Worth worths[] = {
        {"40%", 0, 0, 0.4},
        {"1 + 2 * 3 - 4 / 8", 0, 0, 6.5},
        {"-(2 - 5)", 0, 0, 3},
        {"06:30", 0, 0, 6.5},
        {"1h30min / 1min", 0, 0, 90},
        {"250ms / 1s", 0, 0, 0.25},
        {"90deg / 1turn", 0, 0, 0.25},
        {"100grad / 1turn", 0, 0, 0.25},
        {"1s / 3 / 1s", 0, 0, 0.333333},
        {"abs(2 - 5)", 0, 0, 3},
        {"min(3, 1, 2) + max(3, 1, 2) * 10", 0, 0, 31},
        {"floor(-0.5) + ceil(-0.5) * 10 + round(2.5) * 100 + round(-2.5) * 1000", 0, 0, -1701},
        {"clamp(7, 2, 5) + clamp(2, 5, 7) * 10", 0, 0, 55},
        {"mod(-1, 3) + mod(1, -3) * 10", 0, 0, -18},
        {"mod(5, pixel)", 0, 0, 0},
        {"mod(7s, 2s) / 1s", 0, 0, 1},
        {"fract(-0.25)", 0, 0, 0.75},
        {"sqrt(2) + sqrt(pos - 1)", 0, 0, 1.41421356},
        {"pow(2, 10) + pow(pos - 1, 2)", 0, 0, 1024},
        {"3 / pixel", 0, 0, 0},
        {"sin(90deg) + cos(0.5turn) * 10 + tan(45deg) * 100", 0, 0, 91},
        {"atan2(1, 0) / 1turn", 0, 0, 0.25},
        {"atan2(0, -1) / 1turn", 0, 0, 0.5},
        {"apart(0.9, 0.1)", 0, 0, 0.2},
        {"apart(350deg, 20deg) / 1turn", 0, 0, 30.0 / 360.0},
        {"in_turn(-1, 5, 6, 7) + in_turn(4.9, 5, 6, 7) * 10", 0, 0, 67},
        {"in_turn(pixel, 5, 6, 7)", 0, 4, 6},
        {"in_turn(tick(1s), 1, 2, 3, 4, 5, 6, 7)", 8.5, 0, 2},
        {"if pixel == 3 then 2s / 1s else 7", 0, 3, 2},
        {"if not (pos > 0.5) and true or false then 1 else 0", 0, 9, 0},
        {"if 1 <= 1 and 1 >= 1 and not (1 < 1) and 1 != 2 then 1 else 0", 0, 0, 1},
        {"if true == false then 1 else 0", 0, 0, 0},
        {"if within(shelf) then 1 else 0", 0, 2, 1},
        {"if within(shelf) then 1 else 0", 0, 3, 0},
    };
    CHECK(worths);
}

static void names_of_the_moment(void **state) { /* sections 2 and 10 */
    (void)state;
    static const Worth worths[] = {
        {"t / 1s", 2.5, 0, 2.5},
        {"t / 1s", 25, 0, 20}, /* held at what it lasts */
        {"progress", 5, 0, 0.25},
        {"progress", 30, 0, 1},
        {"pixel * 100 + pixels", 0, 7, 710},
        {"pos", 0, 7, 0.75},
        {"x", 0, 7, 0.5},
        {"angle / 1turn", 0, 7, 0.25},
        {"hour + moonlit * 10 + moonage * 100", 0, 0, 56},
        {"sunheight / 1turn", 0, 0, 0.1},
        {"tick(2s)", 5, 0, 2},
    };
    CHECK(worths);
}

static void delays(void **state) { /* section 2 */
    (void)state;
    static const Worth worths[] = {
        {"t / 1s delayed 3s", 5, 0, 2},
        {"t / 1s delayed 3s", 1, 0, -2},
        {"progress delayed 5s", 10, 0, 0.25},
        {"progress delayed 5s", 2, 0, 0},
        {"tick(2s) delayed 3s", 2, 0, -1},
        {"hour delayed 3s", 2, 0, 3.5},
        {"t / 1s delayed 1s delayed 2s", 5, 0, 2},
        {"t / 1s delayed t / 2", 4, 0, 2}, /* D is read at the t outside */
        {"t / 1s delayed pos * 2s", 4, 4, 3.1},
        {"(0 -> 1 over 4s) delayed 1s", 3, 0, 0.5},
        {"(0 -> 1 -> 0 every 4s) delayed 3s", 2, 0, 0.5}, /* runs on backwards before 0 */
        {"t / 1s + (t / 1s delayed 1s) * 10", 3, 0, 23},
    };
    CHECK(worths);
}

static void drivers(void **state) { /* section 3 */
    (void)state;
    static const Worth worths[] = {
        {"0 -> 10 over 4s", 1, 0, 2.5},
        {"0 -> 10 over 4s", 9, 0, 10},
        {"0 -> 10 throughout", 5, 0, 2.5},
        {"0 -> 10 every 4s", 5, 0, 2.5},
        {"0 -> 10 along pos", 0, 2, 2.5},
        {"0 -> 10 along pos * 3", 0, 9, 10},
        {"0 -> 10 along -pos", 0, 9, 0},
        {"0 -> 10 and back every 4s", 3, 0, 5},
        {"0 -> 10 and back over 4s", 9, 0, 0},
        {"0 -> 10 -> 40 for 2s each", 3, 0, 25},
        {"0 -> 10 -> 40 for 2s each", 5, 0, 5},
        {"0 -> 10 -> 40 and round for 2s each", 5, 0, 20},
        {"0 -> 10 -> 40 and back for 2s each", 7, 0, 5},
        {"1 | 2 | 3 for 2s each", 5, 0, 3},
        {"1 | 2 | 3 for 2s each", 7, 0, 1},
        {"1 | 2 | 3 and back for 2s each", 11, 0, 1},
        {"0 -> 10 over pixel * 1s", 2, 4, 5},
        {"0 -> 10 over pixel * 1s", 2, 0, 10}, /* no length: at its end */
        {"0 -> 10 every pixel * 1s", 2, 0, 0}, /* no length: at its start */
    };
    CHECK(worths);
}

static void places(void **state) { /* section 4 */
    (void)state;
    static const Worth worths[] = {
        {"0 -> 10 at 25% -> 40 over 4s", 1, 0, 10},
        {"0 -> 10 at 1s -> 40 over 4s", 2.5, 0, 25},
        {"0 -> 10 at 1s -> 40 and back over 8s", 1, 0, 10}, /* of the way there */
        {"0 -> 10 at 5s -> 40 throughout", 5, 0, 10},
        {"0 -> 10 -> 20 -> 30 at 60% over 10s", 4, 0, 20},
        {"0 -> 10 -> 20 -> 30 at 60% over 10s", 8, 0, 30},
        {"5 at 50% -> 10 over 10s", 2, 0, 5},
        {"0 -> 10 -> 20 and round over 9s", 6, 0, 20},
        {"0 -> 10 -> 20 and round over 9s", 7.5, 0, 10},
        {"0 -> 10 at 50% -> 20 at 50% -> 30 over 8s", 4, 0, 20}, /* the later wins */
        {"0 -> 10 at 50% -> 20 at 50% -> 30 over 8s", 3.6, 0, 9},
        {"1 | 2 at 50% | 3 over 8s", 5.9, 0, 2},
        {"1 | 2 at 50% | 3 over 8s", 6.1, 0, 3},
        {"1 | 2 | 3 over 9s", 6.1, 0, 3},
        {"0 -> 10 at pos -> 20 at 0.2 + 0 * pos -> 30 over 10s", 8, 4, 20 + 10 * 0.35 / 0.55},
    };
    CHECK(worths);
}

static void fades(void **state) { /* sections 5 and 6 */
    (void)state;
    static const Worth worths[] = {
        {"(0s -> 3s along pos) / 1s", 0, 4, 1.35},
        {"(0deg -> 360deg every 10s) / 1turn", 4, 0, 0.4},
        {"0 -> 10 over 4s steps(2, jump-start)", 1, 0, 5},
        {"0 -> 10 over 4s steps(2, jump-end)", 1, 0, 0},
        {"0 -> 10 over 4s steps(2, jump-none)", 3, 0, 10},
        {"0 -> 10 over 4s steps(2, jump-both)", 1, 0, 10.0 / 3.0},
        {"0 -> 10 over 4s steps(2, start)", 1, 0, 5},
        {"0 -> 10 over 4s step-start", 1, 0, 10},
        {"0 -> 10 over 4s linear(0, 0.25, 1)", 1, 0, 1.25},
        {"0 -> 10 over 4s linear(0, 1 25%, 0)", 1, 0, 10},
        {"0 -> 10 over 4s linear(0, 0.5 25% 75%, 1)", 2, 0, 5},
        {"0 -> 10 over 4s linear(0, 1)", 1, 0, 2.5},
        {"0 -> 10 over 4s linear(0 -50%, 1 150%)", 1, 0, 3.75},
        {"0 -> 10 over 4s linear(0.75 - 50%, 1)", 2, 0, 6.25},
        /* cubic-bezier(0.5, 0, 0.5, 1) is symmetric: half way at half the time */
        {"0 -> 10 over 4s cubic-bezier(0.5, 0, 0.5, 1)", 2, 0, 5},
        {"0 -> 10 over 4s ease-in-out", 2, 0, 5},
        /* the easing at a stop shapes the stretch that leads to it; the driver's shapes the rest */
        {"0 -> 10 step-start -> 20 over 4s", 1, 0, 10},
        {"0 -> 10 step-start -> 20 over 4s", 3, 0, 15},
        {"0 -> 10 linear(0, 1) -> 20 over 4s step-start", 1, 0, 5},
        {"0 -> 10 linear(0, 1) -> 20 over 4s step-start", 3, 0, 20},
        {"0 step-start -> 10 -> 20 and round over 9s", 7, 0, 0},
        {"0 -> 10 -> 20 and round over 9s step-start", 7, 0, 0},
        /* on the way back it runs backwards */
        {"0 -> 10 and back over 8s step-start", 6, 0, 10},
        {"0 -> 10 along ease(pos, step-start)", 0, 3, 10},
        {"0 -> 10 along ease(pos, linear(0, 1))", 0, 2, 2.5},
        {"ease(pos, steps(4, jump-end))", 0, 6, 0.5},
        /* an easing that overshoots goes on along the line */
        {"0 -> 10 over 4s linear(0, 2, 1)", 2, 0, 20},
        /* a ramp in a ramp reads the same t */
        {"0 -> (10 -> 20 over 4s) over 8s", 2, 0, 15 * 0.25},
    };
    CHECK(worths);
}

static void names(void **state) { /* lets and functions are expanded where they are used */
    (void)state;
    static const char *const text = "let top = t / 1s\n"
                                    "let twice(e) = e + (e delayed 1s) * 10\n"
                                    "let both(a, b) = twice(a) * 100 + inner(b)\n"
                                    "let inner(c) = if c > 0 then c * top else 0\n"
                                    "routine r lasts 8s {\n"
                                    "    let own = progress + top\n"
                                    "    let shift(q) = q delayed 2s\n"
                                    "    paint white * (%s)\n"
                                    "}\n";
    static const struct {
        const char *expression;
        double seconds, expected;
    } rows[] = {
        {"top", 3, 3},
        {"twice(top)", 3, 23},
        {"twice(t / 1s) delayed 1s", 3, 12},
        {"both(top, 2)", 3, 2306},
        {"own", 4, 4.5},
        {"shift(own)", 4, 2.25},
        {"own delayed 2s", 4, 2.25},
        {"shift(twice(top))", 4, 12},
        {"inner(pixel - 20)", 4, 0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char file[2000];
        Rendered rendered;
        snprintf(file, sizeof file, text, rows[i].expression);
        assert_true(render_file(file, 0, 10, rows[i].seconds, &rendered));
        if (fabs((double)rendered.light[0][0] - rows[i].expected) > 4e-6 * rows[i].expected)
            fail_msg("%s: expected %g, found %g", rows[i].expression, rows[i].expected,
                     (double)rendered.light[0][0]);
    }
}

/* A rate never changes a value: one expression, where nothing, the moment or the pixel decides. */
static void rates(void **state) {
    (void)state;
    static const char *const forms[] = {"floor(%s / 0.1) + (0 -> 3 -> 1 along fract(%s))",
                                        "sin(%s * 1turn) + noise(%s, 2) + random(%s)",
                                        "in_turn(%s * 7, 1, 5, 2, 8, 3, 9) + pow(%s, 1.7)"};
    static const char *const sources[] = {"0.3", "t / 1s", "(0.3 + 0 * pos)", "(0.3 + 0 * pixels)"};
    for (size_t f = 0; f < sizeof forms / sizeof forms[0]; f++) {
        float first = 0.0f;
        for (size_t s = 0; s < sizeof sources / sizeof sources[0]; s++) {
            char expression[400], body[500];
            Rendered rendered;
            snprintf(expression, sizeof expression, forms[f], sources[s], sources[s], sources[s]);
            snprintf(body, sizeof body, "paint white * (%s)", expression);
            assert_true(render_body(body, 0.3, &rendered));
            if (s == 0)
                first = rendered.light[5][1];
            if (memcmp(&first, &rendered.light[5][1], sizeof first) != 0)
                fail_msg("%s: %.9g, not %.9g", expression, (double)rendered.light[5][1],
                         (double)first);
        }
    }
}

/* Salts and arguments of chance: values from tests/data/chance (worked out there with BigInt). */
static void chance(void **state) {
    (void)state;
    Table *table = table_read("tests/data/chance/hash_values.csv", 176);
    int checked = 0;
    for (size_t row = 0; row < table_rows(table); row++) {
        const char *salt = table_text(table, row, "salt"), *a = table_text(table, row, "a");
        const char *b = table_text(table, row, "b"), *c = table_text(table, row, "c");
        const char *d = table_text(table, row, "d");
        char body[300];
        Rendered rendered;
        if (strlen(a) > 15 || strlen(b) > 15 || strlen(c) > 15 || strlen(d) > 15 ||
            strpbrk(a, "eE") || strpbrk(b, "eE") || strpbrk(c, "eE") || strpbrk(d, "eE"))
            continue; /* numbers are written with up to 15 digits and without an exponent */
        if (strcmp(salt, "1") == 0)
            snprintf(body, sizeof body, "paint white * random(%s%s%s%s%s%s%s)", a, *b ? ", " : "",
                     b, *c ? ", " : "", c, *d ? ", " : "", d);
        else if (strcmp(salt, "noise") == 0)
            snprintf(body, sizeof body, "paint white * noise(%s%s%s%s%s)", a, *b ? ", " : "", b,
                     *c ? ", " : "", c);
        else
            continue;
        assert_true(render_body(body, 0, &rendered));
        assert_float_equal(rendered.light[0][0], table_number(table, row, "value"), 1e-7);
        checked++;
    }
    table_free(table);
    assert_int_equal(checked, 26 + 31); /* of chance, of noise: counted in the table */
}

/* -------- colours -------- */

/* A colour of CSS in our commas, hues with their unit; "" where ours has no such form. */
static const char *our_commas(const char *css, char *out, size_t room) {
    size_t at = 0;
    int part = 0;
    out[0] = 0;
    if (strstr(css, "none") || strchr(css, '/') || strncmp(css, "lab", 3) == 0 ||
        strncmp(css, "lch", 3) == 0 || strncmp(css, "color", 5) == 0 || strchr(css, ','))
        return out;
    bool hue_first = strncmp(css, "h", 1) == 0, hue_last = strncmp(css, "oklch", 5) == 0;
    for (const char *c = css; *c && at + 8 < room; c++) {
        bool ends = *c == ' ' || *c == ')';
        bool unit = c > css && (c[-1] < '0' || c[-1] > '9');
        if (ends && !unit && ((hue_first && part == 0) || (hue_last && part == 2)))
            at += (size_t)snprintf(out + at, room - at, "deg");
        if (*c == ' ') {
            part++;
            out[at++] = ',';
        }
        out[at++] = *c;
        out[at] = 0;
    }
    return out;
}

static void check_encoded(const char *what, const Rendered *rendered, const Table *table,
                          size_t row) {
    static const char *const columns[] = {"colorjs_r", "colorjs_g", "colorjs_b"};
    for (int channel = 0; channel < 3; channel++) {
        double expected = table_number(table, row, columns[channel]);
        double found = colour_encode((double)rendered->light[0][channel]);
        if (!(fabs(found - expected) <= 2e-6))
            fail_msg("%s: channel %d is %.8f, not %.8f", what, channel, found, expected);
    }
}

static void css_functions(void **state) { /* the table names its source: CSS Color 4 and WPT */
    (void)state;
    Table *table = table_read("tests/data/light/css_colour_functions.csv", 45);
    int checked = 0;
    for (size_t row = 0; row < table_rows(table); row++) {
        char text[200], body[300];
        Rendered rendered;
        our_commas(table_text(table, row, "css"), text, sizeof text);
        if (!text[0] || (text[0] == '#' && strlen(text) != 4 && strlen(text) != 7))
            continue;
        snprintf(body, sizeof body, "paint %s", text);
        if (!render_body(body, 0, &rendered))
            fail_msg("not compiled: %s", text);
        check_encoded(text, &rendered, table, row);
        checked++;
    }
    table_free(table);
    assert_int_equal(checked, 45 - 2); /* all but two with a transparency */
}

static void css_names(void **state) { /* the table names its source: CSS Color 4, section 6.1 */
    (void)state;
    Table *table = table_read("tests/data/light/css_named_colours.csv", 148);
    for (size_t row = 0; row < table_rows(table); row++) {
        char body[100];
        Rendered name;
        snprintf(body, sizeof body, "paint %s", table_text(table, row, "name"));
        assert_true(render_body(body, 0, &name));
        const char *const columns[] = {"r", "g", "b"};
        for (int channel = 0; channel < 3; channel++) {
            double byte = colour_encode((double)name.light[0][channel]) * 255.0;
            assert_float_equal(byte, table_number(table, row, columns[channel]), 1e-3);
        }
    }
    table_free(table);
}

typedef struct Light {
    const char *body;
    double seconds;
    uint32_t pixel;
    double light[3];
} Light;

static void check_light(const Light *row) {
    Rendered rendered;
    if (!render_body(row->body, row->seconds, &rendered))
        fail_msg("not compiled: %s", row->body);
    for (int channel = 0; channel < 3; channel++) {
        double found = (double)rendered.light[row->pixel][channel];
        if (!(fabs(found - row->light[channel]) <= 4e-6))
            fail_msg("%s at %g s, pixel %u, channel %d: expected %.7f, found %.7f", row->body,
                     row->seconds, row->pixel, channel, row->light[channel], found);
    }
}

static void check_lights(const Light *rows, size_t count) {
    for (size_t i = 0; i < count; i++)
        check_light(&rows[i]);
}

static void colours(void **state) { /* rules C3 to C5; section 5 */
    (void)state;
    static const Light rows[] = {
        {"paint rgb(100%, 0, 255) * 50%", 0, 0, {0.5, 0, 0.5}},
        {"paint red / 4 + lime * (1 / 2) - blue * 25%", 0, 0, {0.25, 0.5, -0.25}},
        {"paint (white * 50%) * (red + lime * 50%)", 0, 0, {0.5, 0.25, 0}},
        {"paint red / pixel", 0, 0, {0, 0, 0}},
        {"paint if pos > 0.5 then red else blue", 0, 9, {1, 0, 0}},
        {"paint in_turn(pixel, red, lime, blue)", 0, 4, {0, 1, 0}},
        {"paint red -> lime over 4s in srgb-linear", 1, 0, {0.75, 0.25, 0}},
        /* OKLab is homogeneous of degree 3 from black: half way is an eighth of the light */
        {"paint black -> white over 4s", 2, 0, {0.125, 0.125, 0.125}},
        {"paint black -> red and back every 4s", 3, 0, {0.125, 0, 0}},
        {"paint red | lime | blue for 1s each", 4.5, 0, {0, 1, 0}},
        {"paint red -> lime over 4s step-start in oklch longer hue", 1, 0, {0, 1, 0}},
        /* red to blue the short way round the hues of OKLCH, half the way back to red is red */
        {"paint red -> blue along 0 in oklch increasing hue", 0, 0, {1, 0, 0}},
    };
    check_lights(rows, sizeof rows / sizeof *rows);
}

static void layers(void **state) { /* section 9 */
    (void)state;
    static const Light rows[] = {
        {"", 0, 0, {0, 0, 0}},
        {"paint red paint blue", 0, 0, {0, 0, 1}},
        {"paint red paint blue where 25%", 0, 0, {0.75, 0, 0.25}},
        {"paint red paint blue where 3", 0, 0, {0, 0, 1}},
        {"paint red paint blue where -1", 0, 0, {1, 0, 0}},
        {"paint red paint blue where pos > 0.5", 0, 2, {1, 0, 0}},
        {"paint red paint white * 50% blended plus-lighter", 0, 0, {1.5, 0.5, 0.5}},
        {"paint red paint white * 50% blended plus-lighter where 50%", 0, 0, {1.25, 0.25, 0.25}},
        {"paint red * 50% paint white * 50% blended screen", 0, 0, {0.75, 0.5, 0.5}},
        {"paint red * 3 paint white * 50% blended multiply", 0, 0, {0.5, 0, 0}},
        {"paint red * 25% paint white * 50% blended lighten", 0, 0, {0.5, 0.5, 0.5}},
        {"paint red * 25% paint white * 50% blended darken", 0, 0, {0.25, 0, 0}},
    };
    check_lights(rows, sizeof rows / sizeof *rows);
}

/* Routines as layers. Routine r of each text is rendered; the others stand before it. */
static void routines_as_layers(void **state) { /* section 9 */
    (void)state;
    static const struct {
        const char *what, *text;
        double seconds;
        uint32_t pixel;
        double light[3];
    } rows[] = {
        {"what it leaves unpainted shows what is below",
         "routine r { paint red paint a }\nroutine a { paint lime where pos > 0.5 }",
         0,
         2,
         {1, 0, 0}},
        {"its own length stops its clock",
         "routine r { paint a }\nroutine a lasts 2s { paint white * progress }",
         9,
         0,
         {1, 1, 1}},
        {"its own length is what throughout means",
         "routine r lasts 10s { paint a }\n"
         "routine a lasts 2s { paint black -> white throughout in srgb-linear }",
         1,
         0,
         {0.5, 0.5, 0.5}},
        {"before its 0 it is not there",
         "routine r { paint red paint a delayed 2s }\nroutine a { paint lime }",
         1,
         0,
         {1, 0, 0}},
        {"at its 0 it is",
         "routine r { paint red paint a delayed 2s }\nroutine a { paint lime }",
         2,
         0,
         {0, 1, 0}},
        {"a delay for each pixel",
         "routine r { paint red paint a delayed pos * 2s }\n"
         "routine a { paint white * (t / 10s) }",
         1,
         2,
         {0.05, 0.05, 0.05}},
        {"not there either as a group",
         "routine r { paint red paint a delayed 2s where 50% }\nroutine a { paint lime }",
         1,
         0,
         {1, 0, 0}},
        {"a delay inside: there from the later of both",
         "routine r { paint red paint b delayed 2s }\n"
         "routine b { paint blue paint a delayed -5s }\nroutine a { paint lime }",
         1,
         0,
         {1, 0, 0}},
        /* C = mix(0, s, w), A = w: s shown with 0.5 * 0.5 */
        {"a group covers as much as its layers",
         "routine r { paint red paint a where 50% }\nroutine a { paint lime where 50% }",
         0,
         0,
         {0.75, 0.25, 0}},
        /* A = 0.5; x = mix(blue, lime + blue, 0.5), C = mix(0.5 lime, x, 0.5), A = 0.75 */
        {"blending inside a group is with the group",
         "routine r { paint red paint a where 100% }\n"
         "routine a { paint lime where 50% paint blue blended plus-lighter where 50% }",
         0,
         0,
         {0.25, 0.5, 0.5}},
        {"blending of a group",
         "routine r { paint red * 50% paint a blended plus-lighter }\n"
         "routine a { paint red paint lime where 50% }",
         0,
         0,
         {1, 0.5, 0}},
        {"without blended it is its layers one by one",
         "routine r { paint red paint a }\n"
         "routine a { paint lime where 50% paint blue blended plus-lighter }",
         0,
         0,
         {0.5, 0.5, 1}},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        Rendered rendered;
        assert_true(render_file(rows[i].text, 0, 10, rows[i].seconds, &rendered));
        for (int channel = 0; channel < 3; channel++) {
            double found = (double)rendered.light[rows[i].pixel][channel];
            if (!(fabs(found - rows[i].light[channel]) <= 4e-6))
                fail_msg("%s: channel %d is %.7f, not %.7f", rows[i].what, channel, found,
                         rows[i].light[channel]);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(numbers),   cmocka_unit_test(names_of_the_moment),
        cmocka_unit_test(delays),    cmocka_unit_test(drivers),
        cmocka_unit_test(places),    cmocka_unit_test(fades),
        cmocka_unit_test(names),     cmocka_unit_test(rates),
        cmocka_unit_test(chance),    cmocka_unit_test(css_functions),
        cmocka_unit_test(css_names), cmocka_unit_test(colours),
        cmocka_unit_test(layers),    cmocka_unit_test(routines_as_layers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
