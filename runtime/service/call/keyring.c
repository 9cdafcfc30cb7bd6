#include "runtime/service/call/keyring.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PATH_BYTES = 4096, LINE_BYTES = 1024 };

/* False: there is no such place. The folders are made with `make`. */
static bool keyring_path(char path[PATH_BYTES], bool make) {
    const char *folder = getenv("XDG_CONFIG_HOME"), *home = getenv("HOME");
    int used = -1;
    if (folder && *folder == '/')
        used = snprintf(path, PATH_BYTES, "%s/gloam/sessions", folder);
    else if (home && *home == '/')
        used = snprintf(path, PATH_BYTES, "%s/.config/gloam/sessions", home);
    if (used <= 0 || used + 8 >= PATH_BYTES) {
        errno = ENOENT;
        return false;
    }
    for (char *slash = strchr(path + 1, '/'); make && slash; slash = strchr(slash + 1, '/')) {
        *slash = '\0';
        bool made = mkdir(path, 0700) == 0 || errno == EEXIST;
        *slash = '/';
        if (!made)
            return false;
    }
    return true;
}

/* Whether a line is of that lamp; its token. */
static const char *token_in(const char *line, const char *url) {
    size_t length = strlen(url);
    return strncmp(line, url, length) == 0 && line[length] == ' ' ? line + length + 1 : NULL;
}

bool keyring_find(const char *url, char token[KEYRING_TOKEN]) {
    char path[PATH_BYTES], line[LINE_BYTES];
    FILE *file = keyring_path(path, false) ? fopen(path, "re") : NULL;
    bool found = false;
    while (file && !found && fgets(line, sizeof line, file)) {
        const char *there = token_in(line, url);
        size_t length = there ? strcspn(there, " \r\n") : 0;
        found = length > 0 && length < KEYRING_TOKEN;
        if (found)
            snprintf(token, KEYRING_TOKEN, "%.*s", (int)length, there);
    }
    if (file)
        fclose(file);
    return found;
}

/* All lines but that of the lamp. False: errno; what is there could not be read. */
static bool copy_others(const char *path, FILE *to, const char *url) {
    char line[LINE_BYTES];
    FILE *from = fopen(path, "re");
    if (!from)
        return errno == ENOENT;
    while (fgets(line, sizeof line, from))
        if (!token_in(line, url))
            fputs(line, to);
    int error = ferror(from) ? errno : 0;
    fclose(from);
    errno = error;
    return error == 0;
}

bool keyring_keep(const char *url, const char *token) {
    char path[PATH_BYTES], beside[PATH_BYTES + 8];
    if (!keyring_path(path, true))
        return false;
    snprintf(beside, sizeof beside, "%s.new", path);
    unlink(beside);
    int descriptor = open(beside, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, 0600);
    FILE *to = descriptor >= 0 ? fdopen(descriptor, "w") : NULL;
    if (!to)
        return false;
    bool kept = copy_others(path, to, url);
    if (token)
        fprintf(to, "%s %s\n", url, token);
    kept = kept && !ferror(to) && fflush(to) == 0 && fsync(descriptor) == 0;
    int error = errno;
    bool closed = fclose(to) == 0;
    errno = kept ? errno : error;
    kept = kept && closed && rename(beside, path) == 0;
    error = errno;
    if (!kept)
        unlink(beside);
    errno = error;
    return kept;
}
