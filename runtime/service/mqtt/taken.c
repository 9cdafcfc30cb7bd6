#include "runtime/service/mqtt/taken.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "runtime/library/state_file.h"

enum { PATH_BYTES = 4096 };

/* As an object; an empty one where there is none that can be read. */
static json_t *load(const char *path) {
    json_t *object = json_load_file(path, 0, NULL);
    if (json_is_object(object))
        return object;
    json_decref(object);
    return json_object();
}

/* False: there is no place for it. */
static bool path_of(const char *state, char path[PATH_BYTES]) {
    return state && (size_t)snprintf(path, PATH_BYTES, "%s.mqtt", state) < PATH_BYTES;
}

bool taken_is(const char *state, const char *file, const char *hash) {
    char path[PATH_BYTES];
    if (!path_of(state, path))
        return false;
    json_t *object = load(path);
    const char *last = json_string_value(json_object_get(object, file));
    bool same = last && strcmp(last, hash) == 0;
    json_decref(object);
    return same;
}

bool taken_keep(const char *state, const char *file, const char *hash) {
    char path[PATH_BYTES];
    int error;
    if (!state)
        return true;
    if (!path_of(state, path))
        return false;
    json_t *object = load(path);
    json_object_set_new(object, file, json_string(hash));
    char *text = json_dumps(object, JSON_INDENT(1) | JSON_SORT_KEYS);
    bool kept = text && state_replace(&state_disk, path, text, strlen(text), &error);
    free(text);
    json_decref(object);
    return kept;
}
