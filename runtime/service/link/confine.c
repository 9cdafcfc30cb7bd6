#include "runtime/service/link/confine.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/landlock.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

#include "runtime/service/link/said.h"

/* Rights that came after the headers of Linux 6.1. */
#define TRUNCATE (UINT64_C(1) << 14)     /* from ABI 3 on */
#define DEVICE_CALLS (UINT64_C(1) << 15) /* from ABI 5 on */

enum { NICE = 10, OOM_SCORE = 500, DESCRIPTORS = 256, PATH_BYTES = 4096 };
static const rlim_t MEMORY = 256 << 20;

/* Only ever less than before. */
static void limit(int what, rlim_t most) {
    struct rlimit now;
    if (getrlimit(what, &now) != 0)
        return;
    now.rlim_max = now.rlim_max > most ? most : now.rlim_max;
    now.rlim_cur = now.rlim_cur > now.rlim_max ? now.rlim_max : now.rlim_cur;
    (void)!setrlimit(what, &now);
}

static void write_score(void) {
    int file = open("/proc/self/oom_score_adj", O_WRONLY | O_CLOEXEC);
    char text[16];
    int length = snprintf(text, sizeof text, "%d", OOM_SCORE);
    if (file < 0)
        return;
    (void)!write(file, text, (size_t)length);
    close(file);
}

/* -------- the file system -------- */

static const uint64_t READING = LANDLOCK_ACCESS_FS_READ_FILE | LANDLOCK_ACCESS_FS_READ_DIR;
static const uint64_t OF_FILES = LANDLOCK_ACCESS_FS_EXECUTE | LANDLOCK_ACCESS_FS_WRITE_FILE |
                                 LANDLOCK_ACCESS_FS_READ_FILE | TRUNCATE | DEVICE_CALLS;
static const uint64_t WRITING = LANDLOCK_ACCESS_FS_READ_FILE | LANDLOCK_ACCESS_FS_READ_DIR |
                                LANDLOCK_ACCESS_FS_WRITE_FILE | LANDLOCK_ACCESS_FS_REMOVE_FILE |
                                LANDLOCK_ACCESS_FS_MAKE_REG | TRUNCATE;

/* All rights that the kernel can take away; 0: it knows nothing of it. */
static uint64_t rights_known(void) {
    long abi = syscall(SYS_landlock_create_ruleset, NULL, 0, LANDLOCK_CREATE_RULESET_VERSION);
    int bits = abi <= 0 ? 0 : abi == 1 ? 13 : abi == 2 ? 14 : abi < 5 ? 15 : 16;
    return (UINT64_C(1) << bits) - 1;
}

/* False: there is such a place and it could not be allowed. */
static bool allow(int rules, const char *path, uint64_t rights) {
    struct stat about;
    struct landlock_path_beneath_attr beneath = {.allowed_access = rights};
    beneath.parent_fd = open(path, O_PATH | O_CLOEXEC);
    if (beneath.parent_fd < 0)
        return errno == ENOENT || errno == EACCES;
    if (fstat(beneath.parent_fd, &about) == 0 && !S_ISDIR(about.st_mode))
        beneath.allowed_access &= OF_FILES;
    bool allowed =
        syscall(SYS_landlock_add_rule, rules, LANDLOCK_RULE_PATH_BENEATH, &beneath, 0) == 0;
    close(beneath.parent_fd);
    return allowed;
}

static bool allow_folder_of(int rules, const char *path, uint64_t rights) {
    const char *slash = strrchr(path, '/');
    char folder[PATH_BYTES];
    int length = slash ? (int)(slash - path) : 0;
    if (slash)
        snprintf(folder, sizeof folder, "%.*s", length ? length : 1, path);
    else
        snprintf(folder, sizeof folder, ".");
    return allow(rules, folder, rights);
}

/* Of a file that is a link also where it leads. */
static bool allow_folders_of(int rules, const char *file, uint64_t rights) {
    char *real = realpath(file, NULL);
    bool fine = !real || allow_folder_of(rules, real, rights);
    free(real);
    return allow_folder_of(rules, file, rights) && fine;
}

static bool allow_all(int rules, const char *home, const char *state, uint64_t known) {
    /* Names (NSS loads libraries), time zones, certificates. */
    static const char *const READ[] = {"/usr/share/zoneinfo",
                                       "/etc/localtime",
                                       "/etc/timezone",
                                       "/etc/hosts",
                                       "/etc/host.conf",
                                       "/etc/gai.conf",
                                       "/etc/resolv.conf",
                                       "/run/systemd/resolve",
                                       "/etc/nsswitch.conf",
                                       "/etc/services",
                                       "/etc/ld.so.cache",
                                       "/lib",
                                       "/usr/lib",
                                       "/usr/local/lib",
                                       "/etc/ssl",
                                       "/usr/share/ca-certificates"};
    bool fine = allow_folders_of(rules, home, WRITING & known);
    if (state)
        fine = allow_folders_of(rules, state, WRITING & known) && fine;
    for (size_t i = 0; i < sizeof READ / sizeof *READ; i++)
        fine = allow(rules, READ[i], READING & known) && fine;
    return allow(rules, "/dev/null", (READING | LANDLOCK_ACCESS_FS_WRITE_FILE) & known) && fine;
}

static bool close_file_system(const char *home, const char *state) {
    struct landlock_ruleset_attr all = {.handled_access_fs = rights_known()};
    if (all.handled_access_fs == 0)
        return false;
    int rules = (int)syscall(SYS_landlock_create_ruleset, &all, sizeof all, 0);
    bool closed = rules >= 0 && allow_all(rules, home, state, all.handled_access_fs) &&
                  syscall(SYS_landlock_restrict_self, rules, 0) == 0;
    if (rules >= 0)
        close(rules);
    return closed;
}

void confine_helper(const char *home, const char *state) {
    (void)!setpriority(PRIO_PROCESS, 0, NICE);
    write_score();
    if (CONFINE_LIMITS_MEMORY)
        limit(RLIMIT_AS, MEMORY);
    limit(RLIMIT_NOFILE, DESCRIPTORS);
    limit(RLIMIT_CORE, 0);
    bool closed = prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) == 0 && close_file_system(home, state);
    if (!closed)
        said(SAID_INFORMATION, "this kernel does not close the file system to a program (Landlock);"
                               " the rights of its user hold alone");
}
