/* The connection to a broker (MQTT 3.1.1, OASIS Standard of 29 October 2014): kept up, with pauses
 * that grow to 60 s, and given up gladly: a broker that is away changes nothing for the lamp. */
#ifndef GLOAM_SERVICE_MQTT_BROKER_H
#define GLOAM_SERVICE_MQTT_BROKER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { BROKER_SUBSCRIPTIONS = 32, BROKER_TEXT = 256 };

typedef struct BrokerRequest {
    char host[BROKER_TEXT];
    uint16_t port;
    bool secret;                                   /* TLS, with the machine's certificates */
    char user[BROKER_TEXT], password[BROKER_TEXT]; /* "": none */
    char id[BROKER_TEXT];                          /* of the client */
    char
        will[BROKER_TEXT]; /* the topic that holds "0", retained, while nobody is there, else "1" */
    char subscriptions[BROKER_SUBSCRIPTIONS][BROKER_TEXT];
    int subscription_count;
    void (*message)(void *context, const char *topic, const void *payload, size_t length,
                    bool retained);
    void (*connected)(void *context); /* told all anew: to publish what is retained */
    void (*say)(void *context, int gravity, const char *sentence); /* as sd-daemon(3) */
    void *context;
} BrokerRequest;

/* `lantern`, `broker.local:1883`, `[fd00::1]`, `mqtts://broker.local`. False: it is none. */
bool broker_address(const char *given, BrokerRequest *request);

typedef struct Broker Broker;

/* Connects at the first broker_turn. NULL: out of memory. */
Broker *broker_create(const BrokerRequest *request);
/* Says that nobody is there, and goes. */
void broker_free(Broker *broker);

/* Whether somebody is there who can be told. */
bool broker_connected(const Broker *broker);
/* What poll waits for; -1: nothing now. */
int broker_descriptor(const Broker *broker);
short broker_events(const Broker *broker);
/* Milliseconds until broker_turn is to be called at the latest. */
int broker_patience(const Broker *broker, int64_t now);
/* Reads, writes, connects where it is time (which may take seconds). `now` in milliseconds of a
 * monotonic clock. */
void broker_turn(Broker *broker, int64_t now, short happened);

/* QoS 1. While nobody is there it is not told; `connected` comes later. */
void broker_tell(Broker *broker, const char *topic, const void *payload, size_t length,
                 bool retained);

#endif
