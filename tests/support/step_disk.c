#include "tests/support/step_disk.h"

#include <errno.h>
#include <signal.h>
#include <string.h>

StepDisk stepped;

static const StateDisk *beneath(void) {
    return stepped.beneath ? stepped.beneath : &state_disk;
}

/* True: it fails. */
static bool fails(char letter) {
    size_t length = strlen(stepped.trace);
    if (length + 1 < sizeof stepped.trace)
        stepped.trace[length] = letter;
    stepped.done++;
    bool now = stepped.at > 0 && stepped.done == stepped.at;
    if (now && stepped.trouble == STEP_KILLED_BEFORE)
        raise(SIGKILL);
    bool later = stepped.lasting && stepped.at > 0 && stepped.done > stepped.at;
    return stepped.trouble == STEP_FAILS && (now || later);
}

static int refused(void) {
    errno = stepped.error;
    return -1;
}

static int ended(int result) {
    if (stepped.trouble == STEP_KILLED_AFTER && stepped.done == stepped.at)
        raise(SIGKILL);
    return result;
}

static int step_create(const char *path) {
    return fails('c') ? refused() : ended(beneath()->create(path));
}

static ssize_t step_write(int file, const void *bytes, size_t length) {
    size_t most = stepped.most > 0 && stepped.most < length ? stepped.most : length;
    if (fails('w')) {
        if (stepped.done == stepped.at && stepped.part > 0)
            (void)!beneath()->write(file, bytes, stepped.part < most ? stepped.part : most);
        return refused();
    }
    static bool again;
    again = stepped.interrupted && !again;
    if (again) {
        errno = EINTR;
        return -1;
    }
    ssize_t wrote = beneath()->write(file, bytes, most);
    ended(0);
    return wrote;
}

static int step_sync(int file) {
    return fails('s') ? refused() : ended(beneath()->sync(file));
}

/* The descriptor is gone even where it fails: close(2). */
static int step_close(int file) {
    bool failed = fails('x');
    int closed = ended(beneath()->close(file));
    return failed ? refused() : closed;
}

static int step_rename(const char *from, const char *to) {
    return fails('r') ? refused() : ended(beneath()->rename(from, to));
}

static int step_remove(const char *path) {
    return fails('d') ? refused() : ended(beneath()->remove(path));
}

static int step_sync_folder(const char *path) {
    return fails('f') ? refused() : ended(beneath()->sync_folder(path));
}

const StateDisk step_disk = {step_create, step_write,  step_sync,       step_close,
                             step_rename, step_remove, step_sync_folder};
