#include "runtime/command/try_holder.h"

#include <dirent.h>
#include <limits.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "runtime/command/run_place.h"

enum { NAME_BYTES = 32, FOLDER_BYTES = 64, LINK_BYTES = 512 };

typedef enum Holds { HOLDS_NOT, HOLDS, HOLDS_UNKNOWN } Holds;

/* Whether a process has the file open. */
static Holds process_holds(long process, const char *path) {
    char folder[FOLDER_BYTES], link[LINK_BYTES], to[PATH_MAX];
    snprintf(folder, sizeof folder, "/proc/%ld/fd", process);
    DIR *open = opendir(folder);
    if (!open)
        return HOLDS_UNKNOWN;
    Holds holds = HOLDS_NOT;
    for (struct dirent *one; holds == HOLDS_NOT && (one = readdir(open));) {
        snprintf(link, sizeof link, "%s/%s", folder, one->d_name);
        ssize_t length = readlink(link, to, sizeof to - 1);
        if (length > 0 && (size_t)length == strlen(path) && memcmp(to, path, (size_t)length) == 0)
            holds = HOLDS;
    }
    closedir(open);
    return holds;
}

static void process_name(long process, char name[NAME_BYTES]) {
    char path[FOLDER_BYTES];
    snprintf(path, sizeof path, "/proc/%ld/comm", process);
    FILE *file = fopen(path, "r");
    if (!file || !fgets(name, NAME_BYTES, file))
        snprintf(name, NAME_BYTES, "?");
    if (file)
        fclose(file);
    name[strcspn(name, "\n")] = '\0';
}

/* The first process but this one that has it open; 0: none that can be seen. */
static long find_holder(const char *path) {
    DIR *processes = opendir("/proc");
    long found = 0;
    for (struct dirent *one; processes && !found && (one = readdir(processes));) {
        long process = strtol(one->d_name, NULL, 10);
        if (process > 0 && process != (long)getpid() && process_holds(process, path) == HOLDS)
            found = process;
    }
    if (processes)
        closedir(processes);
    return found;
}

/* The player that answers at its usual place. False: none does. */
static bool find_player(long *process) {
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    char path[RUN_SOCKET_BYTES];
    struct ucred peer;
    socklen_t length = sizeof peer;
    if (!run_socket(path, false))
        return false;
    memcpy(address.sun_path, path, strlen(path) + 1);
    int caller = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    bool answers = caller >= 0 &&
                   connect(caller, (const struct sockaddr *)&address, sizeof address) == 0 &&
                   getsockopt(caller, SOL_SOCKET, SO_PEERCRED, &peer, &length) == 0;
    *process = answers ? (long)peer.pid : 0;
    if (caller >= 0)
        close(caller);
    return answers;
}

void try_holder_warn(const char *port) {
    char path[PATH_MAX], name[NAME_BYTES];
    bool is_file = realpath(port, path) != NULL;
    long process = is_file ? find_holder(path) : 0;
    if (process > 0) {
        process_name(process, name);
        fprintf(stderr,
                "gloam: process %ld (%s) has %s open too and may light over every step; end it "
                "first, the service with: systemctl stop gloam.socket gloam\n",
                process, name, port);
        return;
    }
    if (!find_player(&process) || (is_file && process_holds(process, path) == HOLDS_NOT))
        return;
    fprintf(stderr,
            "gloam: a player runs on this machine; where it drives this lamp, end it first: "
            "systemctl stop gloam.socket gloam\n");
}
