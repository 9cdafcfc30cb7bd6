/* Bytecode as text: every part of a program is there, and the same text comes from its bytes. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/core/bytecode.h"
#include "runtime/core/memory.h"
#include "tests/lang/memory_reader.h"

static const char *const RICH =
    "dial warmth = 40% from 0% to 100% \"How warm\"\ndial pace = 2s from 1s to 9s\n"
    "dial lit = true\ndial tint = gold eased 2s\nevent bell \"A bell\"\nevent rung\n"
    "routine a lasts 5min then b {\n"
    "  paint (black -> tint at 30% ease-in -> #203040 every pace in oklch longer hue) delayed pos "
    "* 3s\n"
    "  paint in_turn(pixel, red, tint, teal) * warmth blended screen where within(mine) and lit\n"
    "  paint white * noise(pixel, t / 1s) blended plus-lighter where 0 -> 1 over 3s steps(4, "
    "jump-end)\n"
    "  paint hsl(angle, 50%, warmth) where random(pixel, tick(pace)) < 0.1\n"
    "  paint (red -> gold along pos in srgb-linear) where draw(pixel, 1, 2) < 2\n"
    "  paint (tint -> gold along pos) where 0.2 | 0.4 at warmth along fract(pos * 2)\n"
    "  paint white * hour / 24 where (moonlit + moonage) / 2\n}\n"
    "routine b { paint gold | red along ease(pos, linear(0, 0.3 40%, 1)) }\n"
    "routine c lasts 3s then off { paint red * warmth }\n"
    "routine d { paint (black -> gold over 3s) delayed pos * 2s }\n"
    "routine e { paint lime -> gold over 9s }\n";

static char *text_of(const Program *program) {
    char *text = NULL;
    size_t length = 0;
    FILE *out = open_memstream(&text, &length);
    assert_non_null(out);
    disassemble_program(program, out);
    fclose(out);
    return text;
}

static void expect(const char *text, const char *part) {
    if (!strstr(text, part))
        fail_msg("expected `%s` in the text:\n%s", part, text);
}

static void test_every_part_is_shown(void **state) {
    (void)state;
    Compilation *compilation = compile_text(RICH);
    const Program *program = lang_program(compilation);
    assert_non_null(program);
    char *text = text_of(program);
    static const char *const PARTS[] = {"dials 4",
                                        "warmth",
                                        "pace",
                                        "lit",
                                        "tint",
                                        "events 2",
                                        "bell",
                                        "groups 1",
                                        "mine",
                                        "routine 0 a",
                                        "routine 1 b",
                                        "routine 2 c",
                                        "routine 3 d",
                                        "cubic-bezier(0.4",
                                        "steps(4",
                                        "linear(",
                                        "oklch",
                                        "srgb-linear",
                                        "within",
                                        "noise2",
                                        "hash2",
                                        "salt random",
                                        "frame spread: once a frame",
                                        "pixel: every pixel of a frame",
                                        "never rests",
                                        "rests"};
    for (size_t i = 0; i < sizeof PARTS / sizeof *PARTS; i++)
        expect(text, PARTS[i]);
    unsigned char *bytes;
    size_t length;
    char why[200];
    assert_true(bytecode_write(program, &bytes, &length));
    Program *read = bytecode_read(bytes, length, why, sizeof why);
    assert_non_null(read);
    char *again = text_of(read);
    assert_string_equal(again, text);
    free(text);
    free(again);
    program_free(read);
    memory_release(bytes);
    lang_free(compilation);
}

/* Each instruction of the program has its line. */
static void test_each_instruction_has_a_line(void **state) {
    (void)state;
    Compilation *compilation =
        compile_text("routine a { paint gold where pos < 0.5 + fract(t / 3s) }");
    const Program *program = lang_program(compilation);
    char *text = text_of(program);
    unsigned instructions = 0, lines = 0;
    for (int section = 0; section < SECTION_COUNT; section++)
        instructions += program->routines[0].code.lengths[section];
    for (char *line = strtok(text, "\n"); line; line = strtok(NULL, "\n"))
        lines += strncmp(line, "    ", 4) == 0;
    const Code *code = &program->routines[0].code;
    assert_int_equal(lines, instructions + code->number_constants + code->colour_constants);
    free(text);
    lang_free(compilation);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_part_is_shown),
        cmocka_unit_test(test_each_instruction_has_a_line),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
