/* Where a command's result goes. */
#include <errno.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "runtime/command/command.h"

/* What is half written is removed when the command is interrupted, too. */
static const char *volatile unfinished;

static void remove_unfinished(int number) {
    if (unfinished)
        unlink(unfinished);
    signal(number, SIG_DFL);
    raise(number);
}

static void guard(const char *temporary) {
    static const int ENDS[] = {SIGINT, SIGTERM, SIGHUP, SIGQUIT};
    unfinished = temporary;
    for (size_t i = 0; i < sizeof ENDS / sizeof *ENDS; i++)
        if (signal(ENDS[i], temporary ? remove_unfinished : SIG_DFL) == SIG_IGN)
            signal(ENDS[i], SIG_IGN);
}

int command_open(Output *output, const char *path) {
    *output = (Output){.stream = stdout};
    if (!path || strcmp(path, "-") == 0)
        return EXIT_DONE;
    struct stat about;
    if (stat(path, &about) == 0 && S_ISDIR(about.st_mode))
        return command_fail(EXIT_MACHINE, "%s: is a folder; name a file in it", path);
    if (stat(path, &about) != 0 && lstat(path, &about) == 0)
        return command_fail(EXIT_MACHINE, "%s: is a link that leads nowhere; remove it", path);
    /* A device or a pipe is written as it is. */
    bool plain = stat(path, &about) != 0 || S_ISREG(about.st_mode);
    /* Through links: what they lead to is written anew, they stay. */
    output->path = realpath(path, NULL);
    bool exists = output->path != NULL;
    if (!exists)
        output->path = strdup(path);
    path = output->path ? output->path : path;
    size_t length = strlen(path);
    output->temporary = malloc(length + 8);
    if (!output->path || !output->temporary) {
        free(output->path);
        free(output->temporary);
        return command_fail(EXIT_MACHINE, "out of memory");
    }
    memcpy(output->temporary, path, length);
    memcpy(output->temporary + length, ".XXXXXX", 8);
    int descriptor = plain ? mkstemp(output->temporary) : -1;
    if (plain && descriptor >= 0) {
        mode_t mask = umask(0);
        umask(mask);
        if (exists) /* as it was, for whom it was */
            (void)!fchown(descriptor, about.st_uid, about.st_gid);
        (void)fchmod(descriptor, exists ? about.st_mode & 0777 : 0666 & ~mask);
        output->stream = fdopen(descriptor, "wb");
        if (!output->stream) {
            unlink(output->temporary);
            close(descriptor);
        }
    } else {
        output->temporary[0] = '\0';
        output->stream = plain ? NULL : fopen(path, "wb");
    }
    if (output->stream && output->temporary[0])
        guard(output->temporary);
    if (output->stream)
        return EXIT_DONE;
    int status = command_fail(EXIT_MACHINE, "%s: %s; name a place where you may write", path,
                              strerror(errno));
    free(output->path);
    free(output->temporary);
    return status;
}

int command_printed(int status) {
    if (ferror(stdout) == 0 && fflush(stdout) == 0)
        return status;
    return command_fail(EXIT_MACHINE, "standard output: %s", strerror(errno));
}

int command_close(Output *output, bool keep, int status) {
    if (!output->path)
        return command_printed(status);
    bool failed = ferror(output->stream) != 0 || fflush(output->stream) != 0;
    /* On the disk before the old file is given up; what is no file cannot be waited for. */
    failed = failed || (keep && output->temporary[0] && fsync(fileno(output->stream)) != 0);
    int error = errno;
    if (fclose(output->stream) != 0 && !failed) {
        failed = true;
        error = errno;
    }
    if (output->temporary[0]) {
        if (keep && !failed && rename(output->temporary, output->path) != 0) {
            failed = true;
            error = errno;
        }
        if (!keep || failed)
            unlink(output->temporary);
        guard(NULL);
    }
    if (failed)
        status = command_fail(EXIT_MACHINE, "%s: %s; nothing was written", output->path,
                              strerror(error));
    free(output->path);
    free(output->temporary);
    return status;
}

bool command_colours(const Options *options, FILE *stream) {
    if (strcmp(options->colour, "auto") != 0)
        return strcmp(options->colour, "always") == 0;
    const char *no = getenv("NO_COLOR");
    const char *terminal = getenv("TERM");
    return isatty(fileno(stream)) && !(no && *no) && terminal && strcmp(terminal, "dumb") != 0;
}
