/* The baker's home in a folder of its own, on a clock that a test moves, with a port that a test
 * can break: a player from end to end without waiting. */
#ifndef GLOAM_TESTS_SUPPORT_HOUSE_H
#define GLOAM_TESTS_SUPPORT_HOUSE_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "runtime/core/memory.h"
#include "runtime/player/clock_fake.h"
#include "runtime/player/player.h"
#include "tests/support/folder.h"

#define SECOND INT64_C(1000000)
#define MINUTE (60 * SECOND)
#define HOUR (60 * MINUTE)
#define DAY (24 * HOUR)

/* 2026-11-25, a Wednesday, 00:00: Bristol keeps Greenwich time in winter. Seconds by date(1). */
#define MIDNIGHT (1795564800 * SECOND)

#define BAKER                                                                                      \
    "place 51.45, -2.59 zone \"Europe/London\"\n"                                                  \
    "lamp lantern { pixels 16 shape ring }\n"                                                      \
    "routine daybreak lasts 30min { paint black -> 2700K throughout }\n"                           \
    "routine dusk lasts 40min then nightlight { paint 2700K * 60% -> #ff3a00 * 2% throughout }\n"  \
    "routine nightlight { paint #ff3a00 * 2% }\n"                                                  \
    "event rung\n"                                                                                 \
    "by 03:10 on tue..sat play daybreak\n"                                                         \
    "at 04:00 play off fading 2min\n"                                                              \
    "at 19:30 play dusk\n"                                                                         \
    "between 21:00 and 02:30 keep level under 10%\n"                                               \
    "when rung play daybreak for 10s\n"                                                            \
    "until clock is set play nightlight\n"

/* -------- a lamp's port -------- */

enum { WIRE_BYTES = 16 * 3 };

typedef struct Wire {
    bool broken; /* opening and frames fail */
    int busy;    /* so many frames are not taken */
    unsigned opened, closed, frames;
    uint64_t number; /* of the last frame */
    uint8_t bytes[WIRE_BYTES];
} Wire;
static Wire wire;
static const BackendKind wire_kind;

static inline Backend *wire_open(const BackendOptions *options, BackendError *error) {
    static Backend backend;
    assert_int_equal(options->pixels, 16);
    wire.opened++;
    snprintf(error->sentence, sizeof error->sentence, "no wire");
    backend.kind = &wire_kind;
    return wire.broken ? NULL : &backend;
}

static inline BackendResult wire_frame(Backend *backend, const BackendFrame *frame,
                                       BackendError *error) {
    (void)backend;
    snprintf(error->sentence, sizeof error->sentence, "the wire is gone");
    if (wire.broken)
        return BACKEND_FAILED;
    if (wire.busy > 0) {
        wire.busy--;
        return BACKEND_BUSY;
    }
    wire.frames++;
    wire.number = frame->number;
    memcpy(wire.bytes, frame->bytes, sizeof wire.bytes);
    return BACKEND_FINE;
}

static inline BackendResult wire_close(Backend *backend, BackendError *error) {
    (void)backend;
    (void)error;
    wire.closed++;
    return BACKEND_FINE;
}

static const BackendKind wire_kind = {
    .name = "wire", .open = wire_open, .frame = wire_frame, .close = wire_close};

/* -------- a home on a clock -------- */

typedef struct House {
    char folder[FOLDER_PATH], home[96], state[96];
    ClockFake fake;
    Clock clock;
    Loop *loop;
    Player *player;
    char said[2048]; /* all that was said, a line each */
} House;

static inline void house_say(void *context, PlayerGravity gravity, const char *sentence) {
    House *house = context;
    size_t used = strlen(house->said);
    (void)gravity;
    snprintf(house->said + used, sizeof house->said - used, "%s\n", sentence);
}

static inline void house_write(const House *house, const char *text) {
    file_write(house->home, text);
}

static inline void house_make(House *house, const char *text, int64_t utc) {
    *house = (House){0};
    wire = (Wire){0};
    folder_make(house->folder, "house");
    snprintf(house->home, sizeof house->home, "%s/home.gloam", house->folder);
    snprintf(house->state, sizeof house->state, "%s/kept", house->folder);
    assert_int_equal(mkdir(house->state, 0700), 0);
    snprintf(house->state, sizeof house->state, "%s/kept/state.json", house->folder);
    house_write(house, text);
    house->clock = clock_fake_start(&house->fake, utc, HOUR);
    house->fake.signs.synchronised = true;
    house->loop = loop_create();
    assert_non_null(house->loop);
}

static inline PlayerRequest house_request(House *house) {
    return (PlayerRequest){.path = house->home,
                           .folder = house->folder,
                           .state = house->state,
                           .disk = &state_disk,
                           .variable = "",
                           .folders = &zone_folders_system,
                           .instead = {.kind = &wire_kind},
                           .fps = 60,
                           .speed = 1,
                           .seen = 1,
                           .waits = true,
                           .say = house_say,
                           .context = house};
}

static inline void house_play(House *house) {
    PlayerRequest request = house_request(house);
    PlayerStart start = player_create(&request, &house->clock, house->loop, &house->player);
    if (start != PLAYER_STARTED)
        fail_msg("not started: %s", house->said);
    player_turn(house->player);
}

static inline void house_start(House *house, const char *text, int64_t utc) {
    house_make(house, text, utc);
    house_play(house);
}

static inline void house_end(House *house) {
    player_free(house->player);
    loop_free(house->loop);
    folder_remove(house->folder);
}

/* Lets so much time go by, up to but not at its end. */
static inline void house_wait(House *house, int64_t length) {
    int64_t until = house->fake.now.monotonic + length;
    for (;;) {
        while (loop_wait(house->loop, 0))
            player_turn(house->player);
        int64_t next = clock_fake_next(&house->fake), left = until - house->fake.now.monotonic;
        if (next >= left) {
            clock_fake_advance(&house->fake, left);
            return;
        }
        clock_fake_advance(&house->fake, next);
        player_turn(house->player);
    }
}

static inline uint64_t woken(const House *house, PlayerWake cause) {
    return player_counts(house->player)->by_cause[cause];
}

/* But for those by files: what others do in /tmp wakes whoever watches a file below it. */
static inline uint64_t wakes(const House *house) {
    return player_counts(house->player)->wakes - woken(house, WAKE_FILE);
}

static inline const LampCounts *counts(const House *house) {
    return lamp_player_counts(player_lamp(house->player, 0));
}

/* What a player shows that begins at this moment. */
static inline void shown_at(const char *text, int64_t utc, uint8_t bytes[WIRE_BYTES]) {
    Wire before = wire;
    House other;
    house_start(&other, text, utc);
    memcpy(bytes, wire.bytes, WIRE_BYTES);
    house_end(&other);
    wire = before;
}

static inline void assert_shows(const char *text, int64_t utc) {
    uint8_t bytes[WIRE_BYTES];
    shown_at(text, utc, bytes);
    assert_memory_equal(wire.bytes, bytes, WIRE_BYTES);
}

/* What the state says of it, or does not, as JSON. */
static inline void assert_status(const House *house, const char *words, bool there) {
    char text[16384] = "";
    FILE *out = fmemopen(text, sizeof text - 1, "w");
    assert_true(player_status(house->player, true, out));
    fclose(out);
    if ((strstr(text, words) != NULL) != there)
        fail_msg("expected the state %s `%s`: %s", there ? "to say" : "not to say", words, text);
}

#endif
