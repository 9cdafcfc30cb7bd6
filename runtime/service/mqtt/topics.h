/* The topics of a lamp (spec/mqtt.md), as pure text: what a message asks, and the names under which
 * things are told. */
#ifndef GLOAM_SERVICE_MQTT_TOPICS_H
#define GLOAM_SERVICE_MQTT_TOPICS_H

#include <stdbool.h>
#include <stddef.h>

#include "runtime/player/names.h"
#include "runtime/player/request.h"

#define TOPIC_ROOT "gloam"
#define TOPIC_ALL "all" /* every lamp of the broker; no lamp has this for its ID */
enum { TOPIC_BYTES = 256 };

/* "gloam/lantern/state"; `what` may be NULL. */
void topic_of(const char *id, const char *what, char topic[TOPIC_BYTES]);

/* The dial whose value a topic of this lamp's own holds, `gloam/ID/dials/NAME`; NULL: none. */
const char *topic_dial(const char *id, const char *topic);

typedef enum AskedKind {
    ASKED_NOTHING, /* no topic that is listened to */
    ASKED_ACT,     /* `line` is what to tell the player */
    ASKED_FILE,    /* the payload is a home file by the name `file` */
    ASKED_WRONG    /* `said` tells why it is not done */
} AskedKind;

typedef struct Asked {
    AskedKind kind;
    char line[REQUEST_BYTES];
    char file[NAME_BYTES];
    char said[REQUEST_SENTENCE];
} Asked;

/* Any bytes may come in. Acts and dials are not done where they are retained, for then they would
 * be done again whenever the lamp comes back; nor acts that say how much more or less, which are
 * done twice where a message comes twice. */
void topics_read(const char *id, const char *topic, const void *payload, size_t length,
                 bool retained, Asked *asked);

#endif
