/* The sessions that this person has on lamps: a file of lines `URL TOKEN`, readable by nobody else,
 * $XDG_CONFIG_HOME/gloam/sessions or ~/.config/gloam/sessions. */
#ifndef GLOAM_SERVICE_CALL_KEYRING_H
#define GLOAM_SERVICE_CALL_KEYRING_H

#include <stdbool.h>

enum { KEYRING_TOKEN = 128 };

/* False: there is none for that lamp. */
bool keyring_find(const char *url, char token[KEYRING_TOKEN]);
/* Replaces that of the lamp; NULL: removes it. The file is replaced as a whole. False: errno. */
bool keyring_keep(const char *url, const char *token);

#endif
