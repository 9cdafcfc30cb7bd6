/* The player with a clock that the test moves: what wakes it, what it shows, and that it goes on.
 * Counts of frames are worked out by hand from spec/timetable.md beside each. */
#include <errno.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <cmocka.h>

#include "tests/support/house.h"

/* -------- what wakes it -------- */

static void test_the_watchdog_is_told_also_when_nothing_is_due(void **unused) {
    (void)unused;
    House house;
    house_make(&house, BAKER, MIDNIGHT - 2 * HOUR);
    PlayerRequest request = house_request(&house);
    request.watchdog = 120 * SECOND;
    assert_int_equal(player_create(&request, &house.clock, house.loop, &house.player),
                     PLAYER_STARTED);
    player_turn(house.player);
    house_wait(&house, HOUR);
    /* Every 60 s from the start on, the last of them at the end, which is left out. */
    assert_int_equal(woken(&house, WAKE_WATCHDOG), 59);
    assert_int_equal(wakes(&house), 59);
    house_end(&house);
}

static void test_a_service_manager_is_told(void **unused) {
    (void)unused;
    House house;
    house_make(&house, BAKER, MIDNIGHT - 2 * HOUR);
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    snprintf(address.sun_path, sizeof address.sun_path, "%s/notify", house.folder);
    int in = socket(AF_UNIX, SOCK_DGRAM | SOCK_NONBLOCK, 0);
    assert_int_equal(bind(in, (struct sockaddr *)&address, sizeof address), 0);
    PlayerRequest request = house_request(&house);
    request.watchdog = 120 * SECOND;
    request.notify = address.sun_path;
    assert_int_equal(player_create(&request, &house.clock, house.loop, &house.player),
                     PLAYER_STARTED);
    player_turn(house.player);
    char text[128] = "";
    assert_true(recv(in, text, sizeof text - 1, 0) > 0);
    assert_non_null(strstr(text, "plays on 1 lamp"));
    memset(text, 0, sizeof text);
    assert_int_equal(recv(in, text, sizeof text - 1, 0), 10);
    assert_string_equal(text, "WATCHDOG=1");
    house_wait(&house, 59 * SECOND);
    assert_int_equal(recv(in, text, sizeof text - 1, 0), -1);
    house_wait(&house, 2 * SECOND);
    assert_int_equal(recv(in, text, sizeof text - 1, 0), 10);
    player_signal(house.player, SIGHUP);
    player_turn(house.player);
    memset(text, 0, sizeof text);
    assert_true(recv(in, text, sizeof text - 1, 0) > 0);
    char wanted[96];
    snprintf(wanted, sizeof wanted, "RELOADING=1\nMONOTONIC_USEC=%lld",
             (long long)house.fake.now.monotonic);
    assert_string_equal(text, wanted);
    memset(text, 0, sizeof text);
    assert_true(recv(in, text, sizeof text - 1, 0) > 0);
    assert_int_equal(strncmp(text, "STATUS=", 7), 0);
    assert_non_null(strstr(text, "is taken"));
    memset(text, 0, sizeof text);
    assert_true(recv(in, text, sizeof text - 1, 0) > 0);
    assert_string_equal(text, "READY=1");
    close(in);
    house_end(&house);
}

static void test_repaint_sends_a_still_frame_again(void **unused) {
    (void)unused;
    House house;
    house_start(&house,
                "lamp lantern { pixels 16 shape ring repaint 1min }\n"
                "routine nightlight { paint #ff3a00 * 2% }\n"
                "at 19:30 play nightlight\n",
                MIDNIGHT - 2 * HOUR);
    house_wait(&house, HOUR);
    assert_int_equal(counts(&house)->repeated, 59);
    assert_int_equal(woken(&house, WAKE_REPAINT), 59);
    assert_int_equal(wakes(&house), 59);
    assert_int_equal(counts(&house)->rendered, 1);
    house_end(&house);
}

static void test_dithering_in_time_between_frames(void **unused) {
    (void)unused;
    House house;
    house_make(&house,
               "lamp lantern { pixels 16 shape ring chip ws2812b dither time }\n"
               "routine rise lasts 10s { paint white * (0 -> 10% throughout) }\n"
               "at 00:00 play rise\n",
               MIDNIGHT + SECOND);
    PlayerRequest request = house_request(&house);
    request.instead.wire = true;
    assert_int_equal(player_create(&request, &house.clock, house.loop, &house.player),
                     PLAYER_STARTED);
    player_turn(house.player);
    house_wait(&house, SECOND);
    /* The wire: 16 * 24 bits of 1.25 us and 300 us of rest are 780 us, 1282.05 a second, but the
     * chip shows 400 (its sheet: more than 400 Hz): 0.8 * 400 / 60 = 5.33 parts of each frame. */
    assert_int_equal(counts(&house)->rendered, 60);
    assert_int_equal(counts(&house)->between, 4 * 60);
    assert_int_equal(wire.frames, 5 * 60);
    house_wait(&house, 9 * SECOND);
    uint64_t between = counts(&house)->between;
    house_wait(&house, MINUTE);
    assert_int_equal(counts(&house)->between, between); /* none on a light that rests */
    house_end(&house);
}

static void test_a_slow_wire_has_fewer_frames(void **unused) {
    (void)unused;
    House house;
    house_make(&house,
               "lamp lantern { pixels 16 shape ring chip apa102 clock 20kHz }\n"
               "routine rise lasts 10s { paint white * (0 -> 10% throughout) }\n"
               "at 00:00 play rise\n",
               MIDNIGHT + SECOND);
    PlayerRequest request = house_request(&house);
    request.instead.wire = true;
    PlayerStart start = player_create(&request, &house.clock, house.loop, &house.player);
    if (start != PLAYER_STARTED)
        fail_msg("%s", house.said);
    player_turn(house.player);
    house_wait(&house, SECOND);
    /* 16 * 32.5 + 64 = 584 bits: 34.2 frames a second. */
    assert_int_equal(counts(&house)->rendered, 35);
    house_end(&house);
}

static void test_a_change_between_two_places_of_the_raster(void **unused) {
    (void)unused;
    static const char text[] = "lamp lantern { pixels 16 shape ring }\n"
                               "routine sea { paint teal * 20% }\n"
                               "routine ruby { paint red * 20% }\n"
                               "at 00:00 play sea\n"
                               "at 03:00 play ruby fading 0s\n";
    House house;
    house_start(&house, text, MIDNIGHT + 2 * HOUR + 5000);
    house_wait(&house, 2 * HOUR);
    /* One at the start and one at the first place after 03:00, 5 ms minus n / 60 s. */
    assert_int_equal(counts(&house)->rendered, 2);
    assert_int_equal(wire.number, 60 * 3600);
    assert_shows(text, MIDNIGHT + 4 * HOUR);
    house_end(&house);
}

static void test_what_the_guard_holds_back_follows(void **unused) {
    (void)unused;
    /* Wherever between two flashes it ends, the last frame is not lost though it was held back. */
    for (int end = 1000; end < 1400; end += 20) {
        House house;
        char text[512], said[256];
        uint8_t before_it[WIRE_BYTES];
        snprintf(text, sizeof text,
                 "lamp lantern { pixels 16 shape ring }\n"
                 "event rung\n"
                 "routine strobe { paint white | black every 200ms }\n"
                 "routine grey { paint white * 40%% }\n"
                 "at 00:00 play grey\n"
                 "when rung play strobe for %dms fading 0s\n",
                 end);
        house_start(&house, text, MIDNIGHT);
        memcpy(before_it, wire.bytes, sizeof before_it);
        house_wait(&house, MINUTE);
        if (!player_act(house.player, "report rung", said, sizeof said))
            fail_msg("%s", said);
        player_turn(house.player);
        house_wait(&house, 5 * SECOND);
        assert_true(counts(&house)->held > 0);
        assert_memory_equal(wire.bytes, before_it, WIRE_BYTES);
        uint64_t before = wakes(&house);
        house_wait(&house, HOUR);
        assert_int_equal(wakes(&house), before);
        house_end(&house);
    }
}

static void test_late_frames_are_dropped(void **unused) {
    (void)unused;
    House house;
    house_start(&house, BAKER, MIDNIGHT + 2 * HOUR + 45 * MINUTE);
    house_wait(&house, SECOND);
    uint64_t rendered = counts(&house)->rendered;
    assert_int_equal(rendered, 60);
    assert_int_equal(wire.number, 59);
    clock_fake_advance(&house.fake,
                       SECOND / 10); /* frame 60 is due at its beginning, 66 at its end */
    player_turn(house.player);
    assert_int_equal(counts(&house)->rendered, rendered + 1);
    assert_int_equal(wire.number, 66);
    assert_int_equal(counts(&house)->dropped, 6);
    assert_int_equal(counts(&house)->late, 1);
    house_wait(&house, SECOND);
    assert_int_equal(counts(&house)->late, 1);
    house_end(&house);
}

/* -------- the clock -------- */

static void test_the_clock_is_set_forward_and_back(void **unused) {
    (void)unused;
    House house;
    int64_t dawn = MIDNIGHT + 2 * HOUR + 55 * MINUTE;
    house_start(&house, BAKER, MIDNIGHT - 2 * HOUR);
    house_wait(&house, MINUTE);
    clock_fake_set(&house.fake, dawn);
    player_turn(house.player);
    assert_int_equal(woken(&house, WAKE_CLOCK), 1);
    assert_int_equal(player_counts(house.player)->steps, 1);
    assert_non_null(strstr(house.said, "it showed 2026-11-24 22:01:00, now 2026-11-25 02:55:00"));
    /* The light as it was is where the fade begins. */
    house_wait(&house, SECOND / 60);
    assert_shows(BAKER, MIDNIGHT - 2 * HOUR);
    house_wait(&house, 2 * SECOND);
    assert_true(counts(&house)->rendered > 60);
    assert_shows(BAKER, dawn + (int64_t)(wire.number * SECOND / 60) - MINUTE);
    clock_fake_set(&house.fake, MIDNIGHT - HOUR);
    player_turn(house.player);
    house_wait(&house, 2 * SECOND);
    assert_shows(BAKER, MIDNIGHT - HOUR);
    uint64_t before = wakes(&house);
    house_wait(&house, HOUR);
    assert_int_equal(wakes(&house), before);
    house_end(&house);
}

static void test_suspend_is_no_step(void **unused) {
    (void)unused;
    House house;
    house_start(&house, BAKER, MIDNIGHT - 2 * HOUR);
    house_wait(&house, MINUTE);
    clock_fake_suspend(&house.fake, 4 * HOUR + 49 * MINUTE);
    player_turn(house.player);
    assert_int_equal(player_counts(house.player)->steps, 0);
    assert_int_equal(woken(&house, WAKE_CLOCK), 1);
    house_wait(&house, SECOND);
    uint8_t night[WIRE_BYTES];
    shown_at(BAKER, MIDNIGHT, night);
    assert_memory_not_equal(wire.bytes, night, WIRE_BYTES);
    house_end(&house);
}

static void test_trust_comes_late(void **unused) {
    (void)unused;
    House house;
    int64_t bright = MIDNIGHT + 3 * HOUR + 5 * MINUTE;
    house_make(&house, BAKER, bright);
    house.fake.signs.synchronised = false;
    house_play(&house);
    assert_shows(BAKER, MIDNIGHT); /* the night light of `until clock is set` */
    house_wait(&house, 10 * MINUTE);
    assert_int_equal(counts(&house)->rendered, 1);
    assert_int_equal(woken(&house, WAKE_TRUST), 9); /* once a minute */
    assert_int_equal(wakes(&house), 9);
    house.fake.signs.synchronised = true;
    house_wait(&house, MINUTE);
    assert_non_null(strstr(house.said, "the clock is set"));
    assert_true(counts(&house)->rendered > 55 && counts(&house)->rendered < 65);
    assert_shows(BAKER, bright + 11 * MINUTE);
    uint64_t before = wakes(&house);
    house_wait(&house, 30 * MINUTE);
    assert_int_equal(wakes(&house), before);
    house_end(&house);
}

/* Nobody ever sets the clock: the night light goes on, or, where the owner said so, the timetable
 * plays once the machine has run long enough, with a cross-fade. */
static void test_trust_that_never_comes(void **unused) {
    (void)unused;
    for (int waits = 0; waits < 2; waits++) {
        House house;
        int64_t bright = MIDNIGHT + 3 * HOUR + 5 * MINUTE;
        house_make(&house, BAKER, bright);
        house.fake.signs.synchronised = false;
        PlayerRequest request = house_request(&house);
        request.trust_after = waits ? clock_now(&house.clock).boottime + 10 * MINUTE : 0;
        assert_int_equal(player_create(&request, &house.clock, house.loop, &house.player),
                         PLAYER_STARTED);
        player_turn(house.player);
        assert_shows(BAKER, MIDNIGHT);
        house_wait(&house, 9 * MINUTE);
        assert_shows(BAKER, MIDNIGHT);
        house_wait(&house, 2 * MINUTE);
        assert_shows(BAKER, waits ? bright + 11 * MINUTE : MIDNIGHT);
        house_end(&house);
    }
}

static void test_trust_lasts_as_long_as_the_boot(void **unused) {
    (void)unused;
    House house;
    house_make(&house, BAKER, MIDNIGHT + 3 * HOUR + 5 * MINUTE);
    snprintf(house.fake.signs.boot, sizeof house.fake.signs.boot, "first");
    house_play(&house);
    uint8_t bright[WIRE_BYTES];
    memcpy(bright, wire.bytes, sizeof bright);
    player_free(house.player);
    /* The kernel has forgotten it meanwhile; a player that is started again has not. */
    house.fake.signs.synchronised = false;
    house_play(&house);
    assert_memory_equal(wire.bytes, bright, WIRE_BYTES);
    player_free(house.player);
    snprintf(house.fake.signs.boot, sizeof house.fake.signs.boot, "second");
    house_play(&house);
    assert_memory_not_equal(wire.bytes, bright, WIRE_BYTES);
    house_end(&house);
}

static void test_the_machine_gets_another_zone(void **unused) {
    (void)unused;
    static const char text[] = "lamp lantern { pixels 16 shape ring }\n"
                               "routine sea { paint teal * 20% }\n"
                               "routine ruby { paint red * 20% }\n"
                               "at 00:00 play ruby\n"
                               "at 03:00 play sea\n";
    House house;
    house_make(&house, text, MIDNIGHT + 2 * HOUR + 5 * MINUTE);
    char link_path[128], fresh[128];
    snprintf(link_path, sizeof link_path, "%s/localtime", house.folder);
    snprintf(fresh, sizeof fresh, "%s/fresh", house.folder);
    assert_int_equal(symlink("/usr/share/zoneinfo/Europe/London", link_path), 0);
    ZoneFolders folders = {zone_folders_system.database, link_path};
    PlayerRequest request = house_request(&house);
    request.folders = &folders;
    request.variable = NULL;
    assert_int_equal(player_create(&request, &house.clock, house.loop, &house.player),
                     PLAYER_STARTED);
    player_turn(house.player);
    uint8_t ruby[WIRE_BYTES];
    memcpy(ruby, wire.bytes, sizeof ruby);
    house_wait(&house, MINUTE);
    assert_int_equal(symlink("/usr/share/zoneinfo/Europe/Berlin", fresh), 0);
    assert_int_equal(rename(fresh, link_path), 0);
    /* Whoever asks before the turn that tells the lamps finds the new zone, not the one let go. */
    while (loop_wait(house.loop, 0))
        ;
    assert_status(&house, "\"plays\": \"sea\"", true); /* 02:06 in London, 03:06 in Berlin */
    player_turn(house.player);
    house_wait(&house, 2 * SECOND);
    /* The kernel may tell of the new file and of its renaming at once or one by one. */
    assert_in_range(woken(&house, WAKE_ZONE), 1, 2);
    assert_non_null(strstr(house.said, "time zone has changed"));
    assert_memory_not_equal(wire.bytes, ruby, WIRE_BYTES);
    assert_shows(text, MIDNIGHT + 3 * HOUR + MINUTE);
    house_end(&house);
}

/* -------- files -------- */

#define OTHER                                                                                      \
    "lamp lantern { pixels 16 shape ring }\n"                                                      \
    "routine sea { paint teal * 20% }\n"                                                           \
    "at 12:00 play sea\n"

static void test_a_changed_file_is_taken_with_a_fade(void **unused) {
    (void)unused;
    House house;
    house_start(&house, BAKER, MIDNIGHT - 2 * HOUR);
    house_wait(&house, MINUTE);
    house_write(&house, OTHER);
    house_wait(&house, 100000);
    assert_int_equal(player_counts(house.player)->reloads, 0);
    house_wait(&house, 2 * SECOND);
    assert_int_equal(player_counts(house.player)->reloads, 1);
    assert_non_null(strstr(house.said, "is taken"));
    assert_int_equal(wire.opened, 1); /* the port stays open */
    assert_true(counts(&house)->rendered > 60 && counts(&house)->rendered < 70);
    assert_shows(OTHER, MIDNIGHT - 2 * HOUR);
    uint64_t before = wakes(&house);
    house_wait(&house, HOUR);
    assert_int_equal(wakes(&house), before);
    house_end(&house);
}

static void test_files_that_are_used_are_watched_too(void **unused) {
    (void)unused;
    House house;
    House part = {0}; /* for its path only */
    house_start(&house, BAKER, MIDNIGHT - 2 * HOUR);
    snprintf(part.home, sizeof part.home, "%s/part.gloam", house.folder);
    house_write(&house, "use \"part.gloam\"\nlamp lantern { pixels 16 shape ring }\n"
                        "at 12:00 play sea\n");
    house_wait(&house, MINUTE);
    assert_int_equal(player_counts(house.player)->refused, 1); /* it is not there yet */
    house_write(&part, "routine sea { paint teal }\n");
    house_wait(&house, MINUTE);
    assert_int_equal(player_counts(house.player)->reloads, 1);
    house_write(&part, "routine sea { paint teal * 20% }\n");
    house_wait(&house, MINUTE);
    assert_int_equal(player_counts(house.player)->reloads, 2);
    assert_shows(OTHER, MIDNIGHT - 2 * HOUR);
    /* What is used no more is not looked at. */
    house_write(&house, OTHER);
    house_wait(&house, MINUTE);
    assert_int_equal(player_counts(house.player)->reloads, 3);
    house_write(&part, "nonsense");
    house_wait(&house, MINUTE);
    assert_int_equal(player_counts(house.player)->refused, 1);
    house_end(&house);
}

static void test_a_wrong_file_is_not_taken(void **unused) {
    (void)unused;
    House house;
    house_start(&house, BAKER, MIDNIGHT - 2 * HOUR);
    house_write(&house, "lamp lantern { pixels");
    house_wait(&house, MINUTE);
    assert_int_equal(player_counts(house.player)->refused, 1);
    assert_non_null(strstr(house.said, "what played goes on"));
    assert_int_equal(counts(&house)->rendered, 1);
    /* Two lamps at one output are wrong as well. */
    house_write(&house, "lamp a { pixels 16 } lamp b { pixels 16 } routine r { paint red }");
    house_wait(&house, MINUTE);
    assert_int_equal(player_counts(house.player)->refused, 2);
    house_write(&house, OTHER);
    house_wait(&house, MINUTE);
    assert_int_equal(player_counts(house.player)->reloads, 1);
    assert_shows(OTHER, MIDNIGHT - 2 * HOUR);
    house_end(&house);
}

static void test_a_wrong_file_at_the_start(void **unused) {
    (void)unused;
    House house;
    house_start(&house, BAKER, MIDNIGHT - 2 * HOUR);
    player_free(house.player);
    house.player = NULL;
    house_write(&house, "nonsense");
    house_play(&house);
    assert_non_null(strstr(house.said, "its copy that was right before plays"));
    assert_shows(BAKER, MIDNIGHT - 2 * HOUR);
    house_write(&house, OTHER);
    house_wait(&house, MINUTE);
    assert_int_equal(player_counts(house.player)->reloads, 1);
    player_free(house.player);
    house.player = NULL;
    /* Without a copy there is nothing to play. */
    house_write(&house, "nonsense");
    char copy[128];
    snprintf(copy, sizeof copy, "%s.accepted", house.state);
    assert_int_equal(unlink(copy), 0);
    PlayerRequest request = house_request(&house);
    assert_int_equal(player_create(&request, &house.clock, house.loop, &house.player),
                     PLAYER_WRONG);
    assert_null(house.player);
    house_end(&house);
}

/* Homes may share a state, as all of one user do: a copy plays for its own home alone. */
static void test_a_wrong_file_never_plays_the_copy_of_another_home(void **unused) {
    (void)unused;
    House house;
    char other[128];
    house_start(&house, BAKER, MIDNIGHT - 2 * HOUR);
    player_free(house.player);
    house.player = NULL;
    snprintf(other, sizeof other, "%s/other.gloam", house.folder);
    PlayerRequest request = house_request(&house);
    request.path = other;
    /* Not there, and wrong. */
    for (int i = 0; i < 2; i++) {
        assert_int_equal(player_create(&request, &house.clock, house.loop, &house.player),
                         PLAYER_WRONG);
        assert_null(strstr(house.said, "its copy"));
        file_write(other, "nonsense");
    }
    /* The home is known by its name, as long as it is wrong and where it is not there, and by
     * another name where that leads to the same file. */
    assert_int_equal(unlink(other), 0);
    assert_int_equal(symlink("home.gloam", other), 0);
    house_write(&house, "nonsense");
    assert_int_equal(player_create(&request, &house.clock, house.loop, &house.player),
                     PLAYER_STARTED);
    player_free(house.player);
    house.player = NULL;
    assert_int_equal(unlink(house.home), 0);
    request.path = "home.gloam"; /* beginning at the folder of the request */
    assert_int_equal(player_create(&request, &house.clock, house.loop, &house.player),
                     PLAYER_STARTED);
    player_turn(house.player);
    assert_shows(BAKER, MIDNIGHT - 2 * HOUR);
    house_end(&house);
}

static void test_sighup_reloads_and_sigterm_ends(void **unused) {
    (void)unused;
    House house;
    house_start(&house, BAKER, MIDNIGHT - 2 * HOUR);
    player_signal(house.player, SIGHUP);
    player_turn(house.player);
    assert_int_equal(player_counts(house.player)->reloads, 1);
    assert_int_equal(woken(&house, WAKE_SIGNAL), 1);
    assert_int_equal(player_ended(house.player), PLAYER_GOES_ON);
    player_signal(house.player, SIGTERM);
    player_turn(house.player);
    assert_int_equal(player_ended(house.player), PLAYER_ASKED);
    assert_int_equal(wire.closed, 0);
    player_free(house.player);
    house.player = NULL;
    assert_int_equal(wire.closed, 1);
    house_end(&house);
}

/* -------- ports -------- */

static void test_a_port_that_goes_and_comes_back(void **unused) {
    (void)unused;
    House house;
    house_start(&house, BAKER, MIDNIGHT + 2 * HOUR + 45 * MINUTE);
    house_wait(&house, SECOND);
    wire.broken = true;
    uint64_t before = wakes(&house);
    unsigned opened = wire.opened;
    house_wait(&house, 10 * MINUTE);
    assert_non_null(strstr(house.said, "the wire is gone; it is waited for"));
    assert_int_equal(counts(&house)->rendered, 61);
    /* After 0.1 s, then twice as long each time up to 60 s: 0.1 + 0.2 + ... + 51.2 = 102.3 s are 10
     * tries, and 497.7 s are 8 more. No wake beyond these and that of the frame that failed. */
    assert_int_equal(wire.opened - opened, 18);
    assert_int_equal(wakes(&house) - before, 19);
    wire.broken = false;
    house_wait(&house, 61 * SECOND);
    assert_non_null(strstr(house.said, "is there again"));
    assert_true(counts(&house)->rendered > 61);
    house_end(&house);
}

static void test_a_port_that_is_not_waited_for(void **unused) {
    (void)unused;
    House house;
    house_make(&house, BAKER, MIDNIGHT);
    PlayerRequest request = house_request(&house);
    request.waits = false;
    wire.broken = true;
    assert_int_equal(player_create(&request, &house.clock, house.loop, &house.player),
                     PLAYER_STARTED);
    player_turn(house.player);
    assert_int_equal(player_ended(house.player), PLAYER_NO_PORT);
    assert_non_null(strstr(house.said, "no wire"));
    house_end(&house);
}

static void test_a_busy_port_gets_the_last_frame_all_the_same(void **unused) {
    (void)unused;
    House house;
    house_make(&house, BAKER, MIDNIGHT);
    wire.busy = 3;
    house_play(&house);
    house_wait(&house, MINUTE);
    assert_int_equal(counts(&house)->dropped, 3);
    assert_int_equal(counts(&house)->shown, 1);
    assert_int_equal(wire.frames, 1);
    assert_int_equal(wakes(&house), 3);
    house_end(&house);
}

/* -------- acts and the state -------- */

static void test_acts_are_kept_and_end(void **unused) {
    (void)unused;
    House house;
    char said[256];
    house_start(&house, BAKER, MIDNIGHT - 2 * HOUR);
    assert_false(player_act(house.player, "play nothing_like_it", said, sizeof said));
    assert_int_equal(player_counts(house.player)->saves, 0);
    assert_true(player_act(house.player, "play daybreak for 30min", said, sizeof said));
    player_turn(house.player);
    assert_int_equal(woken(&house, WAKE_REQUEST), 1);
    assert_int_equal(player_counts(house.player)->saves, 1);
    house_wait(&house, 10 * MINUTE);
    /* A player that is ended and started goes on where it was. */
    uint8_t before[WIRE_BYTES];
    memcpy(before, wire.bytes, sizeof before);
    int64_t back = (int64_t)(wire.number * SECOND / 60);
    player_free(house.player);
    house.player = NULL;
    (void)back;
    house_play(&house);
    assert_int_equal(player_overrides(house.player)->count, 1);
    int most = 0;
    for (int i = 0; i < WIRE_BYTES; i++)
        most = abs(wire.bytes[i] - before[i]) > most ? abs(wire.bytes[i] - before[i]) : most;
    assert_true(most <= 1); /* a sixtieth of a second later */
    house_wait(&house, 21 * MINUTE);
    assert_int_equal(player_overrides(house.player)->count, 0);
    assert_int_equal(player_counts(house.player)->saves, 1); /* that it ended */
    assert_shows(BAKER, MIDNIGHT);
    house_end(&house);
}

static bool disk_full;

static ssize_t full_write(int file, const void *bytes, size_t length) {
    errno = ENOSPC;
    return disk_full ? -1 : write(file, bytes, length);
}

/* On a disk that is full while `disk_full`. */
static void house_start_on(House *house, StateDisk *disk) {
    disk->write = full_write;
    house_make(house, BAKER, MIDNIGHT - 2 * HOUR);
    PlayerRequest request = house_request(house);
    request.disk = disk;
    disk_full = false;
    assert_int_equal(player_create(&request, &house->clock, house->loop, &house->player),
                     PLAYER_STARTED);
    player_turn(house->player);
}

static void test_a_state_that_cannot_be_written(void **unused) {
    (void)unused;
    House house;
    StateDisk disk = state_disk;
    char said[256];
    house_start_on(&house, &disk);
    disk_full = true;
    assert_true(player_act(house.player, "level 30 for 5h", said, sizeof said));
    player_turn(house.player);
    assert_non_null(strstr(house.said, "No space left on device"));
    house.said[0] = '\0';
    /* Tried again once a minute, told once. */
    house_wait(&house, 10 * MINUTE);
    assert_int_equal(player_counts(house.player)->lost, 1 + 9);
    assert_int_equal(woken(&house, WAKE_STATE), 9);
    assert_string_equal(house.said, "");
    disk_full = false;
    house_wait(&house, MINUTE);
    assert_non_null(strstr(house.said, "is written again"));
    assert_int_equal(player_counts(house.player)->saves, 1);
    uint64_t before = wakes(&house);
    house_wait(&house, 10 * MINUTE);
    assert_int_equal(wakes(&house), before);
    house_end(&house);
}

/* The page knows the home by its copy: where that is of another, the state says so. */
static void test_a_copy_that_cannot_be_written(void **unused) {
    (void)unused;
    House house;
    StateDisk disk = state_disk;
    house_start_on(&house, &disk);
    assert_status(&house, "\"kept\": true", true);
    disk_full = true;
    house_write(&house, OTHER);
    house_wait(&house, MINUTE);
    assert_int_equal(player_counts(house.player)->reloads, 1);
    assert_status(&house, "\"taken\": 2", true);
    assert_status(&house, "\"kept\": false", true);
    assert_non_null(strstr(house.said, "no copy of the file is kept"));
    /* Tried again once a minute, told once. */
    house.said[0] = '\0';
    house_wait(&house, 10 * MINUTE);
    assert_string_equal(house.said, "");
    uint64_t version = player_version(house.player);
    disk_full = false;
    house_wait(&house, MINUTE);
    assert_status(&house, "\"kept\": true", true);
    assert_true(player_version(house.player) > version);
    char copy[128];
    snprintf(copy, sizeof copy, "%s.accepted is written again", house.state);
    assert_non_null(strstr(house.said, copy));
    uint64_t before = wakes(&house);
    house_wait(&house, 10 * MINUTE);
    assert_int_equal(wakes(&house), before);
    house_end(&house);
}

static void test_a_length_is_exact_over_sets_and_sleep(void **unused) {
    (void)unused;
    House house;
    char said[256];
    house_make(&house, BAKER, MIDNIGHT - 2 * HOUR);
    snprintf(house.fake.signs.boot, sizeof house.fake.signs.boot, "first");
    house.fake.signs.synchronised = false;
    house_play(&house);
    assert_true(player_act(house.player, "play off for 30min", said, sizeof said));
    player_turn(house.player);
    house_wait(&house, 10 * MINUTE);
    house.fake.signs.synchronised = true;
    clock_fake_set(&house.fake, MIDNIGHT + 5 * HOUR); /* 10 of 30 minutes have gone by */
    player_turn(house.player);
    house_wait(&house, 5 * MINUTE);
    clock_fake_suspend(&house.fake, 5 * MINUTE);
    player_turn(house.player);
    assert_int_equal(player_overrides(house.player)->count, 1);
    /* The machine starts again; 5 of the last 10 minutes go by meanwhile. */
    player_free(house.player);
    clock_fake_advance(&house.fake, 5 * MINUTE);
    house.fake.now.monotonic = house.fake.now.boottime = MINUTE;
    snprintf(house.fake.signs.boot, sizeof house.fake.signs.boot, "second");
    house_play(&house);
    assert_int_equal(player_overrides(house.player)->count, 1);
    house_wait(&house, 4 * MINUTE);
    clock_fake_suspend(&house.fake, MINUTE / 2);
    player_turn(house.player);
    assert_int_equal(player_overrides(house.player)->count, 1);
    house_wait(&house, MINUTE / 2 + SECOND);
    assert_int_equal(player_overrides(house.player)->count, 0);
    house_end(&house);
}

static void test_what_moves_allocates_nothing(void **unused) {
    (void)unused;
    House house;
    house_start(&house, BAKER, MIDNIGHT + 2 * HOUR + 41 * MINUTE);
    house_wait(&house, MINUTE);
    unsigned long before = memory_count();
    house_wait(&house, 20 * MINUTE);
    assert_int_equal(memory_count(), before);
    house_end(&house);
}

/* -------- without memory -------- */

static void test_an_act_without_memory_is_shown_later(void **unused) {
    (void)unused;
    House house;
    char said[256];
    int refused = 0, late = 0, done = 0;
    uint8_t dark[WIRE_BYTES] = {0};
    house_start(&house, BAKER, MIDNIGHT);
    for (unsigned long n = 1; done < 3; n++) {
        assert_true(n < 1000);
        house.said[0] = '\0';
        memory_fail_at(n);
        bool took = player_act(house.player, "play off for 1h", said, sizeof said);
        player_turn(house.player);
        memory_fail_at(0);
        bool unseen = strstr(house.said, "is not shown yet") != NULL;
        refused += !took;
        late += took && unseen;
        done += took && !*house.said;
        house_wait(&house, 4 * SECOND);
        assert_int_equal(memcmp(wire.bytes, dark, WIRE_BYTES) == 0, took);
        if (took)
            assert_true(player_act(house.player, "undo", said, sizeof said));
        player_turn(house.player);
        house_wait(&house, 62 * SECOND); /* until the state was written again, too */
    }
    assert_true(refused > 0 && late > 0);
    house_end(&house);
}

static void test_a_start_without_memory(void **unused) {
    (void)unused;
    House house;
    house_make(&house, OTHER, MIDNIGHT);
    PlayerRequest request = house_request(&house);
    unsigned long before = memory_live(), n = 0;
    PlayerStart start = PLAYER_MACHINE;
    while (start != PLAYER_STARTED && n < 5000) {
        memory_fail_at(++n);
        start = player_create(&request, &house.clock, house.loop, &house.player);
        memory_fail_at(0);
        if (start != PLAYER_STARTED) {
            assert_int_equal(start, PLAYER_MACHINE);
            assert_null(house.player);
        } else if (memory_live() > before && strstr(house.said, "no copy of the file")) {
            /* Started, but for what it can do without: more has to be refused. */
            player_free(house.player);
            house.player = NULL;
            start = PLAYER_MACHINE;
        }
        house.said[0] = '\0';
        if (start != PLAYER_STARTED && memory_live() > before + 1) /* the loop's list stays */
            fail_msg("%lu blocks are left at allocation %lu", memory_live() - before, n);
    }
    assert_int_equal(start, PLAYER_STARTED);
    assert_true(n > 100);
    player_turn(house.player);
    assert_int_equal(wire.frames, 1);
    house_end(&house);
}

static void test_a_change_without_memory(void **unused) {
    (void)unused;
    House house;
    house_start(&house, BAKER, MIDNIGHT - 2 * HOUR);
    house_write(&house, OTHER);
    for (unsigned long n = 1; player_counts(house.player)->reloads == 0; n += 7) {
        assert_true(n < 20000);
        memory_fail_at(n);
        player_signal(house.player, SIGHUP);
        player_turn(house.player);
        memory_fail_at(0);
        assert_int_equal(player_ended(house.player), PLAYER_GOES_ON);
        house.said[0] = '\0';
    }
    assert_true(player_counts(house.player)->refused > 10);
    house_wait(&house, 3 * SECOND);
    assert_shows(OTHER, MIDNIGHT - 2 * HOUR);
    house_end(&house);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_the_watchdog_is_told_also_when_nothing_is_due),
        cmocka_unit_test(test_a_service_manager_is_told),
        cmocka_unit_test(test_repaint_sends_a_still_frame_again),
        cmocka_unit_test(test_dithering_in_time_between_frames),
        cmocka_unit_test(test_a_slow_wire_has_fewer_frames),
        cmocka_unit_test(test_a_change_between_two_places_of_the_raster),
        cmocka_unit_test(test_what_the_guard_holds_back_follows),
        cmocka_unit_test(test_late_frames_are_dropped),
        cmocka_unit_test(test_the_clock_is_set_forward_and_back),
        cmocka_unit_test(test_suspend_is_no_step),
        cmocka_unit_test(test_trust_comes_late),
        cmocka_unit_test(test_trust_that_never_comes),
        cmocka_unit_test(test_trust_lasts_as_long_as_the_boot),
        cmocka_unit_test(test_the_machine_gets_another_zone),
        cmocka_unit_test(test_a_changed_file_is_taken_with_a_fade),
        cmocka_unit_test(test_files_that_are_used_are_watched_too),
        cmocka_unit_test(test_a_wrong_file_is_not_taken),
        cmocka_unit_test(test_a_wrong_file_at_the_start),
        cmocka_unit_test(test_a_wrong_file_never_plays_the_copy_of_another_home),
        cmocka_unit_test(test_sighup_reloads_and_sigterm_ends),
        cmocka_unit_test(test_a_port_that_goes_and_comes_back),
        cmocka_unit_test(test_a_port_that_is_not_waited_for),
        cmocka_unit_test(test_a_busy_port_gets_the_last_frame_all_the_same),
        cmocka_unit_test(test_acts_are_kept_and_end),
        cmocka_unit_test(test_a_state_that_cannot_be_written),
        cmocka_unit_test(test_a_copy_that_cannot_be_written),
        cmocka_unit_test(test_a_length_is_exact_over_sets_and_sleep),
        cmocka_unit_test(test_what_moves_allocates_nothing),
        cmocka_unit_test(test_an_act_without_memory_is_shown_later),
        cmocka_unit_test(test_a_start_without_memory),
        cmocka_unit_test(test_a_change_without_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
