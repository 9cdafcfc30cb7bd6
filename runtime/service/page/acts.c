#include "runtime/service/page/acts.h"

#include <microhttpd.h>
#include <stdio.h>
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/player/request.h"

/* An act that was done, so that its repetition is not. */
typedef struct Done {
    char key[ACTS_KEY]; /* "": free */
    int64_t when;       /* microseconds, monotonic */
    bool waits, done;
    char said[REQUEST_SENTENCE];
} Done;

/* Who wants the state, in one of its forms. */
typedef struct Wanted {
    HttpRequest *asked;   /* for whom the player has been asked */
    HttpRequest *waiting; /* who came since then: what was done meanwhile is to be in theirs */
} Wanted;

struct Acts {
    Done list[ACTS_KEYS];
    Wanted text, json;
};

Acts *acts_create(void) {
    return memory_allocate(1, sizeof(Acts));
}

void acts_free(Acts *acts) {
    memory_release(acts);
}

/* -------- the state -------- */

static void ask(Wanted *wanted, const Page *page);

static void text_answered(void *token, bool done, const char *text, size_t length) {
    Wanted *wanted = token;
    const Page *page = wanted->asked->page;
    for (HttpRequest *request = wanted->asked, *next; request; request = next) {
        next = request->next;
        if (done)
            reply_bytes(request, "text/plain; charset=utf-8", memory_copy_text(text, length),
                        length);
        else
            reply_problem(request, 503, "no-player", NULL, "%s", text);
        request_ready(request);
    }
    ask(wanted, page);
}

static void state_answered(void *token, bool done, const char *text, size_t length) {
    Wanted *wanted = token;
    const Page *page = wanted->asked->page;
    json_t *state = done ? json_loadb(text, length, 0, NULL) : NULL;
    for (HttpRequest *request = wanted->asked, *next; request; request = next) {
        next = request->next;
        if (state)
            reply_json(request, 200, json_incref(state));
        else
            reply_no_player(request);
        request_ready(request);
    }
    json_decref(state);
    ask(wanted, page);
}

/* One question for all who wait. */
static void ask(Wanted *wanted, const Page *page) {
    bool text = wanted == &page->acts->text;
    wanted->asked = wanted->waiting;
    wanted->waiting = NULL;
    if (!wanted->asked || link_ask(page->link, text ? "status" : "status json",
                                   text ? text_answered : state_answered, wanted))
        return;
    for (HttpRequest *request = wanted->asked, *next; request; request = next) {
        next = request->next;
        reply_no_player(request);
        request_ready(request);
    }
    wanted->asked = NULL;
}

static bool wants_text(const HttpRequest *request) {
    const char *accept =
        MHD_lookup_connection_value(request->connection, MHD_HEADER_KIND, "Accept");
    return accept && strncmp(accept, "text/plain", 10) == 0;
}

/* Of the player itself, so that what was done just now is in it. */
void acts_state(HttpRequest *request) {
    Acts *acts = request->page->acts;
    Wanted *wanted = wants_text(request) ? &acts->text : &acts->json;
    request->next = wanted->waiting;
    wanted->waiting = request;
    request_later(request);
    if (!wanted->asked)
        ask(wanted, request->page);
}

/* -------- acts -------- */

/* A place for a key: its own, a free one, or the oldest; `known` where it was there. */
static Done *find_key(Acts *acts, const char *key, int64_t now, bool *known) {
    Done *place = &acts->list[0];
    *known = false;
    for (int i = 0; i < ACTS_KEYS; i++) {
        Done *one = &acts->list[i];
        if (*one->key && now - one->when > (int64_t)ACTS_REMEMBERED * 1000000)
            one->key[0] = '\0';
        if (*one->key && strcmp(one->key, key) == 0) {
            *known = true;
            return one;
        }
        if (*place->key && (!*one->key || one->when < place->when))
            place = one;
    }
    return place;
}

static void act_answered(void *token, bool done, const char *text, size_t length) {
    HttpRequest *request = token;
    const char *key = request->own;
    bool known;
    (void)length;
    Done *one = key ? find_key(request->page->acts, key, page_monotonic(), &known) : NULL;
    if (one && known) {
        one->waits = false;
        one->done = done;
        snprintf(one->said, sizeof one->said, "%.255s", text);
    }
    reply_answer(request, done, text);
    request_ready(request);
}

/* False: answered already. */
static bool take_key(HttpRequest *request, const char *key) {
    bool known;
    if (!key)
        return true;
    Done *one = find_key(request->page->acts, key, page_monotonic(), &known);
    if (known && one->waits)
        reply_problem(request, 409, "being-done", NULL, "the same act is being done");
    else if (known)
        reply_answer(request, one->done, one->said);
    if (known)
        return false;
    request->own = memory_copy_text(key, strlen(key));
    if (!request->own) {
        reply_no_memory(request);
        return false;
    }
    *one = (Done){.when = page_monotonic(), .waits = true};
    snprintf(one->key, sizeof one->key, "%s", key);
    return true;
}

/* The act was not asked for: it may be, with the same key. */
static void drop_key(Acts *acts, const char *key) {
    bool known = false;
    Done *one = key ? find_key(acts, key, page_monotonic(), &known) : NULL;
    if (known)
        one->key[0] = '\0';
}

void acts_do(HttpRequest *request) {
    const char *act, *key;
    if (!request_text(request, "act", true, REQUEST_BYTES - 24, &act) ||
        !request_text(request, "key", false, ACTS_KEY - 1, &key))
        return;
    if (key && strlen(key) < 8) {
        reply_problem(request, 400, "bad-body", NULL, "`key` has 8 to 64 bytes");
        return;
    }
    /* What watches or reloads is the page's own. */
    ActKind kind;
    if (strpbrk(act, "\r\n") || !request_names_act(act, &kind)) {
        reply_problem(request, 422, "refused", NULL,
                      "an act is one line: play, level, skip, more, earlier, set, report, clear or "
                      "undo");
        return;
    }
    if (!take_key(request, key))
        return;
    if (link_ask(request->page->link, act, act_answered, request)) {
        request_later(request);
        return;
    }
    drop_key(request->page->acts, key);
    reply_no_player(request);
}
