/* Words to a service manager: sd_notify(3), one datagram each. */
#ifndef GLOAM_PLAYER_NOTIFY_H
#define GLOAM_PLAYER_NOTIFY_H

#include <stdbool.h>

/* `socket` is the value of NOTIFY_SOCKET; NULL or "": nobody listens, which is fine. `text` is
 * lines such as "READY=1". False: it was not sent. Never waits. */
bool notify_send(const char *socket, const char *text);

#endif
