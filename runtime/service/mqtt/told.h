/* What a lamp tells a broker of its state: the whole as JSON, and each dial by itself as it can be
 * set. All of it is retained. */
#ifndef GLOAM_SERVICE_MQTT_TOLD_H
#define GLOAM_SERVICE_MQTT_TOLD_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

/* `what` is below the lamp's own topic: "state", "dials/warmth". Length 0: there is no such thing
 * any more. */
typedef void (*Telling)(void *context, const char *what, const char *text, size_t length);

/* What is another than in `before` (an object of `status json`, or NULL: all is); `anew`: all that
 * there is, and of `before` what there is no more. `text` is `now` in one line. */
void told_state(const json_t *before, const json_t *now, bool anew, const char *text, size_t length,
                Telling tell, void *context);

/* Whether a state has a dial of that name. */
bool told_has_dial(const json_t *state, const char *name);

/* A dial as `set` takes it: "60%", "1min30s", "true", "#ff8800". False: it has none. */
bool told_value(const json_t *dial, char *text, size_t size);

#endif
