/* One who is connected to the player: lines in, messages out. Nothing is waited for: what cannot be
 * sent at once stands in a queue. While much of it stands there no line is taken, so that answers
 * find room however fast lines come; one who lets it grow too long all the same is let go. */
#ifndef GLOAM_PLAYER_CALLER_H
#define GLOAM_PLAYER_CALLER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "runtime/player/loop.h"
#include "runtime/player/request.h"

enum {
    CALLER_MESSAGE = 1 << 20,   /* bytes of one message, at most */
    CALLER_ENOUGH = 384 * 1024, /* while so many bytes wait, lines do too */
    CALLER_QUEUE = 1536 * 1024  /* bytes that wait, at most: both, and more */
};

typedef struct Caller {
    Loop *loop;
    int descriptor;  /* -1: nobody */
    void *context;   /* of who takes its lines */
    bool lost;       /* to be let go at the next turn */
    bool ends;       /* likewise, once what waits has been sent as far as it goes; hears no more */
    bool fresh;      /* something waits that was not tried to be sent */
    bool stalls;     /* there are lines that wait until less of `out` does */
    uint32_t events; /* what the loop looks out for */
    size_t used;     /* of `line` */
    char line[REQUEST_BYTES];
    char *out;
    size_t waiting, size; /* of `out` */
} Caller;

/* Takes the descriptor, which becomes non-blocking. False: errno; then it stays the caller's. */
bool caller_begin(Caller *caller, Loop *loop, int descriptor, LoopHandler handler, void *context);
void caller_end(Caller *caller); /* nobody is fine */

/* `head`, the end of a line, and a body wait to be sent. Where they find no room the caller is
 * lost. */
void caller_put(Caller *caller, const char *head, const void *body, size_t length);
/* The same, and is sent: where nothing waits, without a copy. */
void caller_tell(Caller *caller, const char *head, const void *body, size_t length);
/* Sends what waits, as far as it goes. */
void caller_send(Caller *caller);
/* Sends as far as it goes where there is room, and reads what has come; each whole line, without
 * its end, goes to `take`. For what the loop tells of the descriptor. */
void caller_ready(Caller *caller, uint32_t events, void (*take)(void *context, const char *line));

#endif
