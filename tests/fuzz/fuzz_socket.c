/* Any bytes as the doings of callers at a player's socket (libFuzzer): they come, send lines whole
 * and in pieces, read little or nothing, and go, while time passes. Every line is answered once, in
 * its turn, by a whole answer; nothing else is sent but what is watched; nothing stays behind. An
 * input is a list of doings, a byte each: who (low three bits; number 7 is a program that the
 * player started) and what (the next three), with what follows. See slow_fuzz.sh. */
#include <errno.h>
#include <jansson.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "lang/sources.h"
#include "runtime/core/memory.h"
#include "runtime/player/clock_fake.h"
#include "runtime/player/request.h"
#include "runtime/player/socket.h"
#include "tests/fuzz/home.h"

enum { GUESTS = 8, HELPER_GUEST = 7, DOINGS = 300, HEARD_BYTES = 2 << 20 };

typedef enum Doing {
    DO_SEND,   /* so many bytes as the next one says */
    DO_LINE,   /* all up to the end of the line */
    DO_TURN,   /* the player does what there is to do */
    DO_READ,   /* 16 times so many bytes as the next one says, unread before */
    DO_CLOSE,  /* an odd byte: says that nothing more comes; else goes */
    DO_WAIT,   /* hundredths of a second as the next byte says; the player does what is due */
    DO_CHANGE, /* the home file is another, right, wrong or gone, by the next byte */
    DO_NOTHING
} Doing;

typedef struct Guest {
    int descriptor; /* -1: not there */
    bool finished;  /* has said that nothing more comes */
    bool gone;      /* was let go */
    size_t line;    /* bytes of the line that is being sent */
    bool too_long;
    unsigned lines, answers;
    size_t heard; /* bytes of what was heard and is not judged yet */
    char *text;
} Guest;

typedef struct Party {
    char folder[96], home[128], door[128];
    ClockFake fake;
    Clock clock;
    Loop *loop;
    Player *player; /* NULL: none yet */
    PlayerSocket *socket;
    unsigned inputs;    /* so far */
    bool changed;       /* the home file is another */
    unsigned long live; /* before the player came */
    int lowest;         /* likewise: the least descriptor that is free */
    Guest guests[GUESTS];
} Party;

static Party party;

/* -------- the lamp -------- */

static const BackendKind party_kind;

static Backend *party_open(const BackendOptions *options, BackendError *error) {
    static Backend backend = {&party_kind};
    (void)options;
    (void)error;
    return &backend;
}

static BackendResult party_frame(Backend *backend, const BackendFrame *frame, BackendError *error) {
    (void)backend;
    (void)frame;
    (void)error;
    return BACKEND_FINE;
}

static BackendResult party_close(Backend *backend, BackendError *error) {
    (void)backend;
    (void)error;
    return BACKEND_FINE;
}

static const BackendKind party_kind = {
    .name = "party", .open = party_open, .frame = party_frame, .close = party_close};

/* -------- beginning and end -------- */

static void party_write(const char *text) {
    FILE *file = fopen(party.home, "w");
    MUST(file && fputs(text, file) >= 0);
    MUST(fclose(file) == 0);
}

static void party_leave_nothing(void) {
    unlink(party.home);
    rmdir(party.folder);
}

static void party_find_place(void) {
    const char *above = getenv("TMPDIR");
    snprintf(party.folder, sizeof party.folder, "%.60s/gloam-fuzz-XXXXXX", above ? above : "/tmp");
    MUST(mkdtemp(party.folder));
    snprintf(party.home, sizeof party.home, "%s/home.gloam", party.folder);
    snprintf(party.door, sizeof party.door, "%s/door", party.folder);
    atexit(party_leave_nothing);
    for (int i = 0; i < GUESTS; i++) {
        party.guests[i].text = malloc(HEARD_BYTES);
        MUST(party.guests[i].text);
    }
}

static void party_say(void *context, PlayerGravity gravity, const char *sentence) {
    (void)context;
    (void)gravity;
    MUST(*sentence);
}

static int lowest_descriptor(void) {
    int lowest = dup(STDERR_FILENO);
    close(lowest);
    return lowest;
}

static void party_begin(void) {
    party.changed = false;
    party.live = memory_live();
    party.lowest = lowest_descriptor();
    party_write(FUZZ_HOME);
    party.clock = clock_fake_start(&party.fake, INT64_C(1795575000000000), 3600000000);
    party.fake.signs.synchronised = true;
    party.loop = loop_create();
    MUST(party.loop);
    PlayerRequest request = {.path = party.home,
                             .folder = party.folder,
                             .disk = &state_disk,
                             .variable = "",
                             .folders = &zone_folders_system,
                             .lamp = "lantern",
                             .instead = {.kind = &party_kind},
                             .fps = 60,
                             .speed = 1,
                             .seen = 1,
                             .waits = true,
                             .say = party_say};
    MUST(player_create(&request, &party.clock, party.loop, &party.player) == PLAYER_STARTED);
    player_turn(party.player);
}

static void party_end(void) {
    player_free(party.player);
    loop_free(party.loop);
    party.player = NULL;
    MUST(memory_live() == party.live);
    MUST(lowest_descriptor() == party.lowest);
}

static void party_open_door(void) {
    char said[256];
    party.socket = socket_open(party.door, party.loop, party.player, said, sizeof said);
    MUST(party.socket);
    for (int i = 0; i < GUESTS; i++)
        party.guests[i] = (Guest){.descriptor = -1, .text = party.guests[i].text};
}

static void party_turn(void) {
    do {
        player_turn(party.player);
        socket_turn(party.socket);
    } while (loop_wait(party.loop, 0));
}

static void party_wait(int64_t length) {
    int64_t until = party.fake.now.monotonic + length;
    for (int i = 0; i < 100; i++) {
        int64_t next = clock_fake_next(&party.fake), left = until - party.fake.now.monotonic;
        clock_fake_advance(&party.fake, next < left ? next : left);
        party_turn();
        if (next >= left)
            return;
    }
}

/* -------- what is heard -------- */

static void must_be_words(const char *text, size_t length) {
    size_t size;
    for (size_t left = length; left > 0; text += size, left -= size) {
        uint32_t code = utf8_read(text, left, &size);
        MUST(code != UTF8_INVALID && (code == '\n' || !utf8_is_control(code)));
    }
}

static void must_be_json(const char *text, size_t length) {
    json_error_t error;
    json_t *object = json_loadb(text, length, JSON_REJECT_DUPLICATES, &error);
    MUST(object && json_is_object(object));
    json_decref(object);
}

/* One whole message, or 0 bytes where its end has not come. */
static size_t judge_one(Guest *guest, const char *text, size_t length) {
    char head[64], word[16] = "";
    unsigned lamp = 0;
    size_t body = 0;
    const char *end = memchr(text, '\n', length);
    MUST(end ? end - text < 32 : length < 32);
    if (!end)
        return 0;
    size_t head_length = (size_t)(end - text);
    memcpy(head, text, head_length);
    head[head_length] = '\0';
    bool light = sscanf(head, "light %u %zu", &lamp, &body) == 2;
    MUST(light || sscanf(head, "%15[a-z] %zu", word, &body) == 2);
    if (length - head_length - 1 < body)
        return 0;
    text += head_length + 1;
    if (light) {
        MUST(lamp == 0 && body == 3 * 16);
    } else if (strcmp(word, "state") == 0) {
        must_be_json(text, body);
    } else {
        MUST(strcmp(word, "done") == 0 || strcmp(word, "refused") == 0);
        must_be_words(text, body);
        if (body > 0 && *text == '{')
            must_be_json(text, body);
        MUST(*word == 'd' || body > 0);
        guest->answers++;
        MUST(guest->answers <= guest->lines + guest->too_long);
    }
    return head_length + 1 + body;
}

static void judge(Guest *guest) {
    size_t used = 0, one;
    while ((one = judge_one(guest, guest->text + used, guest->heard - used)) > 0)
        used += one;
    guest->heard -= used;
    memmove(guest->text, guest->text + used, guest->heard);
}

/* False: nothing more is there now. */
static bool guest_read(Guest *guest, size_t most) {
    size_t room = HEARD_BYTES - guest->heard;
    MUST(room > 0);
    ssize_t got = recv(guest->descriptor, guest->text + guest->heard, most < room ? most : room,
                       MSG_DONTWAIT);
    MUST(got >= 0 || errno == EAGAIN || errno == ECONNRESET);
    guest->gone = guest->gone || got == 0 || (got < 0 && errno == ECONNRESET);
    if (got <= 0)
        return false;
    guest->heard += (size_t)got;
    judge(guest);
    return true;
}

/* -------- who comes and goes -------- */

static void guest_come(int number) {
    Guest *guest = &party.guests[number];
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    *guest = (Guest){.text = guest->text};
    if (number == HELPER_GUEST) {
        int ends[2];
        MUST(socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends) == 0);
        if (!socket_adopt(party.socket, ends[0])) /* four that went were not seen to yet */
            close(ends[0]);
        guest->descriptor = ends[1];
        return;
    }
    memcpy(address.sun_path, party.door, strlen(party.door) + 1);
    guest->descriptor = socket(AF_UNIX, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    MUST(guest->descriptor >= 0);
    if (connect(guest->descriptor, (struct sockaddr *)&address, sizeof address) != 0) {
        MUST(errno == EAGAIN); /* more wait at the door than it has room for */
        close(guest->descriptor);
        guest->descriptor = -1;
    }
}

static void guest_go(Guest *guest) {
    if (guest->descriptor >= 0)
        close(guest->descriptor);
    guest->descriptor = -1;
}

static void guest_send(Guest *guest, const uint8_t *bytes, size_t length) {
    if (guest->finished || length == 0)
        return;
    ssize_t went = send(guest->descriptor, bytes, length, MSG_DONTWAIT | MSG_NOSIGNAL);
    MUST(went >= 0 || errno == EAGAIN || errno == EPIPE || errno == ECONNRESET);
    for (ssize_t i = 0; i < went && !guest->too_long; i++) {
        guest->line++;
        if (bytes[i] == '\n') {
            guest->lines++;
            guest->line = 0;
        }
        guest->too_long = guest->line == REQUEST_BYTES; /* and no end */
    }
}

/* Hears all that is said to him. Whoever was not let go had an answer to each line. */
static void guest_end(Guest *guest) {
    if (guest->descriptor < 0)
        return;
    for (int i = 0; i < 10000; i++) {
        bool more = guest_read(guest, HEARD_BYTES);
        party_turn();
        if (!more && !guest_read(guest, HEARD_BYTES))
            break;
    }
    if (!guest->gone) {
        MUST(guest->heard == 0);
        MUST(guest->answers == guest->lines && !guest->too_long);
    }
    guest_go(guest);
}

/* -------- doings -------- */

static const char *const PARTY_HOMES[] = {
    FUZZ_HOME, "lamp lantern { pixels",
    "lamp lantern { pixels 16 }\nroutine glow { paint gold }\nat 00:00 play glow\n",
    "lamp shelf { pixels 5 }\nroutine glow { paint gold }\nat 00:00 play glow\n"};

static void party_do(int number, Doing doing, const uint8_t **at, const uint8_t *end) {
    Guest *guest = &party.guests[number];
    size_t left = (size_t)(end - *at), length = left;
    uint8_t said = left ? **at : 0;
    if (doing == DO_LINE) {
        const uint8_t *stop = left ? memchr(*at, '\n', left) : NULL;
        length = stop ? (size_t)(stop - *at) + 1 : left;
    } else if (doing == DO_TURN || doing == DO_NOTHING) {
        party_turn();
        return;
    } else {
        *at += left > 0;
        left -= left > 0;
        length = doing != DO_SEND ? 0 : said < left ? said : left;
    }
    if (doing == DO_WAIT)
        party_wait(said * INT64_C(10000));
    party.changed = party.changed || doing == DO_CHANGE;
    if (doing == DO_CHANGE)
        party_write(PARTY_HOMES[said % (sizeof PARTY_HOMES / sizeof *PARTY_HOMES)]);
    if (guest->descriptor < 0 && doing != DO_WAIT && doing != DO_CHANGE)
        guest_come(number);
    if (guest->descriptor >= 0 && (doing == DO_SEND || doing == DO_LINE))
        guest_send(guest, *at, length);
    if (guest->descriptor >= 0 && doing == DO_READ)
        guest_read(guest, 16 * (size_t)said + 1);
    if (guest->descriptor >= 0 && doing == DO_CLOSE && said % 2 == 1) {
        guest->finished = true;
        shutdown(guest->descriptor, SHUT_WR);
    } else if (doing == DO_CLOSE) {
        guest_go(guest);
    }
    *at += length;
}

/* A player is slow to begin: it serves several inputs, but the first of them, which are replayed
 * every day, have one each. */
static bool party_is_over(void) {
    return party.changed || ++party.inputs <= 64 || party.inputs % 64 == 0;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    char said[256];
    if (!*party.folder)
        party_find_place();
    if (!party.player)
        party_begin();
    party_open_door();
    const uint8_t *end = data + size;
    for (int i = 0; data < end && i < DOINGS; i++) {
        uint8_t doing = *data++;
        party_do(doing % GUESTS, (Doing)(doing / GUESTS % 8), &data, end);
    }
    party_turn();
    for (int i = 0; i < GUESTS; i++)
        guest_end(&party.guests[i]);
    party_turn();
    socket_close(party.socket);
    MUST(access(party.door, F_OK) != 0);
    (void)player_act(party.player, "clear", said, sizeof said);
    player_turn(party.player);
    if (party_is_over())
        party_end();
    return 0;
}
