/* CSV: the text of a small dump by hand; floats read back bit for bit and equal to the C library's
 * own %.9g; trouble with the disk, a pipe, memory. */
#include <errno.h>
#include <fcntl.h>
#include <locale.h>
#include <math.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "backends/csv.h"
#include "backends/decimal.h"
#include "runtime/core/memory.h"
#include "tests/support/folder.h"

static char *read_all(int descriptor, size_t *length) {
    off_t size = lseek(descriptor, 0, SEEK_END);
    char *text = calloc(1, (size_t)size + 1);
    assert_int_equal(pread(descriptor, text, (size_t)size, 0), size);
    *length = (size_t)size;
    return text;
}

static void dumped(const BackendOptions *options, const BackendFrame *frames, size_t count,
                   const char *wanted) {
    BackendOptions mine = *options;
    BackendError error;
    mine.descriptor = file_nameless();
    Backend *backend = csv_backend.open(&mine, &error);
    assert_non_null(backend);
    assert_ptr_equal(backend->kind, &csv_backend);
    for (size_t i = 0; i < count; i++)
        assert_int_equal(csv_backend.frame(backend, &frames[i], &error), BACKEND_FINE);
    assert_int_equal(csv_backend.close(backend, &error), BACKEND_FINE);
    size_t length;
    char *text = read_all(mine.descriptor, &length);
    assert_string_equal(text, wanted);
    assert_int_equal(strlen(text), length);
    free(text);
    close(mine.descriptor);
}

static void test_bytes(void **state) {
    (void)state;
    const uint8_t first[] = {0, 9, 10, 99, 100, 255}, second[] = {1, 2, 3, 4, 5, 6};
    const BackendFrame frames[] = {{.number = 0, .microseconds = 0, .bytes = first},
                                   {.number = 1, .microseconds = 16667, .bytes = second}};
    dumped(&(BackendOptions){.pixels = 2}, frames, 2,
           "frame,seconds,pixel,red,green,blue\n"
           "0,0.000000,0,0,9,10\n"
           "0,0.000000,1,99,100,255\n"
           "1,0.016667,0,1,2,3\n"
           "1,0.016667,1,4,5,6\n");
}

static void test_more_columns(void **state) {
    (void)state;
    const uint8_t bytes[] = {1, 2, 3, 4, 31};
    const BackendFrame frame = {
        .number = 12345678901ull, .microseconds = 3600000000000ll, .bytes = bytes};
    dumped(&(BackendOptions){.pixels = 1, .white = true, .level = true}, &frame, 1,
           "frame,seconds,pixel,red,green,blue,white,level\n"
           "12345678901,3600000.000000,0,1,2,3,4,31\n");
    dumped(&(BackendOptions){.pixels = 1, .white = true}, &frame, 1,
           "frame,seconds,pixel,red,green,blue,white\n"
           "12345678901,3600000.000000,0,1,2,3,4\n");
    const BackendFrame before = {.microseconds = -1500000, .bytes = bytes};
    dumped(&(BackendOptions){.pixels = 1}, &before, 1,
           "frame,seconds,pixel,red,green,blue\n0,-1.500000,0,1,2,3\n");
}

static void test_light(void **state) {
    (void)state;
    const float light[] = {0.0f, 1.0f, 0.5f, 0.1f, -0.25f, 2.0f};
    const BackendFrame frame = {.microseconds = 1, .light = light};
    const CsvOptions own = {.values = CSV_LIGHT};
    dumped(&(BackendOptions){.pixels = 2, .white = true, .own = &own}, &frame, 1,
           "frame,seconds,pixel,red,green,blue\n"
           "0,0.000001,0,0,1,0.5\n"
           "0,0.000001,1,0.100000001,-0.25,2\n");
}

static void test_no_frames(void **state) {
    (void)state;
    dumped(&(BackendOptions){.pixels = 3}, NULL, 0, "frame,seconds,pixel,red,green,blue\n");
}

/* As many rows as fill the buffer several times, the longest ones. */
static void test_long(void **state) {
    (void)state;
    enum { PIXELS = 100000 };
    float *light = calloc(3 * PIXELS, sizeof *light);
    for (int i = 0; i < 3 * PIXELS; i++)
        light[i] = -1.17549435e-38f;
    const CsvOptions own = {.values = CSV_LIGHT};
    BackendOptions options = {.pixels = PIXELS, .own = &own, .descriptor = file_nameless()};
    const BackendFrame frame = {UINT64_MAX, INT64_MIN, light, NULL};
    BackendError error;
    Backend *backend = csv_backend.open(&options, &error);
    assert_int_equal(csv_backend.frame(backend, &frame, &error), BACKEND_FINE);
    assert_int_equal(csv_backend.close(backend, &error), BACKEND_FINE);
    size_t length;
    char *text = read_all(options.descriptor, &length), *next = text;
    next = strchr(next, '\n') + 1;
    for (int i = 0; i < PIXELS; i++) {
        char wanted[160];
        int size = snprintf(wanted, sizeof wanted,
                            "18446744073709551615,-9223372036854.775808,%d,"
                            "-1.17549435e-38,-1.17549435e-38,-1.17549435e-38\n",
                            i);
        assert_memory_equal(next, wanted, (size_t)size);
        next += size;
    }
    assert_true(next == text + length);
    free(text);
    free(light);
    close(options.descriptor);
}

static void float_read_back(uint32_t bits) {
    float value, again;
    memcpy(&value, &bits, sizeof value);
    if (!isfinite(value))
        return;
    char text[DECIMAL_LONGEST + 1], wanted[40];
    size_t length = decimal_light(value, text);
    assert_true(length <= DECIMAL_LONGEST);
    text[length] = '\0';
    again = strtof(text, NULL);
    if (memcmp(&again, &value, sizeof value) != 0)
        fail_msg("%08x: %s reads back as %.9g", bits, text, (double)again);
    snprintf(wanted, sizeof wanted, "%.9g", (double)value);
    if (strcmp(text, wanted) != 0)
        fail_msg("%08x: %s instead of %s", bits, text, wanted);
}

/* Every 500th float of all, every sixteenth-bit pattern of the light between 2^-10 and 1, and
 * whatever ends in a row of zeros, where halves are. */
static void test_floats(void **state) {
    (void)state;
    for (uint64_t bits = 0; bits <= 0xFFFFFFFFu; bits += 4999)
        float_read_back((uint32_t)bits);
    for (uint32_t bits = 0x3a800000u; bits <= 0x3f800000u; bits += 89)
        float_read_back(bits);
    for (uint32_t exponent = 0; exponent < 255; exponent++)
        for (uint32_t high = 0; high < 512; high++)
            float_read_back(exponent << 23 | high << 14);
    for (int code = 0; code <= 65535; code++) {
        float value = (float)code / 65535.0f;
        uint32_t bits;
        memcpy(&bits, &value, sizeof bits);
        float_read_back(bits);
    }
}

static void test_not_finite(void **state) {
    (void)state;
    char text[DECIMAL_LONGEST];
    assert_int_equal(decimal_light(NAN, text), 1);
    assert_int_equal(text[0], '0');
    assert_int_equal(decimal_light(-INFINITY, text), 1);
    assert_int_equal(text[0], '0');
}

/* A decimal comma of the locale must not reach the file. */
static void test_locale(void **state) {
    (void)state;
    const char *names[] = {"de_DE.UTF-8", "fr_FR.UTF-8", "de_DE", "fr_FR"};
    bool found = false;
    for (size_t i = 0; i < 4 && !found; i++)
        found = setlocale(LC_NUMERIC, names[i]) != NULL;
    if (!found) {
        print_message("skipped: no locale with a decimal comma is installed\n");
        skip();
    }
    char text[DECIMAL_LONGEST + 1];
    text[decimal_light(6.10351562e-05f, text)] = '\0';
    setlocale(LC_NUMERIC, "C");
    assert_string_equal(text, "6.10351562e-05");
}

static BackendResult dump_into(int descriptor, BackendError *error) {
    static const uint8_t bytes[3 * 8000];
    const BackendOptions options = {.pixels = 8000, .descriptor = descriptor};
    const BackendFrame frame = {.bytes = bytes};
    Backend *backend = csv_backend.open(&options, error);
    BackendResult result = csv_backend.frame(backend, &frame, error);
    BackendResult end = csv_backend.close(backend, error);
    return result == BACKEND_FINE ? end : result;
}

static void test_disk_full(void **state) {
    (void)state;
    int full = open("/dev/full", O_WRONLY);
    if (full < 0) {
        print_message("skipped: no /dev/full here\n");
        skip();
    }
    BackendError error;
    assert_int_equal(dump_into(full, &error), BACKEND_FAILED);
    assert_non_null(strstr(error.sentence, strerror(ENOSPC)));
    /* Also where the little that is held goes out only at the end. */
    const BackendOptions options = {.pixels = 1, .descriptor = full};
    Backend *backend = csv_backend.open(&options, &error);
    assert_int_equal(csv_backend.close(backend, &error), BACKEND_FAILED);
    close(full);
}

static void test_closed_pipe(void **state) {
    (void)state;
    int ends[2];
    signal(SIGPIPE, SIG_IGN);
    assert_int_equal(pipe(ends), 0);
    close(ends[0]);
    BackendError error;
    assert_int_equal(dump_into(ends[1], &error), BACKEND_FAILED);
    assert_non_null(strstr(error.sentence, strerror(EPIPE)));
    close(ends[1]);
}

static void test_no_memory(void **state) {
    (void)state;
    unsigned long live = memory_live();
    const BackendOptions options = {.pixels = 2, .descriptor = -1};
    for (unsigned long n = 1; n <= 3; n++) {
        BackendError error = {""};
        memory_fail_at(n);
        assert_null(csv_backend.open(&options, &error));
        assert_string_not_equal(error.sentence, "");
        assert_int_equal(memory_live(), live);
    }
    memory_fail_at(0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bytes),      cmocka_unit_test(test_more_columns),
        cmocka_unit_test(test_light),      cmocka_unit_test(test_no_frames),
        cmocka_unit_test(test_long),       cmocka_unit_test(test_floats),
        cmocka_unit_test(test_not_finite), cmocka_unit_test(test_locale),
        cmocka_unit_test(test_disk_full),  cmocka_unit_test(test_closed_pipe),
        cmocka_unit_test(test_no_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
