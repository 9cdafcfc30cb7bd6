/* The copy of a home file that was accepted: what was read comes back, and nothing half of it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#include "runtime/core/memory.h"
#include "runtime/library/reader.h"
#include "runtime/player/readings.h"
#include "tests/support/folder.h"

static char folder[FOLDER_PATH], path[128];

static void write_inside(const char *name, const char *bytes, size_t length) {
    char full[192];
    snprintf(full, sizeof full, "%s/%s", folder, name);
    file_write_bytes(full, bytes, length);
}

static int start(void **unused) {
    (void)unused;
    folder_make(folder, "readings");
    snprintf(path, sizeof path, "%s/copy", folder);
    static const char home[] =
        "use \"below/part.gloam\"\nuse \"gone.gloam\"\nroutine a { paint b }";
    static const char part[] = "let b = red // \xc3\xa9\n";
    char below[128];
    snprintf(below, sizeof below, "%s/below", folder);
    assert_int_equal(mkdir(below, 0700), 0);
    write_inside("home.gloam", home, sizeof home - 1);
    write_inside("below/part.gloam", part, sizeof part - 1);
    return 0;
}

static int end(void **unused) {
    (void)unused;
    folder_remove(folder);
    return 0;
}

static void record(Readings *readings) {
    char home[128];
    DiskReader disk;
    snprintf(home, sizeof home, "%s/home.gloam", folder);
    *readings = (Readings){0};
    disk_reader_start(&disk);
    LangReader reader = readings_record(readings, &disk.reader);
    lang_free(lang_compile(&reader, home));
    disk_reader_end(&disk);
}

static void test_what_was_read_comes_back(void **unused) {
    (void)unused;
    Readings readings, copy;
    int error;
    record(&readings);
    assert_int_equal(readings.count, 3);
    char file[256], wanted[256];
    const char *const names[] = {"home.gloam", "below/part.gloam", "gone.gloam"};
    for (uint32_t i = 0; i < 3; i++) {
        assert_true(readings_file(&readings.list[i], "/", file, sizeof file));
        snprintf(wanted, sizeof wanted, "%s/%s", folder, names[i]);
        assert_string_equal(file, wanted);
    }
    assert_true(readings_save(&readings, &state_disk, path, &error));
    assert_true(readings_load(&copy, path));
    assert_int_equal(copy.count, 2); /* what could not be read is not in it */
    LangReader reader = readings_replay(&copy);
    for (uint32_t i = 0; i < 3; i++) {
        const Reading *one = &readings.list[i];
        char *text, *identity;
        size_t length;
        const char *reason;
        ReadStatus status =
            reader.read(reader.context, one->path, one->from, &text, &length, &identity, &reason);
        assert_int_equal(status, one->identity ? READ_FINE : READ_MISSING);
        if (status != READ_FINE)
            continue;
        assert_string_equal(identity, one->identity);
        assert_int_equal(length, one->length);
        assert_memory_equal(text, one->text, length);
        memory_release(text);
        memory_release(identity);
    }
    readings_free(&copy);
    readings_free(&readings);
}

static void test_a_copy_that_is_the_same_is_left_alone(void **unused) {
    (void)unused;
    Readings readings;
    struct stat before, after;
    int error;
    record(&readings);
    assert_true(readings_save(&readings, &state_disk, path, &error));
    assert_int_equal(stat(path, &before), 0);
    assert_true(readings_save(&readings, &state_disk, path, &error));
    assert_int_equal(stat(path, &after), 0);
    assert_int_equal(before.st_ino, after.st_ino);
    readings.list[0].text[0]++;
    assert_true(readings_save(&readings, &state_disk, path, &error));
    assert_int_equal(stat(path, &after), 0);
    assert_int_not_equal(before.st_ino, after.st_ino);
    readings_free(&readings);
}

static void test_half_a_copy_is_none(void **unused) {
    (void)unused;
    Readings readings, copy;
    int error;
    char *bytes;
    size_t length, whole = 0;
    const char *reason;
    record(&readings);
    assert_true(readings_save(&readings, &state_disk, path, &error));
    assert_int_equal(disk_read_file(path, 1 << 20, &bytes, &length, &reason), READ_FINE);
    for (size_t cut = 0; cut <= length; cut++) {
        write_inside("cut", bytes, cut);
        char name[128];
        snprintf(name, sizeof name, "%s/cut", folder);
        if (readings_load(&copy, name)) {
            whole++;
            readings_free(&copy);
        } else {
            assert_int_equal(copy.count, 0);
        }
    }
    assert_int_equal(whole, 2); /* all of it, and where the first file ends */
    assert_false(readings_load(&copy, "/nowhere/at/all"));
    memory_release(bytes);
    readings_free(&readings);
}

static void test_without_memory(void **unused) {
    (void)unused;
    Readings readings, copy;
    int error;
    record(&readings);
    assert_true(readings_save(&readings, &state_disk, path, &error));
    unsigned long before = memory_live(), n = 1;
    for (;; n++) {
        memory_fail_at(n);
        bool loaded = readings_load(&copy, path);
        memory_fail_at(0);
        if (loaded)
            break;
        assert_int_equal(memory_live(), before);
    }
    assert_true(n > 8);
    readings_free(&copy);
    readings_free(&readings);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_what_was_read_comes_back),
        cmocka_unit_test(test_a_copy_that_is_the_same_is_left_alone),
        cmocka_unit_test(test_half_a_copy_is_none),
        cmocka_unit_test(test_without_memory),
    };
    return cmocka_run_group_tests(tests, start, end) != 0;
}
