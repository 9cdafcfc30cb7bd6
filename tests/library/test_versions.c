/* The ten last home files. */
#include <errno.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#include "runtime/core/memory.h"
#include "runtime/library/versions.h"

static char folder[64], inside[96];

static int make_folder(void **state) {
    (void)state;
    snprintf(folder, sizeof folder, "/tmp/gloam-versions-XXXXXX");
    if (!mkdtemp(folder))
        return -1;
    snprintf(inside, sizeof inside, "%s/state.json.versions", folder);
    return 0;
}

static int remove_folder(void **state) {
    char command[256];
    (void)state;
    snprintf(command, sizeof command, "chmod -R u+rwx %s; rm -r %s", folder, folder);
    return system(command);
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
        FILE *file = fopen(path, "w");
        fputs("mine", file);
        fclose(file);
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

static int no_room(int file) {
    (void)file;
    errno = ENOSPC;
    return -1;
}

static void a_full_disk_keeps_what_was_kept(void **state) {
    (void)state;
    Version list[VERSIONS_KEPT];
    StateDisk full = state_disk;
    int error = 0;
    full.sync = no_room;
    for (int i = 0; i < 10; i++)
        assert_true(keep(i % 2 ? "a" : "b"));
    assert_false(versions_keep(&full, inside, "c", 1, &error));
    assert_int_equal(error, ENOSPC);
    assert_int_equal(versions_list(inside, list), 10);
    assert_int_equal(list[0].number, 10);
    assert_text(10, "a");
}

static void a_folder_that_cannot_be_made_is_said(void **state) {
    (void)state;
    int error = 0;
    FILE *file = fopen(inside, "w");
    fclose(file);
    assert_false(versions_keep(&state_disk, inside, "c", 1, &error));
    assert_true(error != 0);
}

/* Killed at any moment: each that is there is whole. */
static void a_kill_leaves_whole_files(void **state) {
    (void)state;
    for (int round = 0; round < 60; round++) {
        pid_t child = fork();
        if (child == 0) {
            for (int i = 0;; i++) {
                char text[4000];
                memset(text, 'a' + i % 26, sizeof text);
                int error;
                versions_keep(&state_disk, inside, text, sizeof text, &error);
            }
        }
        nanosleep(&(struct timespec){.tv_nsec = 300000 + 37000 * round}, NULL);
        kill(child, SIGKILL);
        waitpid(child, NULL, 0);
        Version list[VERSIONS_KEPT];
        size_t count = versions_list(inside, list);
        for (size_t i = 0; i < count; i++) {
            char *text;
            size_t length;
            assert_true(versions_read(inside, list[i].number, &text, &length));
            assert_int_equal(length, 4000);
            for (size_t k = 1; k < length; k++)
                assert_true(text[k] == text[0]);
            memory_release(text);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(ten_are_kept_the_newest_first, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(the_same_is_not_kept_twice, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(what_else_is_there_is_left_alone, make_folder,
                                        remove_folder),
        cmocka_unit_test_setup_teardown(a_full_disk_keeps_what_was_kept, make_folder,
                                        remove_folder),
        cmocka_unit_test_setup_teardown(a_folder_that_cannot_be_made_is_said, make_folder,
                                        remove_folder),
        cmocka_unit_test_setup_teardown(a_kill_leaves_whole_files, make_folder, remove_folder),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
