#include "runtime/service/mqtt/lamp.h"

#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/library/reader.h"
#include "runtime/service/link/keep.h"
#include "runtime/service/link/said.h"
#include "runtime/service/mqtt/taken.h"
#include "runtime/service/mqtt/told.h"

enum {
    TELL_EVERY = 1000,
    NEVER = 60000,
    BUSY = 500,
    WAITING = 64,
    VALUES = 1024,
    PATH_BYTES = 4096
};

/* An act or a file that the player has been told of. */
typedef struct Waiting {
    MqttLamp *lamp; /* NULL: this place is free */
    char *line;     /* of an act; NULL: a file */
    char file[NAME_BYTES], hash[KEEP_HASH];
    KeepRequest keep;
    char *text;    /* of the file */
    uint64_t came; /* a file's turn */
    Kept kept;
} Waiting;

struct MqttLamp {
    MqttLampRequest request;
    Link *link;
    Broker *broker;
    char *text; /* the newest state */
    size_t length;
    json_t *told;      /* as it was published last; NULL: never */
    bool is_new, anew; /* anew: it is to be published as a whole */
    json_t *values;    /* names of dials that the broker has values of, to be looked at then */
    int64_t next;
    Waiting waiting[WAITING];
    uint64_t came;         /* files, so far */
    const Waiting *placed; /* the file that the player has not answered for; NULL: none */
    bool busy;             /* another program keeps a text */
    int64_t again;         /* when it is tried again then; 0: not said yet */
};

MqttLamp *mqtt_lamp_create(const MqttLampRequest *request) {
    MqttLamp *lamp = memory_allocate(1, sizeof *lamp);
    json_t *values = json_array();
    if (lamp && values) {
        lamp->request = *request;
        lamp->values = values;
        return lamp;
    }
    json_decref(values);
    memory_release(lamp);
    return NULL;
}

bool mqtt_lamp_begin(MqttLamp *lamp, Link *link, Broker *broker) {
    lamp->link = link;
    lamp->broker = broker;
    return link_ask(link, "watch state", NULL, NULL);
}

static void waiting_free(Waiting *waiting) {
    memory_release(waiting->line);
    memory_release(waiting->text);
    keep_end(&waiting->kept);
    *waiting = (Waiting){0};
}

void mqtt_lamp_free(MqttLamp *lamp) {
    if (!lamp)
        return;
    for (int i = 0; i < WAITING; i++)
        waiting_free(&lamp->waiting[i]);
    json_decref(lamp->told);
    json_decref(lamp->values);
    memory_release(lamp->text);
    memory_release(lamp);
}

static void publish(MqttLamp *lamp, const char *what, const char *text, size_t length,
                    bool retained) {
    char topic[TOPIC_BYTES];
    topic_of(lamp->request.id, what, topic);
    broker_tell(lamp->broker, topic, text, length, retained);
}

/* -------- the state -------- */

void lamp_state(void *context, const char *json, size_t length) {
    MqttLamp *lamp = context;
    char *text = memory_copy_text(json, length);
    if (!text)
        return;
    memory_release(lamp->text);
    lamp->text = text;
    lamp->length = length;
    lamp->is_new = true;
}

void lamp_connected(void *context) {
    MqttLamp *lamp = context;
    lamp->anew = true;
    lamp->is_new = lamp->text != NULL;
    lamp->next = 0;
    json_array_clear(lamp->values);
}

/* What the broker has of a dial that is no more, since the dial went while nobody was here. */
static void clear_value(MqttLamp *lamp, const char *dial) {
    char what[TOPIC_BYTES];
    if (!dial || told_has_dial(lamp->told, dial))
        return;
    snprintf(what, sizeof what, "dials/%s", dial);
    publish(lamp, what, "", 0, true);
}

static void take_value(MqttLamp *lamp, const char *dial) {
    if (!lamp->anew)
        clear_value(lamp, dial);
    else if (json_array_size(lamp->values) < VALUES)
        json_array_append_new(lamp->values, json_string(dial));
}

static void tell_one(void *context, const char *what, const char *text, size_t length) {
    publish(context, what, text, length, true);
}

int mqtt_lamp_patience(const MqttLamp *lamp, int64_t now) {
    int most = lamp->busy ? BUSY : NEVER, left = lamp->next <= now ? 0 : (int)(lamp->next - now);
    return !lamp->is_new || !broker_connected(lamp->broker) || left > most ? most : left;
}

static void next_file(MqttLamp *lamp);

/* A file that found another program at it. */
static void try_again(MqttLamp *lamp, int64_t now) {
    if (lamp->again == 0)
        lamp->again = now + BUSY;
    if (lamp->again > now)
        return;
    lamp->busy = false;
    lamp->again = 0;
    next_file(lamp);
}

void mqtt_lamp_turn(MqttLamp *lamp, int64_t now) {
    if (lamp->busy)
        try_again(lamp, now);
    if (!lamp->is_new || !broker_connected(lamp->broker) || lamp->next > now)
        return;
    json_t *state = json_loadb(lamp->text, lamp->length, 0, NULL);
    lamp->is_new = false;
    lamp->next = now + TELL_EVERY;
    if (!state)
        return;
    char *line = json_dumps(state, JSON_COMPACT | JSON_REAL_PRECISION(9));
    if (line) {
        told_state(lamp->told, state, lamp->anew, line, strlen(line), tell_one, lamp);
        json_decref(lamp->told);
        lamp->told = json_incref(state);
        lamp->anew = false;
        for (size_t i = 0; i < json_array_size(lamp->values); i++)
            clear_value(lamp, json_string_value(json_array_get(lamp->values, i)));
        json_array_clear(lamp->values);
    }
    free(line);
    json_decref(state);
}

/* -------- what came of it -------- */

/* Told as JSON below the lamp's topic. */
static void tell_json(MqttLamp *lamp, const char *what, json_t *object, bool retained) {
    char *text = object ? json_dumps(object, JSON_COMPACT) : NULL;
    if (text)
        publish(lamp, what, text, strlen(text), retained);
    free(text);
    json_decref(object);
}

/* What somebody sent, as a text: any bytes may be in it. */
static json_t *clean(const char *sent) {
    char *copy = memory_copy_text(sent, strlen(sent));
    if (copy)
        diagnostics_clean(copy);
    json_t *text = copy ? json_string(copy) : NULL;
    memory_release(copy);
    return text;
}

static void tell_act(MqttLamp *lamp, const char *line, bool done, const char *words) {
    if (!done)
        said(SAID_WARNING, "broker: `%s` is not done: %s", line, words);
    tell_json(lamp, "said",
              json_pack("{s:o, s:b, s:s}", "act", clean(line), "done", (int)done, "says", words),
              false);
}

static void act_answered(void *token, bool done, const char *text, size_t length) {
    Waiting *waiting = token;
    (void)length;
    tell_act(waiting->lamp, waiting->line, done, text);
    waiting_free(waiting);
}

/* `looked` at: it is not to be taken again. */
static void tell_file(Waiting *waiting, bool taken, bool looked, const char *words) {
    said(taken ? SAID_NOTICE : SAID_WARNING, "broker: the file %s is %staken: %s", waiting->file,
         taken ? "" : "not ", words);
    if (looked && !taken_keep(waiting->lamp->request.state, waiting->file, waiting->hash))
        said(SAID_WARNING, "broker: it cannot be written down that the file %s came",
             waiting->file);
    tell_json(waiting->lamp, "took",
              json_pack("{s:s, s:s, s:b, s:s}", "file", waiting->file, "hash", waiting->hash,
                        "taken", (int)taken, "says", words),
              true);
    waiting_free(waiting);
}

static void reload_answered(void *token, bool done, const char *text, size_t length) {
    Waiting *waiting = token;
    MqttLamp *lamp = waiting->lamp;
    (void)length;
    if (!done)
        keep_back(&waiting->keep, &waiting->kept);
    lamp->placed = NULL;
    tell_file(waiting, done, true, text);
    next_file(lamp);
}

/* -------- what the broker brings -------- */

/* A free place; NULL: too much is asked at once. */
static Waiting *take_place(MqttLamp *lamp) {
    for (int i = 0; i < WAITING; i++)
        if (!lamp->waiting[i].lamp) {
            lamp->waiting[i].lamp = lamp;
            return &lamp->waiting[i];
        }
    return NULL;
}

static void ask_act(MqttLamp *lamp, const Asked *asked) {
    Waiting *waiting = take_place(lamp);
    if (!waiting) {
        tell_act(lamp, asked->line, false, "too much is asked at once");
        return;
    }
    waiting->line = memory_copy_text(asked->line, strlen(asked->line));
    if (waiting->line && link_ask(lamp->link, asked->line, act_answered, waiting))
        return;
    tell_act(lamp, asked->line, false,
             waiting->line ? "the player does not answer" : "out of memory");
    waiting_free(waiting);
}

/* `whole`, in which the home file has the name that its text was sent by, and what lies beside it
 * no folder: those of this machine tell the sender nothing. */
static void rename_home(const Waiting *waiting, const char *whole, char *text, size_t size) {
    const char *home = waiting->keep.home, *slash = strrchr(home, '/');
    size_t length = strlen(home), folder = slash ? (size_t)(slash - home) + 1 : 0, used = 0;
    while (*whole && used + 1 < size) {
        if (strncmp(whole, home, length) == 0) {
            used += (size_t)snprintf(text + used, size - used, "%s", waiting->file);
            whole += length;
        } else if (folder > 1 && strncmp(whole, home, folder) == 0) {
            whole += folder;
        } else {
            text[used++] = *whole++;
        }
    }
    text[used < size ? used : size - 1] = '\0';
    diagnostics_clean(text); /* it may have been cut within a character */
}

/* What is wrong in a text, or why it was not kept. */
static void first_error(const Waiting *waiting, char *text, size_t size) {
    const Kept *kept = &waiting->kept;
    bool compiled = kept->score && kept->score->compilation;
    char whole[2 * PATH_BYTES];
    if (diagnostics_first_error(compiled ? lang_diagnostics(kept->score->compilation) : NULL, whole,
                                sizeof whole))
        rename_home(waiting, whole, text, size);
    else
        snprintf(text, size, "%s", kept->said);
}

static bool is_meant(const MqttLamp *lamp, const char *file) {
    for (int i = 0; i < lamp->request.take_count; i++)
        if (strcmp(lamp->request.takes[i], file) == 0)
            return true;
    return false;
}

/* Kept, and the player asked to read it. */
static void keep_file(Waiting *waiting) {
    char words[KEEP_SENTENCE];
    MqttLamp *lamp = waiting->lamp;
    keep_home(&waiting->keep, &waiting->kept);
    if (waiting->kept.result == KEEP_BUSY) {
        lamp->busy = true;
        keep_end(&waiting->kept);
        return;
    }
    first_error(waiting, words, sizeof words);
    if (waiting->kept.result != KEEP_DONE)
        tell_file(waiting, false, waiting->kept.result == KEEP_WRONG, words);
    else if (link_ask(lamp->link, "reload", reload_answered, waiting))
        lamp->placed = waiting;
    else
        tell_file(waiting, false, false, "it is kept; the player does not answer");
}

/* One at a time: what another would find in the home file may be taken back yet. */
static void next_file(MqttLamp *lamp) {
    for (;;) {
        Waiting *next = NULL;
        for (int i = 0; i < WAITING; i++) {
            Waiting *one = &lamp->waiting[i];
            if (one->lamp && !one->line && (!next || one->came < next->came))
                next = one;
        }
        if (!next || lamp->placed || lamp->busy || link_descriptor(lamp->link) < 0)
            return;
        if (taken_is(lamp->request.state, next->file, next->hash))
            waiting_free(next); /* it came twice */
        else
            keep_file(next);
    }
}

/* A place for a file; the same that waits yet, as it was, is looked at no more. */
static Waiting *take_file_place(MqttLamp *lamp, const char *file) {
    for (int i = 0; i < WAITING; i++) {
        Waiting *one = &lamp->waiting[i];
        if (one->lamp && !one->line && one != lamp->placed && strcmp(one->file, file) == 0)
            waiting_free(one);
    }
    Waiting *waiting = take_place(lamp);
    if (waiting) {
        snprintf(waiting->file, sizeof waiting->file, "%s", file);
        waiting->came = ++lamp->came;
    }
    return waiting;
}

static void take_file(MqttLamp *lamp, const Asked *asked, const void *payload, size_t length) {
    char hash[KEEP_HASH], words[KEEP_SENTENCE];
    if (!is_meant(lamp, asked->file) || length == 0) /* empty: it was withdrawn */
        return;
    keep_hash(payload, length, hash);
    /* A retained file comes at each connection; what was changed here since stays. */
    if (taken_is(lamp->request.state, asked->file, hash))
        return;
    Waiting *waiting = take_file_place(lamp, asked->file);
    if (!waiting) {
        said(SAID_WARNING, "broker: too much is asked at once: the file %s", asked->file);
        return;
    }
    memcpy(waiting->hash, hash, sizeof hash);
    bool fits = length <= LIMIT_SOURCE_BYTES;
    snprintf(words, sizeof words, "it %s", read_sentence(READ_TOO_LARGE, NULL));
    waiting->text = fits ? memory_copy_text(payload, length) : NULL;
    waiting->keep =
        (KeepRequest){.home = lamp->request.home, .text = waiting->text, .length = length};
    if (!fits)
        tell_file(waiting, false, true, words);
    else if (!waiting->text)
        tell_file(waiting, false, false, "out of memory");
    else
        next_file(lamp);
}

void lamp_message(void *context, const char *topic, const void *payload, size_t length,
                  bool retained) {
    MqttLamp *lamp = context;
    Asked asked;
    const char *dial = topic_dial(lamp->request.id, topic);
    if (dial) { /* without that mark it is what was told just now */
        if (retained && length > 0)
            take_value(lamp, dial);
        return;
    }
    topics_read(lamp->request.id, topic, payload, length, retained, &asked);
    switch (asked.kind) {
    case ASKED_ACT:
        ask_act(lamp, &asked);
        return;
    case ASKED_FILE:
        take_file(lamp, &asked, payload, length);
        return;
    case ASKED_WRONG:
        said(SAID_WARNING, "broker: %s: %s", topic, asked.said);
        tell_json(lamp, "said",
                  json_pack("{s:o, s:b, s:o}", "topic", clean(topic), "done", 0, "says",
                            clean(asked.said)),
                  false);
        return;
    case ASKED_NOTHING:
        return;
    }
}
