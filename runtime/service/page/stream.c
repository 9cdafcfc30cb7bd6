#include "runtime/service/page/stream.h"

#include <microhttpd.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/service/page/base64.h"

enum { PIECE = 64 * 1024 };
static const int64_t SECOND = 1000000;

struct Stream {
    Stream *next;
    Page *page;
    HttpRequest *request;
    StreamMaking make;
    void (*end)(void *own);
    void *own;
    bool over;
    int64_t due;  /* to be looked at again */
    int64_t sign; /* of life: when it is due */
    char *piece;  /* being sent */
    size_t length, sent, size;
};

/* What a stream of /v1/events wants and has. */
typedef struct Events {
    uint64_t version; /* of the state that it has */
    int rate;
    bool wants[PAGE_LAMPS];
    uint64_t light[PAGE_LAMPS];
    int64_t next[PAGE_LAMPS];
} Events;

/* -------- the response -------- */

/* Room for the state, however long it is. */
static void make_room(Stream *stream) {
    const char *state = stream->page->state_text;
    size_t needed = PIECE + (state ? strlen(state) : 0);
    if (needed <= stream->size)
        return;
    char *larger = memory_resize(stream->piece, needed, 1);
    if (!larger)
        return;
    stream->piece = larger;
    stream->size = needed;
}

static ssize_t stream_read(void *context, uint64_t position, char *into, size_t size) {
    Stream *stream = context;
    (void)position;
    if (stream->sent == stream->length && !stream->over) {
        int64_t now = page_monotonic();
        stream->due = INT64_MAX;
        make_room(stream);
        long made =
            stream->make(stream->own, stream->page, now, stream->piece, stream->size, &stream->due);
        if (made == 0 && now >= stream->sign)
            made = snprintf(stream->piece, stream->size, "event: alive\ndata: {}\n\n");
        stream->over = made < 0;
        stream->sent = 0;
        stream->length = made > 0 ? (size_t)made : 0;
        if (made > 0)
            stream->sign = now + STREAM_SIGN * SECOND;
    }
    if (stream->sent == stream->length) {
        if (stream->over)
            return MHD_CONTENT_READER_END_OF_STREAM;
        stream->request->suspended = true;
        MHD_suspend_connection(stream->request->connection);
        return 0;
    }
    size_t left = stream->length - stream->sent;
    left = left < size ? left : size;
    memcpy(into, stream->piece + stream->sent, left);
    stream->sent += left;
    return (ssize_t)left;
}

struct MHD_Response *stream_response(Stream *stream) {
    return MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, 4096, stream_read, stream, NULL);
}

static void resume(Stream *stream) {
    if (!stream->request->suspended)
        return;
    stream->request->suspended = false;
    MHD_resume_connection(stream->request->connection);
}

bool stream_begin(HttpRequest *request, StreamMaking make, void (*end)(void *own), void *own) {
    int count = 0;
    for (Stream *one = request->page->streams; one; one = one->next)
        count++;
    Stream *stream = count < STREAMS ? memory_allocate(1, sizeof *stream) : NULL;
    char *piece = stream ? memory_allocate(PIECE, 1) : NULL;
    if (!piece) {
        memory_release(stream);
        if (end)
            end(own);
        memory_release(own);
        reply_problem(request, 503, "too-many-streams", NULL,
                      "too many pages are open on this lamp: close one");
        return false;
    }
    *stream = (Stream){.next = request->page->streams,
                       .page = request->page,
                       .request = request,
                       .make = make,
                       .end = end,
                       .own = own,
                       .piece = piece,
                       .size = PIECE,
                       .sign = page_monotonic() + STREAM_SIGN * SECOND};
    request->page->streams = stream;
    request->stream = stream;
    request->answered = true;
    request->status = 200;
    request->type = "text/event-stream";
    return true;
}

void stream_gone(Stream *stream) {
    for (Stream **one = &stream->page->streams; *one; one = &(*one)->next)
        if (*one == stream) {
            *one = stream->next;
            break;
        }
    streams_watch(stream->page);
    if (stream->end)
        stream->end(stream->own);
    memory_release(stream->own);
    memory_release(stream->piece);
    memory_release(stream);
}

/* -------- all of them -------- */

void streams_wake(Page *page) {
    for (Stream *one = page->streams; one; one = one->next)
        resume(one);
}

/* When it is to be looked at again. */
static int64_t due_of(const Stream *stream) {
    return stream->due < stream->sign ? stream->due : stream->sign;
}

void streams_resume(Page *page, int64_t now) {
    for (Stream *one = page->streams; one; one = one->next)
        if (due_of(one) <= now)
            resume(one);
}

int streams_patience(const Page *page, int64_t now) {
    int64_t due = INT64_MAX;
    for (const Stream *one = page->streams; one; one = one->next)
        if (one->request->suspended && due_of(one) < due)
            due = due_of(one);
    return due == INT64_MAX ? -1 : due <= now ? 0 : (int)((due - now) / 1000 + 1);
}

void streams_end(Page *page) {
    for (Stream *one = page->streams; one; one = one->next) {
        one->over = true;
        resume(one);
    }
}

/* -------- state and light -------- */

size_t stream_event(char *into, size_t size, const char *kind, const char *id, json_t *object) {
    char *text = object ? json_dumps(object, JSON_COMPACT | JSON_REAL_PRECISION(9)) : NULL;
    int used = text ? snprintf(into, size, "event: %s\n%s%s%sdata: %s\n\n", kind, id ? "id: " : "",
                               id ? id : "", id ? "\n" : "", text)
                    : 0;
    json_decref(object);
    free(text);
    return used > 0 && (size_t)used < size ? (size_t)used : 0;
}

static size_t event_light(Page *page, int lamp, char *into, size_t size) {
    const PageLight *light = page->lights[lamp];
    char *text = base64_text(light->rgb, light->length);
    size_t used =
        stream_event(into, size, "light", NULL,
                     text ? json_pack("{s:s, s:s}", "lamp", page_lamp_name(page_score(page), lamp),
                                      "light", text)
                          : NULL);
    memory_release(text);
    return used;
}

static long make_events(void *own, Page *page, int64_t now, char *into, size_t size, int64_t *due) {
    Events *events = own;
    size_t used = 0;
    if (events->version != page->version && page->state_text) {
        int length = snprintf(into, size, "event: state\nid: %llu\ndata: %s\n\n",
                              (unsigned long long)page->version, page->state_text);
        used = length > 0 && (size_t)length < size ? (size_t)length : 0;
        if (used) /* else there was no memory for it: later */
            events->version = page->version;
    }
    for (int lamp = 0; lamp < PAGE_LAMPS; lamp++) {
        if (!events->wants[lamp] || !page->lights[lamp] ||
            page->lights[lamp]->version == events->light[lamp])
            continue;
        if (events->next[lamp] > now) {
            *due = events->next[lamp] < *due ? events->next[lamp] : *due;
            continue;
        }
        size_t more = event_light(page, lamp, into + used, size - used);
        if (more == 0) { /* after what is there already */
            *due = now;
            break;
        }
        used += more;
        events->light[lamp] = page->lights[lamp]->version;
        events->next[lamp] += SECOND / events->rate;
        if (events->next[lamp] <= now)
            events->next[lamp] = now + SECOND / events->rate;
    }
    return (long)used;
}

/* `lantern,window` or `*`; names that are none are passed over, since a file may change. */
static void read_wants(const Score *score, const char *text, Events *events) {
    int count = score && score->lamp_count ? (int)score->lamp_count : 1;
    bool all = text && strcmp(text, "*") == 0;
    while (text && *text) {
        char name[PAGE_NAME];
        size_t length = strcspn(text, ",");
        snprintf(name, sizeof name, "%.*s", (int)length, text);
        int lamp = all ? -1 : page_lamp(score, name);
        if (lamp >= 0 && lamp < PAGE_LAMPS)
            events->wants[lamp] = true;
        text += length + (text[length] == ',');
    }
    for (int i = 0; all && i < count && i < PAGE_LAMPS; i++)
        events->wants[i] = true;
}

/* Another home has other lamps: what is wanted of it is read anew, and no light of the one before
 * is told as its own. */
static void take_home(Page *page, const Score *score) {
    for (Stream *one = page->streams; one; one = one->next) {
        Events *events = one->make == make_events ? one->own : NULL;
        if (!events)
            continue;
        *events = (Events){.version = events->version, .rate = events->rate};
        read_wants(score, request_query(one->request, "light"), events);
    }
    for (int i = 0; i < PAGE_LAMPS; i++) {
        memory_release(page->lights[i]);
        page->lights[i] = NULL;
    }
}

void streams_watch(Page *page) {
    const Score *score = page_score(page);
    int rates[PAGE_LAMPS] = {0};
    bool same = page->watched == page->score_taken;
    if (!same)
        take_home(page, score);
    page->watched = page->score_taken;
    for (Stream *one = page->streams; one; one = one->next) {
        const Events *events = one->make == make_events ? one->own : NULL;
        for (int i = 0; events && i < PAGE_LAMPS; i++)
            if (events->wants[i] && events->rate > rates[i])
                rates[i] = events->rate;
    }
    for (int i = 0; i < PAGE_LAMPS; i++)
        same = same && rates[i] == page->rates[i];
    if (same || !page->link)
        return;
    link_ask(page->link, "watch nothing", NULL, NULL);
    link_ask(page->link, "watch state", NULL, NULL);
    for (int i = 0; i < PAGE_LAMPS; i++) {
        char line[256];
        const char *name = page_lamp_name(score, i);
        page->rates[i] = rates[i];
        if (rates[i] == 0)
            continue;
        snprintf(line, sizeof line, "watch light%s%.128s at %d", *name ? " on lamp " : "", name,
                 rates[i]);
        link_ask(page->link, line, NULL, NULL);
    }
}

void stream_events(HttpRequest *request) {
    double rate;
    if (!request_number(request, "rate", 1, STREAM_RATE, STREAM_USUAL, &rate))
        return;
    Events *events = memory_allocate(1, sizeof *events);
    if (!events) {
        reply_no_memory(request);
        return;
    }
    events->rate = (int)rate;
    read_wants(page_score(request->page), request_query(request, "light"), events);
    if (stream_begin(request, make_events, NULL, events))
        streams_watch(request->page);
}
