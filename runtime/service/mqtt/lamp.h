/* A lamp at a broker: what the broker brings goes to the player, what the player tells goes to the
 * broker, and files that are meant for it are taken once. */
#ifndef GLOAM_SERVICE_MQTT_LAMP_H
#define GLOAM_SERVICE_MQTT_LAMP_H

#include "runtime/service/link/link.h"
#include "runtime/service/mqtt/broker.h"
#include "runtime/service/mqtt/topics.h"

typedef struct MqttLampRequest {
    const char *home;
    const char *state; /* STATE.mqtt, beside it, holds which files were taken; NULL: nothing does */
    const char *id;
    const char *const *takes; /* names of files */
    int take_count;
} MqttLampRequest;

typedef struct MqttLamp MqttLamp;

/* The request is borrowed as long as it lives. NULL: out of memory. */
MqttLamp *mqtt_lamp_create(const MqttLampRequest *request);
void mqtt_lamp_free(MqttLamp *lamp);
/* Both outlive it; it watches the state. False: out of memory. */
bool mqtt_lamp_begin(MqttLamp *lamp, Link *link, Broker *broker);

/* For BrokerRequest and LinkEvents; the context is the lamp. */
void lamp_message(void *context, const char *topic, const void *payload, size_t length,
                  bool retained);
void lamp_connected(void *context);
void lamp_state(void *context, const char *json, size_t length);

/* The state goes out at most once a second, the newest. Milliseconds. */
int mqtt_lamp_patience(const MqttLamp *lamp, int64_t now);
void mqtt_lamp_turn(MqttLamp *lamp, int64_t now);

#endif
