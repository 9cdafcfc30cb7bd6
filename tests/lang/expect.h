/* Exactly what is wrong with a text, and where. The text of a test marks each place with ⟦ and ⟧;
 * the list names the codes in the order of the text: "error unknown-name, warning unused-let".
 * Nothing else may be said. Marks around the same bytes stand for two diagnostics there; a file as
 * a whole is marked ⟦⟧ at its start. */
#ifndef GLOAM_TESTS_LANG_EXPECT_H
#define GLOAM_TESTS_LANG_EXPECT_H

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <stdlib.h>
#include <cmocka.h>

#include "said.h"

enum { EXPECT_MARKS = 64, EXPECT_TEXT = 1 << 17 };

typedef struct Expected {
    char text[EXPECT_TEXT];
    Span spans[EXPECT_MARKS]; /* in the order in which they begin */
    size_t count;
} Expected;

static inline void expect_unmark(const char *marked, Expected *expected) {
    size_t open[EXPECT_MARKS], depth = 0, out = 0;
    expected->count = 0;
    for (const char *at = marked; *at;) {
        assert_true(out + 1 < EXPECT_TEXT && expected->count < EXPECT_MARKS);
        if (strncmp(at, "⟦", 3) == 0) {
            open[depth++] = expected->count;
            expected->spans[expected->count++] = (Span){0, (uint32_t)out, 0};
            at += 3;
        } else if (strncmp(at, "⟧", 3) == 0) {
            expected->spans[open[--depth]].end = (uint32_t)out;
            at += 3;
        } else {
            expected->text[out++] = *at++;
        }
    }
    assert_int_equal(depth, 0);
    expected->text[out] = 0;
}

static const char *const expect_severities[] = {"error", "warning", "note"};

/* One diagnostic against "error code" at the head of *codes, which moves behind it. */
static inline bool expect_one(const Diagnostic *diagnostic, const Span *span, const char **codes) {
    char wanted[80];
    snprintf(wanted, sizeof wanted, "%s %s", expect_severities[diagnostic->severity],
             diagnostic->code);
    size_t length = strcspn(*codes, ",");
    bool same = length == strlen(wanted) && strncmp(*codes, wanted, length) == 0;
    *codes += length;
    *codes += strspn(*codes, ", ");
    return same && span->begin == diagnostic->span.begin && span->end == diagnostic->span.end;
}

/* files[0].text is replaced by the unmarked text. */
static inline void expect_files(MemoryFile *files, const char *codes) {
    Expected *expected = calloc(1, sizeof *expected);
    assert_non_null(expected);
    const char *marked = files[0].text, *left = codes;
    expect_unmark(marked, expected);
    files[0].text = expected->text;
    Compilation *compilation = compile_files(files);
    assert_non_null(compilation);
    Diagnostics *sink = lang_diagnostics(compilation);
    bool same = diagnostics_total(sink) == expected->count;
    for (size_t i = 0; same && i < expected->count; i++)
        same = expect_one(diagnostics_at(sink, i), &expected->spans[i], &left);
    if (!same || *left) {
        said_print(compilation);
        for (size_t i = 0; i < diagnostics_total(sink); i++)
            fprintf(stderr, "%s %s, ", expect_severities[diagnostics_at(sink, i)->severity],
                    diagnostics_at(sink, i)->code);
        fail_msg("expected: %s\nin: %s", codes, marked);
    }
    assert_int_equal(lang_program(compilation) != NULL,
                     diagnostics_count(sink, SEVERITY_ERROR) == 0);
    lang_free(compilation);
    files[0].text = marked;
    free(expected);
}

static inline void expect(const char *marked, const char *codes) {
    MemoryFile files[] = {{.path = "home.gloam", .text = marked}, {0}};
    expect_files(files, codes);
}

static inline void expect_silence(const char *text) {
    expect(text, "");
}

/* The sentence and the hint (NULL: none) of the first diagnostic with that code. */
static inline void expect_message(const char *text, const char *code, const char *message,
                                  const char *hint) {
    Compilation *compilation = compile_text(text);
    const Diagnostic *diagnostic = said(compilation, code);
    if (!diagnostic) {
        said_print(compilation);
        fail_msg("`%s` was not said of: %s", code, text);
        return;
    }
    assert_string_equal(diagnostic->message, message);
    if (hint && diagnostic->hint)
        assert_string_equal(diagnostic->hint, hint);
    else
        assert_true(!hint && !diagnostic->hint);
    lang_free(compilation);
}

#endif
