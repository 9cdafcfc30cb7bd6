#include "runtime/command/home.h"
#include "runtime/command/run_place.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/file.h>
#include <unistd.h>

#include "runtime/core/memory.h"

static void read_clock(Home *home, const Options *options, int64_t fixed) {
    ClockNow now = clock_system_now();
    TrustWatch watch;
    ClockSigns signs = trust_signs_read(TRUST_FILE);
    trust_start(&watch, NULL, CLOCK_NEVER);
    watch.trust = trust_decide(&watch.trust, &signs, now.boottime, CLOCK_NEVER);
    watch.last = now;
    if (options->clock) {
        home->now = (Now){.utc = fixed, .boottime = fixed, .trusted = true, .boot = "--clock"};
        snprintf(home->trust, sizeof home->trust, "as --clock says");
        return;
    }
    home->now = (Now){.utc = now.utc, .boottime = now.boottime, .trusted = trust_holds(&watch)};
    snprintf(home->now.boot, sizeof home->now.boot, "%s", *signs.boot ? signs.boot : "not told");
    trust_sentence(&watch, home->trust, sizeof home->trust);
}

static int read_state(Home *home, bool change) {
    StateSaid said = {0};
    home->overrides = memory_allocate(1, sizeof *home->overrides);
    if (!home->overrides)
        return command_fail(EXIT_MACHINE, "out of memory");
    StateStatus status =
        state_load(change ? &state_disk : NULL, home->path, &home->world, home->overrides, &said);
    for (uint32_t i = 0; i < said.count && i < STATE_SAID; i++)
        fprintf(stderr, "gloam: %s\n", said.sentences[i]);
    if (status == STATE_UNREADABLE)
        return command_fail(EXIT_MACHINE, "%s cannot be read", home->path);
    if (status == STATE_NO_MEMORY)
        return command_fail(EXIT_MACHINE, "out of memory");
    overrides_settle(home->overrides, &home->now);
    overrides_prune(home->overrides, &home->world, &home->now);
    return EXIT_DONE;
}

/* Of --home and --state; without both a player would be told. */
static const char *missing(const Options *options) {
    if (options->home)
        return "where is what was done by hand? --state state.json";
    if (options->state)
        return "which home is that the state of? --home home.gloam";
    if (options->clock)
        return "a clock is for a file: --home home.gloam --state state.json";
    if (!run_socket_is_named())
        return "no player is found: none is at /run/gloam, and XDG_RUNTIME_DIR names no other "
               "folder: set it as it is where `gloam run` plays, or act on a file, "
               "--home home.gloam --state state.json";
    return "no player runs on this machine: `gloam run home.gloam`, or act on a file, "
           "--home home.gloam --state state.json";
}

int home_open(Home *home, const Options *options, bool change) {
    Options file = *options;
    int64_t fixed = 0;
    *home = (Home){.lock = -1, .path = options->state};
    if (!options->home || !options->state)
        return command_fail(EXIT_CALL, "%s", missing(options));
    file.file = options->home;
    int status = run_state_check(options->state, options->home);
    if (status == EXIT_DONE)
        status = loaded_read(&home->loaded, &file, NULL);
    if (status == EXIT_WRONG && home->loaded.compilation) /* warnings are for `check` */
        diagnostics_print(lang_diagnostics(home->loaded.compilation), stderr,
                          command_colours(options, stderr));
    if (status == EXIT_DONE && home->loaded.bytecode)
        status = command_fail(EXIT_WRONG, "%s is bytecode, which has no timetable", file.file);
    if (status == EXIT_DONE)
        status =
            clock_start(options, lang_place(home->loaded.compilation), false, &home->zone, &fixed);
    if (status == EXIT_DONE &&
        !state_world(&home->world, home->loaded.compilation, home->loaded.program, home->zone))
        status = command_fail(EXIT_MACHINE, "out of memory");
    if (status == EXIT_DONE)
        read_clock(home, options, fixed);
    if (status == EXIT_DONE && change)
        status = run_lock(home->path, "leave out --home and --state, and it is told", &home->lock);
    return status == EXIT_DONE ? read_state(home, change) : status;
}

int home_save(Home *home) {
    int error = 0;
    if (state_save(&state_disk, home->path, home->overrides, &home->world, &error))
        return EXIT_DONE;
    return command_fail(EXIT_MACHINE, "%s: %s; nothing was changed", home->path, strerror(error));
}

void home_close(Home *home) {
    if (home->lock >= 0)
        close(home->lock);
    memory_release(home->overrides);
    state_world_free(&home->world);
    zone_free(home->zone);
    loaded_free(&home->loaded);
}
