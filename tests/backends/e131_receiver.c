/* For scripts: a strict receiver of ANSI E1.31, on UDP port 5568.
 *   e131_receiver [-a ADDRESS] [-j UNIVERSE]... [-t SECONDS] [-l PERCENT] [-s SEED]
 * -a where to listen (127.0.0.1; IPv6 too), -j joins the group of a universe on 127.0.0.1, -l loses
 * so many packets by chance, as a bad radio does. Says `ready` when it listens. Ends when all
 * universes that it heard of have ended, or after -t (10). Then prints what a lamp would show
 * last of every universe, and the sums:
 *   light UNIVERSE HEX
 *   data N sync N late N lost N wrong N ended N shortest US longest US
 * `shortest` and `longest`: between two data packets of a universe. Ends with 1 where a packet was
 * wrong; says what. */
#include <arpa/inet.h>
#include <errno.h>
#include <netdb.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "tests/support/e131_read.h"

enum { UNIVERSES = 64000, SLOTS = 512, PORT = 5568 };

typedef struct Universe {
    bool heard, ended;
    uint8_t last;   /* sequence */
    uint16_t waits; /* for packets of this synchronisation address, 0: for none */
    size_t count, held_count;
    int64_t at;
    uint8_t slots[SLOTS], held[SLOTS];
} Universe;

typedef struct Receiver {
    int socket;
    unsigned lose;
    uint64_t chance;
    Universe *universes[UNIVERSES];
    bool sync_heard[UNIVERSES];
    uint8_t sync_last[UNIVERSES];
    unsigned long data, sync, late, lost, wrong, known, ended;
    int64_t shortest, longest;
} Receiver;

static Receiver receiver = {.lose = 0, .chance = 1, .shortest = INT64_MAX};

static int64_t now(void) {
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (int64_t)time.tv_sec * 1000000 + time.tv_nsec / 1000;
}

/* A linear congruential generator, constants of Knuth's MMIX (from memory). */
static bool loses(void) {
    receiver.chance = receiver.chance * 6364136223846793005u + 1442695040888963407u;
    return (receiver.chance >> 33) % 100 < receiver.lose;
}

static Universe *universe_of(uint16_t number) {
    if (receiver.universes[number] == NULL) {
        receiver.universes[number] = calloc(1, sizeof(Universe));
        if (receiver.universes[number] == NULL)
            exit(2);
        receiver.known++;
    }
    return receiver.universes[number];
}

static void take_data(const E131Read *read) {
    Universe *universe = universe_of(read->universe);
    int64_t at = now();
    if (universe->heard && e131_late(universe->last, read->sequence)) {
        receiver.late++;
        return;
    }
    receiver.data++;
    if (universe->heard && !universe->ended) {
        int64_t since = at - universe->at;
        receiver.shortest = since < receiver.shortest ? since : receiver.shortest;
        receiver.longest = since > receiver.longest ? since : receiver.longest;
    }
    universe->heard = true;
    universe->last = read->sequence;
    universe->at = at;
    if ((read->options & 0x40) != 0) { /* its slots do not count (6.2.6) */
        receiver.ended += !universe->ended;
        universe->ended = true;
        return;
    }
    universe->waits = read->sync;
    universe->held_count = read->count;
    memcpy(universe->held, read->slots, read->count);
    if (read->sync == 0 || !receiver.sync_heard[read->sync]) { /* none came yet (11.1.2) */
        universe->count = read->count;
        memcpy(universe->slots, read->slots, read->count);
    }
}

static void take_sync(const E131Read *read) {
    if (receiver.sync_heard[read->sync] &&
        e131_late(receiver.sync_last[read->sync], read->sequence)) {
        receiver.late++;
        return;
    }
    receiver.sync++;
    receiver.sync_heard[read->sync] = true;
    receiver.sync_last[read->sync] = read->sequence;
    for (int i = 1; i < UNIVERSES; i++) {
        Universe *universe = receiver.universes[i];
        if (universe == NULL || universe->waits != read->sync)
            continue;
        universe->count = universe->held_count;
        memcpy(universe->slots, universe->held, universe->held_count);
    }
}

static void take(const uint8_t *octets, size_t length) {
    E131Read read;
    if (loses()) {
        receiver.lost++;
        return;
    }
    const char *wrong = e131_read(octets, length, &read);
    if (wrong != NULL) {
        receiver.wrong++;
        printf("wrong: %s\n", wrong);
    } else if (read.is_sync) {
        take_sync(&read);
    } else {
        take_data(&read);
    }
}

static bool listen_at(const char *address) {
    struct addrinfo hints = {.ai_flags = AI_NUMERICHOST, .ai_socktype = SOCK_DGRAM}, *found;
    int large = 4 << 20, yes = 1;
    if (getaddrinfo(address, "5568", &hints, &found) != 0)
        return false;
    receiver.socket = socket(found->ai_family, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    bool fine = receiver.socket >= 0;
    if (fine) {
        setsockopt(receiver.socket, SOL_SOCKET, SO_RCVBUF, &large, sizeof large);
        setsockopt(receiver.socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
        fine = bind(receiver.socket, found->ai_addr, found->ai_addrlen) == 0;
    }
    freeaddrinfo(found);
    return fine;
}

static bool join(const char *word) {
    unsigned universe = (unsigned)atoi(word);
    struct ip_mreq group = {.imr_multiaddr.s_addr = htonl(0xEFFF0000u | universe),
                            .imr_interface.s_addr = htonl(INADDR_LOOPBACK)};
    return setsockopt(receiver.socket, IPPROTO_IP, IP_ADD_MEMBERSHIP, &group, sizeof group) == 0;
}

static void listen_for(double seconds) {
    uint8_t octets[2048];
    const int64_t end = now() + (int64_t)(1e6 * seconds);
    while (receiver.known == 0 || receiver.ended < receiver.known) {
        int64_t left = end - now();
        struct pollfd set = {.fd = receiver.socket, .events = POLLIN};
        if (left <= 0 || poll(&set, 1, (int)(left / 1000 + 1)) <= 0)
            return;
        ssize_t length = recv(receiver.socket, octets, sizeof octets, 0);
        if (length >= 0)
            take(octets, (size_t)length);
    }
}

static void tell(void) {
    for (int i = 1; i < UNIVERSES; i++) {
        const Universe *universe = receiver.universes[i];
        if (universe == NULL)
            continue;
        printf("light %d ", i);
        for (size_t slot = 0; slot < universe->count; slot++)
            printf("%02x", universe->slots[slot]);
        printf("\n");
        free(receiver.universes[i]);
    }
    printf("data %lu sync %lu late %lu lost %lu wrong %lu ended %lu shortest %lld longest %lld\n",
           receiver.data, receiver.sync, receiver.late, receiver.lost, receiver.wrong,
           receiver.ended, receiver.longest == 0 ? 0 : (long long)receiver.shortest,
           (long long)receiver.longest);
}

int main(int count, char **words) {
    const char *address = "127.0.0.1", *joins[20];
    double seconds = 10;
    int joined = 0;
    for (int option; (option = getopt(count, words, "a:j:t:l:s:")) != -1;)
        switch (option) {
        case 'a':
            address = optarg;
            break;
        case 'j':
            if (joined < 20)
                joins[joined++] = optarg;
            break;
        case 't':
            seconds = atof(optarg);
            break;
        case 'l':
            receiver.lose = (unsigned)atoi(optarg);
            break;
        case 's':
            receiver.chance = strtoull(optarg, NULL, 10);
            break;
        default:
            return 2;
        }
    bool fine = listen_at(address);
    for (int i = 0; fine && i < joined; i++)
        fine = join(joins[i]);
    if (!fine) {
        fprintf(stderr, "cannot listen at %s: %s\n", address, strerror(errno));
        return 2;
    }
    printf("ready\n");
    fflush(stdout);
    listen_for(seconds);
    tell();
    return receiver.wrong > 0;
}
