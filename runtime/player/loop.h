/* What a process waits for: descriptors, each with who is called when it has something. Nothing is
 * polled. The clock's timers, signals, files and whatever else comes by a descriptor (sockets, a
 * page, a broker) are handlers alike. */
#ifndef GLOAM_PLAYER_LOOP_H
#define GLOAM_PLAYER_LOOP_H

#include <stdbool.h>
#include <stdint.h>

typedef struct Loop Loop;

/* `events` as of epoll(7). May add and remove descriptors, its own too. */
typedef void (*LoopHandler)(void *context, uint32_t events);

Loop *loop_create(void); /* NULL: out of memory or descriptors, errno */
void loop_free(Loop *loop);

/* EPOLLIN is waited for, level-triggered. The descriptor stays the caller's to close, after
 * loop_remove. False: errno. */
bool loop_add(Loop *loop, int descriptor, LoopHandler handler, void *context);
/* EPOLLIN, EPOLLOUT, both, or 0 to be deaf for a while. */
bool loop_events(Loop *loop, int descriptor, uint32_t events);
void loop_remove(Loop *loop, int descriptor); /* one that is not there, or -1, is fine */

/* Waits until something is there, but not longer than `milliseconds` (-1: without end), and calls
 * all whom it concerns. False: nothing was there. */
bool loop_wait(Loop *loop, int milliseconds);

#endif
