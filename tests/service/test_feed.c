/* What is watched at the player: state and light as they change, the newest and not too often. A
 * player on a clock that the test moves, heard through the other end of its socket. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cmocka.h>

#include "runtime/light/encode.h"
#include "runtime/player/feed.h"
#include "runtime/player/socket.h"
#include "runtime/service/link/link.h"
#include "tests/support/house.h"

typedef struct Watched {
    House house;
    Caller caller;
    Feed feed;
    Link *link;
    int64_t now; /* of the feed */
    int states, lights;
    char state[65536];
    uint8_t light[3 * FEED_PIXELS];
    size_t light_length;
} Watched;

static void on_state(void *context, const char *json, size_t length) {
    Watched *watched = context;
    assert_in_range(length, 1, sizeof watched->state - 1);
    memcpy(watched->state, json, length + 1);
    watched->states++;
}

static void on_light(void *context, uint32_t lamp, const uint8_t *rgb, size_t length) {
    Watched *watched = context;
    assert_int_equal(lamp, 0);
    assert_in_range(length, 1, sizeof watched->light);
    memcpy(watched->light, rgb, length);
    watched->light_length = length;
    watched->lights++;
}

static void deaf(void *context, uint32_t events) {
    (void)context;
    (void)events;
}

static void watched_start(Watched *watched, const char *text, int64_t utc, const char *words) {
    static const LinkEvents events = {on_state, on_light};
    int ends[2];
    char said[256];
    *watched = (Watched){0};
    house_start(&watched->house, text, utc);
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, ends), 0);
    assert_true(caller_begin(&watched->caller, watched->house.loop, ends[0], deaf, watched));
    watched->link = link_open(ends[1], &events, watched);
    assert_non_null(watched->link);
    assert_true(feed_watch(&watched->feed, watched->house.player, words, said, sizeof said));
}

static void watched_end(Watched *watched) {
    caller_end(&watched->caller);
    link_close(watched->link);
    house_end(&watched->house);
}

/* One turn of the feed; what has come is heard. */
static int64_t turn(Watched *watched) {
    int64_t due = feed_turn(&watched->feed, &watched->caller, watched->house.player, watched->now);
    link_ready(watched->link);
    return due;
}

static void assert_says(const Watched *watched, const char *words) {
    if (!strstr(watched->state, words))
        fail_msg("expected the state to say `%s`: %.2000s", words, watched->state);
}

static void state_comes_at_once_and_with_each_act(void **unused) {
    (void)unused;
    Watched watched;
    char said[256];
    watched_start(&watched, BAKER, MIDNIGHT - 2 * HOUR, "state");
    turn(&watched);
    assert_int_equal(watched.states, 1);
    assert_says(&watched, "\"plays\": \"nightlight\"");
    for (int i = 0; i < 10; i++)
        turn(&watched);
    assert_int_equal(watched.states, 1); /* nothing has changed */
    watched.now += FEED_STATE_EVERY;
    assert_true(player_act(watched.house.player, "play daybreak for 30min", said, sizeof said));
    turn(&watched);
    assert_int_equal(watched.states, 2);
    assert_says(&watched, "\"plays\": \"daybreak\"");
    assert_says(&watched, "daybreak for 30min");
    watched_end(&watched);
}

static void many_changes_are_told_as_one(void **unused) {
    (void)unused;
    Watched watched;
    char said[256];
    watched_start(&watched, BAKER, MIDNIGHT - 2 * HOUR, "state");
    turn(&watched);
    for (int i = 0; i < 20; i++) {
        assert_true(
            player_act(watched.house.player, i % 2 ? "level 40" : "level 60", said, sizeof said));
        watched.now += FEED_STATE_EVERY / 40;
        int64_t due = turn(&watched);
        assert_true(due <= FEED_STATE_EVERY); /* it asks to be called again by then */
    }
    assert_int_equal(watched.states, 1);
    watched.now = FEED_STATE_EVERY;
    turn(&watched);
    assert_int_equal(watched.states, 2);
    assert_says(&watched, "\"lightness\": 40");
    watched_end(&watched);
}

/* The end of an act and the next entry come by themselves: the feed says when to ask. 22:00 in
 * Bristol in winter is 22:00 UTC. */
static void what_time_changes_is_told(void **unused) {
    (void)unused;
    Watched watched;
    char said[256];
    watched_start(&watched, BAKER, MIDNIGHT - 2 * HOUR, "state");
    assert_true(player_act(watched.house.player, "play daybreak for 10min", said, sizeof said));
    int64_t due = turn(&watched);
    assert_true(due <= watched.now + 10 * MINUTE);
    house_wait(&watched.house, 10 * MINUTE);
    watched.now += 10 * MINUTE;
    turn(&watched);
    assert_int_equal(watched.states, 2);
    assert_says(&watched, "\"plays\": \"nightlight\"");
    watched_end(&watched);
}

static void light_is_what_preview_would_show(void **unused) {
    (void)unused;
    Watched watched;
    ScreenTable table;
    uint8_t bytes[3 * 16];
    uint32_t pixels;
    watched_start(&watched, BAKER, MIDNIGHT - 5 * HOUR, "light on lamp lantern");
    encode_screen_table(&table);
    house_wait(&watched.house, 40 * MINUTE); /* dusk moves */
    turn(&watched);
    assert_int_equal(watched.lights, 1);
    assert_int_equal(watched.light_length, sizeof bytes);
    const float *light = lamp_player_light(player_lamp(watched.house.player, 0), &pixels);
    assert_int_equal(pixels, 16);
    encode_screen(&table, light, 16, bytes);
    assert_memory_equal(watched.light, bytes, sizeof bytes);
    /* 60 frames a second are worked out, 15 are told. */
    for (int i = 0; i < 60; i++) {
        watched.now += SECOND / 60;
        house_wait(&watched.house, SECOND / 60);
        turn(&watched);
    }
    assert_in_range(watched.lights, 14, 17);
    watched_end(&watched);
}

static void a_still_light_is_told_once(void **unused) {
    (void)unused;
    Watched watched;
    watched_start(&watched, BAKER, MIDNIGHT, "light");
    turn(&watched);
    for (int i = 0; i < 60; i++) {
        watched.now += MINUTE;
        house_wait(&watched.house, MINUTE);
        assert_true(turn(&watched) == FEED_NEVER);
    }
    assert_int_equal(watched.lights, 1);
    watched_end(&watched);
}

/* Who does not listen gets the newest when he does, and costs no memory. */
static void a_deaf_watcher_misses_frames_and_nothing_else(void **unused) {
    (void)unused;
    Watched watched;
    uint8_t bytes[3 * 16];
    uint32_t pixels;
    ScreenTable table;
    int size = 1;
    watched_start(&watched, BAKER, MIDNIGHT - 5 * HOUR, "light at 30");
    setsockopt(watched.caller.descriptor, SOL_SOCKET, SO_SNDBUF, &size, sizeof size);
    house_wait(&watched.house, 35 * MINUTE);
    for (int i = 0; i < 2000; i++) {
        watched.now += SECOND / 30;
        house_wait(&watched.house, SECOND / 30);
        feed_turn(&watched.feed, &watched.caller, watched.house.player, watched.now);
        assert_false(watched.caller.lost);
        assert_true(watched.caller.waiting < 1024);
    }
    for (int i = 0; i < 100 && watched.caller.waiting; i++) {
        link_ready(watched.link);
        caller_send(&watched.caller);
    }
    watched.now += SECOND;
    turn(&watched);
    encode_screen_table(&table);
    encode_screen(&table, lamp_player_light(player_lamp(watched.house.player, 0), &pixels), 16,
                  bytes);
    assert_memory_equal(watched.light, bytes, sizeof bytes);
    assert_true(watched.lights < 1000);
    watched_end(&watched);
}

static void what_cannot_be_watched_is_said(void **unused) {
    (void)unused;
    static const char *const WRONG[] = {"",
                                        "everything",
                                        "light on lamp nowhere",
                                        "light at 0",
                                        "light at 31",
                                        "light at",
                                        "light on lantern",
                                        "lights",
                                        "light at 10 at",
                                        "light at 1x",
                                        "light at -1",
                                        "light at 4294967297",
                                        "light on lamp",
                                        "state now"};
    Watched watched;
    char said[256];
    watched_start(&watched, BAKER, MIDNIGHT, "state");
    for (size_t i = 0; i < sizeof WRONG / sizeof *WRONG; i++) {
        if (feed_watch(&watched.feed, watched.house.player, WRONG[i], said, sizeof said))
            fail_msg("`watch %s`: expected to be refused", WRONG[i]);
        assert_true(*said);
    }
    assert_true(feed_watch(&watched.feed, watched.house.player, "nothing", said, sizeof said));
    turn(&watched);
    assert_int_equal(watched.states, 0);
    watched_end(&watched);
}

/* -------- through the socket -------- */

static char heard[1024];

static void on_answer(void *token, bool done, const char *text, size_t length) {
    (void)length;
    snprintf(heard, sizeof heard, "%s %s: %.900s", (const char *)token, done ? "done" : "refused",
             text);
}

static void socket_listen(Watched *watched, PlayerSocket *socket) {
    while (loop_wait(watched->house.loop, 0))
        player_turn(watched->house.player);
    socket_turn(socket);
    link_ready(watched->link);
}

static void a_home_is_read_when_asked(void **unused) {
    (void)unused;
    static const LinkEvents events = {on_state, on_light};
    Watched watched = {0};
    int ends[2];
    char said[256];
    house_start(&watched.house, BAKER, MIDNIGHT);
    PlayerSocket *socket =
        socket_open(NULL, watched.house.loop, watched.house.player, said, sizeof said);
    assert_non_null(socket);
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, ends), 0);
    assert_true(socket_adopt(socket, ends[0]));
    watched.link = link_open(ends[1], &events, &watched);
    static const struct {
        const char *line, *home, *wanted;
    } STEPS[] = {
        {"reload",
         "lamp lantern { pixels 16 shape ring }\nroutine glow { paint gold * 5% }\n"
         "at 20:00 play glow\n",
         "reload done"},
        {"reload", "lamp lantern { pixels 16\n", "reload refused"},
        {"page http://lantern.local\177[2J", NULL, "page http://lantern.local\177[2J done"},
        {"page http://lantern.local now", NULL,
         "page http://lantern.local now refused: page ADDRESS"},
        {"watch light on lamp \177[2J", NULL,
         "watch light on lamp \177[2J refused: no lamp `?[2J` is driven"},
        {"page http://lantern.local:8080/", NULL, "page http://lantern.local:8080/ done"},
        {"\twatch \t state ", NULL, "\twatch \t state  done"},
        {" page\thttp://lantern.local:8080/ ", NULL, " page\thttp://lantern.local:8080/  done"},
        {" try\tend", NULL, " try\tend refused: nothing is tried"},
        {"watched", NULL, "watched refused: there is no request `watched`: play, level, "},
        {"tryend", NULL, "tryend refused: there is no request `tryend`: "},
    };
    for (size_t i = 0; i < sizeof STEPS / sizeof *STEPS; i++) {
        if (STEPS[i].home)
            house_write(&watched.house, STEPS[i].home);
        assert_true(link_ask(watched.link, STEPS[i].line, on_answer, (void *)STEPS[i].line));
        link_ready(watched.link);
        socket_listen(&watched, socket);
        if (strncmp(heard, STEPS[i].wanted, strlen(STEPS[i].wanted)) != 0)
            fail_msg("expected `%s`, not `%s`", STEPS[i].wanted, heard);
    }
    assert_int_equal(watched.states, 1);
    assert_says(&watched, "\"taken\": 2");
    assert_says(&watched, "home.gloam:1:14: "); /* the brace that nobody closes */
    assert_says(&watched, "\"page\": \"http://lantern.local:8080/\"");
    /* Another watches; the page goes, and so does its address. */
    Link *page = watched.link;
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, ends), 0);
    assert_true(socket_adopt(socket, ends[0]));
    watched.link = link_open(ends[1], &events, &watched);
    assert_true(link_ask(watched.link, "watch state", on_answer, "watch state"));
    link_ready(watched.link);
    socket_listen(&watched, socket);
    assert_says(&watched, "\"page\": \"http://lantern.local:8080/\"");
    link_close(page);
    socket_listen(&watched, socket);
    usleep(110000); /* ten in a second at most, by the system's clock */
    socket_listen(&watched, socket);
    assert_says(&watched, "\"page\": null");
    assert_int_equal(watched.states, 3);
    link_close(watched.link);
    socket_close(socket);
    house_end(&watched.house);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(state_comes_at_once_and_with_each_act),
        cmocka_unit_test(many_changes_are_told_as_one),
        cmocka_unit_test(what_time_changes_is_told),
        cmocka_unit_test(light_is_what_preview_would_show),
        cmocka_unit_test(a_still_light_is_told_once),
        cmocka_unit_test(a_deaf_watcher_misses_frames_and_nothing_else),
        cmocka_unit_test(what_cannot_be_watched_is_said),
        cmocka_unit_test(a_home_is_read_when_asked),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
