/* What many ask for at once through the page is asked of the player once. The player is played
 * here. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cmocka.h>

#include "runtime/core/memory.h"
#include "runtime/service/page/acts.h"

enum { PHONES = 31 };

static Page page;
static HttpRequest requests[PHONES];
static int other;

static int begin(void **state) {
    (void)state;
    static const LinkEvents events = {NULL, NULL};
    int ends[2];
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends), 0);
    other = ends[0];
    page = (Page){.acts = acts_create(), .link = link_open(ends[1], &events, NULL)};
    assert_non_null(page.acts);
    assert_non_null(page.link);
    for (int i = 0; i < PHONES; i++)
        requests[i] = (HttpRequest){.page = &page};
    return 0;
}

static int end(void **state) {
    (void)state;
    for (int i = 0; i < PHONES; i++)
        memory_release(requests[i].bytes);
    link_close(page.link);
    acts_free(page.acts);
    close(other);
    return 0;
}

/* What the player has been asked since the last time. */
static void expect_asked(const char *wanted) {
    char lines[4096] = "";
    link_ready(page.link);
    (void)!recv(other, lines, sizeof lines - 1, MSG_DONTWAIT);
    if (strcmp(lines, wanted) != 0)
        fail_msg("expected the player to be asked `%s`, not `%s`", wanted, lines);
}

static void answer(const char *words) {
    assert_int_equal(send(other, words, strlen(words), MSG_NOSIGNAL), strlen(words));
    link_ready(page.link);
}

static void expect_answer(int first, int last, unsigned status, const char *words) {
    for (int i = first; i <= last; i++) {
        assert_true(requests[i].answered);
        assert_false(requests[i].later);
        assert_int_equal(requests[i].status, status);
        if (!strstr(requests[i].bytes, words))
            fail_msg("expected `%s` for request %d, not `%s`", words, i, requests[i].bytes);
    }
}

static void all_who_wait_share_one_question(void **state) {
    (void)state;
    acts_state(&requests[0]);
    expect_asked("status json\n");
    for (int i = 1; i < PHONES; i++)
        acts_state(&requests[i]);
    expect_asked("");
    /* Who came after the question gets what is so after it. */
    answer("done 12\n{\"taken\": 1}");
    expect_answer(0, 0, 200, "{\"taken\":1}");
    assert_false(requests[1].answered);
    expect_asked("status json\n");
    answer("done 12\n{\"taken\": 2}");
    expect_answer(1, PHONES - 1, 200, "{\"taken\":2}");
    expect_asked("");
}

static void a_player_that_is_gone_leaves_nobody_waiting(void **state) {
    (void)state;
    acts_state(&requests[0]);
    acts_state(&requests[1]);
    link_lose(page.link);
    acts_state(&requests[2]);
    expect_answer(0, 2, 503, "no-player");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(all_who_wait_share_one_question, begin, end),
        cmocka_unit_test_setup_teardown(a_player_that_is_gone_leaves_nobody_waiting, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
