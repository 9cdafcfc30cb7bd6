/* The signals of a program of the player: SIGTERM and SIGINT end it, by way of its loop; SIGPIPE
 * and SIGHUP are nothing to it. */
#ifndef GLOAM_SERVICE_LINK_SIGNALS_H
#define GLOAM_SERVICE_LINK_SIGNALS_H

#include <stdbool.h>

enum { SIGNALS_PAUSE_FIRST = 1000, SIGNALS_PAUSE_MOST = 60000 }; /* milliseconds */

/* A descriptor that can be read when it is to end; -1: errno. */
int signals_listen(void);

/* Before a program looks again for what it cannot do without: goes by *pause, which grows. (Who
 * ends instead is started again, and says the same each time.) False: it is to end, by a signal or
 * since the player has gone. */
bool signals_pause(int signals, int *pause);

#endif
