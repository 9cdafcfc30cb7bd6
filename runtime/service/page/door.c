#include "runtime/service/page/door.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "runtime/core/memory.h"
#include "runtime/service/link/said.h"
#include "runtime/service/page/access.h"

/* -------- the code as light -------- */

/* Seconds: of a digit, of the dark after it, of the dark at the end; of one pulse. One light on and
 * off in two seconds is far below three flashes in one. */
static const double LIT = 1.8, DARK = 0.7, PAUSE = 2.5, PULSE = 1.2;
enum { CODE_TEXT = 16384, FEW = 9, TIMES = 2, USUAL = 16 /* pixels, where none are told */ };

typedef struct Writer {
    char *text;
    size_t used;
} Writer;

#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
static void
put(Writer *writer, const char *format, ...) {
    va_list arguments;
    va_start(arguments, format);
    int more = vsnprintf(writer->text + writer->used, CODE_TEXT - writer->used, format, arguments);
    va_end(arguments);
    writer->used += more > 0 && writer->used + (size_t)more < CODE_TEXT ? (size_t)more : 0;
}

/* From black to light and back within a stretch of time, on the first `count` pixels. */
static void put_glow(Writer *writer, double from, double length, int count) {
    put(writer,
        "    paint #ff8a2a * 30%% * clamp(0, min((t - %gs) / 300ms, (%gs - t) / 300ms), 1) "
        "blended plus-lighter",
        from, from + length);
    if (count > 0)
        put(writer, " where pixel < %d", count);
    put(writer, "\n");
}

char *door_light(const char *code, uint32_t pixels, double *seconds) {
    Writer writer = {memory_allocate(CODE_TEXT, 1), 0};
    double at = 1;
    if (!writer.text)
        return NULL;
    put(&writer, "routine code {\n    paint black\n");
    for (int time = 0; time < TIMES; time++) {
        for (const char *digit = code; *digit; digit++) {
            int number = *digit - '0';
            if (pixels >= FEW) {
                put_glow(&writer, at, LIT, number);
                at += LIT + DARK;
                continue;
            }
            for (int i = 0; i < number; i++, at += PULSE)
                put_glow(&writer, at, PULSE * 0.75, 0);
            at += PAUSE;
        }
        at += PAUSE;
        if (2 * at > ACCESS_LASTS)
            break; /* the second time would tell of a code that is good no more */
    }
    put(&writer, "}\n");
    *seconds = at;
    return writer.text;
}

/* -------- who -------- */

static json_t *session_object(const HttpRequest *request, const Session *session) {
    return json_pack("{s:s, s:s%, s:s, s:o, s:o, s:b}", "id", session->id, "name", session->name,
                     strlen(session->name), "role", session->role == ROLE_OWNER ? "owner" : "guest",
                     "began", page_instant(session->began), "seen", page_instant(session->seen),
                     "mine", strcmp(session->id, request->session) == 0);
}

void door_me(HttpRequest *request) {
    const Page *page = request->page;
    json_t *role = request->role == ROLE_OWNER   ? json_string("owner")
                   : request->role == ROLE_GUEST ? json_string("guest")
                                                 : json_null();
    reply_json(request, 200,
               json_pack("{s:o, s:s, s:b, s:s, s:s?}", "role", role, "pairing",
                         page->open ? "none" : "code", "guests", (int)page->guests, "lamp",
                         page->host, "session", *request->session ? request->session : NULL));
}

static void light_answered(void *token, bool done, const char *text, size_t length) {
    Page *page = token;
    char path[PAGE_PATH];
    (void)length;
    page->showing = false;
    if (page_code(page, path))
        unlink(path); /* the player has read it */
    if (!done)
        said(SAID_WARNING, "the code is not shown in the light: %s", text);
}

/* The first lamp that the player drives, "" where it has no name; NULL: not known. */
static const char *first_driven(const Page *page) {
    const json_t *lamps = json_object_get(json_object_get(page->told, "player"), "lamps");
    return json_string_value(json_object_get(json_array_get(lamps, 0), "lamp"));
}

/* In the light of the first lamp and of no other, since another may hang where strangers pass;
 * where that fails, the log has it. */
static void show_light(Page *page, const char *code) {
    const Score *score = page_score(page);
    const char *lamp = first_driven(page);
    char path[PAGE_PATH], line[PAGE_PATH + PAGE_NAME + 64];
    double seconds = 0;
    int error, place = lamp && *lamp ? page_lamp(score, lamp) : -1;
    uint32_t pixels = score && place >= 0 ? score->lamps[place].pixels : USUAL;
    char *text = lamp ? door_light(code, pixels, &seconds) : NULL;
    if (text && page_code(page, path) &&
        state_replace(&state_disk, path, text, strlen(text), &error)) {
        snprintf(line, sizeof line, "try %s play code%s%s for %.0fs", path,
                 *lamp ? " on lamp " : "", lamp, seconds);
        page->showing = link_ask(page->link, line, light_answered, page);
        if (!page->showing)
            unlink(path);
    }
    memory_release(text);
}

/* Who has the code need not see it again. */
static void end_light(const Page *page) {
    const char *routine =
        json_string_value(json_object_get(json_object_get(page->told, "trial"), "routine"));
    if (routine && strcmp(routine, "code") == 0)
        link_ask(page->link, "try end", NULL, NULL);
}

void door_show(HttpRequest *request) {
    Page *page = request->page;
    char code[ACCESS_CODE];
    int wait = 0;
    if (page->open) {
        reply_problem(request, 409, "open", NULL, "this lamp asks nobody for a code");
        return;
    }
    if (page->showing) { /* the file that the player reads is that of the code before */
        request->retry_after = 1;
        reply_problem(request, 503, "busy", NULL, "another code is about to be shown: try again");
        return;
    }
    if (!access_show_code(page->access, page_monotonic() / 1000000, code, &wait)) {
        request->retry_after = wait;
        reply_problem(request, 429, "too-many-codes", NULL,
                      "the lamp has shown many codes: the next in %d min", wait / 60 + 1);
        return;
    }
    said(SAID_NOTICE, "the code for %s is %s, for %d minutes", request->address, code,
         ACCESS_LASTS / 60);
    show_light(page, code);
    reply_json(request, 202,
               json_pack("{s:i, s:o}", "digits", ACCESS_DIGITS, "until",
                         page_instant(page_utc() + ACCESS_LASTS)));
}

void door_begin(HttpRequest *request) {
    Page *page = request->page;
    const char *code, *name;
    char token[ACCESS_TOKEN];
    const Session *session = NULL;
    if (!request_text(request, "code", true, 64, &code) ||
        !request_text(request, "name", false, 240, &name))
        return;
    AccessGiven given = access_begin(page->access, code, name, page_utc(),
                                     page_monotonic() / 1000000, token, &session);
    if (given == ACCESS_TOO_MANY) {
        reply_problem(request, 403, "code-gone", NULL,
                      "that was wrong too often: let the lamp show another code");
        return;
    }
    if (given != ACCESS_GRANTED) {
        reply_problem(request, 403, "wrong-code", NULL, "that is not the code that the lamp shows");
        return;
    }
    if (!access_kept(page->access))
        said(SAID_WARNING, "sessions cannot be kept: they end with this program%s",
             access_waits(page->access) ? ", and a used invitation is good again; it is tried again"
                                        : "");
    said(SAID_NOTICE, "paired: %s, at %s", session->name, request->address);
    end_light(page);
    snprintf(request->session, sizeof request->session, "%s", session->id);
    snprintf(request->cookie, sizeof request->cookie,
             "gloam=%s; Path=/; HttpOnly; SameSite=Strict; Max-Age=31536000", token);
    reply_json(
        request, 201,
        json_pack("{s:o, s:s}", "session", session_object(request, session), "token", token));
}

void door_sessions(HttpRequest *request) {
    const Session *list;
    size_t count = access_sessions(request->page->access, &list);
    json_t *sessions = json_array();
    for (size_t i = 0; i < count; i++)
        if (*list[i].id)
            json_array_append_new(sessions, session_object(request, &list[i]));
    reply_json(request, 200, json_pack("{s:o}", "sessions", sessions));
}

void door_end(HttpRequest *request) {
    const char *id = request->parts[0];
    bool mine = strcmp(id, "mine") == 0 || strcmp(id, request->session) == 0;
    if (!mine && request->role != ROLE_OWNER) {
        reply_problem(request, 403, "guest", NULL, "guests may end their own session only");
        return;
    }
    if (!access_end(request->page->access, mine ? request->session : id)) {
        reply_problem(request, 404, "not-there", NULL, "there is no such session");
        return;
    }
    if (mine)
        snprintf(request->cookie, sizeof request->cookie,
                 "gloam=; Path=/; HttpOnly; SameSite=Strict; Max-Age=0");
    if (access_waits(request->page->access)) {
        said(SAID_WARNING, "the end of a session cannot be kept: it holds until this program "
                           "starts again; it is tried again");
        reply_problem(request, 503, "not-kept", NULL,
                      "the session has ended, but only until the lamp starts again: that cannot be "
                      "written down; make room on its disk");
        return;
    }
    reply_said(request, 200, "the session has ended");
}

void door_invite(HttpRequest *request) {
    const char *role;
    char code[ACCESS_CODE];
    if (!request_text(request, "role", true, 16, &role))
        return;
    bool owner = strcmp(role, "owner") == 0;
    if (!owner && strcmp(role, "guest") != 0) {
        reply_problem(request, 400, "bad-body", NULL, "`role` is owner or guest");
        return;
    }
    if (!access_invite(request->page->access, owner ? ROLE_OWNER : ROLE_GUEST, page_utc(), code)) {
        reply_problem(request, 429, "too-many-invitations", NULL,
                      "there are many invitations already: they end after a day");
        return;
    }
    char spaced[20];
    snprintf(spaced, sizeof spaced, "%.4s %.4s %.4s", code, code + 4, code + 8);
    reply_json(request, 201,
               json_pack("{s:s, s:s, s:o}", "code", spaced, "role", role, "until",
                         page_instant(page_utc() + ACCESS_INVITED)));
}
