/* The player's socket: what is asked and answered, and callers that mean no good. */
#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#include "runtime/player/request.h"
#include "runtime/player/socket.h"
#include "tests/support/house.h"

typedef struct Door {
    House house;
    char path[96];
    PlayerSocket *socket;
} Door;

static void door_start(Door *door) {
    char said[256] = "";
    house_start(&door->house, BAKER, MIDNIGHT - 2 * HOUR);
    snprintf(door->path, sizeof door->path, "%s/socket", door->house.folder);
    door->socket = socket_open(door->path, door->house.loop, door->house.player, said, sizeof said);
    if (!door->socket)
        fail_msg("%s", said);
}

static void door_end(Door *door) {
    socket_close(door->socket);
    assert_int_equal(access(door->path, F_OK), -1);
    house_end(&door->house);
}

static void door_turn(Door *door) {
    while (loop_wait(door->house.loop, 0)) {
        player_turn(door->house.player);
        socket_turn(door->socket);
    }
}

static int door_call(const Door *door) {
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    memcpy(address.sun_path, door->path, strlen(door->path) + 1);
    int caller = socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK, 0);
    assert_int_equal(connect(caller, (struct sockaddr *)&address, sizeof address), 0);
    return caller;
}

static char answer[65536];

/* What the player answers to these bytes. */
static const char *door_ask(Door *door, int caller, const char *bytes, size_t length) {
    assert_int_equal(send(caller, bytes, length, MSG_NOSIGNAL), length);
    door_turn(door);
    ssize_t got = recv(caller, answer, sizeof answer - 1, 0);
    answer[got > 0 ? got : 0] = '\0';
    return answer;
}

static const char *door_line(Door *door, int caller, const char *line) {
    return door_ask(door, caller, line, strlen(line));
}

static bool is_gone(int caller) {
    char one;
    return recv(caller, &one, 1, 0) == 0;
}

/* The head tells the bytes that follow. */
static void assert_whole(const char *text, const char *word) {
    char form[32];
    size_t length = 0;
    snprintf(form, sizeof form, "%s %%zu\n", word);
    if (sscanf(text, form, &length) != 1)
        fail_msg("not %s: %s", word, text);
    assert_int_equal(strlen(strchr(text, '\n') + 1), length);
}

static void test_acts_and_status(void **unused) {
    (void)unused;
    Door door;
    door_start(&door);
    struct stat about;
    assert_int_equal(stat(door.path, &about), 0);
    assert_int_equal(about.st_mode & 0777, 0660);
    int caller = door_call(&door);
    assert_whole(door_line(&door, caller, "status\n"), "done");
    assert_non_null(strstr(answer, "lantern: nightlight"));
    assert_non_null(strstr(answer, "wakes "));
    assert_whole(door_line(&door, caller, "play daybreak for 30min\n"), "done");
    assert_int_equal(player_overrides(door.house.player)->count, 1);
    assert_whole(door_line(&door, caller, "play nothing_like_it\n"), "refused");
    assert_int_equal(player_overrides(door.house.player)->count, 1);
    assert_whole(door_line(&door, caller, "report rung\n"), "done");
    assert_int_equal(player_overrides(door.house.player)->running_count, 1);
    assert_whole(door_line(&door, caller, "status json\n"), "done");
    assert_non_null(strstr(answer, "\"player\": {"));
    assert_non_null(strstr(answer, "\"wakes_by_cause\""));
    assert_whole(door_line(&door, caller, "\tstatus \r\n"), "done");
    assert_whole(door_line(&door, caller, " status  json \n"), "done");
    assert_int_equal(*(strchr(answer, '\n') + 1), '{');
    assert_whole(door_line(&door, caller, "status jsonx\n"), "refused");
    assert_whole(door_line(&door, caller, "statusjson\n"), "refused");
    /* Two lines at once, and one that comes in pieces. */
    const char *two = door_line(&door, caller, "undo\nundo\n");
    assert_non_null(strstr(two, "done"));
    assert_non_null(strstr(two, "refused"));
    assert_string_equal(door_line(&door, caller, "sta"), "");
    assert_whole(door_line(&door, caller, "tus\n"), "done");
    assert_true(player_counts(door.house.player)->by_cause[WAKE_REQUEST] >= 4);
    close(caller);
    door_turn(&door);
    door_end(&door);
}

static void test_what_is_no_line(void **unused) {
    (void)unused;
    Door door;
    door_start(&door);
    int caller = door_call(&door);
    assert_whole(door_ask(&door, caller, "\n", 1), "refused");
    assert_whole(door_ask(&door, caller, "\0\xff\n", 3), "refused");
    char longest[REQUEST_BYTES];
    memset(longest, 'x', sizeof longest);
    longest[sizeof longest - 1] = '\n';
    assert_whole(door_ask(&door, caller, longest, sizeof longest), "refused");
    longest[sizeof longest - 1] = 'x';
    assert_whole(door_ask(&door, caller, longest, sizeof longest), "refused");
    assert_non_null(strstr(answer, "too long"));
    assert_true(is_gone(caller));
    close(caller);
    /* It listens on. */
    caller = door_call(&door);
    assert_whole(door_line(&door, caller, "status\n"), "done");
    close(caller);
    door_turn(&door);
    door_end(&door);
}

/* What is answered is on the disk by then. */
static void test_an_answer_comes_after_the_state(void **unused) {
    (void)unused;
    Door door;
    door_start(&door);
    int caller = door_call(&door);
    static const char act[] = "level 30 for 5h\n";
    assert_int_equal(send(caller, act, sizeof act - 1, MSG_NOSIGNAL), sizeof act - 1);
    /* What others do in a folder on the way to the home wakes the player too. */
    while (access(door.house.state, F_OK) != 0 && loop_wait(door.house.loop, 0)) {
        assert_int_equal(recv(caller, answer, sizeof answer, 0), -1);
        assert_int_equal(access(door.house.state, F_OK), -1);
        player_turn(door.house.player);
        assert_int_equal(recv(caller, answer, sizeof answer, 0), -1);
    }
    char *state = file_read(door.house.state, NULL);
    assert_non_null(strstr(state, "level"));
    free(state);
    socket_turn(door.socket);
    assert_true(recv(caller, answer, sizeof answer, 0) > 0);
    assert_int_equal(strncmp(answer, "done ", 5), 0);
    close(caller);
    door_turn(&door);
    door_end(&door);
}

static void test_too_much(void **unused) {
    (void)unused;
    Door door;
    door_start(&door);
    int callers[SOCKET_CALLERS + 1];
    for (int i = 0; i <= SOCKET_CALLERS; i++) {
        callers[i] = door_call(&door);
        door_turn(&door);
    }
    assert_true(is_gone(callers[0])); /* the first had to go */
    assert_whole(door_line(&door, callers[1], "status\n"), "done");
    int done = 0, refused = 0;
    for (int i = 0; i < 4 * SOCKET_ACTS; i++) {
        const char *said = door_line(&door, callers[SOCKET_CALLERS], "level 50 for 1h\n");
        done += strncmp(said, "done", 4) == 0;
        refused += strstr(said, "too much at once") != NULL;
    }
    /* All within a second or two, and no more than 64 levels at a time anyway. */
    assert_true(done > 0 && done <= 2 * SOCKET_ACTS);
    assert_true(refused > 0);
    for (int i = 0; i <= SOCKET_CALLERS; i++)
        close(callers[i]);
    door_turn(&door);
    door_end(&door);
}

/* Where the system gives no descriptors, who knocks waits, and the player sleeps. */
static void test_a_caller_for_whom_there_is_no_room_waits_in_silence(void **unused) {
    (void)unused;
    Door door;
    struct rlimit before, full;
    door_start(&door);
    int first = door_call(&door);
    door_turn(&door);
    int second = door_call(&door), free_one = dup(second);
    close(free_one);
    assert_int_equal(getrlimit(RLIMIT_NOFILE, &before), 0);
    full = (struct rlimit){(rlim_t)free_one, before.rlim_max};
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &full), 0);
    for (int i = 0; i < 2; i++) {
        int heard = 0;
        while (heard < 100 && loop_wait(door.house.loop, 0)) {
            player_turn(door.house.player);
            socket_turn(door.socket);
            heard++;
        }
        assert_true(heard < 100);
        if (i == 0) /* a second later it is asked again, in vain */
            loop_wait(door.house.loop, 2000);
        socket_turn(door.socket);
    }
    /* Who leaves makes room. */
    close(first);
    assert_whole(door_line(&door, second, "status\n"), "done");
    /* So does the machine, which is found out by itself. */
    int third = door_call(&door);
    assert_string_equal(door_line(&door, third, "status\n"), "");
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &before), 0);
    ssize_t got = -1;
    for (int i = 0; i < 1000 && got < 0; i++) {
        loop_wait(door.house.loop, 100);
        socket_turn(door.socket);
        got = recv(third, answer, sizeof answer - 1, 0);
    }
    answer[got > 0 ? got : 0] = '\0';
    assert_whole(answer, "done");
    close(second);
    close(third);
    door_turn(&door);
    door_end(&door);
}

/* A home whose state has so many dials with a label of a kilobyte each. */
static char *long_home(int dials) {
    size_t size = 4096 + (size_t)dials * 1200, used = 0;
    char *text = malloc(size), label[1001];
    memset(label, 'x', sizeof label - 1);
    label[sizeof label - 1] = '\0';
    used += (size_t)snprintf(text, size,
                             "lamp lantern { pixels 16 shape ring }\n"
                             "routine dusk { paint gold }\nat 19:30 play dusk\n");
    for (int i = 0; i < dials; i++)
        used += (size_t)snprintf(text + used, size - used,
                                 "dial d%d = 50%% from 0%% to 100%% \"%s\"\n", i, label);
    return text;
}

/* All that a caller hears, up to so many answers: how many of them are `done` and whole objects. */
static int hear_objects(Door *door, int caller, int answers) {
    static char heard[4 << 20];
    size_t used = 0, at = 0;
    int done = 0, idle = 0;
    while (done < answers && idle < 1000) {
        door_turn(door);
        ssize_t got = recv(caller, heard + used, sizeof heard - used, 0);
        if (got == 0)
            break;
        idle = got < 0 ? idle + 1 : 0;
        used += got > 0 ? (size_t)got : 0;
        size_t length;
        char *end = memchr(heard, '\n', used);
        if (!end || sscanf(heard, "done %zu", &length) != 1)
            continue;
        at = (size_t)(end + 1 - heard) + length;
        if (used < at)
            continue;
        done += end[1] == '{' && strncmp(heard + at - 2, "}\n", 2) == 0;
        used -= at;
        memmove(heard, heard + at, used);
    }
    return done;
}

/* A page asks for all its visitors at once; the state of a large home is larger than what 768 kB
 * would hold of their answers, and than 256 kB by itself. */
static void test_many_lines_at_once_are_answered_in_their_turn(void **unused) {
    (void)unused;
    Door door = {0};
    char said[256] = "", lines[85 * 12 + 1] = "";
    char *home = long_home(256);
    house_start(&door.house, home, MIDNIGHT);
    free(home);
    door.socket = socket_open(NULL, door.house.loop, door.house.player, said, sizeof said);
    int ends[2];
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK, 0, ends), 0);
    assert_true(socket_adopt(door.socket, ends[0]));
    for (int i = 0; i < 85; i++)
        memcpy(lines + (size_t)i * 12, "status json\n", 13);
    for (int times = 0; times < 2; times++) {
        assert_int_equal(send(ends[1], lines, 85 * 12, MSG_NOSIGNAL), 85 * 12);
        assert_int_equal(hear_objects(&door, ends[1], 85), 85);
    }
    /* Whoever goes before he has heard them all is gone. */
    assert_int_equal(send(ends[1], lines, 85 * 12, MSG_NOSIGNAL), 85 * 12);
    door_turn(&door);
    close(ends[1]);
    door_turn(&door);
    assert_int_equal(fcntl(ends[0], F_GETFD), -1);
    socket_close(door.socket);
    house_end(&door.house);
}

static void test_one_player_at_a_place(void **unused) {
    (void)unused;
    Door door;
    char said[256] = "";
    door_start(&door);
    assert_null(socket_open(door.path, door.house.loop, door.house.player, said, sizeof said));
    assert_non_null(strstr(said, "another player"));
    door_turn(&door);
    socket_close(door.socket);
    /* What a player that was killed has left is replaced, what is no socket is not. */
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    memcpy(address.sun_path, door.path, strlen(door.path) + 1);
    int left = socket(AF_UNIX, SOCK_STREAM, 0);
    assert_int_equal(bind(left, (struct sockaddr *)&address, sizeof address), 0);
    close(left);
    door.socket = socket_open(door.path, door.house.loop, door.house.player, said, sizeof said);
    assert_non_null(door.socket);
    assert_null(
        socket_open(door.house.home, door.house.loop, door.house.player, said, sizeof said));
    assert_int_equal(access(door.house.home, F_OK), 0);
    door_end(&door);
}

static void test_the_other_end(void **unused) {
    (void)unused;
    Door door;
    char *text;
    door_start(&door);
    pid_t child = fork();
    if (child == 0) {
        SocketAsked asked = socket_ask(door.path, "level 50 for 1h", &text);
        _exit(asked == SOCKET_DONE && strstr(text, "level 50") ? 7 : 8);
    }
    int status = 0;
    for (int i = 0; i < 3000 && waitpid(child, &status, WNOHANG) == 0; i++)
        if (loop_wait(door.house.loop, 10)) {
            player_turn(door.house.player);
            socket_turn(door.socket);
        }
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 7);
    assert_int_equal(player_overrides(door.house.player)->count, 1);
    door_end(&door);
    assert_int_equal(socket_ask("/nowhere/at/all", "status", &text), SOCKET_NOBODY);
    assert_null(text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_acts_and_status),
        cmocka_unit_test(test_what_is_no_line),
        cmocka_unit_test(test_an_answer_comes_after_the_state),
        cmocka_unit_test(test_too_much),
        cmocka_unit_test(test_a_caller_for_whom_there_is_no_room_waits_in_silence),
        cmocka_unit_test(test_many_lines_at_once_are_answered_in_their_turn),
        cmocka_unit_test(test_one_player_at_a_place),
        cmocka_unit_test(test_the_other_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
