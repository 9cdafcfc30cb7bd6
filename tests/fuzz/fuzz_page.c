/* Any bytes as requests to the lamp's page (libFuzzer), through its own server. Up to four of them,
 * 0x1e between two. A first byte says who asks, whether the player does what it is asked, and how
 * the rest is sent: "GET /v1/week?days=3", then the body on the lines below; or, where that is not
 * what it looks like, the bytes as they are. `$D` becomes the draft that was made last.
 *
 * Each that is a request is answered by a status that is meant, and in JSON where it says so; the
 * player hears whole lines of what it is to be asked and nothing else: nothing from who may
 * nothing, no acts from who may look. See slow_fuzz.sh. */
#include <errno.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include "runtime/core/memory.h"
#include "runtime/library/reader.h"
#include "runtime/service/link/keep.h"
#include "runtime/service/link/said.h"
#include "runtime/service/page/access.h"
#include "runtime/service/page/acts.h"
#include "runtime/service/page/drafts.h"
#include "runtime/service/page/server.h"
#include "runtime/service/page/stream.h"
#include "tests/fuzz/must.h"

enum {
    PAGE_REQUESTS = 4,
    PAGE_HEARD = 4 << 20,
    PAGE_TURNS = 4000,
    PAGE_IDLE = 12, /* turns without a byte: a stream that waits */
    /* Bits of the first byte. */
    ASKS_OWNER = 1,
    ASKS_GUEST = 2,
    ASKS_LOOKING = 4, /* --guests */
    PLAYER_REFUSES = 8
};

static const char PAGE_HOME[] =
    "place 51.45, -2.59 zone \"Europe/London\"\n"
    "lamp lantern { pixels 16 shape ring } lamp shelf { pixels 60 part left 0..29 }\n"
    "dial rest = 2% from 0.5% to 10% \"How bright\" dial tone = gold event bell\n"
    "routine daybreak lasts 30min { paint black -> 2700K throughout }\n"
    "routine hues { paint oklch(75%, 0.12, angle + t / 40s * 1turn) * 70% }\n"
    "routine glow { paint tone * rest }\n"
    "by 03:10 on tue..sat play daybreak at 04:00 play glow when bell play hues for 10s\n"
    "until clock is set play glow\n";

typedef struct Asked {
    Page page;
    Server *server;
    struct sockaddr_un address;
    socklen_t address_length;
    int player; /* its end */
    unsigned who;
    char line[2048]; /* of what the player hears, not whole yet */
    size_t line_used;
    bool reloaded;
    char token[ACCESS_TOKEN], draft[64];
} Asked;

static char page_folder[64], page_home[96], page_state[96];
static char page_heard[PAGE_HEARD];

/* Instead of the one that writes to the log. */
void said(int gravity, const char *format, ...) {
    char sentence[2048];
    va_list arguments;
    (void)gravity;
    va_start(arguments, format);
    MUST(vsnprintf(sentence, sizeof sentence, format, arguments) > 0);
    va_end(arguments);
}

/* -------- the home -------- */

static void page_write(const char *path, const char *text) {
    FILE *file = fopen(path, "w");
    MUST(file && fputs(text, file) >= 0 && fclose(file) == 0);
}

static void page_remove(void) {
    static const char *const NAMES[] = {"home/home.gloam",
                                        "home/.trial.gloam",
                                        "kept/.code.gloam",
                                        "kept/state.json.accepted",
                                        "home",
                                        "kept",
                                        ""};
    for (size_t i = 0; i < sizeof NAMES / sizeof *NAMES; i++) {
        char path[160];
        snprintf(path, sizeof path, "%s/%s", page_folder, NAMES[i]);
        if (unlink(path) != 0)
            rmdir(path);
    }
}

static void page_start(void) {
    char path[128];
    DiskReader disk;
    Score *score;
    int error;
    snprintf(page_folder, sizeof page_folder, "%s/gloam-fuzz-XXXXXX",
             access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp");
    MUST(mkdtemp(page_folder));
    atexit(page_remove);
    snprintf(path, sizeof path, "%s/home", page_folder);
    MUST(mkdir(path, 0700) == 0);
    snprintf(path, sizeof path, "%s/kept", page_folder);
    MUST(mkdir(path, 0700) == 0);
    snprintf(page_home, sizeof page_home, "%s/home/home.gloam", page_folder);
    snprintf(page_state, sizeof page_state, "%s/kept/state.json", page_folder);
    page_write(page_home, PAGE_HOME);
    snprintf(path, sizeof path, "%s.accepted", page_state);
    disk_reader_start(&disk);
    ScoreRequest request = {
        .path = page_home, .variable = "Europe/London", .folders = &zone_folders_system};
    MUST(score_read(&disk.reader, &request, &score) == SCORE_FINE);
    MUST(readings_save(&score->readings, &state_disk, path, &error));
    score_free(score);
    disk_reader_end(&disk);
}

/* -------- the player -------- */

static bool line_begins(const char *line, const char *word) {
    size_t length = strlen(word);
    return strncmp(line, word, length) == 0 && (line[length] == ' ' || line[length] == '\0');
}

/* `ROUTINE [on lamp NAME] for DURATION`, and no word more. */
static bool line_tries(const char *words) {
    int count = 0;
    for (unsigned char before = ' '; *words; before = (unsigned char)*words++)
        count += before <= ' ' && (unsigned char)*words > ' ';
    return count == 3 || count == 6;
}

/* What it may be asked, by whom. */
static void page_line(Asked *asked, const char *line) {
    static const char *const ACTS[] = {"play", "level",  "skip",  "more", "earlier",
                                       "set",  "report", "clear", "undo", "reload"};
    char trial[128], code[128], answer[256];
    bool looks = asked->who & (ASKS_OWNER | ASKS_GUEST | ASKS_LOOKING);
    const char *act = line + strspn(line, " ");
    bool fine = strcmp(line, "watch state") == 0;
    snprintf(trial, sizeof trial, "try %s/home/.trial.gloam play ", page_folder);
    snprintf(code, sizeof code, "try %s/kept/.code.gloam play code for ", page_folder);
    for (size_t i = 0; i < sizeof ACTS / sizeof *ACTS; i++)
        fine = fine || ((asked->who & ASKS_OWNER) && line_begins(act, ACTS[i]));
    if (asked->who & ASKS_OWNER)
        fine = fine ||
               (strncmp(line, trial, strlen(trial)) == 0 && line_tries(line + strlen(trial))) ||
               strcmp(line, "try end") == 0;
    if (looks)
        fine = fine || strcmp(line, "status") == 0 || strcmp(line, "status json") == 0 ||
               line_begins(line, "watch light") || strcmp(line, "watch nothing") == 0;
    fine = fine || strncmp(line, code, strlen(code)) == 0; /* whoever wants to be paired */
    if (!fine)
        fprintf(stderr, "who may %u: `%s`\n", asked->who, line);
    MUST(fine);
    asked->reloaded = asked->reloaded || strcmp(line, "reload") == 0;
    const char *text = strcmp(line, "status json") == 0 ? "{\"lamps\":[]}" : "it is so";
    snprintf(answer, sizeof answer, "%s %zu\n%s", asked->who & PLAYER_REFUSES ? "refused" : "done",
             strlen(text), text);
    MUST(send(asked->player, answer, strlen(answer), MSG_NOSIGNAL) == (ssize_t)strlen(answer));
}

static void page_player(Asked *asked) {
    char bytes[4096];
    ssize_t got;
    while ((got = recv(asked->player, bytes, sizeof bytes, MSG_DONTWAIT)) > 0)
        for (ssize_t i = 0; i < got; i++) {
            MUST(bytes[i] != '\0' && bytes[i] != '\r');
            if (bytes[i] != '\n') {
                MUST(asked->line_used < 1022); /* what a line has at most, spec/protocol.md */
                asked->line[asked->line_used++] = bytes[i];
                continue;
            }
            asked->line[asked->line_used] = '\0';
            asked->line_used = 0;
            page_line(asked, asked->line);
        }
    link_ready(asked->page.link);
}

/* -------- life -------- */

static void page_tell(void *context, const char *json, size_t length) {
    Asked *asked = context;
    asked->page.state_text = memory_copy_text(json, length);
    asked->page.told = json_loadb(json, length, 0, NULL);
    MUST(asked->page.state_text && asked->page.told);
    asked->page.version = asked->page.taken = 1;
}

static void page_light(void *context, uint32_t lamp, const uint8_t *rgb, size_t length) {
    (void)context;
    (void)lamp;
    (void)rgb;
    (void)length;
}

static int page_listen(Asked *asked) {
    int listening = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    asked->address = (struct sockaddr_un){.sun_family = AF_UNIX};
    asked->address_length = sizeof asked->address;
    /* A name by lot, of the kernel. */
    MUST(bind(listening, (struct sockaddr *)&asked->address, sizeof(sa_family_t)) == 0 &&
         listen(listening, 8) == 0 &&
         getsockname(listening, (struct sockaddr *)&asked->address, &asked->address_length) == 0);
    return listening;
}

/* Who asks has a session as owner or as guest, or none. */
static void page_pair(Asked *asked) {
    char code[ACCESS_CODE];
    const Session *session;
    Role role = asked->who & ASKS_OWNER ? ROLE_OWNER : ROLE_GUEST;
    if (!(asked->who & (ASKS_OWNER | ASKS_GUEST)))
        return;
    MUST(access_invite(asked->page.access, role, page_utc(), code));
    MUST(access_begin(asked->page.access, code, "fuzz", page_utc(), 0, asked->token, &session) ==
         ACCESS_GRANTED);
}

static void page_open(Asked *asked, unsigned who) {
    static const LinkEvents events = {page_tell, page_light};
    static const char state[] = "state 12\n{\"taken\":1}\n";
    char why[256];
    int ends[2];
    *asked = (Asked){.who = who};
    MUST(socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends) == 0);
    asked->player = ends[0];
    asked->page = (Page){.home = page_home,
                         .state = page_state,
                         .guests = who & ASKS_LOOKING,
                         .host = "lantern",
                         .port = 80};
    asked->page.link = link_open(ends[1], &events, asked);
    asked->page.access = access_create(&state_disk, NULL, why, sizeof why);
    asked->page.drafts = drafts_create();
    asked->page.acts = acts_create();
    asked->server = server_open(&asked->page, page_listen(asked), why, sizeof why);
    MUST(asked->page.link && asked->page.access && asked->page.drafts && asked->page.acts &&
         asked->server);
    MUST(send(asked->player, state, sizeof state - 1, MSG_NOSIGNAL) == sizeof state - 1);
    link_ready(asked->page.link);
    MUST(asked->page.told);
    page_pair(asked);
}

static void page_close(Asked *asked) {
    Page *page = &asked->page;
    page_player(asked);
    link_lose(page->link);
    streams_end(page);
    server_run(asked->server);
    server_close(asked->server);
    MUST(!page->streams);
    drafts_free(page);
    access_free(page->access);
    acts_free(page->acts);
    score_free(page->score);
    json_decref(page->told);
    memory_release(page->state_text);
    link_close(page->link);
    close(asked->player);
    if (asked->reloaded)
        page_write(page_home, PAGE_HOME);
}

/* -------- a request -------- */

/* The first draft of an answer. */
static void page_keep_draft(Asked *asked) {
    static const char name[] = "\"draft\":\"";
    const char *found = strstr(page_heard, name);
    if (found)
        snprintf(asked->draft, sizeof asked->draft, "%.*s",
                 (int)strcspn(found + sizeof name - 1, "\""), found + sizeof name - 1);
}

/* Sends, lets all do what they do, and returns what was heard until it ends or rests. */
static size_t page_talk(Asked *asked, const char *bytes, size_t length) {
    int client = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0);
    size_t sent = 0, heard = 0;
    MUST(connect(client, (struct sockaddr *)&asked->address, asked->address_length) == 0);
    for (int turn = 0, idle = 0; turn < PAGE_TURNS && idle < PAGE_IDLE; turn++, idle++) {
        ssize_t now = sent < length
                          ? send(client, bytes + sent, length - sent, MSG_DONTWAIT | MSG_NOSIGNAL)
                          : 0;
        if (now > 0) {
            sent += (size_t)now;
            idle = 0;
        }
        server_run(asked->server);
        page_player(asked);
        ssize_t got = recv(client, page_heard + heard, sizeof page_heard - 1 - heard, MSG_DONTWAIT);
        if (got == 0 || (got < 0 && errno != EAGAIN))
            break;
        if (got > 0) {
            heard += (size_t)got;
            idle = 0;
        }
        MUST(heard < sizeof page_heard - 1);
    }
    close(client);
    for (int i = 0; i < 3; i++)
        server_run(asked->server);
    page_player(asked);
    page_heard[heard] = '\0';
    return heard;
}

static bool page_header(const char *line) {
    const char *head = strstr(page_heard, line), *end = strstr(page_heard, "\r\n\r\n");
    return head && end && head < end;
}

/* An answer that is meant. */
static void page_look(size_t heard) {
    static const int MEANT[] = {200, 201, 202, 304, 400, 401, 403, 404, 405, 409,
                                411, 413, 414, 415, 421, 422, 429, 431, 503};
    int status = 0;
    bool meant = false, problem = page_header("Content-Type: application/problem+json");
    MUST(sscanf(page_heard, "HTTP/1.1 %d ", &status) == 1);
    for (size_t i = 0; i < sizeof MEANT / sizeof *MEANT; i++)
        meant = meant || status == MEANT[i];
    MUST(meant);
    const char *body = strstr(page_heard, "\r\n\r\n");
    MUST(body);
    if (!problem && !page_header("Content-Type: application/json"))
        return;
    body += 4;
    MUST(page_header("Content-Security-Policy: default-src 'none'; "));
    if (body == page_heard + heard) /* of HEAD */
        return;
    json_error_t error;
    json_t *value = json_loadb(body, heard - (size_t)(body - page_heard), 0, &error);
    MUST(json_is_object(value));
    MUST(problem == (status >= 400));
    MUST(!problem || json_integer_value(json_object_get(value, "status")) == status);
    MUST(!problem || *json_string_value(json_object_get(value, "code")));
    json_decref(value);
}

typedef struct Bytes {
    char bytes[16384];
    size_t used;
} Bytes;

static void put(Bytes *into, const char *bytes, size_t length) {
    if (length > sizeof into->bytes - into->used)
        length = sizeof into->bytes - into->used;
    memcpy(into->bytes + into->used, bytes, length);
    into->used += length;
}

/* With `$D`. */
static void put_text(const Asked *asked, Bytes *into, const char *text, size_t length) {
    for (size_t i = 0; i < length; i++)
        if (text[i] == '$' && i + 1 < length && text[i + 1] == 'D') {
            put(into, asked->draft, strlen(asked->draft));
            i++;
        } else {
            put(into, text + i, 1);
        }
}

/* METHOD and target, both of what may stand there. 0: it is no such thing; else the bytes of the
 * line. */
static size_t page_first_line(const char *text, size_t length) {
    static const char *const METHODS[] = {"GET /", "HEAD /", "POST /", "PUT /", "DELETE /"};
    const char *end = memchr(text, '\n', length);
    size_t line = end ? (size_t)(end - text) : length, method = 0;
    for (size_t i = 0; i < sizeof METHODS / sizeof *METHODS; i++)
        if (line >= strlen(METHODS[i]) && strncmp(text, METHODS[i], strlen(METHODS[i])) == 0)
            method = strlen(METHODS[i]);
    for (size_t i = method; method && i < line; i++)
        if ((unsigned char)text[i] <= ' ' || text[i] == 127)
            return 0;
    return method ? line : 0;
}

static void page_request(Asked *asked, const char *text, size_t length) {
    static Bytes request, body;
    size_t line = page_first_line(text, length);
    if (line == 0) {
        page_talk(asked, text, length);
        return;
    }
    char head[256];
    bool has_body = *text == 'P';
    request.used = body.used = 0;
    if (line + 1 < length)
        put_text(asked, &body, text + line + 1, length - line - 1);
    put_text(asked, &request, text, line);
    int used =
        snprintf(head, sizeof head, " HTTP/1.1\r\nHost: lantern.local\r\nConnection: close\r\n");
    if (*asked->token)
        used += snprintf(head + used, sizeof head - (size_t)used, "Authorization: Bearer %s\r\n",
                         asked->token);
    if (has_body)
        used += snprintf(head + used, sizeof head - (size_t)used,
                         "Content-Type: application/json\r\nContent-Length: %zu\r\n", body.used);
    used += snprintf(head + used, sizeof head - (size_t)used, "\r\n");
    put(&request, head, (size_t)used);
    if (has_body)
        put(&request, body.bytes, body.used);
    if (request.used == sizeof request.bytes) /* it is cut */
        return;
    page_look(page_talk(asked, request.bytes, request.used));
    page_keep_draft(asked);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static Asked asked;
    if (!*page_folder)
        page_start();
    if (size == 0)
        return 0;
    unsigned long before = memory_live();
    page_open(&asked, data[0] & 15);
    const char *text = (const char *)data + 1, *end = (const char *)data + size;
    for (int i = 0; i < PAGE_REQUESTS && text < end; i++) {
        const char *next = memchr(text, 0x1e, (size_t)(end - text));
        page_request(&asked, text, (size_t)((next ? next : end) - text));
        text = next ? next + 1 : end;
    }
    page_close(&asked);
    MUST(memory_live() == before);
    return 0;
}
