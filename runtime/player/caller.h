/* One who is connected to the player: lines in, messages out. Nothing is waited for: what cannot be
 * sent at once stands in a queue, and who lets it grow too long is let go. */
#ifndef GLOAM_PLAYER_CALLER_H
#define GLOAM_PLAYER_CALLER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "runtime/player/loop.h"
#include "runtime/player/request.h"

enum { CALLER_QUEUE = 768 * 1024 }; /* bytes */

typedef struct Caller {
    Loop *loop;
    int descriptor; /* -1: nobody */
    void *context;  /* of who takes its lines */
    bool lost;      /* to be let go at the next turn */
    bool ends;      /* likewise, once what waits has been sent as far as it goes; hears no more */
    bool fresh;     /* something waits that was not tried to be sent */
    bool writes;    /* the loop looks out for room to send */
    size_t used;    /* of `line` */
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
/* Reads what has come; each whole line, without its end, goes to `take`. */
void caller_read(Caller *caller, void (*take)(void *context, const char *line));

#endif
