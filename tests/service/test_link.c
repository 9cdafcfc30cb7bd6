/* The player's socket from the other end: messages in pieces, answers in order, a player that goes
 * or talks nonsense. The other side is played here, byte by byte. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cmocka.h>

#include "runtime/core/memory.h"
#include "runtime/service/link/link.h"

static char heard[4096];
static int other;

static void note(const char *format, ...) {
    va_list arguments;
    size_t used = strlen(heard);
    va_start(arguments, format);
    vsnprintf(heard + used, sizeof heard - used, format, arguments);
    va_end(arguments);
}

static void on_state(void *context, const char *json, size_t length) {
    (void)context;
    assert_int_equal(strlen(json), length);
    note("state %s;", json);
}

static void on_light(void *context, uint32_t lamp, const uint8_t *rgb, size_t length) {
    (void)context;
    note("light %u", lamp);
    for (size_t i = 0; i < length; i++)
        note(" %u", rgb[i]);
    note(";");
}

static void on_answer(void *token, bool done, const char *text, size_t length) {
    assert_int_equal(strlen(text), length);
    note("%s %s %s;", (const char *)token, done ? "done" : "refused", text);
}

static Link *open_link(void) {
    static const LinkEvents events = {on_state, on_light};
    int ends[2];
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends), 0);
    other = ends[0];
    *heard = '\0';
    Link *link = link_open(ends[1], &events, NULL);
    assert_non_null(link);
    return link;
}

static void say(const char *bytes, size_t length) {
    assert_int_equal(send(other, bytes, length, MSG_NOSIGNAL), length);
}

static void expect(const char *wanted) {
    if (strcmp(heard, wanted) != 0)
        fail_msg("expected to hear `%s`, not `%s`", wanted, heard);
}

static void answers_come_in_order(void **state) {
    (void)state;
    char line[64];
    Link *link = open_link();
    assert_true(link_ask(link, "level 40", on_answer, "a"));
    assert_true(link_ask(link, "undo", on_answer, "b"));
    assert_true(link_wants_write(link));
    link_ready(link);
    assert_false(link_wants_write(link));
    assert_int_equal(recv(other, line, sizeof line, 0), 14);
    assert_memory_equal(line, "level 40\nundo\n", 14);
    say("done 5\nlevelrefused 2\nno", 24);
    link_ready(link);
    expect("a done level;b refused no;");
    link_close(link);
    close(other);
}

static void messages_come_between_in_pieces(void **state) {
    (void)state;
    static const char all[] = "state 2\n{}light 1 6\n\001\002\003\n\0\377done 0\nstate 3\n[1]";
    for (size_t piece = 1; piece < sizeof all; piece++) {
        Link *link = open_link();
        assert_true(link_ask(link, "watch state", on_answer, "w"));
        for (size_t i = 0; i < sizeof all - 1; i += piece) {
            size_t left = sizeof all - 1 - i;
            say(all + i, left < piece ? left : piece);
            link_ready(link);
        }
        expect("state {};light 1 1 2 3 10 0 255;w done ;state [1];");
        link_close(link);
        close(other);
    }
}

static void a_player_that_goes_answers_nothing_more(void **state) {
    (void)state;
    Link *link = open_link();
    assert_true(link_ask(link, "undo", on_answer, "a"));
    assert_true(link_ask(link, "skip", NULL, NULL));
    close(other);
    link_ready(link);
    expect("a refused the player is gone;");
    assert_int_equal(link_descriptor(link), -1);
    assert_false(link_ask(link, "undo", on_answer, "a"));
    link_ready(link);
    expect("a refused the player is gone;");
    link_close(link);
}

static void nonsense_ends_the_link(void **state) {
    (void)state;
    static const char *const WRONG[] = {
        "done 1\nx",
        "what 3\nabc",
        "done x\n",
        "\n",
        "state 99999999\n",
        "light 1\n",
        "state -1\n",
        "01234567890123456789012345678901234567890123456789012345678901234567890"};
    for (size_t i = 0; i < sizeof WRONG / sizeof *WRONG; i++) {
        Link *link = open_link();
        say(WRONG[i], strlen(WRONG[i]));
        link_ready(link);
        if (link_descriptor(link) >= 0 || *heard)
            fail_msg("expected `%s` to end the link and nothing to be heard, not `%s`", WRONG[i],
                     heard);
        link_close(link);
        close(other);
    }
}

static void no_line_holds_another(void **state) {
    (void)state;
    Link *link = open_link();
    assert_false(link_ask(link, "level 40\nundo", on_answer, "a"));
    link_close(link);
    close(other);
}

/* A player that does not read: questions end, memory does not. */
static void questions_are_bounded(void **state) {
    (void)state;
    char line[1000];
    memset(line, 'x', sizeof line - 1);
    line[sizeof line - 1] = '\0';
    Link *link = open_link();
    int asked = 0;
    while (link_ask(link, line, on_answer, "a")) {
        link_ready(link);
        asked++;
        assert_in_range(asked, 1, 1000);
    }
    assert_in_range(asked, 100, 1000);
    link_close(link);
    close(other);
}

static void memory_that_runs_out_ends_the_link(void **state) {
    (void)state;
    /* What is heard where the question, where the answer, and where nothing finds no memory. */
    static const char *const HEARD[] = {"", "a refused the player is gone;", "state {};"};
    for (unsigned long n = 1; n < 4; n++) {
        Link *link = open_link();
        memory_fail_at(n);
        bool asked = link_ask(link, "undo", on_answer, "a");
        say("state 2\n{}", 10);
        link_ready(link);
        memory_fail_at(0);
        assert_int_equal(asked, n > 1);
        expect(HEARD[n - 1]);
        assert_int_equal(link_descriptor(link) >= 0, n == 3);
        link_close(link);
        close(other);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(answers_come_in_order),
        cmocka_unit_test(messages_come_between_in_pieces),
        cmocka_unit_test(a_player_that_goes_answers_nothing_more),
        cmocka_unit_test(nonsense_ends_the_link),
        cmocka_unit_test(no_line_holds_another),
        cmocka_unit_test(questions_are_bounded),
        cmocka_unit_test(memory_that_runs_out_ends_the_link),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
