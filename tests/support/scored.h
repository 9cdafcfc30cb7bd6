/* For tests of what is made of a home: a text as the player would hold it, and an object's members.
 */
#ifndef GLOAM_TESTS_SUPPORT_SCORED_H
#define GLOAM_TESTS_SUPPORT_SCORED_H

#include <jansson.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/library/reader.h"
#include "runtime/player/score.h"

/* Compiled; it uses no file. */
static inline Score *scored(const char *text) {
    TextReader one = {text, strlen(text)};
    LangReader reader = {text_reader_read, &one};
    ScoreRequest request = {
        .path = "home.gloam", .variable = "UTC", .folders = &zone_folders_system};
    Score *score;
    if (score_read(&reader, &request, &score) != SCORE_FINE)
        fail_msg("expected no mistake in %s", text);
    return score;
}

/* A member of an object; the test fails where it is not there. */
static inline json_t *member(const json_t *object, const char *name) {
    json_t *value = json_object_get(object, name);
    if (!value)
        fail_msg("expected a member `%s`", name);
    return value;
}

static inline const char *text_member(const json_t *object, const char *name) {
    const char *text = json_string_value(member(object, name));
    if (!text)
        fail_msg("expected `%s` to be a text", name);
    return text;
}

/* The whole object is what a JSON text says. */
static inline void assert_json(const json_t *got, const char *wanted) {
    json_error_t error;
    json_t *other = json_loads(wanted, 0, &error);
    if (!other)
        fail_msg("%s: %s", wanted, error.text);
    char *text = json_dumps(got, JSON_COMPACT);
    if (!json_equal(got, other))
        fail_msg("expected %s, not %s", wanted, text);
    free(text);
    json_decref(other);
}

#endif
