/* A new text for the home file: it is put in its place as a whole or not at all, whatever the disk
 * does; what may be read; hashes by FIPS 180-4. */
#include <errno.h>
#include <fcntl.h>
#include <sched.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/inotify.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#include "runtime/core/memory.h"
#include "runtime/library/reader.h"
#include "runtime/service/link/keep.h"
#include "tests/support/folder.h"
#include "tests/support/step_disk.h"

static const char OLD[] = "routine glow { paint gold }\n", NEW[] = "routine glow { paint coral }\n";
static char folder[FOLDER_PATH], home[96];

static int make_folder(void **state) {
    (void)state;
    folder_make(folder, "keep");
    snprintf(home, sizeof home, "%s/home.gloam", folder);
    file_write(home, OLD);
    return 0;
}

static int remove_folder(void **state) {
    (void)state;
    folder_remove(folder);
    return 0;
}

static void assert_file(const char *path, const char *wanted) {
    char *text = file_read(path, NULL);
    assert_string_equal(text, wanted);
    free(text);
}

/* Nothing but the home file, and what else the test made, is in the folder. */
static void assert_alone(int files) {
    assert_int_equal(folder_count(folder), files);
}

static KeepResult keep(const char *text, const char *base, const StateDisk *disk, Kept *kept) {
    KeepRequest request = {home, text, strlen(text), base, disk};
    keep_home(&request, kept);
    assert_true(kept->said[0]);
    return kept->result;
}

/* -------- hashes -------- */

/* FIPS 180-4: the digests of "abc" and of the empty message, from NIST's example values. */
static void hashes_are_those_of_the_standard(void **state) {
    (void)state;
    char hash[KEEP_HASH];
    keep_hash("abc", 3, hash);
    assert_string_equal(hash, "ba7816bf8f01cfea");
    keep_hash("", 0, hash);
    assert_string_equal(hash, "e3b0c44298fc1c14");
}

/* -------- kept -------- */

static void a_text_is_kept_with_the_rights_of_the_file(void **state) {
    (void)state;
    Kept kept;
    struct stat before, after;
    char hash[KEEP_HASH];
    assert_int_equal(chmod(home, 0660), 0);
    if (geteuid() == 0)
        assert_int_equal(chown(home, (uid_t)-1, 1), 0);
    assert_int_equal(stat(home, &before), 0);
    keep_hash(OLD, strlen(OLD), hash);
    assert_int_equal(keep(NEW, hash, NULL, &kept), KEEP_DONE);
    keep_hash(NEW, strlen(NEW), hash);
    assert_string_equal(kept.hash, hash);
    assert_string_equal(kept.before, OLD);
    keep_end(&kept);
    assert_int_equal(stat(home, &after), 0);
    assert_int_equal(after.st_mode, before.st_mode);
    assert_int_equal(after.st_gid, before.st_gid);
    assert_int_not_equal(after.st_ino, before.st_ino); /* moved there as a whole */
    assert_file(home, NEW);
    assert_alone(1);
}

static void another_base_is_not_written_over(void **state) {
    (void)state;
    Kept kept;
    assert_int_equal(keep(NEW, "0123456789abcdef", NULL, &kept), KEEP_CHANGED);
    keep_end(&kept);
    assert_file(home, OLD);
    assert_int_equal(keep(NEW, "", NULL, &kept), KEEP_CHANGED);
    keep_end(&kept);
    assert_file(home, OLD);
    assert_int_equal(keep(NEW, NULL, NULL, &kept), KEEP_DONE); /* whatever is there */
    keep_end(&kept);
    assert_file(home, NEW);
}

static void a_wrong_text_changes_nothing(void **state) {
    (void)state;
    static const char *const WRONG[] = {"routine glow { paint gold * 5s }\n", "routine", "\xff\xfe",
                                        "use \"nowhere.gloam\"\n",
                                        "routine glow { paint gold }\nat 25:00 play glow\n"};
    for (size_t i = 0; i < sizeof WRONG / sizeof *WRONG; i++) {
        Kept kept;
        assert_int_equal(keep(WRONG[i], NULL, NULL, &kept), KEEP_WRONG);
        assert_non_null(kept.score);
        assert_true(diagnostics_total(lang_diagnostics(kept.score->compilation)) > 0);
        keep_end(&kept);
        assert_file(home, OLD);
        assert_alone(1);
    }
}

static void what_is_put_back_is_what_was_there(void **state) {
    (void)state;
    Kept kept;
    KeepRequest request = {home, NEW, strlen(NEW), NULL, NULL};
    keep_home(&request, &kept);
    assert_int_equal(kept.result, KEEP_DONE);
    assert_true(keep_back(&request, &kept));
    assert_file(home, OLD);
    keep_end(&kept);
    /* not over what somebody else has written meanwhile */
    keep_home(&request, &kept);
    assert_int_equal(kept.result, KEEP_DONE);
    file_write(home, "// another\n");
    assert_false(keep_back(&request, &kept));
    assert_file(home, "// another\n");
    keep_end(&kept);
}

/* The player may refuse the first, and what was there before comes back. */
static void two_programs_keep_one_after_the_other(void **state) {
    (void)state;
    Kept first, second;
    KeepRequest request = {home, NEW, strlen(NEW), NULL, NULL};
    keep_home(&request, &first);
    assert_int_equal(first.result, KEEP_DONE);
    assert_int_equal(keep("routine other { paint red }\n", NULL, NULL, &second), KEEP_BUSY);
    keep_end(&second);
    assert_file(home, NEW);
    assert_true(keep_back(&request, &first));
    keep_end(&first);
    assert_file(home, OLD);
    assert_int_equal(keep(NEW, NULL, NULL, &second), KEEP_DONE);
    keep_end(&second);
    keep_end(&second); /* which closes nothing of others */
    assert_int_not_equal(fcntl(0, F_GETFD), -1);
}

/* -------- links and folders -------- */

static void a_link_stays_one(void **state) {
    (void)state;
    Kept kept;
    struct stat about;
    char other[96], real[128];
    snprintf(other, sizeof other, "%s/elsewhere", folder);
    snprintf(real, sizeof real, "%s/real.gloam", other);
    assert_int_equal(mkdir(other, 0700), 0);
    assert_int_equal(rename(home, real), 0);
    assert_int_equal(symlink("elsewhere/real.gloam", home), 0);
    assert_int_equal(keep(NEW, NULL, NULL, &kept), KEEP_DONE);
    keep_end(&kept);
    assert_int_equal(lstat(home, &about), 0);
    assert_true(S_ISLNK(about.st_mode));
    assert_int_equal(lstat(real, &about), 0);
    assert_true(S_ISREG(about.st_mode));
    assert_file(real, NEW);
    assert_alone(2);
}

/* As soon as somebody opens `path`, another text is in the home file, for which who opens it is
 * stopped: by a child, its descriptor readable once it looks. */
static pid_t change_once_opened(const char *path, int ready[2]) {
    char event[4096];
    assert_int_equal(pipe(ready), 0);
    pid_t child = fork();
    if (child)
        return child;
    int watch = inotify_init1(0);
    bool watches = inotify_add_watch(watch, path, IN_OPEN) >= 0 && write(ready[1], "", 1) == 1;
    bool opened = watches && read(watch, event, sizeof event) > 0 && kill(getppid(), SIGSTOP) == 0;
    int file = open(home, O_WRONLY | O_TRUNC);
    bool written = opened && write(file, "routine edited { paint red }\n", 29) == 29;
    _exit(kill(getppid(), SIGCONT) == 0 && written ? 0 : 1);
}

/* On one processor, where who is idle makes way for all others at once: the child is heard before
 * the long text that it waits for is compiled, however busy the machine is. */
static void make_way(void) {
    const struct sched_param none = {0};
    cpu_set_t all, one;
    assert_int_equal(sched_getaffinity(0, sizeof all, &all), 0);
    int first = 0;
    while (!CPU_ISSET(first, &all))
        first++;
    CPU_ZERO(&one);
    CPU_SET(first, &one);
    assert_int_equal(sched_setaffinity(0, sizeof one, &one), 0);
    assert_int_equal(sched_setscheduler(0, SCHED_IDLE, &none), 0);
}

static void a_file_that_changes_meanwhile_is_not_written_over(void **state) {
    (void)state;
    Kept kept;
    char path[128], hash[KEEP_HASH], byte;
    int ready[2], ended;
    snprintf(path, sizeof path, "%s/tones.gloam", folder);
    FILE *tones = fopen(path, "w");
    assert_non_null(tones);
    for (int i = 0; i < 30000; i++)
        fprintf(tones, "// line %d of many\n", i);
    fputs("let amber = #ff8800\n", tones);
    fclose(tones);
    const struct sched_param none = {0};
    cpu_set_t all;
    assert_int_equal(sched_getaffinity(0, sizeof all, &all), 0);
    pid_t child = change_once_opened(path, ready);
    assert_true(child > 0);
    assert_int_equal(read(ready[0], &byte, 1), 1);
    make_way();
    keep_hash(OLD, strlen(OLD), hash);
    KeepResult result =
        keep("use \"tones.gloam\"\nroutine glow { paint amber }\n", hash, NULL, &kept);
    keep_end(&kept);
    assert_int_equal(sched_setscheduler(0, SCHED_OTHER, &none), 0);
    assert_int_equal(sched_setaffinity(0, sizeof all, &all), 0);
    close(ready[0]);
    close(ready[1]);
    assert_int_equal(waitpid(child, &ended, 0), child);
    assert_int_equal(ended, 0);
    assert_int_equal(result, KEEP_CHANGED);
    assert_file(home, "routine edited { paint red }\n");
}

static void what_it_uses_lies_beside_it(void **state) {
    (void)state;
    Kept kept;
    char path[128];
    snprintf(path, sizeof path, "%s/tones.gloam", folder);
    file_write(path, "let amber = #ff8800\n");
    assert_int_equal(keep("use \"tones.gloam\"\nroutine glow { paint amber }\n", NULL, NULL, &kept),
                     KEEP_DONE);
    keep_end(&kept);
    assert_int_equal(
        keep("use \"../../etc/passwd\"\nroutine glow { paint gold }\n", NULL, NULL, &kept),
        KEEP_WRONG);
    keep_end(&kept);
}

static void a_file_that_is_not_there_is_not_made(void **state) {
    (void)state;
    Kept kept;
    assert_int_equal(unlink(home), 0);
    assert_int_equal(keep(NEW, NULL, NULL, &kept), KEEP_MACHINE);
    assert_non_null(strstr(kept.said, "the home file"));
    keep_end(&kept);
    assert_alone(0);
    assert_int_equal(mkdir(home, 0755), 0);
    assert_int_equal(keep(NEW, NULL, NULL, &kept), KEEP_MACHINE);
    keep_end(&kept);
    assert_alone(1);
}

/* Whoever runs this may be allowed everything: a child of another user is not. */
static int without_rights(void) {
    Kept kept;
    KeepRequest request = {home, NEW, strlen(NEW), NULL, NULL};
    if (geteuid() == 0 && (setgid(65534) != 0 || setuid(65534) != 0))
        return 2;
    keep_home(&request, &kept);
    bool told = kept.result == KEEP_MACHINE && strstr(kept.said, strerror(EACCES));
    if (!told)
        fprintf(stderr, "%d %s\n", (int)kept.result, kept.said);
    keep_end(&kept);
    return told ? 0 : 1;
}

static void a_folder_that_may_not_be_written_is_told(void **state) {
    (void)state;
    int ended;
    assert_int_equal(chmod(home, 0644), 0);
    assert_int_equal(chmod(folder, 0555), 0);
    pid_t child = fork();
    if (child == 0)
        _exit(without_rights());
    assert_int_equal(waitpid(child, &ended, 0), child);
    assert_true(WIFEXITED(ended));
    assert_int_equal(WEXITSTATUS(ended), 0);
    assert_file(home, OLD);
    assert_alone(1);
}

/* -------- a disk that fails -------- */

/* At each step in turn: full, read-only, an error of the device. */
static void a_disk_that_fails_leaves_the_file(void **state) {
    (void)state;
    static const int ERRORS[] = {ENOSPC, EROFS, EIO};
    for (int i = 0; i < 3; i++) {
        int failures = 0;
        bool done = false;
        for (int at = 1; !done; at++) {
            Kept kept;
            file_write(home, OLD);
            stepped = (StepDisk){.beneath = keep_disk(), .at = at, .error = ERRORS[i], .most = 9};
            KeepResult result = keep(NEW, NULL, &step_disk, &kept);
            bool reached = stepped.done >= at;
            if (result == KEEP_DONE) {
                assert_file(home, NEW);
            } else {
                assert_int_equal(result, KEEP_MACHINE);
                assert_non_null(strstr(kept.said, strerror(ERRORS[i])));
                assert_file(home, OLD);
                failures++;
            }
            keep_end(&kept);
            assert_alone(1);
            done = !reached;
            assert_true(done || at < 100);
        }
        assert_int_equal(failures, 8); /* create, four writes, sync, close, rename */
    }
}

static void out_of_memory_leaves_the_file(void **state) {
    (void)state;
    unsigned long before = memory_live(), at = 1;
    KeepResult result = KEEP_MACHINE;
    for (; result != KEEP_DONE && at < 2000; at++) {
        Kept kept;
        KeepRequest request = {home, NEW, strlen(NEW), NULL, NULL};
        memory_fail_at(at);
        keep_home(&request, &kept);
        memory_fail_at(0);
        result = kept.result;
        assert_true(result == KEEP_DONE || result == KEEP_MACHINE);
        keep_end(&kept);
        assert_int_equal(memory_live(), before);
        assert_file(home, result == KEEP_DONE ? NEW : OLD);
        assert_alone(1);
    }
    assert_int_equal(result, KEEP_DONE);
    assert_true(at > 20);
}

#define WITH_FOLDER(test) cmocka_unit_test_setup_teardown(test, make_folder, remove_folder)

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hashes_are_those_of_the_standard),
        WITH_FOLDER(a_text_is_kept_with_the_rights_of_the_file),
        WITH_FOLDER(another_base_is_not_written_over),
        WITH_FOLDER(a_wrong_text_changes_nothing),
        WITH_FOLDER(what_is_put_back_is_what_was_there),
        WITH_FOLDER(two_programs_keep_one_after_the_other),
        WITH_FOLDER(a_link_stays_one),
        WITH_FOLDER(a_file_that_changes_meanwhile_is_not_written_over),
        WITH_FOLDER(what_it_uses_lies_beside_it),
        WITH_FOLDER(a_file_that_is_not_there_is_not_made),
        WITH_FOLDER(a_folder_that_may_not_be_written_is_told),
        WITH_FOLDER(a_disk_that_fails_leaves_the_file),
        WITH_FOLDER(out_of_memory_leaves_the_file),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
