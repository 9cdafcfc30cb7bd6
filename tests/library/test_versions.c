/* The ten last home files. */
#include <errno.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#include "runtime/core/memory.h"
#include "runtime/library/versions.h"
#include "tests/support/folder.h"
#include "tests/support/step_disk.h"

static char folder[FOLDER_PATH], inside[96];

static int make_folder(void **state) {
    (void)state;
    folder_make(folder, "versions");
    snprintf(inside, sizeof inside, "%s/state.json.versions", folder);
    return 0;
}

static int remove_folder(void **state) {
    (void)state;
    folder_remove(folder);
    return 0;
}

static bool keep(const char *text) {
    int error;
    return versions_keep(&state_disk, inside, text, strlen(text), &error);
}

static void assert_text(uint32_t number, const char *wanted) {
    char *text;
    size_t length;
    if (!versions_read(inside, number, &text, &length))
        fail_msg("expected number %u to be there", number);
    assert_string_equal(text, wanted);
    memory_release(text);
}

static void ten_are_kept_the_newest_first(void **state) {
    (void)state;
    Version list[VERSIONS_KEPT];
    char text[32];
    assert_int_equal(versions_list(inside, list), 0);
    for (int i = 1; i <= 13; i++) {
        snprintf(text, sizeof text, "// version %d\n", i);
        assert_true(keep(text));
    }
    assert_int_equal(versions_list(inside, list), 10);
    for (uint32_t i = 0; i < 10; i++) {
        assert_int_equal(list[i].number, 13 - i);
        snprintf(text, sizeof text, "// version %u\n", 13 - i);
        assert_int_equal(list[i].bytes, strlen(text));
        assert_text(13 - i, text);
    }
    assert_in_range(list[0].kept, time(NULL) - 60, time(NULL) + 1);
    char *gone;
    size_t length;
    assert_false(versions_read(inside, 3, &gone, &length));
    assert_false(versions_read(inside, 0, &gone, &length));
}

static void the_same_is_not_kept_twice(void **state) {
    (void)state;
    Version list[VERSIONS_KEPT];
    assert_true(keep("a"));
    assert_true(keep("a"));
    assert_true(keep("b"));
    assert_true(keep("a")); /* taken back: another version */
    assert_int_equal(versions_list(inside, list), 3);
    assert_text(3, "a");
}

static void what_else_is_there_is_left_alone(void **state) {
    (void)state;
    static const char *const NAMES[] = {"notes.txt",    "1.gloam",      "0000001.gloam",
                                        "00000a.gloam", "000000.gloam", "000002.gloam.new",
                                        "abcdef.gloam"};
    Version list[VERSIONS_KEPT];
    char path[200];
    assert_int_equal(mkdir(inside, 0700), 0);
    for (size_t i = 0; i < sizeof NAMES / sizeof *NAMES; i++) {
        snprintf(path, sizeof path, "%s/%s", inside, NAMES[i]);
        file_write(path, "mine");
    }
    for (int i = 0; i < 12; i++)
        assert_true(keep(i % 2 ? "a" : "b"));
    assert_int_equal(versions_list(inside, list), 10);
    for (size_t i = 0; i < sizeof NAMES / sizeof *NAMES; i++) {
        snprintf(path, sizeof path, "%s/%s", inside, NAMES[i]);
        if (strcmp(NAMES[i], "000002.gloam.new") != 0) /* that one was written and moved away */
            assert_int_equal(access(path, F_OK), 0);
    }
}

/* -------- a disk that fails, or loses its power, at a step -------- */

static void disk_start(StepTrouble trouble, int at, bool lasting) {
    /* Two bytes at a time, so that it can end in the middle. */
    stepped =
        (StepDisk){.trouble = trouble, .at = at, .lasting = lasting, .error = ENOSPC, .most = 2};
}

static void keep_numbered(int from, int to) {
    char text[16];
    for (int i = from; i <= to; i++) {
        snprintf(text, sizeof text, "// %05d\n", i);
        assert_true(keep(text));
    }
}

/* The ten before, or the new one and nine of them; each as it was kept under its number. */
static void assert_all_whole(uint32_t before) {
    Version list[VERSIONS_KEPT];
    char text[16];
    assert_int_equal(versions_list(inside, list), VERSIONS_KEPT);
    assert_in_range(list[0].number, before, before + 1);
    for (uint32_t i = 0; i < VERSIONS_KEPT; i++) {
        assert_int_equal(list[i].number, list[0].number - i);
        snprintf(text, sizeof text, "// %05u\n", list[i].number);
        assert_text(list[i].number, text);
    }
}

/* create, write, sync, close, rename, sync of the folder; only then something goes. */
static void what_is_new_is_safe_before_the_old_goes(void **state) {
    (void)state;
    int error;
    disk_start(STEP_FAILS, 0, false);
    assert_true(versions_keep(&step_disk, inside, "abc", 3, &error));
    assert_string_equal(stepped.trace, "fcwwsxrf"); /* the folder is new, too */
    keep_numbered(2, 10);
    disk_start(STEP_FAILS, 0, false);
    assert_true(versions_keep(&step_disk, inside, "abc", 3, &error));
    assert_string_equal(stepped.trace, "cwwsxrfd");
    disk_start(STEP_FAILS, 0, false);
    assert_true(versions_keep(&step_disk, inside, "abc", 3, &error));
    assert_string_equal(stepped.trace, "");
}

static void whatever_fails_all_are_whole(void **state) {
    (void)state;
    int steps = 0;
    for (int lasting = 0; lasting < 2; lasting++)
        for (int step = 1;; step++) {
            uint32_t last = 10;
            int error = 0;
            remove_folder(NULL);
            make_folder(NULL);
            keep_numbered(1, 10);
            disk_start(STEP_FAILS, step, lasting);
            bool kept = versions_keep(&step_disk, inside, "// 00011\n", 9, &error);
            if (stepped.done < step)
                break;
            steps++;
            assert_true(kept || error == ENOSPC);
            /* What is old and cannot go is no failure; it goes the next time. */
            assert_int_equal(kept, stepped.trace[step - 1] == 'd');
            assert_all_whole(last);
            assert_true(keep("// 00011\n"));
            keep_numbered(12, 12);
            assert_all_whole(12);
            assert_int_equal(folder_count(inside), VERSIONS_KEPT);
        }
    assert_int_equal(steps, 2 * 11); /* c, w five times, s, x, r, f, d */
}

static void killed_at_any_step_all_are_whole(void **state) {
    (void)state;
    int killed = 0;
    for (int trouble = STEP_KILLED_BEFORE; trouble <= STEP_KILLED_AFTER; trouble++)
        for (int step = 1; step < 100; step++) {
            int status, error;
            remove_folder(NULL);
            make_folder(NULL);
            keep_numbered(1, 10);
            fflush(stdout);
            pid_t child = fork();
            assert_true(child >= 0);
            if (child == 0) {
                disk_start((StepTrouble)trouble, step, false);
                _exit(versions_keep(&step_disk, inside, "// 00011\n", 9, &error) ? 0 : 1);
            }
            assert_int_equal(waitpid(child, &status, 0), child);
            if (WIFEXITED(status)) {
                assert_int_equal(WEXITSTATUS(status), 0);
                break;
            }
            assert_int_equal(WTERMSIG(status), SIGKILL);
            killed++;
            assert_all_whole(10);
            assert_true(keep("// 00011\n"));
            keep_numbered(12, 12);
            assert_all_whole(12);
            assert_int_equal(folder_count(inside), VERSIONS_KEPT);
        }
    assert_int_equal(killed, 2 * 11);
}

/* It can be written to, but not looked through: number 1 is not written over. */
static int in_a_dark_folder(void) {
    int error = 0;
    bool kept = versions_keep(&state_disk, inside, "b", 1, &error);
    return kept ? 1 : error == EACCES ? 0 : 2;
}

static void a_folder_that_cannot_be_looked_through(void **state) {
    (void)state;
    int status;
    assert_true(keep("a"));
    assert_int_equal(chmod(folder, 0755), 0);
    assert_int_equal(chmod(inside, 0333), 0);
    pid_t child = fork();
    if (child == 0) /* whoever is root sees everything */
        _exit(geteuid() == 0 && setuid(65534) != 0 ? 3 : in_a_dark_folder());
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_int_equal(chmod(inside, 0700), 0);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
    assert_text(1, "a");
    assert_int_equal(folder_count(inside), 1);
}

static void numbers_come_to_an_end(void **state) {
    (void)state;
    char path[200];
    int error = 0;
    assert_true(keep("a"));
    snprintf(path, sizeof path, "%s/999999.gloam", inside);
    file_write(path, "");
    assert_false(versions_keep(&state_disk, inside, "b", 1, &error));
    assert_int_equal(error, EOVERFLOW);
    assert_int_equal(folder_count(inside), 2);
}

static void a_full_disk_keeps_what_was_kept(void **state) {
    (void)state;
    Version list[VERSIONS_KEPT];
    int error = 0;
    for (int i = 0; i < 10; i++)
        assert_true(keep(i % 2 ? "a" : "b"));
    disk_start(STEP_FAILS, 1, true);
    assert_false(versions_keep(&step_disk, inside, "c", 1, &error));
    assert_int_equal(error, ENOSPC);
    assert_int_equal(versions_list(inside, list), 10);
    assert_int_equal(list[0].number, 10);
    assert_text(10, "a");
}

static void a_folder_that_cannot_be_made_is_said(void **state) {
    (void)state;
    int error = 0;
    file_write(inside, "");
    assert_false(versions_keep(&state_disk, inside, "c", 1, &error));
    assert_int_equal(error, ENOTDIR); /* open(2) */
}

/* Killed at any moment: each that is there is whole. */
static void a_kill_leaves_whole_files(void **state) {
    (void)state;
    size_t seen = 0;
    int error;
    struct timespec from, to;
    clock_gettime(CLOCK_MONOTONIC, &from);
    assert_true(versions_keep(&state_disk, inside, "abc", 3, &error));
    clock_gettime(CLOCK_MONOTONIC, &to);
    int64_t one = (to.tv_sec - from.tv_sec) * INT64_C(1000000000) + to.tv_nsec - from.tv_nsec;
    for (int round = 0; round < 60; round++) {
        pid_t child = fork();
        assert_true(child >= 0);
        if (child == 0) {
            for (int i = 0;; i++) {
                char text[4000];
                memset(text, 'a' + i % 26, sizeof text);
                versions_keep(&state_disk, inside, text, sizeof text, &error);
            }
        }
        int64_t wait = one / 10 * (1 + round * 37 % 60); /* up to six are kept */
        nanosleep(&(struct timespec){wait / 1000000000, (long)(wait % 1000000000)}, NULL);
        kill(child, SIGKILL);
        waitpid(child, NULL, 0);
        Version list[VERSIONS_KEPT];
        size_t count = versions_list(inside, list);
        for (size_t i = 0; i < count; i++) {
            char *text;
            size_t length;
            assert_true(versions_read(inside, list[i].number, &text, &length));
            if (list[i].number == 1) { /* the one that was timed */
                assert_int_equal(length, 3);
                memory_release(text);
                continue;
            }
            seen++;
            assert_int_equal(length, 4000);
            for (size_t k = 1; k < length; k++)
                assert_true(text[k] == text[0]);
            memory_release(text);
        }
    }
    assert_true(seen > 0); /* killed before any was kept, it shows nothing */
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(ten_are_kept_the_newest_first, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(the_same_is_not_kept_twice, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(what_else_is_there_is_left_alone, make_folder,
                                        remove_folder),
        cmocka_unit_test_setup_teardown(what_is_new_is_safe_before_the_old_goes, make_folder,
                                        remove_folder),
        cmocka_unit_test_setup_teardown(whatever_fails_all_are_whole, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(killed_at_any_step_all_are_whole, make_folder,
                                        remove_folder),
        cmocka_unit_test_setup_teardown(a_folder_that_cannot_be_looked_through, make_folder,
                                        remove_folder),
        cmocka_unit_test_setup_teardown(numbers_come_to_an_end, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(a_full_disk_keeps_what_was_kept, make_folder,
                                        remove_folder),
        cmocka_unit_test_setup_teardown(a_folder_that_cannot_be_made_is_said, make_folder,
                                        remove_folder),
        cmocka_unit_test_setup_teardown(a_kill_leaves_whole_files, make_folder, remove_folder),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
