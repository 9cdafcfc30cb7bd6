#include "backends/e131.h"

#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <stdio.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "runtime/core/memory.h"
#include "runtime/light/order.h"

enum {
    HOST_BYTES = 254,
    WHAT_BYTES = 208 /* of a sentence, before the reason; the host is cut to fit */
};

/* What of a round, one packet for every universe, is still to be sent. */
typedef enum E131Stage { STAGE_NONE, STAGE_DATA, STAGE_SYNC } E131Stage;

typedef enum E131Sent { SENT_FINE, SENT_LOST, SENT_LATER, SENT_FAILED } E131Sent;

typedef struct E131 {
    Backend backend;
    const E131System *system;
    E131Source source;
    char host[HOST_BYTES];
    int socket;
    struct sockaddr_storage to;
    socklen_t to_length;
    bool multicast, stays;
    uint16_t universe, universes;
    uint32_t pixels, channels, share; /* share: pixels of a full universe */
    char order[5];
    uint8_t *sequences; /* the next of each universe */
    uint8_t sync_sequence;
    uint8_t *shown, *held; /* frames in the order of the wire */
    bool started, holds, ending;
    E131Stage stage;
    uint32_t next;               /* universe of the round, from 0 */
    int copies;                  /* rounds of the shown frame that went out, up to E131_EQUAL */
    int64_t began, free, resume; /* last round; when the next may begin; when this one goes on */
    E131Counts counts;
} E131;

static int64_t e131_now(void) {
    struct timespec time = {0};
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (int64_t)time.tv_sec * 1000000 + time.tv_nsec / 1000;
}

static const E131System e131_system = {getaddrinfo, freeaddrinfo, socket,  sendto,
                                       poll,        close,        e131_now};

uint32_t e131_universes(uint32_t pixels, bool white) {
    uint32_t share = white ? E131_PIXELS_RGBW : E131_PIXELS_RGB;
    return pixels / share + (pixels % share != 0);
}

E131Counts e131_counts(const Backend *backend) {
    return ((const E131 *)backend)->counts;
}

/* -------- opening -------- */

static void e131_free(E131 *e131) {
    memory_release(e131->sequences);
    memory_release(e131->shown);
    memory_release(e131->held);
    memory_release(e131);
}

static bool e131_refuse(BackendError *error, const char *sentence) {
    snprintf(error->sentence, sizeof error->sentence, "%s", sentence);
    return false;
}

static bool e131_check(const BackendOptions *options, BackendError *error) {
    static const uint8_t nobody[E131_CID_BYTES] = {0};
    const E131Options *own = options->own;
    const char *order = own->order;
    uint32_t universes = e131_universes(options->pixels, options->white);
    if (strncmp(own->port, "e131:", 5) != 0 || own->port[5] == 0 ||
        strlen(own->port + 5) >= HOST_BYTES)
        return e131_refuse(error, "the port of a lamp in the network is `e131:` and an address");
    if (options->level)
        return e131_refuse(error, "a lamp in the network has no level beside its colours");
    if (order != NULL && strlen(order) != (options->white ? 4 : 3))
        return e131_refuse(error, "the order does not name the channels of the lamp");
    if (own->priority > E131_PRIORITY_MOST)
        return e131_refuse(error, "the priority goes from 0 to 200");
    if (own->cid == NULL || memcmp(own->cid, nobody, sizeof nobody) == 0)
        return e131_refuse(error, "the network needs an identity of this machine");
    if (own->universe >= 1 && own->universe <= E131_UNIVERSE_MOST &&
        universes <= E131_UNIVERSE_MOST + 1 - own->universe)
        return true;
    snprintf(error->sentence, sizeof error->sentence,
             "%u pixels take %u universes, and there are no so many from %u on: they go from 1 "
             "to %d",
             (unsigned)options->pixels, (unsigned)universes, (unsigned)own->universe,
             E131_UNIVERSE_MOST);
    return false;
}

/* The first address that the machine has a socket for. */
static bool e131_connect(E131 *e131, unsigned service, BackendError *error) {
    const int type = SOCK_DGRAM | SOCK_NONBLOCK | SOCK_CLOEXEC;
    const struct addrinfo hints = {.ai_family = AF_UNSPEC, .ai_socktype = SOCK_DGRAM};
    struct addrinfo *found = NULL;
    char digits[12], what[WHAT_BYTES];
    snprintf(digits, sizeof digits, "%u", service);
    snprintf(what, sizeof what, "cannot find `%.180s`", e131->host);
    int wrong = e131->system->resolve(e131->host, digits, &hints, &found);
    if (wrong == EAI_SYSTEM) {
        backend_say(error, what, errno);
        return false;
    }
    if (wrong != 0) {
        snprintf(error->sentence, sizeof error->sentence, "%s: %s", what, gai_strerror(wrong));
        return false;
    }
    int number = EAFNOSUPPORT;
    for (const struct addrinfo *one = found; one != NULL && e131->socket < 0; one = one->ai_next) {
        if (one->ai_addrlen > sizeof e131->to)
            continue;
        memcpy(&e131->to, one->ai_addr, one->ai_addrlen);
        e131->to_length = one->ai_addrlen;
        e131->socket = e131->system->socket(one->ai_family, type, 0);
        number = errno;
    }
    e131->system->release(found);
    if (e131->socket < 0)
        backend_say(error, "cannot open a socket", number);
    return e131->socket >= 0;
}

static bool e131_connect_groups(E131 *e131, unsigned service, BackendError *error) {
    struct sockaddr_in to = {.sin_family = AF_INET, .sin_port = htons((uint16_t)service)};
    memcpy(&e131->to, &to, sizeof to);
    e131->to_length = sizeof to;
    e131->socket = e131->system->socket(AF_INET, SOCK_DGRAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (e131->socket < 0)
        backend_say(error, "cannot open a socket", errno);
    return e131->socket >= 0;
}

static bool e131_fill(E131 *e131, const BackendOptions *options) {
    const E131Options *own = options->own;
    e131->backend.kind = &e131_backend;
    e131->system = own->system != NULL ? own->system : &e131_system;
    memcpy(e131->source.cid, own->cid, E131_CID_BYTES);
    e131_name(own->name != NULL ? own->name : "gloam", e131->source.name);
    e131->source.priority = (uint8_t)own->priority;
    snprintf(e131->host, sizeof e131->host, "%s", own->port + 5);
    e131->multicast = strcmp(e131->host, "multicast") == 0;
    e131->stays = own->stays;
    e131->universe = (uint16_t)own->universe;
    e131->universes = (uint16_t)e131_universes(options->pixels, options->white);
    e131->pixels = options->pixels;
    e131->channels = options->white ? 4 : 3;
    e131->share = options->white ? E131_PIXELS_RGBW : E131_PIXELS_RGB;
    const char *order = own->order != NULL ? own->order : options->white ? "rgbw" : "rgb";
    snprintf(e131->order, sizeof e131->order, "%s", order);
    e131->socket = -1;
    e131->sequences = memory_allocate(e131->universes, 1);
    e131->shown = memory_allocate(e131->pixels, e131->channels);
    e131->held = memory_allocate(e131->pixels, e131->channels);
    return e131->sequences != NULL && e131->shown != NULL && e131->held != NULL;
}

static Backend *e131_open(const BackendOptions *options, BackendError *error) {
    const E131Options *own = options->own;
    const unsigned service = own->service != 0 ? own->service : E131_PORT;
    if (!e131_check(options, error))
        return NULL;
    E131 *e131 = memory_allocate(1, sizeof *e131);
    if (e131 == NULL || !e131_fill(e131, options)) {
        backend_say(error, "cannot open the network", ENOMEM);
        if (e131 != NULL)
            e131_free(e131);
        return NULL;
    }
    if (e131->multicast ? !e131_connect_groups(e131, service, error)
                        : !e131_connect(e131, service, error)) {
        e131_free(e131);
        return NULL;
    }
    e131->free = e131->system->now();
    return &e131->backend;
}

/* -------- sending -------- */

/* Troubles of a network that may pass by themselves. */
static bool e131_passes(int number) {
    static const int passing[] = {ENETUNREACH,  EHOSTUNREACH,  ENETDOWN, EHOSTDOWN,
                                  ECONNREFUSED, EADDRNOTAVAIL, ENODEV,   ECONNRESET,
                                  ETIMEDOUT,    ENONET,        EPERM /* a firewall */};
    for (size_t i = 0; i < sizeof passing / sizeof passing[0]; i++)
        if (passing[i] == number)
            return true;
    return false;
}

/* `universe`: whose group it goes to where there are groups. */
static E131Sent e131_send(E131 *e131, const uint8_t *packet, size_t length, uint16_t universe,
                          BackendError *error) {
    if (e131->multicast) {
        struct sockaddr_in *to = (struct sockaddr_in *)&e131->to;
        to->sin_addr.s_addr = htonl(e131_group(universe));
    }
    ssize_t sent;
    do
        sent = e131->system->send(e131->socket, packet, length, MSG_NOSIGNAL,
                                  (const struct sockaddr *)&e131->to, e131->to_length);
    while (sent < 0 && errno == EINTR);
    if (sent >= 0) {
        e131->counts.packets++;
        e131->counts.trouble = 0;
        return SENT_FINE;
    }
    if (errno == EAGAIN || errno == EWOULDBLOCK || errno == ENOBUFS || errno == ENOMEM)
        return SENT_LATER;
    if (e131_passes(errno)) {
        e131->counts.lost++;
        e131->counts.trouble = errno;
        return SENT_LOST;
    }
    char what[WHAT_BYTES];
    int number = errno;
    snprintf(what, sizeof what, "cannot send to `%.180s`", e131->host);
    backend_say(error, what, number);
    return SENT_FAILED;
}

static E131Sent e131_send_data(E131 *e131, BackendError *error) {
    uint8_t packet[E131_DATA_MOST];
    uint32_t first = e131->next * e131->share;
    uint32_t count = e131->pixels - first < e131->share ? e131->pixels - first : e131->share;
    bool together = e131->universes > 1 && !e131->ending;
    E131Data data = {.universe = (uint16_t)(e131->universe + e131->next),
                     .sync = together ? e131->universe : 0,
                     .sequence = e131->sequences[e131->next],
                     .options = (uint8_t)((together ? E131_FORCE_SYNC : 0) |
                                          (e131->ending ? E131_TERMINATED : 0)),
                     .slots = e131->shown + (size_t)first * e131->channels,
                     .count = (size_t)count * e131->channels};
    size_t length = e131_data_packet(&e131->source, &data, packet);
    E131Sent sent = e131_send(e131, packet, length, data.universe, error);
    /* What never left uses up no number: up to 19 numbers back count as late (6.7.2), and a long
     * gap would look like that. */
    if (sent == SENT_FINE)
        e131->sequences[e131->next]++;
    return sent;
}

static E131Sent e131_send_sync(E131 *e131, BackendError *error) {
    uint8_t packet[E131_SYNC_BYTES];
    size_t length = e131_sync_packet(&e131->source, e131->universe, e131->sync_sequence, packet);
    E131Sent sent = e131_send(e131, packet, length, e131->universe, error);
    if (sent == SENT_FINE)
        e131->sync_sequence++;
    return sent;
}

/* -------- rounds -------- */

static int64_t e131_due(const Backend *backend) {
    const E131 *e131 = (const E131 *)backend;
    if (e131->stage != STAGE_NONE)
        return e131->resume;
    if (e131->holds || (e131->started && e131->copies < E131_EQUAL))
        return e131->free;
    return e131->started ? e131->began + E131_STILL : BACKEND_NEVER;
}

static void e131_begin(E131 *e131, int64_t now) {
    if (e131->holds) {
        uint8_t *shown = e131->held;
        e131->held = e131->shown;
        e131->shown = shown;
        e131->holds = false;
        e131->started = true;
        e131->copies = 0;
        e131->counts.frames++;
    }
    e131->stage = STAGE_DATA;
    e131->next = 0;
    e131->began = now;
}

static void e131_end(E131 *e131) {
    e131->stage = STAGE_NONE;
    if (e131->copies < E131_EQUAL)
        e131->copies++;
}

/* One packet of the round, and what follows from how that went. False: no further for now. */
static bool e131_advance(E131 *e131, BackendResult *result, BackendError *error) {
    bool sync = e131->stage == STAGE_SYNC;
    E131Sent sent = sync ? e131_send_sync(e131, error) : e131_send_data(e131, error);
    if (sent == SENT_FINE || sent == SENT_LOST) {
        if (!sync && ++e131->next < e131->universes)
            return true;
        /* From the last packet on, so that no universe sees two frames closer. */
        int64_t now = e131->system->now();
        if (!sync)
            e131->free = now + E131_BETWEEN;
        e131->resume = now + E131_BEFORE_SYNC;
        if (!sync && e131->universes > 1 && !e131->ending)
            e131->stage = STAGE_SYNC;
        else
            e131_end(e131);
        return false;
    }
    int64_t now = e131->system->now();
    e131->resume = now + E131_RETRY;
    if (sent == SENT_FAILED) {
        e131->stage = STAGE_NONE;
        e131->copies = E131_EQUAL;
        e131->free = now + E131_BETWEEN;
        *result = BACKEND_FAILED;
    }
    return false;
}

static BackendResult e131_again(Backend *backend, BackendError *error) {
    E131 *e131 = (E131 *)backend;
    BackendResult result = BACKEND_FINE;
    int64_t now = e131->system->now();
    if (now < e131_due(backend))
        return e131->holds || e131->stage != STAGE_NONE ? BACKEND_BUSY : BACKEND_FINE;
    if (e131->stage == STAGE_NONE)
        e131_begin(e131, now);
    while (e131_advance(e131, &result, error))
        continue;
    if (result == BACKEND_FINE && (e131->holds || e131->stage != STAGE_NONE))
        result = BACKEND_BUSY;
    return result;
}

/* A frame equal to the one that is shown is no new one: the picture goes on being still. */
static void e131_hold(E131 *e131) {
    bool equal = e131->started &&
                 memcmp(e131->held, e131->shown, (size_t)e131->pixels * e131->channels) == 0;
    e131->counts.dropped += e131->holds;
    e131->holds = !equal;
}

static BackendResult e131_frame(Backend *backend, const BackendFrame *frame, BackendError *error) {
    E131 *e131 = (E131 *)backend;
    order_channels(e131->order, frame->bytes, e131->pixels, e131->held);
    e131_hold(e131);
    return e131_again(backend, error);
}

/* -------- closing -------- */

/* Sends what is due until no frame is held and this one is out E131_EQUAL times. */
static BackendResult e131_settle(E131 *e131, int64_t until, BackendError *error) {
    while (e131->holds || e131->stage != STAGE_NONE || e131->copies < E131_EQUAL) {
        int64_t now = e131->system->now(), due = e131_due(&e131->backend);
        if (now >= until)
            return BACKEND_FINE;
        if (due > now)
            e131->system->wait(NULL, 0, (int)((due - now + 999) / 1000));
        else if (e131_again(&e131->backend, error) == BACKEND_FAILED)
            return BACKEND_FAILED;
    }
    return BACKEND_FINE;
}

static BackendResult e131_finish(E131 *e131, BackendError *error) {
    const int64_t until = e131->system->now() + E131_CLOSE_MOST;
    if (!e131->started && !e131->holds)
        return BACKEND_FINE;
    if (!e131->stays) {
        memset(e131->held, 0, (size_t)e131->pixels * e131->channels);
        e131_hold(e131);
    }
    BackendResult result = e131_settle(e131, until, error);
    if (result == BACKEND_FAILED)
        return result;
    e131->ending = true;
    e131->copies = 0;
    return e131_settle(e131, until, error);
}

static BackendResult e131_close(Backend *backend, BackendError *error) {
    E131 *e131 = (E131 *)backend;
    BackendResult result = e131_finish(e131, error);
    if (e131->system->close(e131->socket) != 0 && result == BACKEND_FINE) {
        backend_say(error, "cannot close the socket", errno);
        result = BACKEND_FAILED;
    }
    e131_free(e131);
    return result;
}

const BackendKind e131_backend = {.name = "e131",
                                  .takes_light = false,
                                  .open = e131_open,
                                  .frame = e131_frame,
                                  .close = e131_close,
                                  .due = e131_due,
                                  .again = e131_again};
