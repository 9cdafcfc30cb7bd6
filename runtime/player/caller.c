#include "runtime/player/caller.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <sys/uio.h>
#include <unistd.h>

#include "runtime/core/memory.h"

bool caller_begin(Caller *caller, Loop *loop, int descriptor, LoopHandler handler, void *context) {
    int flags = fcntl(descriptor, F_GETFL);
    if (flags < 0 || fcntl(descriptor, F_SETFL, flags | O_NONBLOCK) != 0 ||
        !loop_add(loop, descriptor, handler, context))
        return false;
    *caller =
        (Caller){.loop = loop, .descriptor = descriptor, .context = context, .events = EPOLLIN};
    return true;
}

void caller_end(Caller *caller) {
    if (caller->descriptor < 0)
        return;
    loop_remove(caller->loop, caller->descriptor);
    close(caller->descriptor);
    memory_release(caller->out);
    *caller = (Caller){.descriptor = -1};
}

/* -------- out -------- */

/* How much of it went; what is left has to wait, if the caller is not lost. */
static size_t send_parts(Caller *caller, struct iovec *parts, int count) {
    struct msghdr message = {.msg_iov = parts, .msg_iovlen = (size_t)count};
    for (;;) {
        ssize_t went = sendmsg(caller->descriptor, &message, MSG_NOSIGNAL | MSG_DONTWAIT);
        if (went > 0)
            return (size_t)went;
        if (went < 0 && errno == EINTR)
            continue;
        caller->lost = caller->lost || went == 0 || errno != EAGAIN;
        return 0;
    }
}

/* The loop looks out for room while something waits, and is deaf to lines that would. Where the
 * queue is empty again and lines still wait, there is room: they are gone on with at the next
 * wake. */
static void look_out(Caller *caller) {
    uint32_t events =
        (caller->stalls ? 0 : EPOLLIN) | (caller->waiting || caller->stalls ? EPOLLOUT : 0);
    if (events != caller->events)
        loop_events(caller->loop, caller->descriptor, events);
    caller->events = events;
}

void caller_send(Caller *caller) {
    size_t sent = 0, went = 1;
    caller->fresh = false;
    while (!caller->lost && went > 0 && sent < caller->waiting) {
        struct iovec rest = {caller->out + sent, caller->waiting - sent};
        went = send_parts(caller, &rest, 1);
        sent += went;
    }
    caller->waiting -= sent;
    if (sent && caller->waiting)
        memmove(caller->out, caller->out + sent, caller->waiting);
    look_out(caller);
    if (caller->waiting)
        return;
    /* Most of the time nothing waits. */
    memory_release(caller->out);
    caller->out = NULL;
    caller->size = 0;
}

/* False: there is no room. */
static bool queue(Caller *caller, const void *bytes, size_t length) {
    if (length > CALLER_QUEUE - caller->waiting)
        return false;
    if (length > caller->size - caller->waiting) {
        size_t size = caller->size ? caller->size : 1024;
        while (size < caller->waiting + length)
            size *= 2;
        char *larger = memory_resize(caller->out, size, 1);
        if (!larger)
            return false;
        caller->out = larger;
        caller->size = size;
    }
    if (length)
        memcpy(caller->out + caller->waiting, bytes, length);
    caller->waiting += length;
    return true;
}

void caller_put(Caller *caller, const char *head, const void *body, size_t length) {
    bool fits =
        queue(caller, head, strlen(head)) && queue(caller, "\n", 1) && queue(caller, body, length);
    caller->lost = caller->lost || !fits;
    caller->fresh = true;
}

void caller_tell(Caller *caller, const char *head, const void *body, size_t length) {
    if (caller->waiting) {
        caller_put(caller, head, body, length);
        caller_send(caller);
        return;
    }
    struct iovec parts[] = {{(void *)head, strlen(head)}, {"\n", 1}, {(void *)body, length}};
    size_t went = caller->lost ? 0 : send_parts(caller, parts, 3);
    for (int i = 0; i < 3; i++) {
        size_t gone = went < parts[i].iov_len ? went : parts[i].iov_len;
        const char *left = parts[i].iov_base;
        if (!queue(caller, left + gone, parts[i].iov_len - gone))
            caller->lost = true;
        went -= gone;
    }
    look_out(caller);
}

/* -------- in -------- */

static void too_long(Caller *caller) {
    static const char sorry[] = "a line is too long";
    char head[32];
    snprintf(head, sizeof head, "refused %zu", sizeof sorry - 1);
    caller_put(caller, head, sorry, sizeof sorry - 1);
    caller->ends = true;
}

/* Where lines stall or go on there is a fresh answer: the loop is told what to look out for when it
 * is sent. */
static void take_lines(Caller *caller, void (*take)(void *context, const char *line)) {
    caller->stalls = false;
    while (!caller->lost && !caller->ends) {
        char *end = memchr(caller->line, '\n', caller->used);
        caller->stalls = end && caller->waiting >= CALLER_ENOUGH;
        if (!end || caller->stalls)
            break;
        size_t length = (size_t)(end - caller->line);
        *end = '\0';
        take(caller->context, caller->line);
        caller->used -= length + 1;
        memmove(caller->line, end + 1, caller->used);
    }
    if (!caller->lost && !caller->ends && !caller->stalls && caller->used == sizeof caller->line)
        too_long(caller);
}

static void receive(Caller *caller) {
    ssize_t got = recv(caller->descriptor, caller->line + caller->used,
                       sizeof caller->line - caller->used, MSG_DONTWAIT);
    if (got < 0 && (errno == EAGAIN || errno == EINTR))
        return;
    caller->lost = caller->lost || got <= 0;
    caller->used += got > 0 ? (size_t)got : 0;
}

void caller_ready(Caller *caller, uint32_t events, void (*take)(void *context, const char *line)) {
    if (events & EPOLLOUT)
        caller_send(caller);
    /* While lines stall there may be no room for more; a caller that is gone takes no bytes. */
    if (!caller->stalls && events & (EPOLLIN | EPOLLHUP | EPOLLERR))
        receive(caller);
    take_lines(caller, take);
}
