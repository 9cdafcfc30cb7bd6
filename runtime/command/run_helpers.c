#include "runtime/command/run_helpers.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "runtime/command/programs.h"

enum { LISTEN_FIRST = 3, PORT_USUAL = 8080 };

/* -------- where the page listens -------- */

/* `8080`, `127.0.0.1:8080`, `[::1]:8080` -> what gloam-page takes, `*:8080`. False: it is none. */
static bool page_place(const char *given, char *listen, size_t size) {
    const char *colon = strrchr(given, ':'), *port = colon ? colon + 1 : given;
    size_t digits = strspn(port, "0123456789");
    long number = strtol(port, NULL, 10);
    int host = colon ? (int)(colon - given) : 1;
    if (digits == 0 || port[digits] || digits > 5 || number > 65535 || (colon && host == 0))
        return false;
    int used = snprintf(listen, size, "%.*s:%ld", host, colon ? given : "*", number);
    return used > 0 && (size_t)used < size;
}

static bool is_none(const char *page) {
    return page && strcmp(page, "none") == 0;
}

/* The socket that a service manager has opened for us (sd_listen_fds(3)); -1: none. */
static int take_handed(void) {
    const char *whose = getenv("LISTEN_PID"), *count = getenv("LISTEN_FDS");
    bool ours = whose && count && strtoll(whose, NULL, 10) == (long long)getpid() &&
                strtol(count, NULL, 10) >= 1;
    unsetenv("LISTEN_PID");
    unsetenv("LISTEN_FDS");
    unsetenv("LISTEN_FDNAMES");
    if (!ours || fcntl(LISTEN_FIRST, F_SETFD, FD_CLOEXEC) != 0)
        return -1;
    return LISTEN_FIRST;
}

int run_helpers_check(const Options *options) {
    char place[64];
    if (options->page && !is_none(options->page) && !page_place(options->page, place, sizeof place))
        return command_fail(EXIT_CALL,
                            "--page takes a port, an address and a port, or none, not `%s`: "
                            "--page 8080, --page 127.0.0.1:8080",
                            options->page);
    if (!options->broker && (options->broker_file || options->take_count || options->id))
        return command_fail(EXIT_CALL, "--broker-file, --takes and --as are for a lamp at a "
                                       "broker: --broker broker.local");
    if (options->id && !name_is_id(options->id))
        return command_fail(EXIT_CALL,
                            "--as takes letters, digits, `-`, `_` and `.`, not `%s`: "
                            "--as lantern",
                            options->id);
    if (options->broker_file && access(options->broker_file, R_OK) != 0)
        return command_fail(EXIT_MACHINE, "%s: %s", options->broker_file, strerror(errno));
    if (options->page && !is_none(options->page) &&
        (options->clock || options->speed < 1 || options->speed > 1))
        return command_fail(EXIT_CALL, "a page shows the present: --page without --clock and "
                                       "--speed");
    return EXIT_DONE;
}

/* -------- words -------- */

static void add(HelperRequest *request, const char *word) {
    int count = 0;
    while (request->words[count])
        count++;
    if (count + 1 < HELPER_WORDS)
        request->words[count] = word;
}

static void add_two(HelperRequest *request, const char *option, const char *value) {
    if (!value)
        return;
    add(request, option);
    add(request, value);
}

static void say(const HelperRequest *base, PlayerGravity gravity, const char *sentence) {
    base->say(base->context, gravity, sentence);
}

static void start_page(RunHelpers *helpers, const Options *options, const char *state) {
    HelperRequest *request = &helpers->page_request;
    request->path = helpers->page_path;
    request->passed = helpers->handed;
    if (helpers->handed >= 0)
        snprintf(helpers->listen, sizeof helpers->listen, "fd:%d", HELPER_PASSED);
    else if (options->page)
        page_place(options->page, helpers->listen, sizeof helpers->listen);
    else
        snprintf(helpers->listen, sizeof helpers->listen, "*:%d", PORT_USUAL);
    add(request, "gloam-page");
    add_two(request, "--home", helpers->home);
    add_two(request, "--state", state);
    add_two(request, "--listen", helpers->listen);
    add_two(request, "--pairing", options->pairing ? options->pairing : "code");
    if (options->guests)
        add(request, "--guests");
    helpers->page = helper_start(request);
}

static void start_broker(RunHelpers *helpers, const Options *options, const char *state) {
    HelperRequest *request = &helpers->broker_request;
    request->path = helpers->broker_path;
    request->passed = -1;
    if (options->id)
        snprintf(helpers->id, sizeof helpers->id, "%s", options->id);
    else
        name_of_machine(helpers->id, sizeof helpers->id);
    add(request, "gloam-mqtt");
    add_two(request, "--home", helpers->home);
    add_two(request, "--state", state);
    add_two(request, "--broker", options->broker);
    add_two(request, "--broker-file", options->broker_file);
    add_two(request, "--as", helpers->id);
    for (int i = 0; i < options->take_count; i++)
        add_two(request, "--takes", options->takes[i]);
    helpers->broker = helper_start(request);
}

/* The whole path of a file by its own name, which may be a link: where that leads may change.
 * False: its folder has no path, or it is too long. */
static bool whole_path(const char *file, char *path, size_t size) {
    const char *slash = strrchr(file, '/'), *name = slash ? slash + 1 : file;
    char *beside = strndup(file, (size_t)(name - file));
    char *folder = beside ? realpath(*beside ? beside : ".", NULL) : NULL;
    int used = folder ? snprintf(path, size, "%s/%s", folder[1] ? folder : "", name) : -1;
    free(folder);
    free(beside);
    return used > 0 && (size_t)used < size;
}

void run_helpers_start(RunHelpers *helpers, const Options *options, const char *state, bool shows,
                       const HelperRequest *base) {
    *helpers = (RunHelpers){.page_request = *base, .broker_request = *base};
    helpers->handed = take_handed();
    if (!whole_path(options->file, helpers->home, sizeof helpers->home) ||
        access(helpers->home, F_OK) != 0) {
        say(base, PLAYER_WARNING, "the home file has no path: no page, no broker");
        return;
    }
    bool page = !is_none(options->page) && (options->page || helpers->handed >= 0 || !shows);
    if (page && program_path("gloam-page", helpers->page_path))
        start_page(helpers, options, state);
    else if (page && options->page)
        say(base, PLAYER_WARNING,
            "no page: gloam-page is not installed; build gloam where "
            "libmicrohttpd, nettle and jansson are");
    if (options->broker && program_path("gloam-mqtt", helpers->broker_path))
        start_broker(helpers, options, state);
    else if (options->broker)
        say(base, PLAYER_WARNING,
            "no broker: gloam-mqtt is not installed; build gloam where "
            "libmosquitto, nettle and jansson are");
}

void run_helpers_end(RunHelpers *helpers) {
    helper_ask(helpers->page); /* both are waited for at once */
    helper_ask(helpers->broker);
    helper_end(helpers->page);
    helper_end(helpers->broker);
    if (helpers->handed > 0)
        close(helpers->handed);
}
