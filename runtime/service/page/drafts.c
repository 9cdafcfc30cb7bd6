#include "runtime/service/page/drafts.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/random.h>
#include <unistd.h>

#include "lang/tokens.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/library/safety.h"
#include "runtime/service/link/keep.h"
#include "runtime/service/page/base64.h"
#include "runtime/service/page/content.h"
#include "runtime/service/page/frames.h"
#include "runtime/service/page/stream.h"

static const int64_t SECONDS = 1000000;
/* Nanoseconds that looking closely at a draft may take, roughly: less than for `check`, since
 * whoever else is on the page waits meanwhile. */
static const double THOROUGH_WORK = 5e8;

typedef struct Draft {
    char id[DRAFT_ID]; /* "": free */
    uint64_t came;
    int users; /* streams that show it */
    Score *score;
    char *text;
    size_t length;
} Draft;

struct Drafts {
    uint64_t came;
    bool trying; /* a file is there that the player has not read yet */
    Draft list[DRAFTS];
};

Drafts *drafts_create(void) {
    return memory_allocate(1, sizeof(Drafts));
}

static void draft_clear(Draft *draft) {
    score_free(draft->score);
    memory_release(draft->text);
    *draft = (Draft){0};
}

void drafts_free(Page *page) {
    for (int i = 0; page->drafts && i < DRAFTS; i++)
        draft_clear(&page->drafts->list[i]);
    memory_release(page->drafts);
    page->drafts = NULL;
}

/* NULL: answered. */
static Draft *find(HttpRequest *request, const char *id) {
    for (int i = 0; i < DRAFTS; i++) {
        Draft *draft = &request->page->drafts->list[i];
        if (*draft->id && strcmp(draft->id, id) == 0)
            return draft;
    }
    reply_problem(request, 404, "no-draft", NULL, "that draft is gone: check the text again");
    return NULL;
}

/* -------- tokens -------- */

/* UTF-16 units of a stretch of UTF-8; a byte that is none counts as one. */
static size_t units(const char *text, size_t length) {
    size_t count = 0;
    for (size_t i = 0; i < length; i++) {
        unsigned char c = (unsigned char)text[i];
        count += (c & 0xc0) != 0x80;
        count += c >= 0xf0;
    }
    return count;
}

bool drafts_tokens(const char *text, size_t length, json_t *into) {
    LookToken *list;
    uint32_t count;
    if (!tokens_look(text, length, &list, &count))
        return false;
    json_t *tokens = json_array(), *kinds = json_array();
    size_t at = 0, place = 0;
    for (uint32_t i = 0; i < count; i++) {
        place += units(text + at, list[i].begin - at);
        size_t size = units(text + list[i].begin, list[i].end - list[i].begin);
        json_array_append_new(tokens, json_integer((json_int_t)place));
        json_array_append_new(tokens, json_integer((json_int_t)size));
        json_array_append_new(tokens, json_integer(list[i].look));
        place += size;
        at = list[i].end;
    }
    for (int i = 0; i < LOOK_COUNT; i++)
        json_array_append_new(kinds, json_string(TOKEN_LOOK_WORDS[i]));
    memory_release(list);
    json_object_set_new(into, "tokens", tokens);
    json_object_set_new(into, "kinds", kinds);
    return true;
}

/* -------- made -------- */

static void make_id(char id[DRAFT_ID]) {
    uint8_t lot[8] = {0};
    if (getrandom(lot, sizeof lot, 0) != (ssize_t)sizeof lot)
        memset(lot, 0x5a, sizeof lot);
    for (int i = 0; i < 8; i++)
        snprintf(id + 2 * i, 3, "%02x", lot[i]);
}

/* The oldest that nobody looks at goes, until the new one has room. NULL: there is none. */
static Draft *take_place(Drafts *drafts, size_t length) {
    for (;;) {
        size_t held = length;
        Draft *free_one = NULL, *oldest = NULL;
        for (int i = 0; i < DRAFTS; i++) {
            Draft *draft = &drafts->list[i];
            held += draft->length;
            if (!*draft->id)
                free_one = draft;
            else if (draft->users == 0 && (!oldest || draft->came < oldest->came))
                oldest = draft;
        }
        if (free_one && held <= DRAFT_BYTES)
            return free_one;
        if (!oldest)
            return NULL;
        draft_clear(oldest);
    }
}

/* All that nobody looks at go. */
static void let_go(Drafts *drafts) {
    for (int i = 0; i < DRAFTS; i++)
        if (drafts->list[i].users == 0)
            draft_clear(&drafts->list[i]);
}

/* Takes the score. False: there is no place or no memory. */
static bool hold(Drafts *drafts, Score *score, const char *text, size_t length, char id[DRAFT_ID]) {
    Draft *draft = take_place(drafts, length);
    char *copy = draft ? memory_copy_text(text, length) : NULL;
    if (!copy)
        return false;
    *draft = (Draft){.came = ++drafts->came, .score = score, .text = copy, .length = length};
    make_id(draft->id);
    memcpy(id, draft->id, DRAFT_ID);
    return true;
}

/* Flashes and nights, as `check` looks for them, but for less long. False: out of memory. */
static bool look_closely(Score *score, bool *cut) {
    Safety safety;
    bool fine =
        safety_look_within(score->compilation, page_utc() * SECONDS, THOROUGH_WORK, &safety);
    *cut = safety.cut;
    safety_free(&safety);
    return fine;
}

static json_t *describe(Score *score, const char *text, size_t length) {
    json_t *object = json_object();
    json_object_set_new(object, "diagnostics",
                        score->compilation ? content_diagnostics(score->compilation)
                                           : json_array());
    if (score->program) {
        json_object_set_new(object, "routines", content_routines(score));
        json_object_set_new(object, "lamps", content_lamps(score));
    }
    if (!drafts_tokens(text, length, object)) {
        json_decref(object);
        return NULL;
    }
    return object;
}

/* What is said of the text; NULL: out of memory. *score as of keep_compile. */
static json_t *check(const Page *page, const char *text, size_t length, bool thorough,
                     Score **score) {
    ScoreStatus status = keep_compile(page->home, text, length, score);
    bool cut = false;
    if (status == SCORE_NO_MEMORY || !*score ||
        (thorough && status == SCORE_FINE && !look_closely(*score, &cut)))
        return NULL;
    json_t *object = describe(*score, text, length);
    if (thorough && status == SCORE_FINE)
        json_object_set_new(object, "cut", json_boolean(cut));
    return object;
}

void drafts_make(HttpRequest *request) {
    Page *page = request->page;
    const char *text;
    char id[DRAFT_ID];
    Score *score = NULL;
    if (!request_text(request, "text", true, LIMIT_SOURCE_BYTES, &text))
        return;
    size_t length = strlen(text);
    bool thorough = json_is_true(json_object_get(request->body, "thorough"));
    json_t *object = check(page, text, length, thorough, &score);
    if (!object) { /* the drafts that are held may be what takes the memory */
        score_free(score);
        let_go(page->drafts);
        object = check(page, text, length, thorough, &score);
    }
    if (object && score->program && hold(page->drafts, score, text, length, id)) {
        json_object_set_new(object, "draft", json_string(id));
        score = NULL;
    }
    score_free(score);
    reply_json(request, 200, object);
}

/* -------- looked at -------- */

void drafts_light(HttpRequest *request) {
    const Draft *draft = find(request, request->parts[0]);
    const char *routine = request_query(request, "routine");
    if (draft && !routine)
        reply_problem(request, 400, "bad-query", NULL, "`routine` says which");
    else if (draft)
        content_frames(request, draft->score, routine);
}

typedef struct Show {
    Draft *draft;
    Frames *frames;
    char lamp[PAGE_NAME];
    double start, speed, lasts; /* seconds; lasts 0: goes on */
    int64_t pace;               /* microseconds from one frame to the next, at the least */
    int64_t began, next;
    uint8_t *rgb;
    bool over;
} Show;

static void show_end(void *own) {
    Show *show = own;
    frames_free(show->frames);
    memory_release(show->rgb);
    if (show->draft)
        show->draft->users--;
}

static long show_make(void *own, Page *page, int64_t now, char *into, size_t size, int64_t *due) {
    Show *show = own;
    (void)page;
    if (show->over)
        return -1;
    if (now < show->next) {
        *due = show->next;
        return 0;
    }
    show->began = show->began ? show->began : now;
    show->next = now + show->pace;
    double at = show->start + (double)(now - show->began) / 1e6 * show->speed;
    if (show->lasts > 0 && at >= show->lasts) {
        at = show->lasts;
        show->over = true;
    }
    frames_at(show->frames, (int64_t)(at * 1e6), now - show->began, show->rgb);
    char *text = base64_text(show->rgb, 3 * (size_t)frames_pixels(show->frames));
    size_t used = stream_event(
        into, size, "light", NULL,
        text ? json_pack("{s:s, s:f, s:s}", "lamp", show->lamp, "at", at, "light", text) : NULL);
    memory_release(text);
    return used ? (long)used : -1;
}

static bool show_open(HttpRequest *request, Draft *draft, Show *show, uint16_t routine, int lamp) {
    show->frames =
        frames_open(draft->score, lamp, routine, request->page->told, page_utc() * SECONDS);
    if (!show->frames)
        return false;
    show->rgb = memory_allocate(frames_pixels(show->frames), 3);
    show->lasts = frames_lasts(show->frames);
    /* At most a quarter of the time goes into frames of one stream. */
    show->pace = (int64_t)(frames_cost(draft->score, lamp, routine) * 4 / 1e3);
    if (show->pace < SECONDS / STREAM_USUAL)
        show->pace = SECONDS / STREAM_USUAL;
    snprintf(show->lamp, sizeof show->lamp, "%s", page_lamp_name(draft->score, lamp));
    show->draft = draft;
    draft->users++;
    return show->rgb != NULL;
}

void drafts_events(HttpRequest *request) {
    Draft *draft = find(request, request->parts[0]);
    const char *name = request_query(request, "routine");
    double start, speed;
    int lamp;
    if (!draft || !content_lamp(request, draft->score, &lamp) ||
        !request_number(request, "start", 0, 86400, 0, &start) ||
        !request_number(request, "speed", 0.1, 3600, 1, &speed))
        return;
    uint16_t routine = frames_routine(draft->score, name);
    if (routine == ROUTINE_NONE) {
        reply_problem(request, 404, "no-routine", NULL, "there is no routine `%.100s`",
                      name ? name : "");
        return;
    }
    if (!content_afford(request, draft->score, lamp, routine, 1))
        return;
    Show *show = memory_allocate(1, sizeof *show);
    if (show) {
        show->start = start;
        show->speed = speed;
    }
    if (show && show_open(request, draft, show, routine, lamp)) {
        stream_begin(request, show_make, show_end, show);
        return;
    }
    if (show)
        show_end(show);
    memory_release(show);
    reply_no_memory(request);
}

/* -------- tried -------- */

static void try_answered(void *token, bool done, const char *text, size_t length) {
    HttpRequest *request = token;
    char path[PAGE_PATH];
    (void)length;
    request->page->drafts->trying = false;
    if (page_trial(request->page, path))
        unlink(path);
    reply_answer(request, done, text);
    request_ready(request);
}

/* A word of a line of the protocol: nothing that ends it. */
static bool is_word(const char *text) {
    const char *end = text;
    while ((unsigned char)*end > ' ')
        end++;
    return end > text && !*end;
}

void drafts_try(HttpRequest *request) {
    const char *id, *routine, *lamp, *length;
    char path[PAGE_PATH], line[PAGE_PATH + 512];
    int error = ENAMETOOLONG;
    if (!request_text(request, "draft", true, DRAFT_ID - 1, &id) ||
        !request_text(request, "routine", true, 120, &routine) ||
        !request_text(request, "lamp", false, 120, &lamp) ||
        !request_text(request, "for", false, 32, &length))
        return;
    const Draft *draft = find(request, id);
    if (!draft)
        return;
    if (!is_word(routine) || (lamp && *lamp && !is_word(lamp)) || (length && !is_word(length))) {
        reply_problem(request, 400, "bad-body", NULL, "`routine`, `lamp` and `for` are one word");
        return;
    }
    if (request->page->drafts->trying) {
        request->retry_after = 1;
        reply_problem(request, 503, "busy", NULL, "another trial is about to begin");
        return;
    }
    if (!page_trial(request->page, path) ||
        !state_replace(keep_disk(), path, draft->text, draft->length, &error)) {
        reply_problem(request, 503, "no-room", NULL, "the draft cannot be written: %s",
                      strerror(error));
        return;
    }
    snprintf(line, sizeof line, "try %s play %s%s%s for %s", path, routine,
             lamp && *lamp ? " on lamp " : "", lamp && *lamp ? lamp : "", length ? length : "1min");
    request->page->drafts->trying = link_ask(request->page->link, line, try_answered, request);
    if (request->page->drafts->trying) {
        request_later(request);
        return;
    }
    unlink(path);
    reply_no_player(request);
}

static void end_answered(void *token, bool done, const char *text, size_t length) {
    HttpRequest *request = token;
    (void)length;
    reply_answer(request, done, text);
    request_ready(request);
}

void drafts_try_end(HttpRequest *request) {
    if (link_ask(request->page->link, "try end", end_answered, request))
        request_later(request);
    else
        reply_no_player(request);
}
