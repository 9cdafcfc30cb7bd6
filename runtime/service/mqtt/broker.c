#include "runtime/service/mqtt/broker.h"

#include <errno.h>
#include <mosquitto.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "runtime/core/memory.h"

enum {
    KEEPALIVE = 60, /* seconds */
    PAUSE_FIRST = 1000,
    PAUSE_MOST = 60000,
    STEADY = 60000, /* a connection that held so long was a good one */
    MISC = 1000,
    PARTING = 10 /* turns of 50 ms at the end */
};

struct Broker {
    BrokerRequest request;
    struct mosquitto *client;
    bool connected, begun; /* the library is connecting or connected */
    bool said_away;
    int64_t next; /* to connect */
    int64_t since;
    int pause;
};

/* -------- addresses -------- */

static bool take_port(const char *text, BrokerRequest *request) {
    char *end;
    long port = strtol(text, &end, 10);
    if (*text < '0' || *text > '9' || *end || port < 1 || port > 65535)
        return false;
    request->port = (uint16_t)port;
    return true;
}

bool broker_address(const char *given, BrokerRequest *request) {
    static const char plain[] = "mqtt://", secret[] = "mqtts://";
    request->secret = strncmp(given, secret, sizeof secret - 1) == 0;
    request->port = request->secret ? 8883 : 1883; /* registered with IANA for both */
    if (request->secret)
        given += sizeof secret - 1;
    else if (strncmp(given, plain, sizeof plain - 1) == 0)
        given += sizeof plain - 1;
    bool bracket = *given == '[';
    given += bracket;
    size_t length = strcspn(given, bracket ? "]" : ":");
    const char *rest = given + length + (bracket && given[length] == ']');
    if (length == 0 || length >= sizeof request->host || (bracket && given[length] != ']') ||
        strcspn(given, "/@ #?") < length)
        return false;
    snprintf(request->host, sizeof request->host, "%.*s", (int)length, given);
    return *rest == '\0' || (*rest == ':' && take_port(rest + 1, request));
}

/* -------- what the library tells -------- */

static void say(const Broker *broker, int gravity, const char *what) {
    char sentence[BROKER_TEXT + 128];
    snprintf(sentence, sizeof sentence, "broker %s: %s", broker->request.host, what);
    broker->request.say(broker->request.context, gravity, sentence);
}

static void on_connect(struct mosquitto *client, void *context, int code) {
    Broker *broker = context;
    if (code != 0) {
        if (!broker->said_away)
            say(broker, 3, mosquitto_connack_string(code));
        return;
    }
    broker->connected = true;
    broker->said_away = false;
    for (int i = 0; i < broker->request.subscription_count; i++)
        mosquitto_subscribe(client, NULL, broker->request.subscriptions[i], 1);
    broker_tell(broker, broker->request.will, "1", 1, true);
    say(broker, 6, "connected");
    broker->request.connected(broker->request.context);
}

static void on_message(struct mosquitto *client, void *context,
                       const struct mosquitto_message *message) {
    Broker *broker = context;
    (void)client;
    broker->request.message(broker->request.context, message->topic, message->payload,
                            message->payloadlen > 0 ? (size_t)message->payloadlen : 0,
                            message->retain);
}

/* -------- made -------- */

static bool set_up(Broker *broker) {
    const BrokerRequest *request = &broker->request;
    struct mosquitto *client = broker->client;
    /* A clean session: what was asked while nobody was there is too late. */
    mosquitto_connect_callback_set(client, on_connect);
    mosquitto_message_callback_set(client, on_message);
    bool fine = mosquitto_will_set(client, request->will, 1, "0", 1, true) == MOSQ_ERR_SUCCESS;
    if (*request->user)
        fine = fine && mosquitto_username_pw_set(client, request->user,
                                                 *request->password ? request->password : NULL) ==
                           MOSQ_ERR_SUCCESS;
    if (request->secret)
        fine = fine && mosquitto_tls_set(client, NULL, "/etc/ssl/certs", NULL, NULL, NULL) ==
                           MOSQ_ERR_SUCCESS;
    return fine;
}

Broker *broker_create(const BrokerRequest *request) {
    Broker *broker = memory_allocate(1, sizeof *broker);
    if (!broker)
        return NULL;
    mosquitto_lib_init();
    broker->request = *request;
    broker->pause = PAUSE_FIRST;
    broker->client = mosquitto_new(request->id, true, broker);
    if (broker->client && set_up(broker))
        return broker;
    mosquitto_destroy(broker->client);
    mosquitto_lib_cleanup();
    memory_release(broker);
    return NULL;
}

void broker_free(Broker *broker) {
    if (!broker)
        return;
    if (broker->connected) {
        /* A clean end suppresses the will (3.14.4), so it is told first. */
        broker_tell(broker, broker->request.will, "0", 1, true);
        for (int i = 0; i < PARTING; i++)
            mosquitto_loop(broker->client, mosquitto_want_write(broker->client) ? 50 : 5, 1);
        mosquitto_disconnect(broker->client);
    }
    mosquitto_destroy(broker->client);
    mosquitto_lib_cleanup();
    memory_release(broker);
}

/* -------- its turn -------- */

bool broker_connected(const Broker *broker) {
    return broker->connected;
}

int broker_descriptor(const Broker *broker) {
    return broker->begun ? mosquitto_socket(broker->client) : -1;
}

short broker_events(const Broker *broker) {
    return (short)(POLLIN | (mosquitto_want_write(broker->client) ? POLLOUT : 0));
}

int broker_patience(const Broker *broker, int64_t now) {
    if (broker->begun)
        return MISC;
    int64_t left = broker->next - now;
    return left < 0 ? 0 : left > PAUSE_MOST ? PAUSE_MOST : (int)left;
}

static void lost(Broker *broker, int64_t now, int code) {
    if (!broker->said_away) {
        say(broker, 4, code == MOSQ_ERR_ERRNO ? strerror(errno) : mosquitto_strerror(code));
        say(broker, 5, "it is tried again; the lamp plays on");
    }
    broker->said_away = true;
    if (broker->connected && now - broker->since > STEADY)
        broker->pause = PAUSE_FIRST;
    broker->connected = broker->begun = false;
    broker->next = now + broker->pause;
    broker->pause = broker->pause * 2 > PAUSE_MOST ? PAUSE_MOST : broker->pause * 2;
}

static void begin(Broker *broker, int64_t now) {
    errno = 0;
    int code =
        mosquitto_connect(broker->client, broker->request.host, broker->request.port, KEEPALIVE);
    broker->since = now;
    if (code == MOSQ_ERR_SUCCESS)
        broker->begun = true;
    else
        lost(broker, now, code);
}

void broker_turn(Broker *broker, int64_t now, short happened) {
    int code = MOSQ_ERR_SUCCESS;
    if (!broker->begun) {
        if (now >= broker->next)
            begin(broker, now);
        return;
    }
    if (happened & (POLLIN | POLLERR | POLLHUP))
        code = mosquitto_loop_read(broker->client, 1);
    if (code == MOSQ_ERR_SUCCESS && mosquitto_want_write(broker->client))
        code = mosquitto_loop_write(broker->client, 1);
    if (code == MOSQ_ERR_SUCCESS)
        code = mosquitto_loop_misc(broker->client);
    if (code != MOSQ_ERR_SUCCESS)
        lost(broker, now, code);
}

void broker_tell(Broker *broker, const char *topic, const void *payload, size_t length,
                 bool retained) {
    if (broker->connected)
        mosquitto_publish(broker->client, NULL, topic, (int)length, payload, 1, retained);
}
