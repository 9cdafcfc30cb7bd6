#include "runtime/command/programs.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

bool program_path(const char *name, char path[PROGRAM_PATH_BYTES]) {
    static const char *const PLACES[] = {"", "/../libexec/gloam"};
    char own[PROGRAM_PATH_BYTES];
    ssize_t length = readlink("/proc/self/exe", own, sizeof own - 1);
    if (length <= 0)
        return false;
    own[length] = '\0';
    char *slash = strrchr(own, '/');
    if (!slash)
        return false;
    *slash = '\0';
    for (int i = 0; i < 2; i++) {
        int used = snprintf(path, PROGRAM_PATH_BYTES, "%s%s/%s", own, PLACES[i], name);
        if (used > 0 && used < PROGRAM_PATH_BYTES && access(path, X_OK) == 0)
            return true;
    }
    return false;
}
