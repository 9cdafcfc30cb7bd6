#include "runtime/service/link/signals.h"

#include <poll.h>
#include <signal.h>
#include <stddef.h>
#include <sys/signalfd.h>

#include "runtime/service/link/link.h"

int signals_listen(void) {
    sigset_t set;
    sigemptyset(&set);
    sigaddset(&set, SIGTERM);
    sigaddset(&set, SIGINT);
    signal(SIGPIPE, SIG_IGN);
    signal(SIGHUP, SIG_IGN);
    sigprocmask(SIG_BLOCK, &set, NULL);
    return signalfd(-1, &set, SFD_CLOEXEC);
}

bool signals_pause(int signals, int *pause) {
    struct pollfd ends[] = {{signals, POLLIN, 0}, {LINK_DESCRIPTOR, 0, 0}};
    bool ended = poll(ends, 2, *pause) > 0;
    *pause = *pause < SIGNALS_PAUSE_MOST / 2 ? 2 * *pause : SIGNALS_PAUSE_MOST;
    return !ended;
}
