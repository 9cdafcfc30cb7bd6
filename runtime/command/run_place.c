#include "runtime/command/run_place.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/random.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "runtime/core/memory.h"
#include "runtime/library/state_file.h"
#include "runtime/player/readings.h"

enum { PATH_BYTES = 4096, LOCK_TRIES = 20 };

/* The folders on the way to a file. */
static bool make_folders(char *path) {
    for (char *slash = strchr(path + 1, '/'); slash; slash = strchr(slash + 1, '/')) {
        *slash = '\0';
        bool made = mkdir(path, 0700) == 0 || errno == EEXIST;
        *slash = '/';
        if (!made)
            return false;
    }
    return true;
}

/* False: there is no such place. */
static bool usual_state(char path[PATH_BYTES]) {
    const char *given = getenv("STATE_DIRECTORY"), *folder = getenv("XDG_STATE_HOME");
    const char *home = getenv("HOME");
    int used = -1;
    if (given && *given == '/') /* several are parted by colons */
        used = snprintf(path, PATH_BYTES, "%.*s/state.json", (int)strcspn(given, ":"), given);
    else if (folder && *folder == '/')
        used = snprintf(path, PATH_BYTES, "%s/gloam/state.json", folder);
    else if (home && *home == '/')
        used = snprintf(path, PATH_BYTES, "%s/.local/state/gloam/state.json", home);
    return used > 0 && used < PATH_BYTES && make_folders(path);
}

int run_lock(const char *state, const char *advice, int *lock) {
    char path[PATH_BYTES + 8];
    *lock = -1;
    if ((size_t)snprintf(path, sizeof path, "%s.lock", state) >= sizeof path)
        return command_fail(EXIT_CALL, "%s: the name is too long", state);
    *lock = open(path, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0660);
    if (*lock < 0)
        return command_fail(EXIT_MACHINE, "%s: %s; name a place where you may write", path,
                            strerror(errno));
    for (int i = 0; i < LOCK_TRIES; i++) {
        if (flock(*lock, LOCK_EX | LOCK_NB) == 0)
            return EXIT_DONE;
        nanosleep(&(struct timespec){.tv_nsec = 50000000}, NULL);
    }
    return command_fail(EXIT_MACHINE, "another player runs with %s: %s", state, advice);
}

/* -------- the socket -------- */

bool run_socket(char path[RUN_SOCKET_BYTES], bool own) {
    const char *given = getenv("RUNTIME_DIRECTORY"), *user = getenv("XDG_RUNTIME_DIR");
    int used = -1;
    if (given && *given == '/') /* several are parted by colons */
        used =
            snprintf(path, RUN_SOCKET_BYTES, "%.*s/player.socket", (int)strcspn(given, ":"), given);
    else if (user && *user == '/')
        used = snprintf(path, RUN_SOCKET_BYTES, "%s/gloam/player.socket", user);
    bool fits = used > 0 && used < RUN_SOCKET_BYTES;
    if (own)
        return fits && make_folders(path);
    if (fits && access(path, F_OK) == 0)
        return true;
    snprintf(path, RUN_SOCKET_BYTES, "/run/gloam/player.socket");
    return access(path, F_OK) == 0;
}

bool run_socket_is_named(void) {
    const char *given = getenv("RUNTIME_DIRECTORY"), *user = getenv("XDG_RUNTIME_DIR");
    return (given && *given == '/') || (user && *user == '/');
}

/* Where others tell this player, and find it. */
static void find_socket(RunPlace *place) {
    char path[RUN_SOCKET_BYTES] = "";
    errno = 0;
    if (run_socket(path, true))
        place->socket = memory_copy_text(path, strlen(path));
    else if (run_socket_is_named())
        snprintf(place->mute, sizeof place->mute, "there is no place for its socket, %s: %s", path,
                 strerror(errno ? errno : ENAMETOOLONG));
    else
        snprintf(place->mute, sizeof place->mute,
                 "XDG_RUNTIME_DIR names no folder for its socket: set it, `export "
                 "XDG_RUNTIME_DIR=/run/user/%u`, here and where `gloam status` is asked",
                 (unsigned)getuid());
}

/* A UUID that the machine keeps, in a file beside the state. */
static void keep_cid(RunPlace *place) {
    uint8_t random[E131_CID_BYTES] = {0};
    char path[PATH_BYTES + 8];
    if (place->state) {
        snprintf(path, sizeof path, "%s.cid", place->state);
        int file = open(path, O_RDONLY | O_CLOEXEC | O_NOFOLLOW);
        bool kept =
            file >= 0 && read(file, place->cid, sizeof place->cid) == (ssize_t)sizeof place->cid;
        if (file >= 0)
            close(file);
        if (kept)
            return;
    }
    if (getrandom(random, sizeof random, 0) != (ssize_t)sizeof random)
        memset(random, 0x5a, sizeof random);
    e131_cid(random, place->cid);
    int file =
        place->state ? open(path, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC | O_NOFOLLOW, 0600) : -1;
    if (file < 0)
        return;
    if (write(file, place->cid, sizeof place->cid) != (ssize_t)sizeof place->cid)
        unlink(path);
    close(file);
}

static void read_manager(RunPlace *place) {
    const char *socket = getenv("NOTIFY_SOCKET"), *every = getenv("WATCHDOG_USEC");
    const char *whose = getenv("WATCHDOG_PID");
    place->notify = socket && *socket ? socket : NULL;
    bool mine = !whose || strtoll(whose, NULL, 10) == (long long)getpid();
    long long watchdog = every && mine ? strtoll(every, NULL, 10) : 0;
    place->watchdog = watchdog > 0 ? (int64_t)watchdog : 0;
}

int run_state_check(const char *state, const char *home) {
    if (readings_same_file(state, home))
        return command_fail(EXIT_CALL,
                            "%s is the home file itself: what is done by hand needs a file of its "
                            "own, --state state.json",
                            state);
    if (state_is_other(state))
        return command_fail(EXIT_CALL,
                            "%s is no state of a player: name a file that is one, or that is not "
                            "there yet, --state state.json",
                            state);
    return EXIT_DONE;
}

int run_place(RunPlace *place, const Options *options, bool trying) {
    char path[PATH_BYTES];
    *place = (RunPlace){.lock = -1};
    read_manager(place);
    const char *state = options->state;
    if (!state && !trying && usual_state(path))
        state = path;
    if (!state && !trying)
        fputs("gloam: there is no place for the state: what is done by hand is lost at a restart; "
              "--state FILE\n",
              stderr);
    if (options->state && run_state_check(options->state, options->file) != EXIT_DONE)
        return EXIT_CALL;
    if (state) {
        place->state = memory_copy_text(state, strlen(state));
        if (!place->state)
            return command_fail(EXIT_MACHINE, "out of memory");
    }
    int status =
        place->state ? run_lock(place->state, "end it, or --state FILE", &place->lock) : EXIT_DONE;
    if (status == EXIT_DONE && !trying)
        find_socket(place);
    if (status == EXIT_DONE)
        keep_cid(place);
    return status;
}

void run_place_end(RunPlace *place) {
    if (place->lock >= 0)
        close(place->lock);
    memory_release(place->state);
    memory_release(place->socket);
}
