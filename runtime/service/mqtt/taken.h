/* Which files of the broker were looked at, each by its last hash: STATE.mqtt, so that a retained
 * file is taken once and not again after each start. */
#ifndef GLOAM_SERVICE_MQTT_TAKEN_H
#define GLOAM_SERVICE_MQTT_TAKEN_H

#include <stdbool.h>

/* `state` may be NULL: then nothing was. */
bool taken_is(const char *state, const char *file, const char *hash);
/* False: it could not be written. */
bool taken_keep(const char *state, const char *file, const char *hash);

#endif
