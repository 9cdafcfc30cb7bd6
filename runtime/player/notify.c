#include "runtime/player/notify.h"

#include <inttypes.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

bool notify_send(const char *name, const char *text) {
    struct sockaddr_un to = {.sun_family = AF_UNIX};
    size_t length = name ? strlen(name) : 0;
    if (length == 0)
        return true;
    if ((*name != '/' && *name != '@') || length < 2 || length >= sizeof to.sun_path)
        return false;
    memcpy(to.sun_path, name, length);
    if (*name == '@')
        to.sun_path[0] = '\0'; /* a name in the abstract */
    int out = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (out < 0)
        return false;
    socklen_t size = (socklen_t)(offsetof(struct sockaddr_un, sun_path) + length);
    size_t bytes = strlen(text);
    bool sent = sendto(out, text, bytes, MSG_NOSIGNAL | MSG_DONTWAIT, (struct sockaddr *)&to,
                       size) == (ssize_t)bytes;
    close(out);
    return sent;
}

bool notify_is_journal(const char *stream, int descriptor) {
    struct stat about;
    char named[64];
    if (!stream || fstat(descriptor, &about) != 0)
        return false;
    snprintf(named, sizeof named, "%" PRIuMAX ":%" PRIuMAX, (uintmax_t)about.st_dev,
             (uintmax_t)about.st_ino);
    return strcmp(stream, named) == 0;
}
