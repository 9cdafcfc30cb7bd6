/* Every program that the project has, changed a little at random and starved of memory: whatever
 * comes, it ends with a program or with an error that has a sentence, and nothing is left behind.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <glob.h>

#include "runtime/core/memory.h"
#include "runtime/library/reader.h"
#include "tests/lang/memory_reader.h"
#include "tests/support/chance.h"

static const char *const PATTERNS[] = {"examples/*.gloam", "spec/conformance/*/*.gloam",
                                       "tests/lang/corpus/*", "tests/fuzz/corpus_text/*"};

/* What is put in: signs, words and values that are right elsewhere. */
static const char *const PIECES[] = {"{",
                                     "}",
                                     "(",
                                     ")",
                                     ",",
                                     "..",
                                     "->",
                                     "|",
                                     "+",
                                     "-",
                                     "*",
                                     "/",
                                     "=",
                                     "==",
                                     "<",
                                     "and",
                                     "or",
                                     "not",
                                     "if",
                                     "then",
                                     "else",
                                     "at",
                                     "over 2s",
                                     "every",
                                     "for",
                                     "each",
                                     "along",
                                     "pos",
                                     "t",
                                     "2s",
                                     "40%",
                                     "3",
                                     "gold",
                                     "#f80",
                                     "2700K",
                                     "90deg",
                                     "true",
                                     "06:30",
                                     "delayed",
                                     "where",
                                     "blended",
                                     "paint",
                                     "let q =",
                                     "routine",
                                     "dial",
                                     "lamp",
                                     "use",
                                     "in",
                                     "oklch",
                                     "hue",
                                     "longer",
                                     "ease-in",
                                     "steps(3)",
                                     "and back",
                                     "min(1)",
                                     "rgb(1)",
                                     "random",
                                     "tick(t)",
                                     "q",
                                     "\"x\"",
                                     "play",
                                     "on sun",
                                     "until",
                                     "lasts",
                                     "progress",
                                     "pixel * t",
                                     "linear(0)",
                                     "cubic-bezier(2, 0, 1, 1)",
                                     "#",
                                     "é",
                                     "1e5",
                                     "5m",
                                     "\"",
                                     "while",
                                     ";",
                                     "&&",
                                     "2s * 2s",
                                     "gold == red",
                                     "- gold",
                                     "not 3",
                                     "-true",
                                     "throughout",
                                     "noise(t)",
                                     "hsl(1, 2, 3)",
                                     "oklch(2, 0, 0deg)",
                                     "mod(1)",
                                     "a(1)",
                                     "p.q",
                                     "event",
                                     "2026-02-30",
                                     "2026-12-24",
                                     "..",
                                     "mon",
                                     "nov..feb",
                                     "sunset - 20min",
                                     "not before 05:00",
                                     "else 07:00",
                                     "for 2h",
                                     "fading 2s",
                                     "fading 3",
                                     "on lamp l",
                                     "part p",
                                     "with a = 1",
                                     "keep level under 200%",
                                     "on days 1..4 of 8",
                                     "by 03:10 play a",
                                     "at 07:00..21:00 every 1h play a",
                                     "when a > 1",
                                     "between 21:00 and 02:30",
                                     "until clock is set play off",
                                     "place 99, 1",
                                     "at civil dusk",
                                     "off",
                                     "except sun",
                                     "from 2026-12-24",
                                     "until 2026-01-01",
                                     "until 06:00",
                                     "zigzag",
                                     "pixels 0",
                                     "shape grid 2 by 3",
                                     "ball 9",
                                     "order rgbw",
                                     "chip apa102",
                                     "supply 5V 0A",
                                     "group g 1..0",
                                     "gain 100%, 200%, 1%",
                                     "white 100K",
                                     "port \"x\"",
                                     "turned 1turn",
                                     "hour",
                                     "within(g)",
                                     "let t = t",
                                     "blended soft",
                                     "lasts 0s then off",
                                     "from 1 to 0",
                                     "eased 1s"};
enum { PIECE_COUNT = sizeof PIECES / sizeof *PIECES };

typedef struct Text {
    char bytes[1 << 16];
    size_t length;
} Text;

static void replace(Text *text, size_t at, size_t gone, const char *with) {
    size_t length = strlen(with);
    if (text->length - gone + length >= sizeof text->bytes)
        return;
    memmove(text->bytes + at + length, text->bytes + at + gone, text->length - at - gone);
    memcpy(text->bytes + at, with, length);
    text->length += length - gone;
    text->bytes[text->length] = '\0';
}

/* Begin and length of a run of letters, digits or signs somewhere in the text. */
static size_t some_word(const Text *text, size_t *length) {
    size_t at = text->length ? chance_index(text->length) : 0, end;
    while (at > 0 && !strchr(" \n(),", text->bytes[at - 1]))
        at--;
    for (end = at; end < text->length && !strchr(" \n(),", text->bytes[end]); end++)
        ;
    *length = end - at;
    return at;
}

static void mutate(Text *text) {
    size_t length, at = some_word(text, &length);
    char piece[64];
    snprintf(piece, sizeof piece, " %s ", PIECES[chance() % PIECE_COUNT]);
    switch (chance() % 4) {
    case 0:
        replace(text, at, length, "");
        break;
    case 1:
        replace(text, at, 0, piece);
        break;
    case 2:
        replace(text, at, length, piece);
        break;
    default:
        if (length)
            replace(text, at + chance_index(length), 1, "");
    }
}

/* Compiles and prints all that is said; the number of errors. */
static size_t look(const char *path, const Text *text, FILE *sink_file) {
    MemoryFile files[] = {{.path = path, .text = text->bytes, .length = text->length}, {0}};
    Compilation *compilation = compile_files(files);
    if (!compilation)
        return 1;
    Diagnostics *sink = lang_diagnostics(compilation);
    size_t errors = diagnostics_count(sink, SEVERITY_ERROR);
    bool program = lang_program(compilation) != NULL;
    for (size_t i = 0; i < diagnostics_total(sink); i++) {
        const Diagnostic *one = diagnostics_at(sink, i);
        if (one && (!one->code[0] || !one->message[0]))
            fail_msg("expected every message to have a code and a sentence: %s", text->bytes);
    }
    diagnostics_print(sink, sink_file, true);
    diagnostics_print_json(sink, sink_file);
    lang_free(compilation);
    if (program != (errors == 0))
        fail_msg("expected a program or an error, not both or neither: %s", text->bytes);
    return errors;
}

typedef void (*Visit)(const char *path, const Text *text, FILE *sink_file);

static unsigned each_file(Visit visit) {
    unsigned count = 0;
    FILE *sink_file = fopen("/dev/null", "w");
    assert_non_null(sink_file);
    for (size_t p = 0; p < sizeof PATTERNS / sizeof *PATTERNS; p++) {
        glob_t found;
        if (glob(PATTERNS[p], 0, NULL, &found) != 0)
            continue;
        for (size_t i = 0; i < found.gl_pathc; i++) {
            char *bytes;
            const char *reason;
            static Text text;
            if (disk_read_file(found.gl_pathv[i], sizeof text.bytes - 1024, &bytes, &text.length,
                               &reason) != READ_FINE)
                continue;
            memcpy(text.bytes, bytes, text.length + 1);
            memory_release(bytes);
            visit(found.gl_pathv[i], &text, sink_file);
            count++;
        }
        globfree(&found);
    }
    fclose(sink_file);
    return count;
}

static size_t changed, wrong;

static void change(const char *path, const Text *text, FILE *sink_file) {
    for (int turn = 0; turn < 100; turn++) {
        static Text copy;
        copy = *text;
        for (uint64_t i = chance() % 3 + 1; i > 0; i--)
            mutate(&copy);
        unsigned long before = memory_live();
        wrong += look(path, &copy, sink_file) > 0;
        changed++;
        if (memory_live() != before)
            fail_msg("expected nothing to be left: %s", copy.bytes);
    }
}

static void test_changed_programs(void **state) {
    (void)state;
    unsigned files = each_file(change);
    print_message("%u files changed %zu times, %zu of them wrong then\n", files, changed, wrong);
    assert_true(files > 400 && wrong > changed / 3 && wrong < changed);
}

static void starve(const char *path, const Text *text, FILE *sink_file) {
    MemoryFile files[] = {{.path = path, .text = text->bytes, .length = text->length}, {0}};
    unsigned long before = memory_count();
    lang_free(compile_files(files));
    unsigned long all = memory_count() - before, step = all / 40 + 1;
    for (unsigned long n = 1 + chance_index(step); n <= all; n += step) {
        unsigned long live = memory_live();
        memory_fail_at(n);
        Compilation *compilation = compile_files(files);
        memory_fail_at(0);
        if (compilation && lang_program(compilation))
            fail_msg("%s: expected no program when allocation %lu of %lu fails", path, n, all);
        if (compilation)
            diagnostics_print(lang_diagnostics(compilation), sink_file, false);
        lang_free(compilation);
        if (memory_live() != live)
            fail_msg("%s: expected nothing to be left when allocation %lu fails", path, n);
    }
}

static void test_starved_programs(void **state) {
    (void)state;
    assert_true(each_file(starve) > 400);
}

int main(void) {
    chance_state = 20261125;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_changed_programs),
        cmocka_unit_test(test_starved_programs),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
