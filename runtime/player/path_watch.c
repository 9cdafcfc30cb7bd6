#include "runtime/player/path_watch.h"

#include <errno.h>
#include <limits.h>
#include <string.h>
#include <sys/inotify.h>
#include <unistd.h>

#include "runtime/core/memory.h"

#define STEPS 64  /* parts of a way, its links followed */
#define LINKS 40  /* as the kernel has it: path_resolution(7) */
#define ROUNDS 16 /* of taking reports, so that a busy folder does not hold us */

/* What happens to a name of a folder; to one that is a file and is written or made readable. */
#define NAME_EVENTS (IN_CREATE | IN_DELETE | IN_MOVED_FROM | IN_MOVED_TO | IN_ONLYDIR)
#define FILE_EVENTS (IN_CLOSE_WRITE | IN_ATTRIB)

typedef struct Step {
    int folder; /* inotify's number of it */
    char name[NAME_MAX + 1];
} Step;

struct PathWatch {
    int descriptor;
    int step_count;
    char path[PATH_MAX];
    Step steps[STEPS];
};

/* What is still to go: `left` becomes `target` and what was left behind it. */
static bool follow(char *left, const char *target) {
    char rest[PATH_MAX];
    size_t length = strlen(target), behind = strlen(left);
    if (length + 1 + behind >= sizeof rest)
        return false;
    memcpy(rest, target, length);
    rest[length] = '/';
    memcpy(rest + length + 1, left, behind + 1);
    memcpy(left, rest, length + 1 + behind + 1);
    return true;
}

/* Cuts the first name off `left`; false at the end. */
static bool next_name(char *left, char *name) {
    size_t slashes = strspn(left, "/"), length = strcspn(left + slashes, "/");
    if (length == 0 || length > NAME_MAX)
        return false;
    memcpy(name, left + slashes, length);
    name[length] = '\0';
    memmove(left, left + slashes + length, strlen(left + slashes + length) + 1);
    return true;
}

static bool is_last(const char *left) {
    return left[strspn(left, "/")] == '\0';
}

/* Adds one folder of the way. Its watch is set before the name is looked at, so that nothing is
 * missed in between. False: errno. */
static bool add_step(PathWatch *watch, const char *folder, const char *name, bool last) {
    if (watch->step_count == STEPS) {
        errno = ELOOP;
        return false;
    }
    uint32_t events = NAME_EVENTS | (last ? FILE_EVENTS : 0) | IN_MASK_ADD;
    int number = inotify_add_watch(watch->descriptor, *folder ? folder : "/", events);
    if (number < 0)
        return false;
    Step *step = &watch->steps[watch->step_count++];
    step->folder = number;
    memcpy(step->name, name, strlen(name) + 1);
    return true;
}

/* `folder` becomes the folder above it. */
static void go_up(char *folder) {
    char *slash = strrchr(folder, '/');
    if (slash)
        *slash = '\0';
}

static bool go_down(char *folder, const char *name) {
    size_t length = strlen(folder), more = strlen(name);
    if (length + 1 + more >= PATH_MAX)
        return false;
    folder[length] = '/';
    memcpy(folder + length + 1, name, more + 1);
    return true;
}

/* Goes the way by hand, as far as it leads. False: a folder of it cannot be watched, see errno. */
static bool walk(PathWatch *watch) {
    char left[PATH_MAX], folder[PATH_MAX] = "", name[NAME_MAX + 1], target[PATH_MAX];
    memcpy(left, watch->path, sizeof left);
    watch->step_count = 0;
    int links = 0;
    while (next_name(left, name)) {
        if (strcmp(name, ".") == 0)
            continue;
        if (strcmp(name, "..") == 0) {
            go_up(folder);
            continue;
        }
        if (!add_step(watch, folder, name, is_last(left)))
            return errno == ENOENT || errno == ENOTDIR;
        size_t here = strlen(folder);
        if (!go_down(folder, name))
            return true;
        ssize_t length = readlink(folder, target, sizeof target - 1);
        if (length < 0)
            continue; /* no link: a folder, the file, or nothing, which add_step finds */
        target[length] = '\0';
        if (++links > LINKS || !follow(left, target))
            return true;
        folder[*target == '/' ? 0 : here] = '\0';
    }
    return true;
}

static bool is_on_way(const Step *steps, int count, int folder) {
    for (int i = 0; i < count; i++)
        if (steps[i].folder == folder)
            return true;
    return false;
}

/* Goes the way anew; folders that are no longer on it are let go. */
static void walk_again(PathWatch *watch) {
    int before[STEPS], count = watch->step_count;
    for (int i = 0; i < count; i++)
        before[i] = watch->steps[i].folder;
    walk(watch);
    for (int i = 0; i < count; i++)
        if (!is_on_way(watch->steps, watch->step_count, before[i]))
            inotify_rm_watch(watch->descriptor, before[i]);
}

static bool concerns(const PathWatch *watch, const struct inotify_event *event) {
    if (event->mask & IN_Q_OVERFLOW)
        return true;
    for (int i = 0; i < watch->step_count; i++)
        if (watch->steps[i].folder == event->wd &&
            ((event->mask & IN_IGNORED) ||
             (event->len > 0 && strcmp(watch->steps[i].name, event->name) == 0)))
            return true;
    return false;
}

/* One read of reports: 1 concerned us, 0 none did, -1 nothing is left. */
static int take(PathWatch *watch) {
    _Alignas(struct inotify_event) char reports[4096];
    ssize_t length = read(watch->descriptor, reports, sizeof reports);
    if (length < 0 && errno == EINTR)
        return 0;
    if (length <= 0)
        return -1;
    int found = 0;
    for (ssize_t at = 0; at < length;) {
        const struct inotify_event *event = (const struct inotify_event *)(reports + at);
        if (concerns(watch, event))
            found = 1;
        at += (ssize_t)sizeof *event + event->len;
    }
    return found;
}

bool path_watch_changed(PathWatch *watch) {
    bool changed = false;
    for (int i = 0; i < ROUNDS; i++) {
        int found = take(watch);
        if (found < 0)
            break;
        if (found > 0) {
            walk_again(watch);
            changed = true;
        }
    }
    return changed;
}

bool path_watch_open(const char *path, PathWatch **watch) {
    *watch = NULL;
    size_t length = strlen(path);
    if (path[0] != '/' || length >= PATH_MAX) {
        errno = path[0] != '/' ? EINVAL : ENAMETOOLONG;
        return false;
    }
    PathWatch *made = memory_allocate(1, sizeof *made);
    if (!made) {
        errno = ENOMEM;
        return false;
    }
    memcpy(made->path, path, length + 1);
    made->descriptor = inotify_init1(IN_NONBLOCK | IN_CLOEXEC);
    if (made->descriptor < 0 || !walk(made)) {
        int error = errno;
        path_watch_close(made);
        errno = error;
        return false;
    }
    *watch = made;
    return true;
}

void path_watch_close(PathWatch *watch) {
    if (!watch)
        return;
    if (watch->descriptor >= 0)
        close(watch->descriptor);
    memory_release(watch);
}

int path_watch_descriptor(const PathWatch *watch) {
    return watch->descriptor;
}
