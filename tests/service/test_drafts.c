/* Texts that somebody writes on the page: tokens with places in UTF-16 units (Unicode 15, section
 * 3.9, counted by hand beside each text), what is said of a text, what it may read, how many are
 * held. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>
#include <glob.h>

#include "lang/tokens.h"
#include "runtime/core/memory.h"
#include "runtime/service/page/content.h"
#include "runtime/service/page/drafts.h"
#include "tests/support/folder.h"
#include "tests/support/scored.h"
#include "tests/support/table.h"

/* -------- tokens -------- */

/* "0+7 word, 8+4 name": first and length in UTF-16 units, and the kind. */
static void list_tokens(const char *text, size_t length, char *into, size_t size) {
    json_t *object = json_object();
    assert_true(drafts_tokens(text, length, object));
    const json_t *tokens = member(object, "tokens"), *kinds = member(object, "kinds");
    size_t used = 0;
    *into = '\0';
    assert_int_equal(json_array_size(tokens) % 3, 0);
    for (size_t i = 0; i < json_array_size(tokens) && used < size; i += 3) {
        const char *kind = json_string_value(
            json_array_get(kinds, (size_t)json_integer_value(json_array_get(tokens, i + 2))));
        used += (size_t)snprintf(into + used, size - used, "%s%d+%d %s", i ? ", " : "",
                                 (int)json_integer_value(json_array_get(tokens, i)),
                                 (int)json_integer_value(json_array_get(tokens, i + 1)),
                                 kind ? kind : "?");
    }
    json_decref(object);
}

static void assert_tokens(const char *text, const char *wanted) {
    char got[1024];
    list_tokens(text, strlen(text), got, sizeof got);
    assert_string_equal(got, wanted);
}

static void each_word_has_its_kind(void **state) {
    (void)state;
    assert_tokens("", "");
    assert_tokens("routine glow { paint gold * 5% }",
                  "0+7 word, 8+4 name, 13+1 sign, 15+5 word, 21+4 colour, 26+1 sign, 28+2 number, "
                  "31+1 sign");
    assert_tokens("let a = sin(t) // b",
                  "0+3 word, 4+1 name, 6+1 sign, 8+3 function, 11+1 sign, 12+1 function, 13+1 "
                  "sign, 15+4 comment");
    assert_tokens("at 19:30 play dusk for 1h30min",
                  "0+2 word, 3+5 number, 9+4 word, 14+4 name, 19+3 word, 23+7 number");
    assert_tokens("#ff8800 2700K \"x\"", "0+7 colour, 8+5 colour, 14+3 text");
    assert_tokens("white 4000K", "0+5 word, 6+5 colour"); /* of a lamp */
    /* a word of the language, and somebody's own name */
    assert_tokens("routine lamp { }", "0+7 word, 8+4 name, 13+1 sign, 15+1 sign");
}

/* U+00E9 is one unit (2 bytes), U+20AC one (3 bytes), U+1D11E two (4 bytes). */
static void places_are_utf_16(void **state) {
    (void)state;
    assert_tokens("\"\xc3\xa9\" 5%", "0+3 text, 4+2 number");
    assert_tokens("\"\xe2\x82\xac\" 5%", "0+3 text, 4+2 number");
    assert_tokens("\"\xf0\x9d\x84\x9e\" 5%", "0+4 text, 5+2 number");
    assert_tokens("// \xf0\x9d\x84\x9e\xc3\xa9\nat", "0+6 comment, 7+2 word");
}

static void every_named_colour_is_one(void **state) {
    (void)state;
    Table *table = table_read("tests/data/light/css_named_colours.csv", 148);
    for (size_t row = 0; row < table_rows(table); row++) {
        char text[64], wanted[64];
        const char *name = table_text(table, row, "name");
        snprintf(text, sizeof text, "paint %s", name);
        snprintf(wanted, sizeof wanted, "0+5 word, 6+%zu colour", strlen(name));
        assert_tokens(text, wanted);
    }
    table_free(table);
}

/* Every character of the examples is in one token, or is white. */
static void tokens_leave_nothing_out(void **state) {
    (void)state;
    glob_t found;
    assert_int_equal(glob("examples/*.gloam", 0, NULL, &found), 0);
    for (size_t i = 0; i < found.gl_pathc; i++) {
        size_t length, at = 0;
        char *text = file_read(found.gl_pathv[i], &length);
        json_t *object = json_object();
        for (size_t k = 0; k < length; k++) /* bytes are units then */
            assert_in_range((unsigned char)text[k], 0, 0x7F);
        assert_true(drafts_tokens(text, length, object));
        const json_t *tokens = member(object, "tokens");
        for (size_t k = 0; k < json_array_size(tokens); k += 3) {
            size_t first = (size_t)json_integer_value(json_array_get(tokens, k));
            assert_true(first >= at && first <= length);
            for (; at < first; at++)
                assert_true(strchr(" \t\r\n", text[at]) != NULL);
            at += (size_t)json_integer_value(json_array_get(tokens, k + 1));
            assert_int_not_equal(json_integer_value(json_array_get(tokens, k + 2)), LOOK_WRONG);
        }
        assert_int_equal(strspn(text + at, " \t\r\n"), length - at);
        json_decref(object);
        free(text);
    }
    globfree(&found);
}

/* -------- drafts -------- */

static char folder[FOLDER_PATH], home_path[128];
static Page page;
static HttpRequest request;

static void write_inside(const char *name, const char *text) {
    char path[192];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    file_write(path, text);
}

static int make_folder(void **state) {
    (void)state;
    char inside[128];
    folder_make(folder, "drafts");
    snprintf(inside, sizeof inside, "%s/home", folder);
    assert_int_equal(mkdir(inside, 0700), 0);
    snprintf(home_path, sizeof home_path, "%s/home/home.gloam", folder);
    write_inside("home/home.gloam", "routine glow { paint gold }\n");
    write_inside("home/tones.gloam", "let amber = #ff8800\n");
    write_inside("secret.gloam", "let amber = #ff8800\n");
    page = (Page){.home = home_path, .drafts = drafts_create()};
    return page.drafts ? 0 : -1;
}

static int remove_folder(void **state) {
    (void)state;
    drafts_free(&page);
    folder_remove(folder);
    return 0;
}

/* Asks; the answer is the caller's. */
static json_t *ask(Handler handler, json_t *body, const char *part, const char *routine) {
    request = (HttpRequest){.page = &page, .body = body};
    snprintf(request.parts[0], REQUEST_PART, "%s", part);
    if (routine) {
        request.query[0][0] = "routine";
        request.query[0][1] = routine;
    }
    handler(&request);
    json_decref(body);
    assert_true(request.answered);
    json_t *object = json_loadb(request.bytes, request.length, 0, NULL);
    assert_non_null(object);
    memory_release(request.bytes);
    return object;
}

static json_t *draft_of(const char *text, bool thorough) {
    json_t *object = ask(
        drafts_make, json_pack("{s:s, s:b}", "text", text, "thorough", (int)thorough), "", NULL);
    if (request.status != 200)
        fail_msg("status %u for %s", request.status, text);
    return object;
}

static bool says(const json_t *draft, const char *code) {
    const json_t *one;
    size_t i;
    json_array_foreach(member(draft, "diagnostics"), i,
                       one) if (strcmp(text_member(one, "code"), code) == 0) return true;
    return false;
}

static void a_right_text_is_held(void **state) {
    (void)state;
    json_t *draft = draft_of("routine shine { paint white }\nlamp a { pixels 3 }\n", false);
    char id[64];
    snprintf(id, sizeof id, "%s", text_member(draft, "draft"));
    assert_int_equal(strspn(id, "0123456789abcdef"), 16);
    assert_string_equal(text_member(json_array_get(member(draft, "routines"), 0), "name"), "shine");
    assert_int_equal(
        json_integer_value(member(json_array_get(member(draft, "lamps"), 0), "pixels")), 3);
    json_decref(draft);
    json_t *light = ask(drafts_light, NULL, id, "shine");
    assert_string_equal(text_member(light, "light"), "////////////"); /* 9 bytes of 255 */
    json_decref(light);
    json_decref(ask(drafts_light, NULL, id, "none"));
    assert_int_equal(request.status, 404);
    json_decref(ask(drafts_light, NULL, id, NULL));
    assert_int_equal(request.status, 400);
    json_decref(ask(drafts_light, NULL, "0123456789abcdef", "shine"));
    assert_int_equal(request.status, 404);
}

/* What `check` prints as JSON is what the page tells. */
static void diagnostics_are_those_of_check(void **state) {
    (void)state;
    static const char TEXT[] = "// \xf0\x9d\x84\x9e\nroutine a { paint gold * 5s }\nlet b = c\n"
                               "routine d { paint gld * 2 }\nat 20:00 play e\n";
    char *printed;
    size_t length;
    FILE *file = open_memstream(&printed, &length);
    TextReader one = {TEXT, sizeof TEXT - 1};
    LangReader reader = {text_reader_read, &one};
    Compilation *compilation = lang_compile(&reader, "home.gloam");
    assert_true(file && compilation);
    diagnostics_print_json(lang_diagnostics(compilation), file);
    assert_int_equal(fclose(file), 0);
    json_t *told = content_diagnostics(compilation);
    assert_true(json_array_size(told) >= 3);
    assert_json(told, printed);
    json_decref(told);
    free(printed);
    lang_free(compilation);
    json_t *draft = draft_of(TEXT, false);
    assert_null(json_object_get(draft, "draft"));
    assert_true(json_array_size(member(draft, "diagnostics")) >= 3);
    assert_true(json_array_size(member(draft, "tokens")) > 30);
    json_decref(draft);
}

static void only_the_folder_of_the_home_is_read(void **state) {
    (void)state;
    char command[256];
    json_t *draft =
        draft_of("use \"tones.gloam\" as tones\nroutine glow { paint tones.amber }\n", false);
    assert_non_null(json_object_get(draft, "draft"));
    json_decref(draft);
    snprintf(command, sizeof command, "ln -s ../secret.gloam %s/home/way.gloam", folder);
    assert_int_equal(system(command), 0);
    static const char *const OUTSIDE[] = {"../secret.gloam", "way.gloam", "/etc/passwd",
                                          "../home/../secret.gloam",
                                          "home.gloam/../../secret.gloam"};
    for (size_t i = 0; i < sizeof OUTSIDE / sizeof *OUTSIDE; i++) {
        char text[256];
        snprintf(text, sizeof text, "use \"%s\" as other\nroutine glow { paint other.amber }\n",
                 OUTSIDE[i]);
        draft = draft_of(text, false);
        if (json_object_get(draft, "draft"))
            fail_msg("%s was read", OUTSIDE[i]);
        char *said = json_dumps(draft, 0);
        assert_null(strstr(said, "root:"));
        free(said);
        json_decref(draft);
    }
}

static void sixteen_are_held(void **state) {
    (void)state;
    char ids[17][64];
    for (int i = 0; i < 17; i++) {
        json_t *draft = draft_of("routine glow { paint gold }\n", false);
        snprintf(ids[i], sizeof ids[i], "%s", text_member(draft, "draft"));
        json_decref(draft);
    }
    for (int i = 0; i < 17; i++) {
        json_decref(ask(drafts_light, NULL, ids[i], "glow"));
        assert_int_equal(request.status, i == 0 ? 404 : 200);
    }
}

/* Four mebibytes of text in all: of texts of a mebibyte, four. */
static void large_ones_push_others_out(void **state) {
    (void)state;
    size_t size = (1 << 20) - 64, used;
    char *text = memory_allocate(size + 64, 1), ids[6][64];
    assert_non_null(text);
    used = (size_t)sprintf(text, "routine glow { paint gold }\n");
    while (used < size)
        used += (size_t)sprintf(text + used, "// much is written here, and little is said by it\n");
    for (int i = 0; i < 6; i++) {
        json_t *draft = draft_of(text, false);
        snprintf(ids[i], sizeof ids[i], "%s", text_member(draft, "draft"));
        json_decref(draft);
    }
    for (int i = 0; i < 6; i++) {
        json_decref(ask(drafts_light, NULL, ids[i], "glow"));
        assert_int_equal(request.status, i < 2 ? 404 : 200);
    }
    memory_release(text);
}

/* Five flashes a second are too many (WCAG 2.2, 2.3.1: three). */
static void flashes_are_looked_for_when_asked(void **state) {
    (void)state;
    static const char TEXT[] = "lamp lantern { pixels 16 shape ring }\n"
                               "routine alarm { paint white where mod(t, 0.2s) < 0.1s }\n";
    json_t *draft = draft_of(TEXT, false);
    size_t before = json_array_size(member(draft, "diagnostics"));
    assert_null(json_object_get(draft, "cut"));
    json_decref(draft);
    draft = draft_of(TEXT, true);
    assert_true(json_array_size(member(draft, "diagnostics")) > before);
    assert_true(says(draft, "flashes-too-often"));
    assert_true(json_is_boolean(member(draft, "cut")));
    json_decref(draft);
    draft = draft_of("routine calm { paint white * 30% }\n", true);
    assert_true(!says(draft, "flashes-too-often") && json_is_false(member(draft, "cut")));
    json_decref(draft);
}

static void bodies_are_looked_at(void **state) {
    (void)state;
    json_decref(ask(drafts_make, json_object(), "", NULL));
    assert_int_equal(request.status, 400);
    json_decref(ask(drafts_make, json_pack("{s:i}", "text", 3), "", NULL));
    assert_int_equal(request.status, 400);
    json_decref(ask(drafts_make, json_pack("{s:s%}", "text", "a\0b", (size_t)3), "", NULL));
    assert_int_equal(request.status, 400);
    /* one byte more than a file may have */
    char *text = memory_allocate((1 << 20) + 2, 1);
    assert_non_null(text);
    memset(text, ' ', (1 << 20) + 1);
    json_decref(ask(drafts_make, json_pack("{s:s}", "text", text), "", NULL));
    assert_int_equal(request.status, 400);
    memory_release(text);
}

static void without_memory_nothing_is_lost(void **state) {
    (void)state;
    json_t *warm = draft_of("routine glow { paint gold }\n", true);
    json_decref(warm);
    drafts_free(&page);
    page.drafts = drafts_create();
    unsigned long before = memory_live(), at = 1;
    unsigned status = 0;
    for (; status != 200 && at < 3000; at++) {
        request = (HttpRequest){.page = &page};
        request.body =
            json_pack("{s:s, s:b}", "text", "routine glow { paint gold }\n", "thorough", 1);
        memory_fail_at(at);
        drafts_make(&request);
        memory_fail_at(0);
        status = request.status;
        assert_true(request.answered && (status == 200 || status == 503));
        json_decref(request.body);
        /* where nothing at all was left the answer is a text that lies ready */
        if (status == 200)
            memory_release(request.bytes);
        else if (memory_live() > before)
            memory_release(request.bytes);
        drafts_free(&page);
        page.drafts = drafts_create();
        assert_int_equal(memory_live(), before);
    }
    assert_int_equal(status, 200);
    printf("%lu allocations\n", at - 1);
    assert_true(at > 50);
}

#define WITH_FOLDER(test) cmocka_unit_test_setup_teardown(test, make_folder, remove_folder)

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_word_has_its_kind),
        cmocka_unit_test(places_are_utf_16),
        cmocka_unit_test(every_named_colour_is_one),
        cmocka_unit_test(tokens_leave_nothing_out),
        WITH_FOLDER(a_right_text_is_held),
        WITH_FOLDER(diagnostics_are_those_of_check),
        WITH_FOLDER(only_the_folder_of_the_home_is_read),
        WITH_FOLDER(sixteen_are_held),
        WITH_FOLDER(large_ones_push_others_out),
        WITH_FOLDER(flashes_are_looked_for_when_asked),
        WITH_FOLDER(bodies_are_looked_at),
        WITH_FOLDER(without_memory_nothing_is_lost),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
