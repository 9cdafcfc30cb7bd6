/* What a program of the player can no longer do once it listens to others. */
#include <errno.h>
#include <fcntl.h>
#include <linux/landlock.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#include "runtime/service/link/confine.h"
#include "tests/support/folder.h"

static char folder[FOLDER_PATH], home[96], state[96], outside[96];

static int make_folders(void **unused) {
    (void)unused;
    char path[96];
    folder_make(folder, "confine");
    snprintf(path, sizeof path, "%s/home", folder);
    assert_int_equal(mkdir(path, 0700), 0);
    snprintf(path, sizeof path, "%s/kept", folder);
    assert_int_equal(mkdir(path, 0700), 0);
    snprintf(home, sizeof home, "%s/home/home.gloam", folder);
    snprintf(state, sizeof state, "%s/kept/state.json", folder);
    snprintf(outside, sizeof outside, "%s/outside", folder);
    file_write(home, "text");
    file_write(outside, "text");
    return 0;
}

static int remove_folders(void **unused) {
    (void)unused;
    folder_remove(folder);
    return 0;
}

/* What a child that is confined returns from `look`. */
static bool limits_memory;
static int score; /* /proc/self/oom_score_adj of the child */

static int confined(int (*look)(void)) {
    fflush(NULL);
    pid_t child = fork();
    if (child == 0) {
        if (!freopen("/dev/null", "w", stderr))
            _exit(99);
        score = open("/proc/self/oom_score_adj", O_RDONLY | O_CLOEXEC);
        confine_helper(home, state);
        _exit(look());
    }
    int status = 0;
    waitpid(child, &status, 0);
    assert_true(WIFEXITED(status));
    return WEXITSTATUS(status);
}

static bool opens(const char *path, int flags) {
    int file = open(path, flags | O_CLOEXEC, 0600);
    if (file >= 0)
        close(file);
    return file >= 0;
}

/* A bit for each thing that it can do and should not, and for each that it should and cannot. */
static int look_at_files(void) {
    char fresh[128], moved[128];
    int wrong = 0;
    snprintf(fresh, sizeof fresh, "%s.new", home);
    snprintf(moved, sizeof moved, "%s.moved", outside);
    wrong |= opens(outside, O_RDONLY) ? 1 : 0;
    wrong |= opens("/etc/passwd", O_RDONLY) ? 2 : 0;
    wrong |= opens(moved, O_WRONLY | O_CREAT) ? 4 : 0;
    wrong |= opens(home, O_RDONLY) ? 0 : 8;
    wrong |= opens(fresh, O_WRONLY | O_CREAT) && rename(fresh, home) == 0 ? 0 : 16;
    wrong |= opens(state, O_WRONLY | O_CREAT) ? 0 : 32;
    wrong |= access("/usr/share/zoneinfo", F_OK) != 0 ||
                     opens("/usr/share/zoneinfo/Europe/London", O_RDONLY)
                 ? 0
                 : 64;
    return wrong;
}

/* A home file that leads to another folder: both folders are the home's. */
static int look_through_a_link(void) {
    char fresh[128];
    int wrong = 0;
    snprintf(fresh, sizeof fresh, "%s/home/home.gloam.new", folder);
    wrong |= opens(home, O_RDONLY) ? 0 : 1;
    wrong |= opens(fresh, O_WRONLY | O_CREAT) ? 0 : 2;
    wrong |= unlink(home) == 0 && symlink("summer.gloam", home) == -1 ? 0 : 4; /* not its own */
    snprintf(fresh, sizeof fresh, "%s/links/summer.gloam", folder);
    wrong |= opens(fresh, O_WRONLY | O_CREAT) ? 0 : 8;
    wrong |= opens(outside, O_RDONLY) ? 16 : 0;
    return wrong;
}

static int runs_nothing(void) {
    execl("/bin/true", "true", (char *)NULL);
    return errno == EACCES ? 1 : 2;
}

static void files_elsewhere_are_out_of_reach(void **unused) {
    (void)unused;
    if (syscall(SYS_landlock_create_ruleset, NULL, 0, LANDLOCK_CREATE_RULESET_VERSION) < 1) {
        print_message("skipped: this kernel has no Landlock\n");
        skip();
    }
    assert_int_equal(confined(look_at_files), 0);
    assert_int_equal(confined(runs_nothing), 1);
    char links[96];
    snprintf(links, sizeof links, "%s/links", folder);
    assert_int_equal(mkdir(links, 0700), 0);
    snprintf(home, sizeof home, "%s/links/home.gloam", folder);
    assert_int_equal(symlink("../home/home.gloam", home), 0);
    assert_int_equal(confined(look_through_a_link), 0);
}

/* Of this process, through a file that was opened before; -1: it cannot be read. */
static int first_to_end(void) {
    char text[16] = "";
    int number;
    return pread(score, text, sizeof text - 1, 0) > 0 && sscanf(text, "%d", &number) == 1 ? number
                                                                                          : -1;
}

/* An emulated processor's system may take a limit of memory and do nothing with it. */
static bool takes_limits_of_memory(void) {
    struct rlimit most = {1 << 30, 1 << 30};
    pid_t child = fork();
    if (child == 0) {
        bool taken = setrlimit(RLIMIT_AS, &most) == 0 && getrlimit(RLIMIT_AS, &most) == 0;
        _exit(taken && most.rlim_max == 1 << 30 ? 1 : 0);
    }
    int status = 0;
    waitpid(child, &status, 0);
    return WIFEXITED(status) && WEXITSTATUS(status) == 1;
}

static int look_at_rights(void) {
    struct rlimit files;
    int wrong = 0;
    wrong |= prctl(PR_GET_NO_NEW_PRIVS, 0, 0, 0, 0) == 1 ? 0 : 1;
    wrong |= getpriority(PRIO_PROCESS, 0) >= 10 ? 0 : 2;
    wrong |= getrlimit(RLIMIT_NOFILE, &files) == 0 && files.rlim_max <= 256 ? 0 : 4;
    wrong |= files.rlim_cur == 100 ? 0 : 64; /* what was less stays so */
    wrong |= getrlimit(RLIMIT_CORE, &files) == 0 && files.rlim_max == 0 ? 0 : 8;
    wrong |= first_to_end() == 500 ? 0 : 16;
    if (CONFINE_LIMITS_MEMORY && limits_memory)
        wrong |= getrlimit(RLIMIT_AS, &files) == 0 && files.rlim_max <= 256 << 20 ? 0 : 32;
    return wrong;
}

static void priority_memory_and_rights_are_given_up(void **unused) {
    (void)unused;
    struct rlimit before, less;
    assert_int_equal(getrlimit(RLIMIT_NOFILE, &before), 0);
    less = before;
    less.rlim_cur = 100;
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &less), 0);
    limits_memory = takes_limits_of_memory();
    if (!limits_memory)
        print_message("skipped: the limit of memory: this system takes none\n");
    int wrong = confined(look_at_rights);
    assert_int_equal(setrlimit(RLIMIT_NOFILE, &before), 0);
    assert_int_equal(wrong, 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(files_elsewhere_are_out_of_reach, make_folders,
                                        remove_folders),
        cmocka_unit_test_setup_teardown(priority_memory_and_rights_are_given_up, make_folders,
                                        remove_folders),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
