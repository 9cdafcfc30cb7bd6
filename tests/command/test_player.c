/* Keys out of bytes, and where a preview is. The command line is no library: its files are taken in
 * as they are. Arrow keys as in ECMA-48 (CSI A .. D) and in application mode (SS3). */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/command/keys.c"
#include "runtime/command/playhead.c"

static KeyBuffer buffer;

static void typed(const char *bytes, int count) {
    assert_true(buffer.count + count <= KEYS_HELD);
    memcpy(buffer.bytes + buffer.count, bytes, (size_t)count);
    buffer.count += count;
}

static void test_keys(void **state) {
    (void)state;
    const struct {
        const char *bytes;
        Key key;
    } cases[] = {{" ", KEY_SPACE},      {"+", KEY_FASTER},     {"=", KEY_FASTER},
                 {"-", KEY_SLOWER},     {"n", KEY_NEXT},       {"q", KEY_QUIT},
                 {"\x1b[A", KEY_UP},    {"\x1b[B", KEY_DOWN},  {"\x1b[C", KEY_RIGHT},
                 {"\x1b[D", KEY_LEFT},  {"\x1bOA", KEY_UP},    {"\x1bOD", KEY_LEFT},
                 {"x", KEY_NONE},       {"\x1b[5~", KEY_NONE}, {"\x1b[1;5C", KEY_NONE},
                 {"\xc3\xa9", KEY_NONE}};
    buffer.count = 0;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        typed(cases[i].bytes, (int)strlen(cases[i].bytes));
        assert_int_equal(keys_take(&buffer, false), cases[i].key);
        assert_int_equal(keys_take(&buffer, false), KEY_NONE);
        assert_int_equal(buffer.count, 0);
    }
}

static void test_keys_in_a_row(void **state) {
    (void)state;
    buffer.count = 0;
    typed("x\x1b[C \x1b[5~q", 10);
    assert_int_equal(keys_take(&buffer, false), KEY_RIGHT);
    assert_int_equal(keys_take(&buffer, false), KEY_SPACE);
    assert_int_equal(keys_take(&buffer, false), KEY_QUIT);
    assert_int_equal(buffer.count, 0);
}

/* An arrow that comes in pieces is one arrow; a lone escape is none, and hides nothing. */
static void test_keys_in_pieces(void **state) {
    (void)state;
    buffer.count = 0;
    typed("\x1b", 1);
    assert_int_equal(keys_take(&buffer, false), KEY_NONE);
    assert_int_equal(buffer.count, 1);
    typed("[", 1);
    assert_int_equal(keys_take(&buffer, false), KEY_NONE);
    typed("D", 1);
    assert_int_equal(keys_take(&buffer, false), KEY_LEFT);
    typed("\x1b", 1);
    assert_int_equal(keys_take(&buffer, true), KEY_NONE);
    assert_int_equal(buffer.count, 0);
    typed("\x1bq", 2);
    assert_int_equal(keys_take(&buffer, false), KEY_QUIT);
}

/* A sequence without an end does not fill the buffer for ever. */
static void test_keys_without_end(void **state) {
    (void)state;
    buffer.count = 0;
    typed("\x1b[111111111111", 14);
    assert_int_equal(keys_take(&buffer, false), KEY_NONE);
    typed("11", 2);
    assert_int_equal(keys_take(&buffer, false), KEY_NONE);
    assert_int_equal(buffer.count, 0);
}

static Playhead head_of(double speed, int64_t first, int64_t last) {
    return (Playhead){.first = first, .last = last, .fps = 60, .speed = speed};
}

/* Frame n of a run lies at start + speed * round(n * 1000000 / fps). */
static void test_frames(void **state) {
    (void)state;
    Playhead head = head_of(1, 0, 1800000000);
    playhead_start(&head, 5000000, 1000);
    assert_int_equal(playhead_position(&head, 1000), 5000000);
    assert_int_equal(playhead_position(&head, 1000 + 16666), 5000000);
    assert_int_equal(playhead_position(&head, 1000 + 16667), 5016667);
    assert_int_equal(playhead_position(&head, 1000 + 33333), 5033333);
    assert_int_equal(playhead_next(&head, 1000), 1000 + 16667);
    assert_int_equal(playhead_next(&head, 1000 + 16667), 1000 + 33333);
    /* Every frame is due exactly when the one before says, for an hour and longer. */
    int64_t now = 1000;
    for (int n = 1; n <= 216000; n++) {
        now = playhead_next(&head, now);
        assert_true(now == 1000 + (int64_t)nearbyint(n * 1e6 / 60));
        assert_true(playhead_position(&head, now) == 5000000 + now - 1000 ||
                    playhead_position(&head, now) == head.last);
        if (playhead_position(&head, now) == head.last)
            break;
    }
    assert_int_equal(playhead_next(&head, now), INT64_MAX);
}

static void test_pause_and_seek(void **state) {
    (void)state;
    Playhead head = head_of(60, 0, 1800000000);
    playhead_start(&head, 0, 0);
    assert_int_equal(playhead_position(&head, 1000000), 60000000);
    playhead_pause(&head, true, 1000000);
    assert_int_equal(playhead_position(&head, 9000000), 60000000);
    assert_int_equal(playhead_next(&head, 9000000), INT64_MAX);
    playhead_seek(&head, 5000000, 9000000);
    assert_int_equal(playhead_position(&head, 9000000), 65000000);
    playhead_pause(&head, false, 10000000);
    assert_int_equal(playhead_position(&head, 11000000), 125000000);
    playhead_seek(&head, -500000000, 11000000);
    assert_int_equal(playhead_position(&head, 11000000), 0);
    playhead_seek(&head, INT64_C(9000000000), 11000000);
    assert_int_equal(playhead_position(&head, 11000000), 1800000000);
}

static void test_backwards(void **state) {
    (void)state;
    Playhead head = head_of(-1, -2000000, 10000000);
    playhead_start(&head, 1000000, 0);
    assert_int_equal(playhead_position(&head, 2000000), -1000000);
    assert_int_equal(playhead_position(&head, 9000000), -2000000);
    assert_int_equal(playhead_next(&head, 9000000), INT64_MAX);
}

static void test_speeds(void **state) {
    (void)state;
    Playhead head = head_of(1, 0, 1000000000);
    const double up[] = {2, 5, 10, 20, 50, 100};
    for (int i = 0; i < 6; i++) {
        playhead_speed(&head, true, 0);
        assert_true(fabs(head.speed - up[i]) < 1e-9);
    }
    const double down[] = {50, 20, 10, 5, 2, 1, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.01};
    for (int i = 0; i < 13; i++) {
        playhead_speed(&head, false, 0);
        assert_true(fabs(head.speed - down[i]) < 1e-9);
    }
    for (int i = 0; i < 40; i++)
        playhead_speed(&head, true, 0);
    assert_true(head.speed == 100000.0);
    head.speed = 150;
    playhead_speed(&head, true, 0);
    assert_true(fabs(head.speed - 200) < 1e-9);
    head.speed = 150;
    playhead_speed(&head, false, 0);
    assert_true(fabs(head.speed - 100) < 1e-9);
    head.speed = -1;
    playhead_speed(&head, true, 0);
    assert_true(head.speed == -2);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_keys),           cmocka_unit_test(test_keys_in_a_row),
        cmocka_unit_test(test_keys_in_pieces), cmocka_unit_test(test_keys_without_end),
        cmocka_unit_test(test_frames),         cmocka_unit_test(test_pause_and_seek),
        cmocka_unit_test(test_backwards),      cmocka_unit_test(test_speeds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
