/* Pixels over the network, with a system and a clock that the test holds: what goes out, when, to
 * whom; each system call failing in turn. Sections in parentheses are those of ANSI E1.31-2018, as
 * quoted in the check list of a public protocol library. */
#include <arpa/inet.h>
#include <errno.h>
#include <netinet/in.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "backends/e131.h"
#include "runtime/core/memory.h"
#include "tests/support/e131_read.h"

enum { MILLISECOND = 1000, SECOND = 1000000, PACKETS_MOST = 60000, THE_SOCKET = 1234 };

static const uint8_t cid[16] = {0x12, 0x34, 0x56, 0x78, 0x9A, 0xBC, 0x4D, 0xEF,
                                0x80, 0x01, 2,    3,    4,    5,    6,    7};

/* -------- the system of the test -------- */

typedef struct Packet {
    int64_t at;
    struct sockaddr_storage to;
    socklen_t to_length;
    size_t length;
    uint8_t octets[E131_DATA_MOST];
    E131Read read;
} Packet;

static struct Stage {
    int64_t now;
    Packet *packets;
    size_t count;
    char host[256], service[16];
    struct addrinfo found[2];
    struct sockaddr_storage addresses[2];
    int resolve_fails, socket_fails, socket_errno, close_errno;
    int send_errno, send_from, send_count; /* attempts from .. from + count fail */
    int attempts, open, released, waited;
    int64_t send_takes;
    unsigned long live; /* blocks before the test */
} stage;

static int stage_resolve(const char *host, const char *service, const struct addrinfo *hints,
                         struct addrinfo **found) {
    assert_int_equal(hints->ai_socktype, SOCK_DGRAM);
    assert_int_equal(hints->ai_family, AF_UNSPEC);
    strncpy(stage.host, host, sizeof stage.host - 1);
    strncpy(stage.service, service, sizeof stage.service - 1);
    if (stage.resolve_fails != 0)
        return stage.resolve_fails;
    stage.released--;
    *found = stage.found;
    return 0;
}

static void stage_release(struct addrinfo *found) {
    assert_ptr_equal(found, stage.found);
    stage.released++;
}

static int stage_socket(int family, int type, int protocol) {
    assert_true(family == AF_INET || family == AF_INET6);
    assert_int_equal(type, SOCK_DGRAM | SOCK_NONBLOCK | SOCK_CLOEXEC);
    assert_int_equal(protocol, 0);
    if (stage.socket_fails > 0) {
        stage.socket_fails--;
        errno = stage.socket_errno;
        return -1;
    }
    stage.open++;
    return THE_SOCKET;
}

static ssize_t stage_send(int descriptor, const void *octets, size_t length, int flags,
                          const struct sockaddr *to, socklen_t to_length) {
    assert_int_equal(descriptor, THE_SOCKET);
    assert_true((flags & ~(MSG_NOSIGNAL | MSG_DONTWAIT)) == 0);
    int attempt = stage.attempts++;
    if (attempt >= stage.send_from && attempt - stage.send_from < stage.send_count) {
        errno = stage.send_errno;
        return -1;
    }
    assert_true(stage.count < PACKETS_MOST);
    Packet *packet = &stage.packets[stage.count++];
    *packet = (Packet){.at = stage.now, .to_length = to_length, .length = length};
    memcpy(&packet->to, to, to_length);
    memcpy(packet->octets, octets, length);
    const char *wrong = e131_read(packet->octets, length, &packet->read);
    if (wrong != NULL)
        fail_msg("packet %zu: %s", stage.count, wrong);
    stage.now += stage.send_takes;
    return (ssize_t)length;
}

static int stage_wait(struct pollfd *set, nfds_t count, int milliseconds) {
    assert_null(set);
    assert_int_equal(count, 0);
    assert_true(milliseconds > 0);
    stage.now += (int64_t)milliseconds * MILLISECOND;
    stage.waited++;
    return 0;
}

static int stage_close(int descriptor) {
    assert_int_equal(descriptor, THE_SOCKET);
    stage.open--;
    errno = stage.close_errno;
    return stage.close_errno != 0 ? -1 : 0;
}

static int64_t stage_now(void) {
    return stage.now;
}

static const E131System the_system = {stage_resolve, stage_release, stage_socket, stage_send,
                                      stage_wait,    stage_close,   stage_now};

static int set_stage(void **state) {
    (void)state;
    Packet *packets = stage.packets != NULL ? stage.packets : calloc(PACKETS_MOST, sizeof(Packet));
    memset(&stage, 0, sizeof stage);
    stage.packets = packets;
    stage.live = memory_live();
    stage.now = 5000 * (int64_t)SECOND;
    struct sockaddr_in6 six = {.sin6_family = AF_INET6, .sin6_port = htons(5568)};
    struct sockaddr_in four = {.sin_family = AF_INET, .sin_port = htons(5568)};
    inet_pton(AF_INET6, "2001:db8::7", &six.sin6_addr);
    inet_pton(AF_INET, "192.0.2.7", &four.sin_addr);
    memcpy(&stage.addresses[0], &four, sizeof four);
    memcpy(&stage.addresses[1], &six, sizeof six);
    stage.found[0] = (struct addrinfo){.ai_family = AF_INET,
                                       .ai_addr = (struct sockaddr *)&stage.addresses[0],
                                       .ai_addrlen = sizeof four};
    stage.found[1] = (struct addrinfo){.ai_family = AF_INET6,
                                       .ai_addr = (struct sockaddr *)&stage.addresses[1],
                                       .ai_addrlen = sizeof six};
    return packets == NULL;
}

static int clear_stage(void **state) {
    (void)state;
    bool whole = stage.open == 0 && stage.released == 0 && memory_live() == stage.live;
    if (!whole)
        print_error("open %d, released %d, live %lu\n", stage.open, stage.released, memory_live());
    return !whole;
}

/* -------- the backend on it -------- */

static Backend *backend;
static BackendError error;

static E131Options lantern(void) {
    return (E131Options){.port = "e131:192.0.2.7",
                         .universe = 1,
                         .priority = 100,
                         .name = "bedroom lantern",
                         .cid = cid,
                         .system = &the_system};
}

static void open_as(const E131Options *own, uint32_t pixels, bool white) {
    BackendOptions options = {.pixels = pixels, .white = white, .own = own};
    backend = e131_backend.open(&options, &error);
    if (backend == NULL)
        fail_msg("%s", error.sentence);
}

static void open_lantern(uint32_t pixels) {
    E131Options own = lantern();
    open_as(&own, pixels, false);
}

static BackendResult show(const uint8_t *bytes) {
    return e131_backend.frame(backend, &(BackendFrame){.bytes = bytes}, &error);
}

/* A frame all of one code. */
static BackendResult show_all(uint8_t code, uint32_t pixels) {
    static uint8_t bytes[4 * 2000];
    memset(bytes, code, 4 * (size_t)pixels);
    return show(bytes);
}

/* Time goes by, and the backend is called whenever it wants to be. */
static void pass(int64_t microseconds) {
    int64_t end = stage.now + microseconds;
    for (int64_t due; (due = e131_backend.due(backend)) <= end;) {
        if (due > stage.now)
            stage.now = due;
        assert_int_not_equal(e131_backend.again(backend, &error), BACKEND_FAILED);
    }
    if (end > stage.now)
        stage.now = end;
}

static void finish(void) {
    assert_int_equal(e131_backend.close(backend, &error), BACKEND_FINE);
}

/* The n-th data packet of a universe, or NULL. */
static const Packet *nth(uint16_t universe, size_t n) {
    for (size_t i = 0; i < stage.count; i++)
        if (!stage.packets[i].read.is_sync && stage.packets[i].read.universe == universe &&
            n-- == 0)
            return &stage.packets[i];
    return NULL;
}

/* -------- what goes out -------- */

static void test_one_packet(void **state) {
    (void)state;
    uint8_t bytes[48];
    for (int i = 0; i < 48; i++)
        bytes[i] = (uint8_t)(200 - i);
    stage.found[0].ai_next = &stage.found[1]; /* of two addresses that would do, the first */
    open_lantern(16);
    assert_int_equal(stage.open, 1);
    assert_true(e131_backend.due(backend) == BACKEND_NEVER);
    assert_int_equal(show(bytes), BACKEND_FINE);
    assert_int_equal(stage.count, 1);
    const E131Read *read = &stage.packets[0].read;
    assert_memory_equal(read->cid, cid, 16);
    assert_string_equal(read->name, "bedroom lantern");
    assert_int_equal(read->priority, 100);
    assert_int_equal(read->sync, 0);
    assert_int_equal(read->options, 0);
    assert_int_equal(read->universe, 1);
    assert_int_equal(read->count, 48);
    assert_memory_equal(read->slots, bytes, 48);
    assert_string_equal(stage.host, "192.0.2.7");
    assert_string_equal(stage.service, "5568");
    assert_memory_equal(&stage.packets[0].to, &stage.addresses[0], sizeof(struct sockaddr_in));
    finish();
}

/* All of one frame put together again is the frame; no pixel is in two universes: 170 of three
 * channels and 128 of four are the most that 512 slots hold. */
static void split(uint32_t pixels, bool white) {
    uint8_t bytes[4000];
    const size_t channels = white ? 4 : 3, share = white ? 128 : 170;
    for (size_t i = 0; i < sizeof bytes; i++)
        bytes[i] = (uint8_t)(i * 31 + i / 256);
    stage.count = 0;
    E131Options own = lantern();
    own.universe = 300;
    open_as(&own, pixels, white);
    show(bytes);
    pass(20 * MILLISECOND);
    size_t data = 0, slots = 0;
    for (size_t i = 0; i < stage.count; i++) {
        const E131Read *read = &stage.packets[i].read;
        if (read->is_sync)
            continue;
        assert_int_equal(read->universe, 300 + data++);
        assert_int_equal(read->count % channels, 0);
        assert_true(slots + read->count == channels * pixels || read->count == channels * share);
        assert_memory_equal(read->slots, bytes + slots, read->count);
        slots += read->count;
    }
    assert_int_equal(slots, channels * pixels);
    assert_int_equal(data, e131_universes(pixels, white));
    assert_int_equal(stage.count, data > 1 ? data + 1 : 1);
    finish();
}

static void test_split(void **state) {
    (void)state;
    for (uint32_t pixels = 1; pixels <= 1000; pixels++) {
        split(pixels, false);
        split(pixels, true);
    }
    assert_int_equal(e131_universes(170, false), 1);
    assert_int_equal(e131_universes(171, false), 2);
    assert_int_equal(e131_universes(128, true), 1);
    assert_int_equal(e131_universes(129, true), 2);
    assert_int_equal(e131_universes(100000, false), 589);
}

static void test_order(void **state) {
    (void)state;
    const uint8_t bytes[] = {1, 2, 3, 4, 5, 6}, wire[] = {2, 1, 3, 5, 4, 6};
    const uint8_t four[] = {1, 2, 3, 4}, four_wire[] = {4, 2, 1, 3};
    E131Options own = lantern();
    own.order = "grb";
    open_as(&own, 2, false);
    show(bytes);
    assert_memory_equal(stage.packets[0].read.slots, wire, 6);
    finish();
    stage.count = 0;
    own.order = "wgrb";
    open_as(&own, 1, true);
    show(four);
    assert_memory_equal(stage.packets[0].read.slots, four_wire, 4);
    finish();
}

static void test_priority(void **state) {
    (void)state;
    const uint32_t priorities[] = {0, 1, 200};
    E131Options own = lantern();
    for (size_t i = 0; i < 3; i++) {
        stage.count = 0;
        own.priority = priorities[i];
        open_as(&own, 1, false);
        show_all(9, 1);
        assert_int_equal(stage.packets[0].read.priority, priorities[i]);
        finish();
    }
}

/* +1 a packet and universe, from 255 to 0 (6.2.5). */
static void test_sequence(void **state) {
    (void)state;
    open_lantern(171);
    for (int i = 0; i < 600; i++) {
        show_all((uint8_t)(i & 1), 171);
        pass(30 * MILLISECOND);
    }
    finish();
    for (uint16_t universe = 1; universe <= 2; universe++)
        for (size_t n = 0; n < 600; n++) {
            const Packet *packet = nth(universe, n);
            assert_non_null(packet);
            assert_int_equal(packet->read.sequence, n & 255);
        }
    size_t syncs = 0;
    for (size_t i = 0; i < stage.count; i++)
        if (stage.packets[i].read.is_sync)
            assert_int_equal(stage.packets[i].read.sequence, syncs++ & 255);
    assert_true(syncs >= 600);
}

/* -------- when -------- */

/* 60 frames a second for ten seconds: at most 40 of them go out, each the newest there was, and
 * never two within 25 ms of each other; also where the system takes its time. */
static void rate(int64_t takes) {
    set_stage(NULL);
    stage.send_takes = takes;
    open_lantern(340);
    const int64_t start = stage.now;
    uint64_t held = 0;
    for (int i = 0; i < 600; i++) {
        pass(start + i * (int64_t)SECOND / 60 - stage.now);
        held += show_all((uint8_t)(i % 251), 340) == BACKEND_BUSY;
    }
    pass(30 * MILLISECOND);
    E131Counts counts = e131_counts(backend);
    assert_in_range(counts.frames, 370, 402);
    assert_int_equal(counts.frames + counts.dropped, 600);
    assert_true(held > 0);
    for (uint16_t universe = 1; universe <= 2; universe++) {
        const Packet *last = nth(universe, 0), *packet;
        for (size_t n = 1; n < 370; n++, last = packet) {
            packet = nth(universe, n);
            assert_non_null(packet);
            assert_true(packet->at - last->at >= 25 * MILLISECOND);
            /* As good as the newest: at the very instant of a frame the one before may go out. */
            int64_t i = packet->read.slots[0];
            while (start + (i + 251) * SECOND / 60 <= packet->at)
                i += 251;
            assert_true(start + i * SECOND / 60 <= packet->at);
            assert_true(start + (i + 1) * SECOND / 60 + 2 * takes >= packet->at);
        }
    }
    finish();
}

static void test_rate(void **state) {
    (void)state;
    rate(0);
    rate(700);
}

/* A frame that came too early is not lost when none follows. */
static void test_held(void **state) {
    (void)state;
    open_lantern(1);
    const int64_t start = stage.now;
    assert_int_equal(show_all(1, 1), BACKEND_FINE);
    stage.now += MILLISECOND;
    assert_int_equal(show_all(2, 1), BACKEND_BUSY);
    assert_int_equal(show_all(3, 1), BACKEND_BUSY);
    assert_int_equal(e131_backend.again(backend, &error), BACKEND_BUSY);
    assert_int_equal(stage.count, 1);
    assert_true(e131_backend.due(backend) == start + 25 * MILLISECOND);
    stage.now = start + 25 * MILLISECOND - 1;
    assert_int_equal(e131_backend.again(backend, &error), BACKEND_BUSY);
    assert_int_equal(stage.count, 1);
    stage.now++;
    assert_int_equal(e131_backend.again(backend, &error), BACKEND_FINE);
    assert_int_equal(stage.count, 2);
    assert_int_equal(stage.packets[1].read.slots[0], 3);
    E131Counts counts = e131_counts(backend);
    assert_int_equal(counts.frames, 2);
    assert_int_equal(counts.dropped, 1);
    finish();
}

/* A frame that takes back one that still waits leaves the picture still. */
static void test_taken_back(void **state) {
    (void)state;
    open_lantern(1);
    show_all(1, 1);
    pass(MILLISECOND);
    show_all(2, 1);
    assert_int_equal(show_all(1, 1), BACKEND_FINE);
    pass(5 * SECOND);
    for (size_t i = 0; i < stage.count; i++)
        assert_int_equal(stage.packets[i].read.slots[0], 1);
    assert_in_range(stage.count, 8, 9);
    finish();
}

/* Three equal packets, then one every 800 to 1000 ms, the sequence counting on (6.6.2). */
static void still(bool shown_on) {
    set_stage(NULL);
    open_lantern(16);
    show_all(40, 16);
    for (int i = 0; i < 600; i++) {
        pass(SECOND / 60);
        if (shown_on)
            assert_int_equal(show_all(40, 16), BACKEND_FINE);
    }
    assert_in_range(stage.count, 3 + 10, 3 + 12);
    for (size_t i = 1; i < stage.count; i++) {
        const Packet *packet = &stage.packets[i];
        int64_t since = packet->at - stage.packets[i - 1].at;
        assert_int_equal(packet->read.sequence, i);
        assert_memory_equal(packet->read.slots, stage.packets[0].read.slots, 48);
        if (i < 3)
            assert_in_range(since, 25 * MILLISECOND, 50 * MILLISECOND);
        else
            assert_in_range(since, 800 * MILLISECOND, 1000 * MILLISECOND);
    }
    assert_int_equal(e131_counts(backend).frames, 1);
    size_t before = stage.count;
    show_all(41, 16);
    assert_int_equal(stage.count, before + 1);
    finish();
}

static void test_still(void **state) {
    (void)state;
    still(false);
    still(true);
}

/* Called late, it sends once, not for every time that was missed. */
static void test_late_call(void **state) {
    (void)state;
    open_lantern(1);
    show_all(1, 1);
    stage.now += 3600 * (int64_t)SECOND;
    assert_int_equal(e131_backend.again(backend, &error), BACKEND_FINE);
    assert_int_equal(e131_backend.again(backend, &error), BACKEND_FINE);
    assert_int_equal(stage.count, 2);
    finish();
}

/* The address of the packets that say when to show, in every data packet (6.2.4.1); they follow
 * after a small pause (11.2.2); light goes on where they are lost (6.2.6, from memory). */
static void test_sync(void **state) {
    (void)state;
    E131Options own = lantern();
    own.universe = 40;
    open_as(&own, 400, false);
    assert_int_equal(show_all(7, 400), BACKEND_BUSY);
    assert_int_equal(stage.count, 3);
    for (size_t i = 0; i < 3; i++) {
        assert_int_equal(stage.packets[i].read.sync, 40);
        assert_int_equal(stage.packets[i].read.options, 0x20);
    }
    int64_t due = e131_backend.due(backend);
    assert_in_range(due - stage.packets[2].at, 500, 5000);
    stage.now = due;
    assert_int_equal(e131_backend.again(backend, &error), BACKEND_FINE);
    assert_int_equal(stage.count, 4);
    assert_true(stage.packets[3].read.is_sync);
    assert_int_equal(stage.packets[3].read.sync, 40);
    assert_memory_equal(stage.packets[3].read.cid, cid, 16);
    assert_memory_equal(&stage.packets[3].to, &stage.addresses[0], sizeof(struct sockaddr_in));
    /* A frame that comes before the packet of the last one went out does not overtake it. */
    pass(200 * MILLISECOND);
    stage.count = 0;
    show_all(8, 400);
    stage.now += 100;
    show_all(9, 400);
    pass(20 * MILLISECOND);
    assert_int_equal(stage.count, 4);
    assert_true(stage.packets[3].read.is_sync);
    assert_int_equal(stage.packets[2].read.slots[0], 8);
    finish();
}

/* -------- to whom -------- */

static void test_multicast(void **state) {
    (void)state;
    E131Options own = lantern();
    own.port = "e131:multicast";
    own.universe = 255;
    open_as(&own, 200, false);
    show_all(3, 200);
    pass(5 * MILLISECOND);
    assert_int_equal(stage.count, 3);
    assert_string_equal(stage.host, "");
    const char *const groups[] = {"239.255.0.255", "239.255.1.0", "239.255.0.255"};
    for (size_t i = 0; i < 3; i++) {
        const struct sockaddr_in *to = (const struct sockaddr_in *)&stage.packets[i].to;
        char text[INET_ADDRSTRLEN];
        assert_int_equal(to->sin_family, AF_INET);
        assert_int_equal(ntohs(to->sin_port), 5568);
        assert_string_equal(inet_ntop(AF_INET, &to->sin_addr, text, sizeof text), groups[i]);
    }
    finish();
}

/* The first address that there is a socket for: here the machine has no IPv4. */
static void test_second_address(void **state) {
    (void)state;
    E131Options own = lantern();
    own.port = "e131:lantern.example";
    own.service = 15568;
    stage.found[0].ai_next = &stage.found[1];
    stage.socket_fails = 1;
    stage.socket_errno = EAFNOSUPPORT;
    open_as(&own, 1, false);
    assert_string_equal(stage.host, "lantern.example");
    assert_string_equal(stage.service, "15568");
    show_all(1, 1);
    assert_int_equal(stage.packets[0].to_length, sizeof(struct sockaddr_in6));
    assert_memory_equal(&stage.packets[0].to, &stage.addresses[1], sizeof(struct sockaddr_in6));
    finish();
}

/* -------- the end -------- */

/* A dark frame, three times; then three packets of each universe that say that the stream ends
 * (6.2.6). */
static void ends(bool stays, uint32_t pixels) {
    set_stage(NULL);
    E131Options own = lantern();
    own.stays = stays;
    open_as(&own, pixels, false);
    show_all(50, pixels);
    pass(5 * SECOND);
    size_t before = stage.count;
    int64_t closing = stage.now;
    finish();
    assert_true(stage.now - closing <= 300 * MILLISECOND);
    size_t dark = 0, last[3] = {0};
    for (size_t i = before; i < stage.count; i++) {
        const E131Read *read = &stage.packets[i].read;
        if (read->is_sync)
            continue;
        if ((read->options & E131_TERMINATED) != 0) {
            last[read->universe]++;
            assert_int_equal(read->sync, 0);
            continue;
        }
        assert_int_equal(last[1] + last[2], 0);
        assert_int_equal(read->slots[0], 0);
        dark++;
    }
    assert_int_equal(last[1], 3);
    assert_int_equal(last[2], pixels > 170 ? 3 : 0);
    assert_int_equal(dark, stays ? 0 : pixels > 170 ? 6 : 3);
    for (size_t n = 1; nth(1, n) != NULL; n++) {
        assert_int_equal(nth(1, n)->read.sequence, n);
        assert_true(nth(1, n)->at - nth(1, n - 1)->at >= 25 * MILLISECOND);
    }
}

static void test_end(void **state) {
    (void)state;
    ends(false, 16);
    ends(true, 16);
    ends(false, 200);
    ends(true, 200);
}

/* A frame that still waits goes out before a stream that stays ends. */
static void test_end_held(void **state) {
    (void)state;
    E131Options own = lantern();
    own.stays = true;
    open_as(&own, 1, false);
    show_all(1, 1);
    show_all(2, 1);
    finish();
    assert_int_equal(stage.count, 1 + 3 + 3);
    assert_int_equal(stage.packets[1].read.slots[0], 2);
    assert_int_equal(stage.packets[4].read.options, E131_TERMINATED);
}

/* What never began needs no end. */
static void test_end_unbegun(void **state) {
    (void)state;
    open_lantern(16);
    finish();
    assert_int_equal(stage.count, 0);
}

/* -------- trouble -------- */

static void refused(const E131Options *own, uint32_t pixels, bool white, bool level,
                    const char *sentence) {
    BackendOptions options = {.pixels = pixels, .white = white, .level = level, .own = own};
    memset(&error, 0, sizeof error);
    assert_null(e131_backend.open(&options, &error));
    assert_string_equal(error.sentence, sentence);
    assert_int_equal(stage.open, 0);
    assert_int_equal(stage.released, 0);
}

static void test_refused(void **state) {
    (void)state;
    static const uint8_t nobody[16] = {0};
    const char port[] = "the port of a lamp in the network is `e131:` and an address";
    const char order[] = "the order does not name the channels of the lamp";
    const char identity[] = "the network needs an identity of this machine";
    E131Options own = lantern();
    refused(&own, 1, false, true, "a lamp in the network has no level beside its colours");
    own.port = "192.0.2.7";
    refused(&own, 1, false, false, port);
    own.port = "e131:";
    refused(&own, 1, false, false, port);
    own = lantern();
    own.order = "rgb";
    refused(&own, 1, true, false, order);
    own.order = "rgbw";
    refused(&own, 1, false, false, order);
    own = lantern();
    own.priority = 201;
    refused(&own, 1, false, false, "the priority goes from 0 to 200");
    own = lantern();
    own.cid = NULL;
    refused(&own, 1, false, false, identity);
    own.cid = nobody;
    refused(&own, 1, false, false, identity);
}

static void test_universes(void **state) {
    (void)state;
    E131Options own = lantern();
    own.universe = 0;
    refused(&own, 1, false, false,
            "1 pixels take 1 universes, and there are no so many from 0 on: they go from 1 to "
            "63999");
    own.universe = 64000;
    refused(&own, 1, false, false,
            "1 pixels take 1 universes, and there are no so many from 64000 on: they go from 1 to "
            "63999");
    own.universe = 63998;
    refused(&own, 341, false, false,
            "341 pixels take 3 universes, and there are no so many from 63998 on: they go from 1 "
            "to 63999");
    open_as(&own, 340, false);
    show_all(1, 340);
    assert_int_equal(nth(63999, 0)->read.count, 510);
    finish();
}

static void test_no_host(void **state) {
    (void)state;
    E131Options own = lantern();
    own.port = "e131:lantern.example";
    stage.resolve_fails = EAI_NONAME;
    refused(&own, 1, false, false, "cannot find `lantern.example`: Name or service not known");
    stage.resolve_fails = EAI_SYSTEM;
    errno = ENOMEM;
    refused(&own, 1, false, false, "cannot find `lantern.example`: Cannot allocate memory");
}

static void test_no_socket(void **state) {
    (void)state;
    E131Options own = lantern();
    stage.socket_errno = EMFILE;
    stage.socket_fails = 1;
    refused(&own, 1, false, false, "cannot open a socket: Too many open files");
    own.port = "e131:multicast";
    stage.socket_fails = 1;
    refused(&own, 1, false, false, "cannot open a socket: Too many open files");
}

static void test_no_memory(void **state) {
    (void)state;
    E131Options own = lantern();
    for (unsigned long n = 1; n <= 4; n++) {
        memory_fail_at(n);
        refused(&own, 200, false, false, "cannot open the network: Cannot allocate memory");
        memory_fail_at(0);
        assert_int_equal(memory_live(), stage.live);
    }
}

/* A network that is down is tried on and on, and counted; it comes back, and the numbers go on as
 * if nothing had been: what never left uses none up. */
static void test_network_down(void **state) {
    (void)state;
    const int troubles[] = {ENETUNREACH, EHOSTUNREACH, ENETDOWN,     ECONNREFUSED,
                            EPERM,       ENODEV,       EADDRNOTAVAIL};
    for (size_t i = 0; i < sizeof troubles / sizeof troubles[0]; i++) {
        set_stage(NULL);
        open_lantern(1);
        show_all(0, 1);
        stage.send_errno = troubles[i];
        stage.send_from = stage.attempts;
        stage.send_count = 247;
        for (int frame = 1; frame <= 246; frame++) {
            pass(25 * MILLISECOND);
            assert_int_not_equal(show_all((uint8_t)frame, 1), BACKEND_FAILED);
        }
        E131Counts counts = e131_counts(backend);
        assert_int_equal(counts.packets, 1);
        assert_int_equal(counts.lost, 247 - (stage.send_from + 247 - stage.attempts));
        assert_true(counts.lost > 240);
        assert_int_equal(counts.trouble, troubles[i]);
        pass(20 * SECOND);
        assert_true(stage.count > 10);
        assert_false(e131_late(stage.packets[0].read.sequence, stage.packets[1].read.sequence));
        assert_int_equal(stage.packets[1].read.sequence, 1);
        assert_int_equal(stage.packets[1].read.slots[0], 246);
        assert_int_equal(e131_counts(backend).trouble, 0);
        finish();
    }
}

/* A full queue: the rest of the frame goes out later, in order, nothing twice. */
static void test_queue_full(void **state) {
    (void)state;
    const int full[] = {EAGAIN, ENOBUFS, ENOMEM};
    for (size_t i = 0; i < 3; i++) {
        set_stage(NULL);
        stage.send_errno = full[i];
        stage.send_from = 1;
        stage.send_count = 3;
        open_lantern(400);
        assert_int_equal(show_all(1, 400), BACKEND_BUSY);
        assert_int_equal(stage.count, 1);
        int64_t due = e131_backend.due(backend);
        assert_in_range(due - stage.now, 1, 10 * MILLISECOND);
        assert_int_equal(show_all(2, 400), BACKEND_BUSY); /* waits for the rest of the first */
        pass(15 * MILLISECOND);
        assert_int_equal(stage.count, 4);
        for (uint16_t universe = 1; universe <= 3; universe++) {
            assert_int_equal(nth(universe, 0)->read.slots[0], 1);
            assert_int_equal(nth(universe, 0)->read.sequence, 0);
        }
        assert_true(stage.packets[3].read.is_sync);
        pass(25 * MILLISECOND);
        assert_int_equal(nth(3, 1)->read.slots[0], 2);
        assert_int_equal(e131_counts(backend).lost, 0);
        finish();
    }
}

static void test_interrupted(void **state) {
    (void)state;
    stage.send_errno = EINTR;
    stage.send_count = 2;
    open_lantern(1);
    assert_int_equal(show_all(1, 1), BACKEND_FINE);
    assert_int_equal(stage.count, 1);
    finish();
}

/* What does not pass by itself is told, and the next frame tried all the same. */
static void test_send_fails(void **state) {
    (void)state;
    const struct {
        int number;
        const char *sentence;
    } cases[] = {
        {EACCES, "cannot send to `192.0.2.7`: Permission denied"},
        {EINVAL, "cannot send to `192.0.2.7`: Invalid argument"},
        {EMSGSIZE, "cannot send to `192.0.2.7`: Message too long"},
        {EBADF, "cannot send to `192.0.2.7`: Bad file descriptor"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        set_stage(NULL);
        open_lantern(400);
        stage.send_errno = cases[i].number;
        stage.send_from = 1;
        stage.send_count = 1;
        assert_int_equal(show_all(1, 400), BACKEND_FAILED);
        assert_string_equal(error.sentence, cases[i].sentence);
        assert_int_equal(stage.count, 1);
        assert_true(e131_backend.due(backend) >= stage.now + 25 * MILLISECOND);
        assert_int_equal(show_all(2, 400), BACKEND_BUSY); /* no sooner than at the usual rate */
        assert_int_equal(stage.count, 1);
        stage.now += 25 * MILLISECOND;
        assert_int_equal(show_all(2, 400), BACKEND_BUSY);
        assert_int_equal(stage.count, 4);
        finish();
    }
}

/* Closing frees all that there is, whatever fails, and never takes long. */
static void test_close_fails(void **state) {
    (void)state;
    open_lantern(1);
    show_all(1, 1);
    stage.close_errno = EIO;
    assert_int_equal(e131_backend.close(backend, &error), BACKEND_FAILED);
    assert_string_equal(error.sentence, "cannot close the socket: Input/output error");
    stage.close_errno = 0;
    open_lantern(1);
    show_all(1, 1);
    stage.send_errno = EACCES;
    stage.send_from = stage.attempts;
    stage.send_count = 1000000;
    assert_int_equal(e131_backend.close(backend, &error), BACKEND_FAILED);
    assert_string_equal(error.sentence, "cannot send to `192.0.2.7`: Permission denied");
    const int waits[] = {EAGAIN, ENETUNREACH};
    for (int i = 0; i < 2; i++) {
        stage.send_count = 0;
        open_lantern(1);
        show_all(1, 1);
        stage.send_errno = waits[i];
        stage.send_from = stage.attempts;
        stage.send_count = 1000000;
        int64_t start = stage.now;
        assert_int_equal(e131_backend.close(backend, &error), BACKEND_FINE);
        assert_true(stage.now - start <= 1010 * MILLISECOND);
    }
}

/* -------- the machine's own system -------- */

static void over(int family, const char *port, const char *address) {
    struct sockaddr_storage here = {.ss_family = (sa_family_t)family};
    socklen_t length = family == AF_INET ? sizeof(struct sockaddr_in) : sizeof(struct sockaddr_in6);
    struct sockaddr_in *four = (struct sockaddr_in *)&here;
    struct sockaddr_in6 *six = (struct sockaddr_in6 *)&here;
    inet_pton(family, address, family == AF_INET ? (void *)&four->sin_addr : &six->sin6_addr);
    int receiver = socket(family, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (receiver < 0 || bind(receiver, (struct sockaddr *)&here, length) != 0) {
        print_message("skipped: nothing can be received at %s: %s\n", address, strerror(errno));
        if (receiver >= 0)
            close(receiver);
        skip();
    }
    assert_int_equal(getsockname(receiver, (struct sockaddr *)&here, &length), 0);
    E131Options own = lantern();
    own.port = port;
    own.system = NULL;
    own.service = ntohs(family == AF_INET ? four->sin_port : six->sin6_port);
    open_as(&own, 16, false);
    assert_int_equal(show_all(77, 16), BACKEND_FINE);
    uint8_t octets[700];
    E131Read read;
    struct timeval patience = {.tv_sec = 5};
    setsockopt(receiver, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
    ssize_t got = recv(receiver, octets, sizeof octets, 0);
    assert_int_equal(got, 174);
    assert_null(e131_read(octets, (size_t)got, &read));
    assert_int_equal(read.slots[47], 77);
    finish();
    close(receiver);
}

static void test_loopback(void **state) {
    (void)state;
    over(AF_INET, "e131:127.0.0.1", "127.0.0.1");
}

static void test_loopback_six(void **state) {
    (void)state;
    over(AF_INET6, "e131:::1", "::1");
}

#define ON_STAGE(test) cmocka_unit_test_setup_teardown(test, set_stage, clear_stage)

int main(void) {
    const struct CMUnitTest tests[] = {
        ON_STAGE(test_one_packet),     ON_STAGE(test_split),       ON_STAGE(test_order),
        ON_STAGE(test_priority),       ON_STAGE(test_sequence),    ON_STAGE(test_rate),
        ON_STAGE(test_held),           ON_STAGE(test_taken_back),  ON_STAGE(test_still),
        ON_STAGE(test_late_call),      ON_STAGE(test_sync),        ON_STAGE(test_multicast),
        ON_STAGE(test_second_address), ON_STAGE(test_end),         ON_STAGE(test_end_held),
        ON_STAGE(test_end_unbegun),    ON_STAGE(test_refused),     ON_STAGE(test_universes),
        ON_STAGE(test_no_host),        ON_STAGE(test_no_socket),   ON_STAGE(test_no_memory),
        ON_STAGE(test_network_down),   ON_STAGE(test_queue_full),  ON_STAGE(test_interrupted),
        ON_STAGE(test_send_fails),     ON_STAGE(test_close_fails), ON_STAGE(test_loopback),
        ON_STAGE(test_loopback_six),
    };
    int wrong = cmocka_run_group_tests(tests, NULL, NULL);
    free(stage.packets);
    return wrong != 0;
}
