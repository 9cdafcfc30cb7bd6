/* What a player says of itself: the fields of the JSON are those of spec/commands.md, "Acts by
 * hand", no more and no less; and the lines for people. */
#include "tests/support/household.h"

#include <jansson.h>
#include <stdlib.h>

#include "runtime/player/request.h"
#include "runtime/player/status.h"

static char text[1 << 18];

typedef enum Form { TEXT, JSON } Form;

static const char *told(const Household *home, const Overrides *overrides, const Now *now,
                        Form form) {
    StatusRequest request = {&home->world, overrides, now, "trusted, says the test", "2025b"};
    FILE *out = fmemopen(text, sizeof text, "w");
    assert_non_null(out);
    if (form == TEXT)
        status_text(&request, out);
    else
        assert_true(status_json(&request, out));
    assert_int_equal(fclose(out), 0);
    return text;
}

static json_t *told_json(const Household *home, const Overrides *overrides, const Now *now) {
    json_error_t error;
    json_t *value = json_loads(told(home, overrides, now, JSON), 0, &error);
    if (!value)
        fail_msg("%s: %s", error.text, text);
    return value;
}

/* The keys of an object, in the order of the alphabet. */
static void has_keys(const json_t *object, const char *wanted) {
    char got[512] = "";
    const char *key;
    const char *keys[32];
    json_t *value;
    size_t count = 0;
    assert_true(json_is_object(object));
    json_object_foreach((json_t *)object, key, value) {
        assert_true(count < 32);
        size_t at = count++;
        for (; at > 0 && strcmp(keys[at - 1], key) > 0; at--)
            keys[at] = keys[at - 1];
        keys[at] = key;
    }
    for (size_t i = 0; i < count; i++)
        snprintf(got + strlen(got), sizeof got - strlen(got), "%s%s", i ? " " : "", keys[i]);
    assert_string_equal(got, wanted);
}

static const json_t *item(const json_t *object, const char *key, size_t at) {
    const json_t *value = json_array_get(json_object_get(object, key), at);
    if (!value)
        fail_msg("no %s %zu", key, at);
    return value;
}

static void says(const json_t *object, const char *key, const char *wanted) {
    const json_t *value = json_object_get(object, key);
    assert_non_null(value);
    if (!wanted && !json_is_null(value))
        fail_msg("expected %s to be null", key);
    if (wanted && (!json_is_string(value) || strcmp(json_string_value(value), wanted) != 0))
        fail_msg("expected %s to be `%s`, not `%s`", key, wanted, json_string_value(value));
}

static void counts(const json_t *object, const char *key, double wanted) {
    const json_t *value = json_object_get(object, key);
    assert_true(json_is_number(value));
    assert_float_equal(json_number_value(value), wanted, 1e-6);
}

static void is_truth(const json_t *object, const char *key, bool wanted) {
    const json_t *value = json_object_get(object, key);
    assert_true(json_is_boolean(value) && json_is_true(value) == wanted);
}

static void act(Overrides *overrides, const Household *home, const Now *now, const char *line) {
    static Request request;
    char said[REQUEST_SENTENCE];
    if (!request_read(&home->world, line, &request, said) ||
        !request_do(overrides, &home->world, now, &request, said))
        fail_msg("%s: %s", line, said);
}

static void refuses(Overrides *overrides, const Household *home, const Now *now, const char *line) {
    static Request request;
    char said[REQUEST_SENTENCE];
    assert_true(request_read(&home->world, line, &request, said));
    assert_false(request_do(overrides, &home->world, now, &request, said));
}

#define LAMP_KEYS "cause held level more name next parts plays since skip until why"
#define PART_KEYS "cause held part plays since until why"

static void test_fields(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK "at 19:00 play feed for 2h on lamp shelf part left\n");
    Overrides *overrides = overrides_new();
    Now now = now_at("2026-11-25T20:00");
    json_t *status = told_json(&home, overrides, &now);
    has_keys(status, "by_hand clock dials lamps undo");
    says(status, "undo", NULL);
    assert_int_equal(json_array_size(json_object_get(status, "lamps")), 2);
    const json_t *lamp = item(status, "lamps", 0);
    has_keys(lamp, LAMP_KEYS);
    says(lamp, "name", "lantern");
    says(lamp, "plays", "dusk");
    says(lamp, "cause", "entry");
    says(lamp, "why", "at 19:30");
    says(lamp, "since", "2026-11-25T19:30:00Z");
    says(lamp, "until", NULL);
    is_truth(lamp, "held", false);
    assert_int_equal(json_array_size(json_object_get(lamp, "parts")), 0);
    const json_t *next = json_object_get(lamp, "next");
    has_keys(next, "at plays why");
    says(next, "plays", "daybreak");
    says(next, "at", "2026-11-26T02:40:00Z");
    says(next, "why", "by 03:10");
    says(lamp, "skip", "daybreak (by 03:10)");
    says(lamp, "more", "dusk (at 19:30)");
    const json_t *level = json_object_get(lamp, "level");
    has_keys(level, "by_hand light lightness until");
    is_truth(level, "by_hand", false);
    counts(level, "lightness", 100);
    counts(level, "light", 1);
    says(level, "until", NULL);
    lamp = item(status, "lamps", 1);
    says(lamp, "name", "shelf");
    assert_int_equal(json_array_size(json_object_get(lamp, "parts")), 1);
    const json_t *part = item(lamp, "parts", 0);
    has_keys(part, PART_KEYS);
    says(part, "part", "left");
    says(part, "plays", "feed");
    says(part, "since", "2026-11-25T19:00:00Z");
    says(part, "until", "2026-11-25T21:00:00Z");
    const json_t *clock = json_object_get(status, "clock");
    has_keys(clock, "ahead change says trusted utc zones");
    says(clock, "utc", "2026-11-25T20:00:00Z");
    is_truth(clock, "trusted", true);
    says(clock, "says", "trusted, says the test");
    says(clock, "zones", "2025b");
    /* the Summer Time Order 2002: at 01:00 of Greenwich on the last Sunday of March and October */
    counts(clock, "ahead", 0);
    const json_t *change = json_object_get(clock, "change");
    has_keys(change, "ahead at");
    counts(change, "ahead", 3600);
    says(change, "at", "2027-03-28T01:00:00Z");
    assert_int_equal(json_array_size(json_object_get(status, "by_hand")), 0);
    json_decref(status);
    assert_non_null(strstr(told(&home, overrides, &now, TEXT),
                           "shelf: dusk (at 19:30) since 19:30\n"
                           "  part left: feed (at 19:00) since 19:00, until 21:00\n"
                           "  next: daybreak at 2026-11-26 02:40 (by 03:10)\n"));
    memory_release(overrides);
    household_end(&home);
}

static void test_dials(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK "dial lit = true \"Whether it shines\"\n");
    Overrides *overrides = overrides_new();
    Now now = now_at("2026-11-25T20:00");
    act(overrides, &home, &now, "set warmth 60%");
    act(overrides, &home, &now, "set tone rgb(255, 136, 0)");
    act(overrides, &home, &now, "set hold 90s");
    act(overrides, &home, &now, "set lit false");
    json_t *status = told_json(&home, overrides, &now);
    assert_int_equal(json_array_size(json_object_get(status, "dials")), 5);
    for (size_t i = 0; i < 5; i++) {
        has_keys(item(status, "dials", i), "by_hand label name says value");
        is_truth(item(status, "dials", i), "by_hand", i != 1);
    }
    says(item(status, "dials", 0), "name", "warmth");
    says(item(status, "dials", 0), "label", NULL);
    counts(item(status, "dials", 0), "value", 0.6);
    says(item(status, "dials", 1), "name", "passing");
    counts(item(status, "dials", 1), "value", 0);
    /* sRGB 136/255 is 0.246201 of the light (IEC 61966-2-1: ((v + 0.055) / 1.055) ^ 2.4). */
    const json_t *colour = json_object_get(item(status, "dials", 2), "value");
    assert_int_equal(json_array_size(colour), 3);
    assert_float_equal(json_number_value(json_array_get(colour, 0)), 1.0, 1e-6);
    assert_float_equal(json_number_value(json_array_get(colour, 1)), 0.246201, 1e-6);
    assert_float_equal(json_number_value(json_array_get(colour, 2)), 0.0, 1e-6);
    counts(item(status, "dials", 3), "value", 60); /* held within its range, 0s to 1min */
    is_truth(item(status, "dials", 4), "value", false);
    says(item(status, "dials", 4), "label", "Whether it shines");
    json_decref(status);
    told(&home, overrides, &now, TEXT);
    /* Not those that no routine reads, unless they were set. */
    assert_null(strstr(text, "dial passing"));
    assert_non_null(strstr(text, "dial warmth: 60%, set by hand\n"));
    assert_non_null(strstr(text, "dial tone: light 1, 0.246, 0, set by hand\n"));
    assert_non_null(strstr(text, "dial hold: 1min, set by hand\n"));
    assert_non_null(strstr(text, "dial lit: false, set by hand\n"));
    memory_release(overrides);
    household_end(&home);
}

static void test_by_hand(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK "when rung play strike for 1min\n");
    Overrides *overrides = overrides_new();
    Now now = now_at("2026-11-25T20:00");
    act(overrides, &home, &now, "play nap for 20min on lantern");
    act(overrides, &home, &now, "level 40 until 22:00 on shelf");
    act(overrides, &home, &now, "report rung");
    act(overrides, &home, &now, "skip on lantern");
    json_t *status = told_json(&home, overrides, &now);
    const json_t *lamp = item(status, "lamps", 0);
    says(lamp, "cause", "hand");
    says(lamp, "why", "by hand, number 1");
    says(lamp, "until", "2026-11-25T20:20:00Z");
    says(json_object_get(lamp, "next"), "at", "2026-11-26T08:00:00Z");
    lamp = item(status, "lamps", 1);
    says(lamp, "cause", "when");
    says(lamp, "plays", "strike");
    says(lamp, "until", "2026-11-25T20:01:00Z");
    counts(json_object_get(lamp, "level"), "lightness", 40);
    counts(json_object_get(lamp, "level"), "light", 0.1125097380); /* lstar_inverse.csv */
    says(json_object_get(lamp, "level"), "until", "2026-11-25T22:00:00Z");
    is_truth(json_object_get(lamp, "level"), "by_hand", true);
    assert_int_equal(json_array_size(json_object_get(status, "by_hand")), 3);
    for (size_t i = 0; i < 3; i++)
        has_keys(item(status, "by_hand", i), "number what");
    counts(item(status, "by_hand", 0), "number", 1);
    says(item(status, "by_hand", 0), "what", "nap for 20min on lamp lantern");
    says(item(status, "by_hand", 1), "what",
         "level 40 (11.3 % of the light) until 22:00 on lamp shelf");
    counts(item(status, "by_hand", 2), "number", 4);
    says(item(status, "by_hand", 2), "what", "skip daybreak (by 03:10) on lamp lantern");
    json_decref(status);
    act(overrides, &home, &now, "more 15min on lantern");
    act(overrides, &home, &now, "clear 2");
    now = now_at("2026-11-25T20:10");
    status = told_json(&home, overrides, &now);
    lamp = item(status, "lamps", 0);
    is_truth(lamp, "held", true);
    says(lamp, "plays", "nap");
    assert_int_equal(json_array_size(json_object_get(status, "by_hand")),
                     3); /* not what is cleared */
    json_decref(status);
    memory_release(overrides);
    household_end(&home);
}

/* What skip, more and undo would do is what they do. */
static void test_what_could_be_done(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK "at 19:00 play feed for 4h on lamp shelf part left\n");
    Overrides *overrides = overrides_new();
    Now now = now_at("2026-11-25T20:00");
    static const struct {
        const char *line, *undo, *skip, *more;
    } STEPS[] = {
        {"skip on lantern", "skip daybreak (by 03:10) on lamp lantern", "off (at 08:00)",
         "dusk (at 19:30)"},
        {"more 15min on lantern", "15min more dusk (at 19:30) on lamp lantern", "off (at 08:00)",
         "dusk (at 19:30)"},
        {"play nap for 20min on lantern", "nap for 20min on lamp lantern", "off (at 08:00)",
         "nap (by hand, number 3)"},
        {"set warmth 60%", "set warmth", "off (at 08:00)", "nap (by hand, number 3)"},
        {"clear 3", "clear: nap for 20min on lamp lantern", "off (at 08:00)", "dusk (at 19:30)"},
        {"undo", "set warmth", "off (at 08:00)", "nap (by hand, number 3)"},
        {"undo", "nap for 20min on lamp lantern", "off (at 08:00)", "nap (by hand, number 3)"},
        {"undo", "15min more dusk (at 19:30) on lamp lantern", "off (at 08:00)", "dusk (at 19:30)"},
        {"undo", "skip daybreak (by 03:10) on lamp lantern", "off (at 08:00)", "dusk (at 19:30)"},
        {"undo", NULL, "daybreak (by 03:10)", "dusk (at 19:30)"},
        {"play off", "off until the next entry", "daybreak (by 03:10)", "off (by hand, number 6)"},
    };
    for (size_t i = 0; i < sizeof STEPS / sizeof *STEPS; i++) {
        act(overrides, &home, &now, STEPS[i].line);
        json_t *status = told_json(&home, overrides, &now);
        says(status, "undo", STEPS[i].undo);
        says(item(status, "lamps", 0), "skip", STEPS[i].skip);
        says(item(status, "lamps", 0), "more", STEPS[i].more);
        json_decref(status);
    }
    /* Where all that could be taken back is over, nothing can. */
    overrides->undo_count = overrides->count = 0;
    act(overrides, &home, &now, "play nap for 20min on lantern");
    now = now_at("2026-11-25T21:00");
    json_t *status = told_json(&home, overrides, &now);
    says(status, "undo", NULL);
    json_decref(status);
    refuses(overrides, &home, &now, "undo");
    memory_release(overrides);
    household_end(&home);
}

static void test_untrusted(void **state) {
    (void)state;
    Household home;
    household_start(&home, WEEK);
    Overrides *overrides = overrides_new();
    Now now = now_at("2026-11-25T20:00");
    now.trusted = false;
    json_t *status = told_json(&home, overrides, &now);
    const json_t *lamp = item(status, "lamps", 0);
    says(lamp, "cause", "until-clock");
    says(lamp, "plays", "nightlight");
    says(lamp, "why", "until the clock is set");
    says(lamp, "next", NULL);
    says(lamp, "skip", NULL);
    says(lamp, "more", NULL);
    refuses(overrides, &home, &now, "skip");
    refuses(overrides, &home, &now, "more 1min");
    is_truth(json_object_get(status, "clock"), "trusted", false);
    json_decref(status);
    memory_release(overrides);
    household_end(&home);
}

/* A file that declares no lamp, and no timetable. */
static void test_bare(void **state) {
    (void)state;
    TextReader one = {"routine glow { paint gold }", 27};
    LangReader reader = {text_reader_read, &one};
    Household home = {.compilation = lang_compile(&reader, "bare.gloam")};
    assert_int_equal(zone_file_read("UTC", &home.zone), ZONE_FILE_FINE);
    assert_true(
        state_world(&home.world, home.compilation, lang_program(home.compilation), home.zone));
    Overrides *overrides = overrides_new();
    Now now = now_at("2026-11-25T20:00");
    json_t *status = told_json(&home, overrides, &now);
    counts(json_object_get(status, "clock"), "ahead", 0);
    says(json_object_get(status, "clock"), "change", NULL);
    assert_int_equal(json_array_size(json_object_get(status, "lamps")), 1);
    const json_t *lamp = item(status, "lamps", 0);
    has_keys(lamp, LAMP_KEYS);
    says(lamp, "name", NULL);
    says(lamp, "plays", "off");
    says(lamp, "cause", "nothing");
    says(lamp, "why", "nothing has begun");
    says(lamp, "since", NULL);
    says(lamp, "next", NULL);
    says(lamp, "skip", NULL);
    says(lamp, "more", NULL);
    refuses(overrides, &home, &now, "skip");
    refuses(overrides, &home, &now, "more 1min");
    json_decref(status);
    assert_non_null(
        strstr(told(&home, overrides, &now, TEXT), "the lamp: off (nothing has begun)\n"));
    memory_release(overrides);
    household_end(&home);
}

/* Whole, or nothing: no field is left out where memory ends. */
static void test_memory(void **state) {
    (void)state;
    static char whole[sizeof text];
    Household home;
    household_start(&home, WEEK "at 19:00 play feed for 2h on lamp shelf part left\n");
    Overrides *overrides = overrides_new();
    Now now = now_at("2026-11-25T20:00");
    act(overrides, &home, &now, "play nap for 20min on lantern");
    act(overrides, &home, &now, "level 40");
    snprintf(whole, sizeof whole, "%s", told(&home, overrides, &now, JSON));
    unsigned long live = memory_live(), n = 0;
    bool done = false;
    StatusRequest request = {&home.world, overrides, &now, "trusted, says the test", "2025b"};
    while (!done && n < 5000) {
        memset(text, 0, sizeof text);
        FILE *out = fmemopen(text, sizeof text, "w");
        assert_non_null(out);
        memory_fail_at(++n);
        done = status_json(&request, out);
        memory_fail_at(0);
        fclose(out);
        assert_string_equal(text, done ? whole : "");
        assert_int_equal(memory_live(), live);
    }
    assert_true(done && n > 100);
    memory_release(overrides);
    household_end(&home);
}

/* Names as long as they may be are not cut. */
static void test_long_names(void **state) {
    (void)state;
    char routine[LIMIT_NAME_BYTES + 1], lamp[LIMIT_NAME_BYTES + 1], lines[512], wanted[512];
    memset(routine, 'r', LIMIT_NAME_BYTES);
    memset(lamp, 'l', LIMIT_NAME_BYTES);
    routine[LIMIT_NAME_BYTES] = lamp[LIMIT_NAME_BYTES] = '\0';
    snprintf(lines, sizeof lines,
             "lamp %s { pixels 3 }\nroutine %s { paint red * 1%% }\n"
             "at 07:00..21:00 every 1h30min play %s for 1h on lamp %s\n",
             lamp, routine, routine, lamp);
    Household home;
    household_start(&home, lines);
    Overrides *overrides = overrides_new();
    Now now = now_at("2026-11-25T20:30");
    snprintf(wanted, sizeof wanted, "skip on %s", lamp);
    act(overrides, &home, &now, wanted);
    snprintf(wanted, sizeof wanted,
             "by hand 1: skip %s (at 07:00..21:00 every 1h30min) on lamp %s\n", routine, lamp);
    told(&home, overrides, &now, TEXT);
    if (!strstr(text, wanted))
        fail_msg("no `%s` in %s", wanted, text);
    snprintf(wanted, sizeof wanted, "%s: %s (at 07:00..21:00 every 1h30min) since 20:30", lamp,
             routine);
    if (!strstr(text, wanted))
        fail_msg("no `%s` in %s", wanted, text);
    memory_release(overrides);
    household_end(&home);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_fields),     cmocka_unit_test(test_dials),
        cmocka_unit_test(test_by_hand),    cmocka_unit_test(test_untrusted),
        cmocka_unit_test(test_bare),       cmocka_unit_test(test_memory),
        cmocka_unit_test(test_long_names), cmocka_unit_test(test_what_could_be_done),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
