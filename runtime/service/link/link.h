/* The player's socket from the other end, for the programs that it starts: lines out, answers and
 * what is watched in (spec/protocol.md). Never waits. */
#ifndef GLOAM_SERVICE_LINK_LINK_H
#define GLOAM_SERVICE_LINK_LINK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* The descriptor that a program finds it at. */
enum { LINK_DESCRIPTOR = 3 };

typedef struct LinkEvents {
    /* The state, as `status json`: NUL-terminated; valid during the call. */
    void (*state)(void *context, const char *json, size_t length);
    /* The light of one lamp, by its place in the state's list: 3 bytes a pixel, sRGB. */
    void (*light)(void *context, uint32_t lamp, const uint8_t *rgb, size_t length);
} LinkEvents;

/* The answer to a line; `text` is NUL-terminated and valid during the call. */
typedef void (*LinkAnswered)(void *token, bool done, const char *text, size_t length);

typedef struct Link Link;

/* Takes the descriptor, which becomes non-blocking. Events are kept by value. NULL: out of memory;
 * then the descriptor stays the caller's. */
Link *link_open(int descriptor, const LinkEvents *events, void *context);
/* As if the player had gone: questions are answered with false. */
void link_lose(Link *link);
void link_close(Link *link); /* NULL is fine; nobody is answered any more */

/* Sends a line (without its end) as soon as it can; the answer comes to `answered` (NULL: to
 * nobody), or false when the player goes. False: out of memory, too much waits, the line holds an
 * end of line, or the player is gone; then there is no answer. */
bool link_ask(Link *link, const char *line, LinkAnswered answered, void *token);

int link_descriptor(const Link *link); /* -1: it is gone */
bool link_wants_write(const Link *link);
/* Reads and writes what goes, and calls. When poll says so. */
void link_ready(Link *link);

#endif
