#include "runtime/player/socket.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/time.h>
#include <sys/timerfd.h>
#include <sys/un.h>
#include <unistd.h>

#include "runtime/core/memory.h"
#include "runtime/player/clock.h"
#include "runtime/player/feed.h"

enum { PATIENCE = 5, HEAD_BYTES = 32 };
/* Where the system has no room for one more caller, so long until it is asked again. */
#define DOOR_AGAIN INT64_C(1000000)

/* A place for a caller. */
typedef struct Seat {
    PlayerSocket *socket;
    bool helper;
    uint64_t came;
    bool serves; /* it has told where its page is */
    Caller caller;
    Feed feed;
} Seat;

enum { SEATS = SOCKET_CALLERS + SOCKET_HELPERS };

struct PlayerSocket {
    Loop *loop;
    Player *player;
    int descriptor; /* of the door; -1: none */
    int64_t opens;  /* monotonic: the door is shut until then; FEED_NEVER: it is open */
    int timer;      /* for the door, and for who watches; -1: nobody has yet */
    uint64_t came;
    int64_t second; /* the one in which `acts` were done, by the monotonic clock */
    int acts;
    int64_t armed; /* the timer; FEED_NEVER: it is not */
    Seat seats[SEATS];
    char path[sizeof((struct sockaddr_un *)0)->sun_path];
};

static bool address_of(const char *path, struct sockaddr_un *address) {
    size_t length = strlen(path);
    *address = (struct sockaddr_un){.sun_family = AF_UNIX};
    if (length == 0 || length >= sizeof address->sun_path)
        return false;
    memcpy(address->sun_path, path, length);
    return true;
}

/* -------- one caller -------- */

_Static_assert(CALLER_ENOUGH + CALLER_MESSAGE + 2 * HEAD_BYTES <= CALLER_QUEUE,
               "while lines are taken, an answer finds room");

/* It goes out in socket_turn: after the turn in which what was done is kept. */
static void answer(Caller *caller, bool done, const char *text, size_t length) {
    char head[HEAD_BYTES];
    snprintf(head, sizeof head, "%s %zu", done ? "done" : "refused", length);
    caller_put(caller, head, text, length);
}

static void answer_status(Seat *seat, bool json) {
    char sorry[128] = "out of memory";
    size_t length;
    char *text = feed_status(seat->socket->player, json, &length);
    if (text && length > CALLER_MESSAGE)
        snprintf(sorry, sizeof sorry,
                 "the state has %zu bytes, and an answer at most %d: fewer lamps, parts or dials",
                 length, CALLER_MESSAGE);
    if (text && length <= CALLER_MESSAGE)
        answer(&seat->caller, true, text, length);
    else
        answer(&seat->caller, false, sorry, strlen(sorry));
    memory_release(text);
}

/* Whether there was not too much in this second. */
static bool in_time(Seat *seat) {
    PlayerSocket *socket = seat->socket;
    int64_t second = clock_system_now().monotonic / 1000000;
    if (second != socket->second)
        socket->acts = 0;
    socket->second = second;
    return seat->helper || socket->acts++ < SOCKET_ACTS;
}

/* One word, or none. */
static bool take_page(Seat *seat, const char *address, char *said, size_t size) {
    char page[PLAYER_PAGE_BYTES];
    size_t length = request_word(address);
    if (*request_behind(address + length, "")) {
        snprintf(said, size, "page ADDRESS, or page");
        return false;
    }
    snprintf(page, sizeof page, "%.*s", (int)length, address);
    diagnostics_clean(page);
    player_tell_page(seat->socket->player, page);
    seat->serves = seat->helper && *page;
    return true;
}

/* Who knocks meanwhile waits, and is not heard over and over again. */
static void door_shut(PlayerSocket *socket) {
    if (loop_events(socket->loop, socket->descriptor, 0))
        socket->opens = clock_system_now().monotonic + DOOR_AGAIN;
}

static void door_open(PlayerSocket *socket) {
    if (socket->opens != FEED_NEVER)
        loop_events(socket->loop, socket->descriptor, EPOLLIN);
    socket->opens = FEED_NEVER;
}

/* The page of a program that is gone is gone with it. */
static void seat_leave(Seat *seat) {
    if (seat->caller.descriptor >= 0)
        door_open(seat->socket); /* there is room again */
    caller_end(&seat->caller);
    if (seat->serves)
        player_tell_page(seat->socket->player, NULL);
    seat->serves = false;
}

/* What is no act. False: it is none of these. */
static bool answer_asked(Seat *seat, const char *line) {
    Player *player = seat->socket->player;
    char words[PLAYER_WRONG_BYTES] = "";
    const char *rest;
    bool done = true, json = request_is(line, "status json");
    if (json || request_is(line, "status")) {
        answer_status(seat, json);
        return true;
    }
    if ((rest = request_behind(line, "watch")))
        done = feed_watch(&seat->feed, player, rest, words, sizeof words);
    else if ((rest = request_behind(line, "try")))
        done = player_try(player, rest, words, sizeof words);
    else if (request_is(line, "reload"))
        done = player_reload_now(player, words, sizeof words);
    else if ((rest = request_behind(line, "page")))
        done = take_page(seat, rest, words, sizeof words);
    else
        return false;
    diagnostics_clean(words); /* words of others come back in it */
    answer(&seat->caller, done, words, strlen(words));
    return true;
}

static void answer_line(void *context, const char *line) {
    Seat *seat = context;
    char words[REQUEST_SENTENCE] = "too much at once: ask again in a second";
    bool fine = in_time(seat);
    if (fine && answer_asked(seat, line))
        return;
    bool done = fine && player_act(seat->socket->player, line, words, sizeof words);
    answer(&seat->caller, done, words, strlen(words));
}

static void seat_ready(void *context, uint32_t events) {
    Seat *seat = context;
    caller_ready(&seat->caller, events, answer_line);
    player_wake(seat->socket->player, WAKE_REQUEST);
    if (seat->caller.lost)
        seat_leave(seat);
}

/* -------- who watches -------- */

static void timer_ready(void *context, uint32_t events) {
    PlayerSocket *socket = context;
    uint64_t times;
    (void)events;
    (void)!read(socket->timer, &times, sizeof times);
    socket->armed = FEED_NEVER;
    player_wake(socket->player, WAKE_REQUEST);
}

/* False: there is none. */
static bool make_timer(PlayerSocket *socket) {
    if (socket->timer >= 0)
        return true;
    socket->timer = timerfd_create(CLOCK_MONOTONIC, TFD_CLOEXEC | TFD_NONBLOCK);
    if (socket->timer >= 0 && loop_add(socket->loop, socket->timer, timer_ready, socket))
        return true;
    if (socket->timer >= 0)
        close(socket->timer);
    socket->timer = -1;
    return false;
}

/* With a door the timer is there; else it is made when somebody needs it. */
static void arm(PlayerSocket *socket, int64_t due) {
    if (due == socket->armed || !make_timer(socket))
        return;
    struct itimerspec when = {0};
    if (due != FEED_NEVER) {
        when.it_value.tv_sec = (time_t)(due / 1000000);
        when.it_value.tv_nsec = (long)(due % 1000000 * 1000 + 1);
    }
    timerfd_settime(socket->timer, TFD_TIMER_ABSTIME, &when, NULL);
    socket->armed = due;
}

static int64_t seat_turn(Seat *seat, int64_t now) {
    const Feed *feed = &seat->feed;
    if (seat->caller.fresh)
        caller_send(&seat->caller);
    if (seat->caller.ends || (!feed->state && feed->count == 0))
        return FEED_NEVER;
    return feed_turn(&seat->feed, &seat->caller, seat->socket->player, now);
}

void socket_turn(PlayerSocket *socket) {
    int64_t due = FEED_NEVER, now = socket ? clock_system_now().monotonic : 0;
    for (int i = 0; socket && i < SEATS; i++) {
        Seat *seat = &socket->seats[i];
        if (seat->caller.descriptor < 0)
            continue;
        int64_t own = seat_turn(seat, now);
        due = own < due ? own : due;
        if (seat->caller.lost || seat->caller.ends) {
            seat_leave(seat);
            due = now; /* the others may have to hear of it */
        }
    }
    if (!socket)
        return;
    if (now >= socket->opens)
        door_open(socket);
    arm(socket, socket->opens < due ? socket->opens : due);
}

/* -------- the door -------- */

static bool seat_take(Seat *seat, int descriptor) {
    seat_leave(seat);
    seat->feed = (Feed){0};
    seat->came = ++seat->socket->came;
    return caller_begin(&seat->caller, seat->socket->loop, descriptor, seat_ready, seat);
}

static void door_ready(void *context, uint32_t events) {
    PlayerSocket *socket = context;
    (void)events;
    int descriptor = accept4(socket->descriptor, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK);
    if (descriptor < 0) {
        if (errno != EAGAIN && errno != EINTR && errno != ECONNABORTED)
            door_shut(socket);
        return;
    }
    Seat *place = &socket->seats[0];
    for (int i = 0; i < SOCKET_CALLERS && place->caller.descriptor >= 0; i++)
        if (socket->seats[i].caller.descriptor < 0 || socket->seats[i].came < place->came)
            place = &socket->seats[i];
    if (!seat_take(place, descriptor))
        close(descriptor);
}

bool socket_adopt(PlayerSocket *socket, int descriptor) {
    for (int i = SOCKET_CALLERS; i < SEATS; i++)
        if (socket->seats[i].caller.descriptor < 0)
            return seat_take(&socket->seats[i], descriptor);
    errno = EMFILE;
    return false;
}

/* True where a player listens there. */
static bool somebody_listens(const struct sockaddr_un *address) {
    int descriptor = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    bool listens = descriptor >= 0 &&
                   (connect(descriptor, (const struct sockaddr *)address, sizeof *address) == 0 ||
                    errno == EAGAIN);
    if (descriptor >= 0)
        close(descriptor);
    return listens;
}

static bool is_socket(const char *path) {
    struct stat about;
    return lstat(path, &about) == 0 && S_ISSOCK(about.st_mode);
}

static int listen_at(const struct sockaddr_un *address) {
    if (is_socket(address->sun_path))
        unlink(address->sun_path);
    int descriptor = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    mode_t mask = umask(0117);
    bool bound =
        descriptor >= 0 && bind(descriptor, (const struct sockaddr *)address, sizeof *address) == 0;
    int error = errno;
    umask(mask);
    if (bound && listen(descriptor, SOCKET_CALLERS) == 0)
        return descriptor;
    error = bound ? errno : error;
    if (descriptor >= 0)
        close(descriptor);
    errno = error;
    return -1;
}

/* -1: `said`. */
static int open_door(PlayerSocket *socket, const char *path, char *said, size_t size) {
    struct sockaddr_un address;
    if (!address_of(path, &address)) {
        snprintf(said, size, "%s: the name of the socket is too long", path);
        return -1;
    }
    if (somebody_listens(&address)) {
        snprintf(said, size, "%s: another player listens there", path);
        return -1;
    }
    int descriptor = listen_at(&address);
    if (descriptor >= 0 && loop_add(socket->loop, descriptor, door_ready, socket)) {
        memcpy(socket->path, address.sun_path, sizeof socket->path);
        return descriptor;
    }
    snprintf(said, size, "%s: %s", path, strerror(errno));
    if (descriptor >= 0)
        close(descriptor);
    return -1;
}

PlayerSocket *socket_open(const char *path, Loop *loop, Player *player, char *said, size_t size) {
    PlayerSocket *made = memory_allocate(1, sizeof *made);
    if (!made) {
        snprintf(said, size, "%s: out of memory", path ? path : "the socket");
        return NULL;
    }
    made->loop = loop;
    made->player = player;
    made->descriptor = made->timer = -1;
    made->armed = made->opens = FEED_NEVER;
    for (int i = 0; i < SEATS; i++) {
        made->seats[i].socket = made;
        made->seats[i].helper = i >= SOCKET_CALLERS;
        made->seats[i].caller.descriptor = -1;
    }
    if (path)
        made->descriptor = open_door(made, path, said, size);
    if (made->descriptor >= 0)
        (void)make_timer(made); /* while there are descriptors: where there are none it is needed */
    if (!path || made->descriptor >= 0)
        return made;
    memory_release(made);
    return NULL;
}

void socket_close(PlayerSocket *socket) {
    if (!socket)
        return;
    for (int i = 0; i < SEATS; i++)
        caller_end(&socket->seats[i].caller);
    loop_remove(socket->loop, socket->timer);
    if (socket->timer >= 0)
        close(socket->timer);
    if (socket->descriptor >= 0) {
        loop_remove(socket->loop, socket->descriptor);
        close(socket->descriptor);
        unlink(socket->path);
    }
    memory_release(socket);
}

/* -------- the other end -------- */

/* All of it, or false. */
static bool receive(int descriptor, char *into, size_t length) {
    while (length > 0) {
        ssize_t got = recv(descriptor, into, length, 0);
        if (got < 0 && errno == EINTR)
            continue;
        if (got <= 0)
            return false;
        into += got;
        length -= (size_t)got;
    }
    return true;
}

static SocketAsked take_answer(int descriptor, char **text) {
    char head[HEAD_BYTES] = "";
    size_t used = 0, length = 0;
    while (used + 1 < sizeof head && receive(descriptor, head + used, 1) && head[used] != '\n')
        used++;
    bool done = sscanf(head, "done %zu", &length) == 1;
    if ((!done && sscanf(head, "refused %zu", &length) != 1) || length > CALLER_MESSAGE)
        return SOCKET_NOBODY;
    *text = memory_allocate(length + 1, 1);
    if (*text && receive(descriptor, *text, length))
        return done ? SOCKET_DONE : SOCKET_REFUSED;
    memory_release(*text);
    *text = NULL;
    return SOCKET_NOBODY;
}

SocketAsked socket_ask(const char *path, const char *line, char **text) {
    struct sockaddr_un address;
    struct timeval patience = {.tv_sec = PATIENCE};
    *text = NULL;
    if (!address_of(path, &address))
        return SOCKET_NOBODY;
    int descriptor = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (descriptor < 0)
        return SOCKET_NOBODY;
    setsockopt(descriptor, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
    setsockopt(descriptor, SOL_SOCKET, SO_SNDTIMEO, &patience, sizeof patience);
    SocketAsked asked = SOCKET_NOBODY;
    if (connect(descriptor, (struct sockaddr *)&address, sizeof address) == 0 &&
        send(descriptor, line, strlen(line), MSG_NOSIGNAL) == (ssize_t)strlen(line) &&
        send(descriptor, "\n", 1, MSG_NOSIGNAL) == 1)
        asked = take_answer(descriptor, text);
    close(descriptor);
    return asked;
}
