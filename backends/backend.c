#include "backends/backend.h"

#include <errno.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

void backend_say(BackendError *error, const char *what, int number) {
    snprintf(error->sentence, sizeof error->sentence, "%s: %s", what, strerror(number));
}

static bool backend_wait(int descriptor) {
    struct pollfd waiting = {.fd = descriptor, .events = POLLOUT};
    return poll(&waiting, 1, -1) >= 0 || errno == EINTR;
}

bool backend_write(int descriptor, const void *bytes, size_t length) {
    const char *next = bytes;
    while (length > 0) {
        ssize_t written = write(descriptor, next, length);
        if (written >= 0) {
            next += written;
            length -= (size_t)written;
        } else if (errno == EAGAIN) {
            if (!backend_wait(descriptor))
                return false;
        } else if (errno != EINTR) {
            return false;
        }
    }
    return true;
}
