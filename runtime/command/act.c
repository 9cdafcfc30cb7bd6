/* gloam play, level, skip, more, earlier, set, report, clear, undo, status: acts by hand on a state
 * file. The words of the command become one line, as a running player is sent it. */
#include <errno.h>
#include <string.h>
#include <unistd.h>

#include "runtime/command/home.h"
#include "runtime/command/programs.h"
#include "runtime/command/run_place.h"
#include "runtime/core/memory.h"
#include "runtime/library/zone_file.h"
#include "runtime/player/request.h"
#include "runtime/player/socket.h"
#include "runtime/player/status.h"
#include "runtime/player/truths.h"

/* `gloam more 15min --lamp lantern` is `more 15min on lamp lantern`. */
static int make_line(const Options *options, char line[REQUEST_BYTES]) {
    size_t used = (size_t)snprintf(line, REQUEST_BYTES, "%s", options->command);
    for (int i = 0; i < options->word_count && used < REQUEST_BYTES; i++)
        used += (size_t)snprintf(line + used, REQUEST_BYTES - used, " %s", options->words[i]);
    for (int i = 0; i < options->setting_count && used < REQUEST_BYTES; i++)
        used += (size_t)snprintf(line + used, REQUEST_BYTES - used, "%s %s", i ? "," : " with",
                                 options->settings[i]);
    struct {
        const char *word, *value;
    } parts[] = {
        {"on lamp", options->lamp}, {"for", options->length_of}, {"until", options->until}};
    for (int i = 0; i < 3 && used < REQUEST_BYTES; i++)
        if (parts[i].value)
            used += (size_t)snprintf(line + used, REQUEST_BYTES - used, " %s %s", parts[i].word,
                                     parts[i].value);
    /* One act, whatever its words hold: the end of a line would end it. */
    for (char *p = line; *p; p++)
        *p = *p == '\n' ? ' ' : *p;
    return used < REQUEST_BYTES
               ? EXIT_DONE
               : command_fail(EXIT_CALL, "an act has at most %d bytes of words", REQUEST_BYTES - 1);
}

static int tell_status(const Home *home, const Options *options) {
    char release[ZONE_FILE_RELEASE_BYTES];
    StatusRequest request = {.world = &home->world,
                             .overrides = home->overrides,
                             .now = &home->now,
                             .trust = home->trust,
                             .release = zone_file_release(ZONE_FILE_DATABASE, release)};
    if (!options->json)
        status_text(&request, stdout);
    else if (!status_json(&request, stdout))
        return command_fail(EXIT_MACHINE, "out of memory");
    return EXIT_DONE;
}

static int act(Home *home, const char *line) {
    char said[REQUEST_SENTENCE];
    Request *request = memory_allocate(1, sizeof *request);
    int status = EXIT_DONE;
    if (!request)
        return command_fail(EXIT_MACHINE, "out of memory");
    if (!request_read(&home->world, line, request, said))
        status = command_fail(EXIT_CALL, "%s", said);
    else if (!request_do(home->overrides, &home->world, &home->now, request, said))
        status = command_fail(EXIT_WRONG, "%s", said);
    else if (!truths_tell(home->overrides, &home->world, &home->now))
        status = command_fail(EXIT_MACHINE, "out of memory");
    else
        status = home_save(home);
    if (status == EXIT_DONE)
        puts(said);
    memory_release(request);
    return status;
}

/* The player that runs on this machine. */
static int tell_player(const char *socket, const char *line) {
    char *text;
    SocketAsked asked = socket_ask(socket, line, &text);
    if (asked == SOCKET_NOBODY)
        return command_fail(EXIT_MACHINE, "%s: no player answers there", socket);
    int status = asked == SOCKET_DONE ? EXIT_DONE : command_fail(EXIT_WRONG, "%s", text);
    if (status == EXIT_DONE)
        printf("%s%s", text, text[strcspn(text, "\n")] ? "" : "\n");
    memory_release(text);
    return command_printed(status);
}

/* A lamp elsewhere: this process becomes the program that knows the network. */
static int call(const char *what, const char *url, const char *rest) {
    char path[PROGRAM_PATH_BYTES];
    if (!program_path("gloam-call", path))
        return command_fail(EXIT_MACHINE, "--to needs gloam-call, which is not installed: build "
                                          "gloam where libcurl and jansson are");
    execl(path, "gloam-call", what, url, rest, (char *)NULL);
    return command_fail(EXIT_MACHINE, "%s: %s", path, strerror(errno));
}

int pair_run(const Options *options) {
    if (options->word_count)
        return command_fail(EXIT_CALL, "`%s` is one word too many", options->words[0]);
    if (!options->to)
        return command_fail(EXIT_CALL, "with which lamp? gloam pair --to http://lantern.local");
    return call("pair", options->to, NULL);
}

int act_run(const Options *options) {
    char line[REQUEST_BYTES], socket[RUN_SOCKET_BYTES];
    bool asks = strcmp(options->command, "status") == 0;
    Home home;
    int status = make_line(options, line);
    if (status != EXIT_DONE)
        return status;
    if (asks && options->word_count)
        return command_fail(EXIT_CALL, "`%s` is one word too many", options->words[0]);
    if (options->to && (options->home || options->state || options->clock))
        return command_fail(EXIT_CALL, "--to is for a lamp that runs: without --home, --state and "
                                       "--clock");
    if (options->to)
        return call(asks ? "status" : "act", options->to,
                    !asks           ? line
                    : options->json ? "json"
                                    : "text");
    if (!options->home && !options->state && !options->clock && run_socket(socket, false))
        return tell_player(socket, asks && options->json ? "status json" : line);
    status = home_open(&home, options, !asks);
    if (status == EXIT_DONE)
        status = asks ? tell_status(&home, options) : act(&home, line);
    home_close(&home);
    return command_printed(status);
}
