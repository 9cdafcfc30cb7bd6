#include "runtime/player/socket.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/time.h>
#include <sys/un.h>
#include <unistd.h>

#include "runtime/core/memory.h"
#include "runtime/player/clock.h"
#include "runtime/player/request.h"

enum { PATIENCE = 5, HEAD_BYTES = 32 };

typedef struct Caller {
    PlayerSocket *socket;
    int descriptor; /* -1: none */
    uint64_t came;
    size_t used;
    char line[REQUEST_BYTES];
} Caller;

struct PlayerSocket {
    Loop *loop;
    Player *player;
    int descriptor;
    uint64_t came;
    int64_t second; /* the one in which `acts` were done, by the monotonic clock */
    int acts;
    Caller callers[SOCKET_CALLERS];
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

static void caller_go(Caller *caller) {
    if (caller->descriptor < 0)
        return;
    loop_remove(caller->socket->loop, caller->descriptor);
    close(caller->descriptor);
    caller->descriptor = -1;
}

/* Who does not take an answer at once does not get it. */
static bool send_all(int descriptor, const char *bytes, size_t length) {
    return send(descriptor, bytes, length, MSG_NOSIGNAL | MSG_DONTWAIT) == (ssize_t)length;
}

static bool answer(const Caller *caller, bool done, const char *text, size_t length) {
    char head[HEAD_BYTES];
    int used = snprintf(head, sizeof head, "%s %zu\n", done ? "done" : "refused", length);
    return send_all(caller->descriptor, head, (size_t)used) &&
           send_all(caller->descriptor, text, length);
}

static bool answer_status(const Caller *caller, bool json) {
    char *text = memory_allocate(SOCKET_ANSWER, 1);
    FILE *out = text ? fmemopen(text, SOCKET_ANSWER, "w") : NULL;
    bool told = out && player_status(caller->socket->player, json, out);
    told = out && fclose(out) == 0 && told;
    static const char sorry[] = "out of memory";
    bool sent = told ? answer(caller, true, text, strnlen(text, SOCKET_ANSWER))
                     : answer(caller, false, sorry, sizeof sorry - 1);
    memory_release(text);
    return sent;
}

/* Whether there was not too much in this second. */
static bool in_time(PlayerSocket *socket) {
    int64_t second = clock_system_now().monotonic / 1000000;
    if (second != socket->second)
        socket->acts = 0;
    socket->second = second;
    return socket->acts++ < SOCKET_ACTS;
}

static bool answer_line(const Caller *caller, const char *line) {
    char said[REQUEST_SENTENCE] = "too much at once: ask again in a second";
    bool fine = in_time(caller->socket);
    if (fine && strcmp(line, "status") == 0)
        return answer_status(caller, false);
    if (fine && strcmp(line, "status json") == 0)
        return answer_status(caller, true);
    bool done = fine && player_act(caller->socket->player, line, said, sizeof said);
    return answer(caller, done, said, strlen(said));
}

/* The lines that have come; false: the caller goes. */
static bool take_lines(Caller *caller) {
    for (;;) {
        char *end = memchr(caller->line, '\n', caller->used);
        if (!end)
            break;
        size_t length = (size_t)(end - caller->line);
        *end = '\0';
        if (!answer_line(caller, caller->line))
            return false;
        caller->used -= length + 1;
        memmove(caller->line, end + 1, caller->used);
    }
    if (caller->used < sizeof caller->line)
        return true;
    static const char sorry[] = "a line is too long";
    answer(caller, false, sorry, sizeof sorry - 1);
    return false;
}

static void caller_ready(void *context, uint32_t events) {
    Caller *caller = context;
    ssize_t got = recv(caller->descriptor, caller->line + caller->used,
                       sizeof caller->line - caller->used, MSG_DONTWAIT);
    (void)events;
    if (got < 0 && (errno == EAGAIN || errno == EINTR))
        return;
    caller->used += got > 0 ? (size_t)got : 0;
    if (got <= 0 || !take_lines(caller))
        caller_go(caller);
}

/* -------- the door -------- */

static void door_ready(void *context, uint32_t events) {
    PlayerSocket *socket = context;
    (void)events;
    int descriptor = accept4(socket->descriptor, NULL, NULL, SOCK_CLOEXEC | SOCK_NONBLOCK);
    if (descriptor < 0)
        return;
    Caller *place = &socket->callers[0];
    for (int i = 0; i < SOCKET_CALLERS && place->descriptor >= 0; i++)
        if (socket->callers[i].descriptor < 0 || socket->callers[i].came < place->came)
            place = &socket->callers[i];
    caller_go(place);
    *place = (Caller){.socket = socket, .descriptor = descriptor, .came = ++socket->came};
    if (!loop_add(socket->loop, descriptor, caller_ready, place)) {
        place->descriptor = -1;
        close(descriptor);
    }
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

PlayerSocket *socket_open(const char *path, Loop *loop, Player *player, char *said, size_t size) {
    struct sockaddr_un address;
    if (!address_of(path, &address)) {
        snprintf(said, size, "%s: the name of the socket is too long", path);
        return NULL;
    }
    if (somebody_listens(&address)) {
        snprintf(said, size, "%s: another player listens there", path);
        return NULL;
    }
    PlayerSocket *made = memory_allocate(1, sizeof *made);
    int descriptor = made ? listen_at(&address) : -1;
    bool added = descriptor >= 0 && loop_add(loop, descriptor, door_ready, made);
    if (!added) {
        snprintf(said, size, "%s: %s", path, made ? strerror(errno) : "out of memory");
        if (descriptor >= 0)
            close(descriptor);
        memory_release(made);
        return NULL;
    }
    made->loop = loop;
    made->player = player;
    made->descriptor = descriptor;
    memcpy(made->path, address.sun_path, sizeof made->path);
    for (int i = 0; i < SOCKET_CALLERS; i++)
        made->callers[i] = (Caller){.socket = made, .descriptor = -1};
    return made;
}

void socket_close(PlayerSocket *socket) {
    if (!socket)
        return;
    for (int i = 0; i < SOCKET_CALLERS; i++)
        caller_go(&socket->callers[i]);
    loop_remove(socket->loop, socket->descriptor);
    close(socket->descriptor);
    unlink(socket->path);
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
    if ((!done && sscanf(head, "refused %zu", &length) != 1) || length > SOCKET_ANSWER)
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
