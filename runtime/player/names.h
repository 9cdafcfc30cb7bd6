/* What others call this machine, and a lamp at a broker. */
#ifndef GLOAM_PLAYER_NAMES_H
#define GLOAM_PLAYER_NAMES_H

#include <stdbool.h>
#include <stddef.h>

enum { NAME_BYTES = 64 }; /* of a plain name, the NUL included */

/* The machine's name without its domain; "lamp" where it has none that fits. */
void name_of_machine(char *name, size_t size);

/* Letters, digits, `-`, `_`, `.`, from 1 to 63. */
bool name_is_plain(const char *name);
/* A plain name that is not the broker's own `all` or `files` (spec/mqtt.md). */
bool name_is_id(const char *name);

#endif
