#include "runtime/service/mqtt/told.h"

#include <stdio.h>
#include <string.h>

#include "runtime/light/encode.h"

enum { VALUE_BYTES = 96, TOPIC_PART = 160 };

bool told_value(const json_t *dial, char *text, size_t size) {
    const json_t *value = json_object_get(dial, "value");
    const char *says = json_string_value(json_object_get(dial, "says"));
    if (json_is_array(value) && json_array_size(value) == 3) {
        static ScreenTable table;
        float light[3];
        uint8_t bytes[3];
        for (size_t i = 0; i < 3; i++)
            light[i] = (float)json_number_value(json_array_get(value, i));
        if (table.start[4096] == 0)
            encode_screen_table(&table);
        encode_screen(&table, light, 1, bytes);
        snprintf(text, size, "#%02x%02x%02x", bytes[0], bytes[1], bytes[2]);
        return true;
    }
    if (!says)
        return false;
    snprintf(text, size, "%s", says);
    return true;
}

static const json_t *dial_of(const json_t *state, const char *name) {
    const json_t *dials = json_object_get(state, "dials");
    for (size_t i = 0; i < json_array_size(dials); i++) {
        const json_t *dial = json_array_get(dials, i);
        const char *own = json_string_value(json_object_get(dial, "name"));
        if (own && strcmp(own, name) == 0)
            return dial;
    }
    return NULL;
}

bool told_has_dial(const json_t *state, const char *name) {
    return dial_of(state, name) != NULL;
}

static void tell_dial(const json_t *before, const json_t *dial, Telling tell, void *context) {
    const char *name = json_string_value(json_object_get(dial, "name"));
    char what[TOPIC_PART], value[VALUE_BYTES], was[VALUE_BYTES];
    if (!name || !told_value(dial, value, sizeof value))
        return;
    const json_t *old = dial_of(before, name);
    if (old && told_value(old, was, sizeof was) && strcmp(was, value) == 0)
        return;
    snprintf(what, sizeof what, "dials/%s", name);
    tell(context, what, value, strlen(value));
}

void told_state(const json_t *before, const json_t *now, bool anew, const char *text, size_t length,
                Telling tell, void *context) {
    const json_t *dials = json_object_get(now, "dials"), *old = json_object_get(before, "dials");
    tell(context, "state", text, length);
    for (size_t i = 0; i < json_array_size(dials); i++)
        tell_dial(anew ? NULL : before, json_array_get(dials, i), tell, context);
    for (size_t i = 0; i < json_array_size(old); i++) {
        char what[TOPIC_PART];
        const char *name = json_string_value(json_object_get(json_array_get(old, i), "name"));
        if (!name || dial_of(now, name))
            continue;
        snprintf(what, sizeof what, "dials/%s", name);
        tell(context, what, "", 0);
    }
}
