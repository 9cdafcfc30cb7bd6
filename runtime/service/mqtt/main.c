/* gloam-mqtt: a lamp at a broker (spec/mqtt.md). Started by the player, whose socket is
 * descriptor 3, or by hand:
 *
 *     gloam-mqtt --home FILE --state FILE --broker HOST[:PORT] --as ID [--broker-file FILE]
 *                [--takes NAME]...
 */
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "runtime/player/names.h"
#include "runtime/service/link/confine.h"
#include "runtime/service/link/link.h"
#include "runtime/service/link/said.h"
#include "runtime/service/link/signals.h"
#include "runtime/service/link/words.h"
#include "runtime/service/mqtt/lamp.h"

enum { CALL = 2, MACHINE = 3, TAKES = 16 };

typedef struct Words {
    const char *home, *state, *broker, *broker_file, *id;
    const char *takes[TAKES];
    int take_count;
} Words;

static bool read_words(int count, char **arguments, Words *words) {
    const Word list[] = {
        {.name = "--home", .value = &words->home},
        {.name = "--state", .value = &words->state},
        {.name = "--broker", .value = &words->broker},
        {.name = "--broker-file", .value = &words->broker_file},
        {.name = "--as", .value = &words->id},
        {.name = "--takes", .value = words->takes, .most = TAKES, .count = &words->take_count},
        {0}};
    bool fine = words_read(count, arguments, list) && words->home && words->broker && words->id &&
                name_is_id(words->id);
    for (int i = 0; fine && i < words->take_count; i++)
        fine = name_is_plain(words->takes[i]);
    return fine;
}

/* A line that is there as a whole; what is not there is empty. False: it is too long. */
static bool read_line(FILE *file, char text[BROKER_TEXT]) {
    if (!fgets(text, BROKER_TEXT, file))
        text[0] = '\0';
    size_t length = strcspn(text, "\r\n");
    bool whole = text[length] || length + 1 < BROKER_TEXT;
    text[length] = '\0';
    return whole;
}

/* The first two lines of a file: who, and the password. */
static bool read_user(const char *path, BrokerRequest *request) {
    FILE *file = fopen(path, "re");
    bool fine = file && read_line(file, request->user) && *request->user &&
                read_line(file, request->password) && !ferror(file);
    if (file)
        fclose(file);
    return fine;
}

/* Where they cannot be read that is said once, and tried again. False: it is to end. */
static bool read_user_patiently(const char *path, BrokerRequest *request, int signals) {
    int pause = SIGNALS_PAUSE_FIRST;
    while (!read_user(path, request)) {
        if (pause == SIGNALS_PAUSE_FIRST)
            said(SAID_ERROR, "%s: no user and password can be read there; it is tried again", path);
        if (!signals_pause(signals, &pause))
            return false;
    }
    return true;
}

static void say(void *context, int gravity, const char *sentence) {
    (void)context;
    said(gravity, "%s", sentence);
}

static void subscribe(BrokerRequest *request, const char *id, const char *what) {
    topic_of(id, what, request->subscriptions[request->subscription_count++]);
}

static void make_request(const Words *words, BrokerRequest *request) {
    snprintf(request->id, sizeof request->id, "%s-%s", TOPIC_ROOT, words->id);
    topic_of(words->id, "online", request->will);
    const char *const whose[] = {words->id, TOPIC_ALL};
    for (int i = 0; i < 2; i++) {
        subscribe(request, whose[i], "act");
        subscribe(request, whose[i], "dials/+/set");
    }
    subscribe(request, words->id, "dials/+"); /* what is there of earlier */
    for (int i = 0; i < words->take_count; i++)
        subscribe(request, "files", words->takes[i]);
    request->say = say;
    request->message = lamp_message;
    request->connected = lamp_connected;
}

static int64_t milliseconds(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* Until a signal comes or the player goes. */
static void serve(MqttLamp *lamp, Broker *broker, Link *link, int signals) {
    while (link_descriptor(link) >= 0) {
        int64_t now = milliseconds();
        int patience = broker_patience(broker, now), own = mqtt_lamp_patience(lamp, now);
        struct pollfd waits[] = {
            {signals, POLLIN, 0},
            {link_descriptor(link), (short)(POLLIN | (link_wants_write(link) ? POLLOUT : 0)), 0},
            {broker_descriptor(broker), broker_events(broker), 0}};
        if (poll(waits, 3, own < patience ? own : patience) < 0)
            continue;
        if (waits[0].revents)
            return;
        if (waits[1].revents || link_wants_write(link))
            link_ready(link);
        broker_turn(broker, milliseconds(), waits[2].revents);
        mqtt_lamp_turn(lamp, milliseconds());
    }
}

int main(int count, char **arguments) {
    static BrokerRequest request;
    Words words = {0};
    if (!read_words(count, arguments, &words) || !broker_address(words.broker, &request)) {
        said(SAID_ERROR, "the player starts this program: gloam run --broker broker.local --as "
                         "lantern FILE");
        return CALL;
    }
    int signals = signals_listen();
    if (words.broker_file && !read_user_patiently(words.broker_file, &request, signals))
        return MACHINE;
    confine_helper(words.home, words.state);
    MqttLampRequest about = {words.home, words.state, words.id, words.takes, words.take_count};
    MqttLamp *lamp = mqtt_lamp_create(&about);
    LinkEvents events = {.state = lamp_state};
    make_request(&words, &request);
    request.context = lamp;
    Link *link = lamp ? link_open(LINK_DESCRIPTOR, &events, lamp) : NULL;
    Broker *broker = link ? broker_create(&request) : NULL;
    bool made = signals >= 0 && broker && mqtt_lamp_begin(lamp, link, broker);
    if (made)
        serve(lamp, broker, link, signals);
    else
        said(SAID_ERROR, "out of memory or descriptors");
    broker_free(broker);
    link_close(link);
    mqtt_lamp_free(lamp);
    return made ? 0 : MACHINE;
}
