#include "runtime/service/mqtt/topics.h"

#include <stdio.h>
#include <string.h>

void topic_of(const char *id, const char *what, char topic[TOPIC_BYTES]) {
    snprintf(topic, TOPIC_BYTES, "%s/%s%s%s", TOPIC_ROOT, id, what ? "/" : "", what ? what : "");
}

/* -------- one line -------- */

/* What a line may hold: no byte that ends it or steers a terminal. False: `said`. */
static bool is_line(const void *payload, size_t length, Asked *asked) {
    const unsigned char *bytes = payload;
    if (length == 0 || length > REQUEST_BYTES - 80) {
        snprintf(asked->said, sizeof asked->said, "a message for an act has 1 to %d bytes",
                 REQUEST_BYTES - 80);
        return false;
    }
    for (size_t i = 0; i < length; i++)
        if (bytes[i] < 32 || bytes[i] == 127) {
            snprintf(asked->said, sizeof asked->said, "an act is one line of text");
            return false;
        }
    return true;
}

/* An act whose second time does more than the first. */
static bool is_relative(ActKind kind) {
    return kind == ACT_MORE || kind == ACT_SKIP || kind == ACT_EARLIER || kind == ACT_UNDO;
}

static void read_act(const void *payload, size_t length, Asked *asked) {
    asked->kind = ASKED_WRONG;
    if (!is_line(payload, length, asked))
        return;
    memcpy(asked->line, payload, length);
    asked->line[length] = '\0';
    /* Only acts change what plays and may come this way; the rest of the protocol is not for it. */
    ActKind kind;
    const char *word = asked->line + strspn(asked->line, " ");
    bool act = request_names_act(word, &kind);
    if (act && is_relative(kind))
        snprintf(asked->said, sizeof asked->said,
                 "`%.*s` is not done from here, since a message may come twice: play ... until "
                 "22:00",
                 (int)strcspn(word, " "), word);
    else if (!act)
        snprintf(asked->said, sizeof asked->said, "an act is play, level, set, report or clear");
    else
        asked->kind = ASKED_ACT;
}

static void read_dial(const char *dial, size_t name, const void *payload, size_t length,
                      Asked *asked) {
    asked->kind = ASKED_WRONG;
    if (!is_line(payload, length, asked))
        return;
    int used = snprintf(asked->line, sizeof asked->line, "set %.*s = %.*s", (int)name, dial,
                        (int)length, (const char *)payload);
    bool fits = used > 0 && (size_t)used < sizeof asked->line;
    asked->kind = fits ? ASKED_ACT : ASKED_WRONG;
    if (!fits)
        snprintf(asked->said, sizeof asked->said, "that is too long for a dial");
}

/* -------- which -------- */

/* What follows `gloam/ID/`; NULL: it is another's. */
static const char *below(const char *topic, const char *id) {
    char begin[TOPIC_BYTES];
    size_t length = (size_t)snprintf(begin, sizeof begin, "%s/%s/", TOPIC_ROOT, id);
    return strncmp(topic, begin, length) == 0 ? topic + length : NULL;
}

const char *topic_dial(const char *id, const char *topic) {
    static const char begin[] = "dials/";
    const char *what = strlen(topic) < TOPIC_BYTES ? below(topic, id) : NULL;
    if (!what || strncmp(what, begin, sizeof begin - 1) != 0)
        return NULL;
    what += sizeof begin - 1;
    return *what && !strchr(what, '/') ? what : NULL;
}

/* `dials/NAME/set`: the length of NAME; 0: it is none. */
static size_t dial_in(const char *what) {
    static const char begin[] = "dials/", end[] = "/set";
    size_t length = strlen(what), around = sizeof begin - 1 + sizeof end - 1;
    if (length <= around || strncmp(what, begin, sizeof begin - 1) != 0 ||
        strcmp(what + length - (sizeof end - 1), end) != 0)
        return 0;
    size_t name = length - around;
    return memchr(what + sizeof begin - 1, '/', name) ? 0 : name;
}

void topics_read(const char *id, const char *topic, const void *payload, size_t length,
                 bool retained, Asked *asked) {
    *asked = (Asked){.kind = ASKED_NOTHING};
    const char *file = below(topic, "files");
    if (file) {
        asked->kind = name_is_plain(file) ? ASKED_FILE : ASKED_NOTHING;
        snprintf(asked->file, sizeof asked->file, "%s", file);
        return;
    }
    const char *what = below(topic, id);
    what = what ? what : below(topic, TOPIC_ALL);
    size_t dial = what ? dial_in(what) : 0;
    bool act = what && strcmp(what, "act") == 0;
    if (!act && !dial)
        return;
    if (retained) {
        asked->kind = ASKED_WRONG;
        snprintf(asked->said, sizeof asked->said,
                 "a retained act is not done, for it would be done again at each connection: "
                 "publish it without retain");
        return;
    }
    if (act)
        read_act(payload, length, asked);
    else
        read_dial(what + strlen("dials/"), dial, payload, length, asked);
}
