/* Words to a service manager: sd_notify(3), one datagram each. */
#ifndef GLOAM_PLAYER_NOTIFY_H
#define GLOAM_PLAYER_NOTIFY_H

#include <stdbool.h>

/* `socket` is the value of NOTIFY_SOCKET; NULL or "": nobody listens, which is fine. `text` is
 * lines such as "READY=1". False: it was not sent. Never waits. */
bool notify_send(const char *socket, const char *text);

/* Whether what is written to a descriptor goes to the journal: `stream`, the value of
 * JOURNAL_STREAM or NULL, names it (systemd.exec(5): device and inode, in decimal). A terminal
 * below a session that the journal listens to has inherited the value, and is not it. */
bool notify_is_journal(const char *stream, int descriptor);

#endif
