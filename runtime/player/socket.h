/* The door for other programs of the machine: a socket of its file system, one line in, one answer
 * out (spec/protocol.md), and what is watched. Whoever may open it (mode 0660) may do what is done
 * by hand, and nothing else. The programs that the player itself starts have an end of their own.
 *
 * In:  a line, at most REQUEST_BYTES with its end.
 * Out: `done N` or `refused N`, the end of the line, and N bytes that say what was done, why not,
 *      or what is so; between answers `state N` and `light I N` with N bytes, to who watches. */
#ifndef GLOAM_PLAYER_SOCKET_H
#define GLOAM_PLAYER_SOCKET_H

#include "runtime/player/player.h"

enum {
    SOCKET_CALLERS = 16, /* at a time; one more, and the one that came first has to go */
    SOCKET_HELPERS = 4,  /* beside them: programs that the player started */
    SOCKET_ACTS = 50     /* in a second, of all callers together; then they are refused */
};

typedef struct PlayerSocket PlayerSocket;

/* Listens at `path`; what an earlier player left there is replaced. With a path of NULL there is no
 * door, but programs can be adopted. NULL: `said` tells why. */
PlayerSocket *socket_open(const char *path, Loop *loop, Player *player, char *said, size_t size);
void socket_close(PlayerSocket *socket); /* NULL is fine */

/* One end of a pair of sockets becomes the player's. False: errno; it stays the caller's. */
bool socket_adopt(PlayerSocket *socket, int descriptor);

/* Answers, and tells who watches; to be called after each turn of the player, so that what an
 * answer says is kept by then. NULL is fine. */
void socket_turn(PlayerSocket *socket);

typedef enum SocketAsked { SOCKET_DONE, SOCKET_REFUSED, SOCKET_NOBODY } SocketAsked;

/* The other end: asks and waits, for seconds at most. *answer is memory_allocate'd (NULL where
 * nobody is there or memory ran out), NUL-terminated. */
SocketAsked socket_ask(const char *path, const char *line, char **answer);

#endif
