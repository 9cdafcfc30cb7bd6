/* The signals of a program of the player: SIGTERM and SIGINT end it, by way of its loop; SIGPIPE
 * and SIGHUP are nothing to it. */
#ifndef GLOAM_SERVICE_LINK_SIGNALS_H
#define GLOAM_SERVICE_LINK_SIGNALS_H

/* A descriptor that can be read when it is to end; -1: errno. */
int signals_listen(void);

#endif
