/* Whether the clock is trusted. The rules are those of spec/clock.md; what the system tells, and
 * its limit of 16 s, is in systemd-timesyncd.service(8) and adjtimex(2). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/timex.h>
#include <unistd.h>

#include <cmocka.h>

#include "runtime/player/clock_fake.h"
#include "runtime/player/trust.h"

#define SECOND 1000000LL
#define HOUR (3600 * SECOND)

static ClockSigns signs_of(bool synchronised, int64_t most_error, const char *boot) {
    ClockSigns signs = {.synchronised = synchronised, .most_error = most_error};
    snprintf(signs.boot, sizeof signs.boot, "%s", boot);
    return signs;
}

static void test_reasons(void **state) {
    (void)state;
    const struct {
        bool synchronised;
        int64_t most_error, boottime, wait;
        TrustReason reason;
    } cases[] = {
        {false, 16000000, 10, CLOCK_NEVER, TRUST_NONE},
        {false, CLOCK_NEVER, 10, CLOCK_NEVER, TRUST_NONE},
        {false, CLOCK_NEVER, CLOCK_NEVER - 1, CLOCK_NEVER, TRUST_NONE},
        {false, 15999999, 10, CLOCK_NEVER, TRUST_KERNEL},
        {false, 0, 10, CLOCK_NEVER, TRUST_KERNEL},
        {true, 16000000, 10, CLOCK_NEVER, TRUST_SERVICE},
        {true, 0, 10, CLOCK_NEVER, TRUST_SERVICE},
        {false, 16000000, 10, 11, TRUST_NONE},
        {false, 16000000, 11, 11, TRUST_WAITED},
        {false, 16000000, 0, 0, TRUST_WAITED},
        {false, 15999999, 11, 11, TRUST_KERNEL},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        ClockSigns signs = signs_of(cases[i].synchronised, cases[i].most_error, "one");
        Trust trust = trust_decide(&(Trust){0}, &signs, cases[i].boottime, cases[i].wait);
        if (trust.reason != cases[i].reason)
            fail_msg("case %zu: %d", i, (int)trust.reason);
        assert_string_equal(trust.boot, "one");
        assert_int_equal(trust.since, trust.reason == TRUST_NONE ? 0 : cases[i].boottime);
    }
}

/* Trust lasts for the rest of the boot, and no longer. */
static void test_rest_of_boot(void **state) {
    (void)state;
    ClockSigns yes = signs_of(false, 100, "one"), no = signs_of(false, 16000000, "one");
    Trust trust = trust_decide(&(Trust){0}, &yes, 50, CLOCK_NEVER);
    trust = trust_decide(&trust, &no, 60, CLOCK_NEVER);
    assert_int_equal(trust.reason, TRUST_KERNEL);
    assert_int_equal(trust.since, 50);
    ClockSigns service = signs_of(true, 100, "one");
    trust = trust_decide(&trust, &service, 70, CLOCK_NEVER);
    assert_int_equal(trust.reason, TRUST_KERNEL);
    assert_int_equal(trust.since, 50);
    ClockSigns other = signs_of(false, 16000000, "two");
    trust = trust_decide(&trust, &other, 80, CLOCK_NEVER);
    assert_int_equal(trust.reason, TRUST_NONE);
    assert_string_equal(trust.boot, "two");
    /* A clock that was only taken becomes trusted when the system says so. */
    trust = trust_decide(&trust, &other, 90, 85);
    assert_int_equal(trust.reason, TRUST_WAITED);
    trust = trust_decide(&trust, &other, 95, 85);
    assert_int_equal(trust.since, 90);
    ClockSigns now = signs_of(true, 16000000, "two");
    trust = trust_decide(&trust, &now, 100, 85);
    assert_int_equal(trust.reason, TRUST_SERVICE);
    assert_int_equal(trust.since, 100);
}

static void test_look(void **state) {
    (void)state;
    ClockFake fake;
    Clock clock = clock_fake_start(&fake, 1000 * HOUR, 10 * SECOND);
    TrustWatch watch;
    char text[200];
    trust_start(&watch, NULL, CLOCK_NEVER);
    TrustNews news = trust_look(&watch, &clock);
    assert_false(news.changed || news.stepped);
    assert_false(trust_holds(&watch));
    assert_int_equal(trust_next_look(&watch), 1000 * HOUR + 60 * SECOND);
    assert_non_null(strstr(trust_sentence(&watch, text, sizeof text), "nobody has set"));
    assert_null(strstr(text, "configured"));
    /* After a power cut of two hours the time service puts the clock forward. */
    clock_fake_advance(&fake, 20 * SECOND);
    clock_fake_set(&fake, fake.now.utc + 2 * HOUR);
    fake.signs.synchronised = true;
    news = trust_look(&watch, &clock);
    assert_true(news.changed && news.stepped);
    assert_int_equal(news.old_utc, 1000 * HOUR + 20 * SECOND);
    assert_int_equal(news.new_utc, 1002 * HOUR + 20 * SECOND);
    assert_true(trust_holds(&watch));
    assert_true(trust_next_look(&watch) == CLOCK_NEVER);
    assert_int_equal(trust_since(&watch), 1002 * HOUR + 20 * SECOND);
    assert_non_null(strstr(trust_sentence(&watch, text, sizeof text), "clock is set"));
    /* A clock put back later shows since when it would have been trusted. */
    clock_fake_advance(&fake, HOUR);
    clock_fake_set(&fake, fake.now.utc - 5 * SECOND);
    news = trust_look(&watch, &clock);
    assert_true(news.stepped && !news.changed);
    assert_int_equal(news.old_utc - news.new_utc, 5 * SECOND);
    assert_int_equal(trust_since(&watch), 1002 * HOUR + 15 * SECOND);
    /* What was held is given to the next process. */
    TrustWatch next;
    fake.signs.synchronised = false;
    trust_start(&next, &watch.trust, CLOCK_NEVER);
    news = trust_look(&next, &clock);
    assert_false(news.changed || news.stepped);
    assert_true(trust_holds(&next));
}

static void test_wait(void **state) {
    (void)state;
    ClockFake fake;
    Clock clock = clock_fake_start(&fake, 1000 * HOUR, 10 * SECOND);
    TrustWatch watch;
    char text[200];
    trust_start(&watch, NULL, 100 * SECOND);
    trust_look(&watch, &clock);
    assert_non_null(strstr(trust_sentence(&watch, text, sizeof text), "run for 100 s"));
    assert_int_equal(trust_next_look(&watch), 1000 * HOUR + 60 * SECOND);
    clock_fake_suspend(&fake, 60 * SECOND); /* counts: the time services had no less time */
    trust_look(&watch, &clock);
    assert_int_equal(trust_next_look(&watch), 1000 * HOUR + 90 * SECOND);
    clock_fake_advance(&fake, 30 * SECOND - 1);
    assert_false(trust_look(&watch, &clock).changed);
    assert_false(trust_holds(&watch));
    clock_fake_advance(&fake, 1);
    assert_true(trust_look(&watch, &clock).changed);
    assert_true(trust_holds(&watch));
    assert_non_null(strstr(trust_sentence(&watch, text, sizeof text), "taken as it is, since"));
    /* Still looked at: it may yet become trusted. */
    assert_int_equal(trust_next_look(&watch), fake.now.utc + 60 * SECOND);
}

/* Suspend is no set of the clock; what a reading leaves in doubt is none either. */
static void test_steps(void **state) {
    (void)state;
    ClockFake fake;
    Clock clock = clock_fake_start(&fake, 1000 * HOUR, 10 * SECOND);
    TrustWatch watch;
    trust_start(&watch, NULL, CLOCK_NEVER);
    clock_fake_set(&fake, 2000 * HOUR);
    assert_false(trust_look(&watch, &clock).stepped); /* before the first look */
    clock_fake_suspend(&fake, HOUR);
    assert_false(trust_look(&watch, &clock).stepped);
    clock_fake_set(&fake, fake.now.utc + 999);
    assert_false(trust_look(&watch, &clock).stepped);
    clock_fake_set(&fake, fake.now.utc - 1000);
    assert_true(trust_look(&watch, &clock).stepped);
    fake.now.doubt = 5000;
    clock_fake_set(&fake, fake.now.utc + 5999);
    assert_false(trust_look(&watch, &clock).stepped);
    fake.now.doubt = 0;
    clock_fake_set(&fake, fake.now.utc + 6000);
    assert_true(trust_look(&watch, &clock).stepped);
}

static void test_system(void **state) {
    (void)state;
    char path[] = "/tmp/gloam-trust-XXXXXX";
    int file = mkstemp(path);
    assert_true(file >= 0);
    close(file);
    ClockSigns signs = trust_signs_read(path);
    assert_true(signs.synchronised);
    assert_int_equal(unlink(path), 0);
    signs = trust_signs_read(path);
    assert_false(signs.synchronised);
    struct timex before = {.modes = 0}, after = {.modes = 0};
    bool told = adjtimex(&before) >= 0;
    signs = trust_signs_read(path);
    if (!told)
        assert_true(signs.most_error == CLOCK_NEVER);
    else if (adjtimex(&after) >= 0 && after.maxerror >= before.maxerror) /* no sync in between */
        assert_in_range(signs.most_error, before.maxerror, after.maxerror);
    FILE *boot = fopen("/proc/sys/kernel/random/boot_id", "r");
    if (boot) {
        char id[CLOCK_BOOT_BYTES];
        assert_int_equal(fscanf(boot, "%39s", id), 1);
        fclose(boot);
        assert_string_equal(signs.boot, id);
        assert_int_equal(strlen(id), 36);
    }
    Clock clock;
    assert_true(clock_open_system(&clock));
    TrustWatch watch;
    trust_start(&watch, NULL, CLOCK_NEVER);
    for (int i = 0; i < 100; i++)
        assert_false(trust_look(&watch, &clock).stepped);
    clock_close(&clock);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reasons), cmocka_unit_test(test_rest_of_boot),
        cmocka_unit_test(test_look),    cmocka_unit_test(test_wait),
        cmocka_unit_test(test_steps),   cmocka_unit_test(test_system),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
