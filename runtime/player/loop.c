#include "runtime/player/loop.h"

#include <errno.h>
#include <sys/epoll.h>
#include <unistd.h>

#include "runtime/core/memory.h"

enum { AT_ONCE = 16 };

typedef struct LoopEntry {
    int descriptor; /* -1: free */
    LoopHandler handler;
    void *context;
} LoopEntry;

struct Loop {
    int epoll;
    uint32_t count;
    LoopEntry *entries;
};

Loop *loop_create(void) {
    Loop *loop = memory_allocate(1, sizeof *loop);
    if (!loop) {
        errno = ENOMEM;
        return NULL;
    }
    loop->epoll = epoll_create1(EPOLL_CLOEXEC);
    if (loop->epoll >= 0)
        return loop;
    int error = errno;
    memory_release(loop);
    errno = error;
    return NULL;
}

void loop_free(Loop *loop) {
    if (!loop)
        return;
    close(loop->epoll);
    memory_release(loop->entries);
    memory_release(loop);
}

static LoopEntry *loop_find(Loop *loop, int descriptor) {
    for (uint32_t i = 0; i < loop->count; i++)
        if (loop->entries[i].descriptor == descriptor)
            return &loop->entries[i];
    return NULL;
}

bool loop_add(Loop *loop, int descriptor, LoopHandler handler, void *context) {
    LoopEntry *entry = loop_find(loop, -1);
    if (!entry) {
        LoopEntry *larger =
            memory_resize(loop->entries, (size_t)loop->count + 1, sizeof *loop->entries);
        if (!larger) {
            errno = ENOMEM;
            return false;
        }
        loop->entries = larger;
        entry = &loop->entries[loop->count++];
        entry->descriptor = -1;
    }
    struct epoll_event event = {.events = EPOLLIN, .data.fd = descriptor};
    if (epoll_ctl(loop->epoll, EPOLL_CTL_ADD, descriptor, &event) != 0)
        return false;
    *entry = (LoopEntry){descriptor, handler, context};
    return true;
}

bool loop_events(Loop *loop, int descriptor, uint32_t events) {
    struct epoll_event event = {.events = events, .data.fd = descriptor};
    return epoll_ctl(loop->epoll, EPOLL_CTL_MOD, descriptor, &event) == 0;
}

void loop_remove(Loop *loop, int descriptor) {
    LoopEntry *entry = descriptor >= 0 ? loop_find(loop, descriptor) : NULL;
    if (!entry)
        return;
    epoll_ctl(loop->epoll, EPOLL_CTL_DEL, descriptor, NULL);
    entry->descriptor = -1;
}

bool loop_wait(Loop *loop, int milliseconds) {
    struct epoll_event events[AT_ONCE];
    int count = epoll_wait(loop->epoll, events, AT_ONCE, milliseconds);
    for (int i = 0; i < count; i++) {
        /* One that an earlier handler removed is not called. */
        const LoopEntry *entry = loop_find(loop, events[i].data.fd);
        if (entry)
            entry->handler(entry->context, events[i].events);
    }
    return count > 0;
}
