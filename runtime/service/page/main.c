/* gloam-page: the lamp's page (spec/page.md). Started by the player, whose socket is descriptor 3,
 * or by hand:
 *
 *     gloam-page --home FILE [--state FILE] --listen HOST:PORT|fd:4 [--pairing code|none]
 * [--guests]
 */
#include <errno.h>
#include <fcntl.h>
#include <netdb.h>
#include <netinet/in.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "runtime/core/memory.h"
#include "runtime/player/names.h"
#include "runtime/service/link/confine.h"
#include "runtime/service/link/said.h"
#include "runtime/service/link/signals.h"
#include "runtime/service/link/words.h"
#include "runtime/service/page/access.h"
#include "runtime/service/page/acts.h"
#include "runtime/service/page/drafts.h"
#include "runtime/service/page/server.h"
#include "runtime/service/page/stream.h"

enum { CALL = 2, MACHINE = 3, BACKLOG = 64 };

typedef struct Words {
    const char *home, *state, *listen, *pairing;
    bool guests;
} Words;

static bool read_words(int count, char **arguments, Words *words) {
    const Word list[] = {{.name = "--home", .value = &words->home},
                         {.name = "--state", .value = &words->state},
                         {.name = "--listen", .value = &words->listen},
                         {.name = "--pairing", .value = &words->pairing},
                         {.name = "--guests", .is_there = &words->guests},
                         {0}};
    return words_read(count, arguments, list) && words->home && words->listen;
}

/* -------- where it listens -------- */

/* One socket for IPv6 and IPv4 where the machine has both. -1: errno. */
static int listen_everywhere(const char *port) {
    int no = 0, yes = 1;
    struct sockaddr_in6 six = {.sin6_family = AF_INET6, .sin6_port = htons((uint16_t)atoi(port))};
    struct sockaddr_in four = {.sin_family = AF_INET, .sin_port = six.sin6_port};
    int listening = socket(AF_INET6, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (listening >= 0) {
        setsockopt(listening, IPPROTO_IPV6, IPV6_V6ONLY, &no, sizeof no);
        setsockopt(listening, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
        if (bind(listening, (struct sockaddr *)&six, sizeof six) == 0)
            return listening;
        int error = errno;
        close(listening);
        errno = error;
        if (error == EADDRINUSE || error == EACCES)
            return -1;
    }
    listening = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    setsockopt(listening, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    if (listening >= 0 && bind(listening, (struct sockaddr *)&four, sizeof four) == 0)
        return listening;
    int error = errno;
    if (listening >= 0)
        close(listening);
    errno = error;
    return -1;
}

static int listen_at(const char *host, const char *port) {
    struct addrinfo hints = {.ai_socktype = SOCK_STREAM, .ai_flags = AI_NUMERICHOST}, *found;
    int yes = 1;
    if (getaddrinfo(host, port, &hints, &found) != 0) {
        errno = EADDRNOTAVAIL;
        return -1;
    }
    int listening =
        socket(found->ai_family, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, IPPROTO_TCP);
    setsockopt(listening, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    bool bound = listening >= 0 && bind(listening, found->ai_addr, found->ai_addrlen) == 0;
    int error = errno;
    freeaddrinfo(found);
    if (bound)
        return listening;
    if (listening >= 0)
        close(listening);
    errno = error;
    return -1;
}

/* `*:8080`, `127.0.0.1:8080`, `[::1]:8080`, `fd:4`. -1: errno. */
static int open_listening(const char *place) {
    char host[64];
    const char *colon = strrchr(place, ':');
    if (strncmp(place, "fd:", 3) == 0) {
        int handed = atoi(place + 3);
        fcntl(handed, F_SETFL, fcntl(handed, F_GETFL) | O_NONBLOCK);
        return handed;
    }
    errno = EINVAL;
    if (!colon || (size_t)(colon - place) >= sizeof host)
        return -1;
    bool bracket = *place == '[';
    snprintf(host, sizeof host, "%.*s", (int)(colon - place) - 2 * bracket, place + bracket);
    int listening =
        strcmp(host, "*") == 0 ? listen_everywhere(colon + 1) : listen_at(host, colon + 1);
    if (listening >= 0 && listen(listening, BACKLOG) != 0) {
        close(listening);
        return -1;
    }
    return listening;
}

/* Where it cannot listen that is said once, and tried again. -1: it is to end. */
static int listen_patiently(const char *place, int signals) {
    int pause = SIGNALS_PAUSE_FIRST;
    for (;;) {
        int listening = open_listening(place), error = errno;
        if (listening >= 0)
            return listening;
        if (pause == SIGNALS_PAUSE_FIRST)
            said(SAID_ERROR, "no page at %s: %s; it is tried again%s", place, strerror(error),
                 error == EADDRINUSE ? ", or another port: --page 8081" : "");
        if (error == EINVAL || !signals_pause(signals, &pause))
            return -1;
    }
}

static uint16_t port_of(int listening) {
    struct sockaddr_storage own = {0};
    socklen_t length = sizeof own;
    getsockname(listening, (struct sockaddr *)&own, &length);
    if (own.ss_family == AF_INET6)
        return ntohs(((struct sockaddr_in6 *)(void *)&own)->sin6_port);
    return ntohs(((struct sockaddr_in *)(void *)&own)->sin_port);
}

/* Port 80 taken from an address is no port to tell. */
static void tell_address(Page *page, const char *place) {
    char line[320], port[8] = "";
    bool own = strncmp(place, "127.", 4) == 0 || strncmp(place, "[::1]", 5) == 0;
    if (page->port != 80)
        snprintf(port, sizeof port, ":%u", page->port);
    snprintf(line, sizeof line, "page http://%s%s%s/", own ? "localhost" : page->host,
             own ? "" : ".local", port);
    link_ask(page->link, line, NULL, NULL);
    said(SAID_INFORMATION, "the page: %s", line + strlen("page "));
}

/* -------- what the player tells -------- */

static void on_state(void *context, const char *json, size_t length) {
    Page *page = context;
    json_t *state = json_loadb(json, length, 0, NULL);
    char *line = state ? json_dumps(state, JSON_COMPACT | JSON_REAL_PRECISION(9)) : NULL;
    char *kept = line ? memory_copy_text(line, strlen(line)) : NULL;
    free(line);
    if (!kept) {
        json_decref(state);
        return;
    }
    json_decref(page->told);
    memory_release(page->state_text);
    page->told = state;
    page->state_text = kept;
    page->version++;
    page->taken = (uint64_t)json_integer_value(json_object_get(state, "taken"));
    page->unkept = json_is_false(json_object_get(state, "kept"));
    streams_watch(page);
    streams_wake(page);
}

static void on_light(void *context, uint32_t lamp, const uint8_t *rgb, size_t length) {
    Page *page = context;
    static uint64_t version;
    if (lamp >= PAGE_LAMPS || length > sizeof page->lights[0]->rgb)
        return;
    if (!page->lights[lamp])
        page->lights[lamp] = memory_allocate(1, sizeof *page->lights[lamp]);
    PageLight *light = page->lights[lamp];
    if (!light)
        return;
    memcpy(light->rgb, rgb, length);
    light->length = length;
    light->version = ++version;
    streams_wake(page);
}

/* -------- life -------- */

static int sooner(int a, int b) {
    return a < 0 ? b : b < 0 ? a : a < b ? a : b;
}

/* What could not be kept of the sessions. Milliseconds until it is tried again; -1: nothing is. */
static int keep_sessions(Page *page, int64_t monotonic) {
    bool kept = access_kept(page->access);
    int patience = access_again(page->access, monotonic);
    if (!kept && access_kept(page->access))
        said(SAID_NOTICE, "sessions, and their ends, are kept again");
    return patience;
}

/* Until a signal comes or the player goes. Whoever is resumed, by an answer of the player or since
 * he is due, goes on in server_run: nothing else wakes the library. */
static void serve(Page *page, Server *server, int signals) {
    for (;;) {
        if (link_wants_write(page->link)) /* most of it goes at once */
            link_ready(page->link);
        if (link_descriptor(page->link) < 0)
            return;
        streams_resume(page, page_monotonic());
        server_run(server);
        int patience = sooner(server_patience(server), streams_patience(page, page_monotonic()));
        patience = sooner(patience, keep_sessions(page, page_monotonic() / 1000000));
        struct pollfd waits[] = {{signals, POLLIN, 0},
                                 {link_descriptor(page->link),
                                  (short)(POLLIN | (link_wants_write(page->link) ? POLLOUT : 0)),
                                  0},
                                 {server_descriptor(server), POLLIN, 0}};
        if (poll(waits, 3, patience) < 0 && errno != EINTR)
            return;
        if (waits[0].revents & POLLIN)
            return;
        if (waits[1].revents)
            link_ready(page->link);
    }
}

/* Everybody is sent away, so that nothing hangs on a connection any more. */
static void end(Page *page, Server *server) {
    link_lose(page->link);
    streams_end(page);
    server_run(server);
    server_close(server);
    keep_sessions(page, page_monotonic() / 1000000 + ACCESS_AGAIN);
    drafts_free(page);
    access_free(page->access);
    acts_free(page->acts);
    score_free(page->score);
    json_decref(page->told);
    memory_release(page->state_text);
    for (int i = 0; i < PAGE_LAMPS; i++)
        memory_release(page->lights[i]);
    link_close(page->link);
}

/* What an earlier page has left behind. */
static void sweep(const Page *page) {
    char path[PAGE_PATH];
    if (page_trial(page, path))
        unlink(path);
    if (page_code(page, path))
        unlink(path);
}

static bool make_page(Page *page, const Words *words, char *access_path) {
    static const LinkEvents events = {on_state, on_light};
    char wrong[PAGE_PATH + 240];
    page->home = words->home;
    page->state = words->state;
    page->open = words->pairing && strcmp(words->pairing, "none") == 0;
    page->guests = words->guests;
    name_of_machine(page->host, sizeof page->host);
    if (page->state)
        snprintf(access_path, PAGE_PATH, "%.*s.page", PAGE_PATH - 8, page->state);
    page->access =
        access_create(&state_disk, page->state ? access_path : NULL, wrong, sizeof wrong);
    if (page->access && *wrong)
        said(SAID_WARNING, "%s", wrong);
    page->drafts = drafts_create();
    page->acts = acts_create();
    page->link = link_open(LINK_DESCRIPTOR, &events, page);
    sweep(page);
    return page->access && page->drafts && page->acts && page->link &&
           link_ask(page->link, "watch state", NULL, NULL);
}

int main(int count, char **arguments) {
    static Page page;
    static char access_path[PAGE_PATH];
    Words words = {0};
    char why[128] = "";
    if (!read_words(count, arguments, &words)) {
        said(SAID_ERROR, "the player starts this program: gloam run --page 8080 FILE");
        return CALL;
    }
    int signals = signals_listen(), listening = listen_patiently(words.listen, signals);
    if (listening < 0)
        return MACHINE;
    confine_helper(words.home, words.state);
    Server *server = NULL;
    if (signals < 0 || !make_page(&page, &words, access_path))
        snprintf(why, sizeof why, "out of memory or descriptors");
    else
        server = server_open(&page, listening, why, sizeof why);
    if (!server) {
        said(SAID_ERROR, "no page: %s", why);
        return MACHINE;
    }
    page.port = port_of(listening);
    tell_address(&page, words.listen);
    serve(&page, server, signals);
    end(&page, server);
    return 0;
}
