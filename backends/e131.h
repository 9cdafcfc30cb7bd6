/* Pixels over the network: ANSI E1.31-2018 (streaming ACN) in UDP, as spec/network.md has it. A
 * lamp takes as many consecutive universes as it needs. Nothing answers at the other end, so a
 * lamp that is switched off is no error, and neither is a network that is down: packets that the
 * system refuses for it are counted, and the next are tried. */
#ifndef GLOAM_BACKENDS_E131_H
#define GLOAM_BACKENDS_E131_H

#include <netdb.h>
#include <poll.h>
#include <sys/socket.h>
#include <sys/types.h>

#include "backends/backend.h"
#include "backends/e131_packet.h"

enum {
    E131_PIXELS_RGB = 170, /* of one universe */
    E131_PIXELS_RGBW = 128,
    E131_EQUAL = 3 /* times that a frame goes out before it counts as still; closing packets */
};

/* Microseconds. */
enum {
    E131_BETWEEN = 25000,     /* two frames, at least: 40 a second */
    E131_STILL = 900000,      /* two equal frames of a still picture (6.6.2: 800 to 1000 ms) */
    E131_BEFORE_SYNC = 1000,  /* from the last data packet to the synchronisation (11.2.2) */
    E131_RETRY = 2000,        /* until a queue that was full is tried again */
    E131_CLOSE_MOST = 1000000 /* closing never takes longer */
};

/* What is asked of the system; each returns what the call of that name does, errno set. */
typedef struct E131System {
    int (*resolve)(const char *host, const char *service, const struct addrinfo *hints,
                   struct addrinfo **found); /* getaddrinfo */
    void (*release)(struct addrinfo *found); /* freeaddrinfo */
    int (*socket)(int family, int type, int protocol);
    ssize_t (*send)(int descriptor, const void *packet, size_t length, int flags,
                    const struct sockaddr *to, socklen_t to_length); /* sendto */
    int (*wait)(struct pollfd *set, nfds_t count, int milliseconds); /* poll; closing only */
    int (*close)(int descriptor);
    int64_t (*now)(void); /* CLOCK_MONOTONIC, microseconds */
} E131System;

/* `own` of the options: needed. */
typedef struct E131Options {
    const char *port;   /* e131:ADDRESS, e131:NAME or e131:multicast */
    const char *order;  /* NULL: red, green, blue[, white] */
    uint32_t universe;  /* the first one, from 1 */
    uint32_t priority;  /* 0..E131_PRIORITY_MOST; usual: 100 */
    const char *name;   /* source name, or NULL: gloam */
    const uint8_t *cid; /* E131_CID_BYTES of an identity that the machine keeps, not all zero */
    bool stays;         /* closing sends no dark frame */
    uint16_t service;   /* UDP port; 0: E131_PORT */
    const E131System *system; /* NULL: the machine's own */
} E131Options;

/* Takes bytes; `level` is refused, since the network carries none. Opening looks the name up, and
 * waits for that; nothing else waits but closing, which spaces its last packets. A frame that comes
 * within E131_BETWEEN of the one before is held (BUSY) and goes out when due; a newer one takes its
 * place. After a failure the next frame may be tried. */
extern const BackendKind e131_backend;

/* For whoever tells how a lamp is doing. */
typedef struct E131Counts {
    uint64_t frames;  /* that went out, without repeats */
    uint64_t dropped; /* a newer one came before they could */
    uint64_t packets; /* the system took */
    uint64_t lost;    /* the system refused because of the network */
    int trouble;      /* errno of the last packet that was lost; 0 once one went out again */
} E131Counts;
E131Counts e131_counts(const Backend *backend);

/* Universes that so many pixels need. */
uint32_t e131_universes(uint32_t pixels, bool white);

#endif
