/* The topics of a lamp at a broker: what is done, and what is refused with a reason. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/service/mqtt/broker.h"
#include "runtime/service/mqtt/told.h"
#include "runtime/service/mqtt/topics.h"

static Asked ask(const char *topic, const char *payload, bool retained) {
    Asked asked;
    topics_read("lantern", topic, payload, strlen(payload), retained, &asked);
    return asked;
}

static void acts_are_lines(void **state) {
    (void)state;
    Asked asked = ask("gloam/lantern/act", "play dusk for 30min", false);
    assert_int_equal(asked.kind, ASKED_ACT);
    assert_string_equal(asked.line, "play dusk for 30min");
    asked = ask("gloam/all/act", "level 40", false);
    assert_int_equal(asked.kind, ASKED_ACT);
    asked = ask("gloam/lantern/dials/warmth/set", "60%", false);
    assert_int_equal(asked.kind, ASKED_ACT);
    assert_string_equal(asked.line, "set warmth = 60%");
    asked = ask("gloam/all/dials/shade/set", "#ff8800", false);
    assert_string_equal(asked.line, "set shade = #ff8800");
    asked = ask("gloam/files/home", "anything\nat all", true);
    assert_int_equal(asked.kind, ASKED_FILE);
    assert_string_equal(asked.file, "home");
}

static void retained_acts_are_not_done(void **state) {
    (void)state;
    static const char *const TOPICS[] = {"gloam/lantern/act", "gloam/all/act",
                                         "gloam/lantern/dials/warmth/set"};
    for (size_t i = 0; i < sizeof TOPICS / sizeof *TOPICS; i++) {
        Asked asked = ask(TOPICS[i], "level 40", true);
        assert_int_equal(asked.kind, ASKED_WRONG);
        assert_non_null(strstr(asked.said, "retained"));
    }
}

static void what_may_come_twice_is_refused(void **state) {
    (void)state;
    static const char *const LINES[] = {"more 15min", "skip", "earlier 02:50", "undo", "  undo "};
    for (size_t i = 0; i < sizeof LINES / sizeof *LINES; i++) {
        Asked asked = ask("gloam/lantern/act", LINES[i], false);
        assert_int_equal(asked.kind, ASKED_WRONG);
        assert_non_null(strstr(asked.said, "twice"));
    }
    assert_int_equal(ask("gloam/lantern/act", "clear", false).kind, ASKED_ACT);
    assert_int_equal(ask("gloam/lantern/act", "clear 3", false).kind, ASKED_ACT);
}

static void other_lines_of_the_protocol_are_refused(void **state) {
    (void)state;
    static const char *const LINES[] = {"status",        "status json", "watch state", "reload",
                                        "try /x play y", "page x",      "levels 40",   "playing x"};
    for (size_t i = 0; i < sizeof LINES / sizeof *LINES; i++)
        assert_int_equal(ask("gloam/lantern/act", LINES[i], false).kind, ASKED_WRONG);
}

static void bytes_that_are_no_line_are_refused(void **state) {
    (void)state;
    Asked asked;
    char longest[2 * REQUEST_BYTES];
    memset(longest, 'a', sizeof longest);
    assert_int_equal(ask("gloam/lantern/act", "", false).kind, ASKED_WRONG);
    assert_int_equal(ask("gloam/lantern/act", "level 40\nlevel 80", false).kind, ASKED_WRONG);
    assert_int_equal(ask("gloam/lantern/dials/warmth/set", "60%\x1b[2J", false).kind, ASKED_WRONG);
    topics_read("lantern", "gloam/lantern/act", "level\0 40", 9, false, &asked);
    assert_int_equal(asked.kind, ASKED_WRONG);
    topics_read("lantern", "gloam/lantern/act", longest, sizeof longest, false, &asked);
    assert_int_equal(asked.kind, ASKED_WRONG);
    topics_read("lantern", "gloam/lantern/dials/w/set", longest, sizeof longest, false, &asked);
    assert_int_equal(asked.kind, ASKED_WRONG);
    topics_read("lantern", "gloam/lantern/act", NULL, 0, false, &asked);
    assert_int_equal(asked.kind, ASKED_WRONG);
}

static void topics_of_others_are_nothing(void **state) {
    (void)state;
    static const char *const TOPICS[] = {"gloam/window/act",
                                         "gloam/lantern",
                                         "gloam/lantern/state",
                                         "gloam/lantern/dials/warmth",
                                         "gloam/lantern/dials//set",
                                         "gloam/lantern/dials/a/b/set",
                                         "gloam/lantern/dials/set",
                                         "gloam/files/../state",
                                         "gloam/files/",
                                         "other/lantern/act",
                                         "gloam/lanternx/act",
                                         ""};
    for (size_t i = 0; i < sizeof TOPICS / sizeof *TOPICS; i++)
        if (ask(TOPICS[i], "level 40", false).kind != ASKED_NOTHING)
            fail_msg("%s: expected to be nobody's", TOPICS[i]);
}

static void values_of_its_own_dials_are_known(void **state) {
    (void)state;
    assert_string_equal(topic_dial("lantern", "gloam/lantern/dials/warmth"), "warmth");
    static const char *const TOPICS[] = {"gloam/lantern/dials/warmth/set",
                                         "gloam/lantern/dials/",
                                         "gloam/lantern/dials",
                                         "gloam/lantern/state",
                                         "gloam/window/dials/warmth",
                                         "gloam/all/dials/warmth",
                                         ""};
    for (size_t i = 0; i < sizeof TOPICS / sizeof *TOPICS; i++)
        if (topic_dial("lantern", TOPICS[i]))
            fail_msg("%s: expected to be no value of a dial", TOPICS[i]);
}

static void names_are_plain(void **state) {
    (void)state;
    assert_true(name_is_id("lantern-2.home_1"));
    assert_false(name_is_id(""));
    assert_false(name_is_id("all"));
    assert_false(name_is_id("files"));
    assert_false(name_is_id("a/b"));
    assert_false(name_is_id("a+"));
    assert_false(name_is_id("#"));
    assert_false(name_is_id("0123456789012345678901234567890123456789012345678901234567890123"));
}

/* Ports: `mqtt` and `secure-mqtt` of /etc/services (Debian's netbase 6.4, after IANA's registry).
 */
static void addresses_of_brokers(void **state) {
    (void)state;
    BrokerRequest request = {0};
    assert_true(broker_address("broker.local", &request));
    assert_string_equal(request.host, "broker.local");
    assert_int_equal(request.port, 1883);
    assert_false(request.secret);
    assert_true(broker_address("mqtts://broker.local", &request));
    assert_int_equal(request.port, 8883);
    assert_true(request.secret);
    assert_true(broker_address("mqtt://127.0.0.1:18830", &request));
    assert_string_equal(request.host, "127.0.0.1");
    assert_int_equal(request.port, 18830);
    assert_true(broker_address("[fd00::1]:99", &request));
    assert_string_equal(request.host, "fd00::1");
    assert_int_equal(request.port, 99);
    static const char *const WRONG[] = {"",     ":1883",    "a:",  "a:0",      "a:65536",
                                        "a:1x", "[fd00::1", "a/b", "http://a", "me@a"};
    for (size_t i = 0; i < sizeof WRONG / sizeof *WRONG; i++)
        if (broker_address(WRONG[i], &request))
            fail_msg("`%s`: expected to be no address", WRONG[i]);
}

/* -------- what is told -------- */

static char told[1024];

static void note(void *context, const char *what, const char *text, size_t length) {
    (void)context;
    size_t used = strlen(told);
    snprintf(told + used, sizeof told - used, "%s=%.*s;", what, (int)length, text);
}

static void dials_are_told_as_they_are_set(void **state) {
    (void)state;
    json_t *before = json_loads("{\"dials\":[{\"name\":\"warmth\",\"value\":0.6,\"says\":\"60%\"},"
                                "{\"name\":\"old\",\"value\":true,\"says\":\"true\"},"
                                "{\"name\":\"pace\",\"value\":90,\"says\":\"1min30s\"}]}",
                                0, NULL);
    /* sRGB of linear light (1, 0.2462013, 0): #ff8800; IEC 61966-2-1 */
    json_t *now = json_loads("{\"dials\":[{\"name\":\"warmth\",\"value\":0.4,\"says\":\"40%\"},"
                             "{\"name\":\"pace\",\"value\":90,\"says\":\"1min30s\"},"
                             "{\"name\":\"shade\",\"value\":[1,0.2462013,0],\"says\":\"light\"}]}",
                             0, NULL);
    *told = '\0';
    told_state(before, now, false, "J", 1, note, NULL);
    assert_string_equal(told, "state=J;dials/warmth=40%;dials/shade=#ff8800;dials/old=;");
    *told = '\0';
    told_state(before, now, true, "J", 1, note, NULL);
    assert_string_equal(
        told, "state=J;dials/warmth=40%;dials/pace=1min30s;dials/shade=#ff8800;dials/old=;");
    *told = '\0';
    assert_true(told_has_dial(now, "shade"));
    assert_false(told_has_dial(now, "old"));
    assert_false(told_has_dial(NULL, "old"));
    told_state(NULL, before, true, "J", 1, note, NULL);
    assert_string_equal(told, "state=J;dials/warmth=60%;dials/old=true;dials/pace=1min30s;");
    json_decref(before);
    json_decref(now);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(acts_are_lines),
        cmocka_unit_test(retained_acts_are_not_done),
        cmocka_unit_test(what_may_come_twice_is_refused),
        cmocka_unit_test(other_lines_of_the_protocol_are_refused),
        cmocka_unit_test(bytes_that_are_no_line_are_refused),
        cmocka_unit_test(topics_of_others_are_nothing),
        cmocka_unit_test(values_of_its_own_dials_are_known),
        cmocka_unit_test(names_are_plain),
        cmocka_unit_test(addresses_of_brokers),
        cmocka_unit_test(dials_are_told_as_they_are_set),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
