/* The words that the player starts its programs with. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "runtime/service/link/words.h"

enum { MOST = 2 };

static const char *home, *taken[MOST];
static bool guests;
static int taken_count;

static bool reads(int count, const char *const *words) {
    const Word list[] = {{.name = "--home", .value = &home},
                         {.name = "--guests", .is_there = &guests},
                         {.name = "--takes", .value = taken, .most = MOST, .count = &taken_count},
                         {0}};
    home = taken[0] = taken[1] = NULL;
    guests = false;
    taken_count = 0;
    return words_read(count, (char **)words, list);
}

#define READS(...)                                                                                 \
    reads((int)(sizeof((const char *[]){"program", __VA_ARGS__}) / sizeof(char *)),                \
          (const char *[]){"program", __VA_ARGS__})

static void words_are_taken(void **state) {
    (void)state;
    assert_true(READS("--takes", "oven", "--home", "a.gloam", "--guests", "--takes", "--home"));
    assert_string_equal(home, "a.gloam");
    assert_true(guests);
    assert_int_equal(taken_count, 2);
    assert_string_equal(taken[0], "oven");
    assert_string_equal(taken[1], "--home");
    assert_true(READS("--home", "a.gloam", "--home", ""));
    assert_string_equal(home, "");
    assert_false(guests);
    assert_true(reads(1, (const char *[]){"program"}));
    assert_true(reads(0, NULL));
}

static void other_words_are_refused(void **state) {
    (void)state;
    assert_false(READS("--home"));
    assert_false(READS("--guests", "--takes"));
    assert_false(READS("home", "a.gloam"));
    assert_false(READS("--hom", "a.gloam"));
    assert_false(READS("--home=a.gloam"));
    assert_false(READS("--guests", "yes"));
    assert_false(READS(""));
    assert_false(READS("--takes", "1", "--takes", "2", "--takes", "3"));
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(words_are_taken),
                                       cmocka_unit_test(other_words_are_refused)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
