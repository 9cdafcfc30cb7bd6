#include "runtime/service/page/text.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/library/versions.h"
#include "runtime/service/link/keep.h"
#include "runtime/service/link/said.h"
#include "runtime/service/page/content.h"

static const char *home_name(const Page *page) {
    const char *slash = strrchr(page->home, '/');
    return slash ? slash + 1 : page->home;
}

/* Takes the text. What is no UTF-8 cannot be sent. */
static void reply_text(HttpRequest *request, char *text, size_t length) {
    char hash[KEEP_HASH];
    keep_hash(text, length, hash);
    json_t *object = json_pack("{s:s%, s:s, s:s}", "text", text, length, "hash", hash, "file",
                               home_name(request->page));
    memory_release(text);
    if (object)
        reply_json(request, 200, object);
    else
        reply_problem(request, 422, "not-text", NULL, "the file on the lamp is not UTF-8");
}

void text_get(HttpRequest *request) {
    char *text, words[KEEP_SENTENCE];
    size_t length;
    if (keep_read(request->page->home, &text, &length, words))
        reply_text(request, text, length);
    else
        reply_problem(request, 503, "no-file", NULL, "%s", words);
}

/* -------- versions -------- */

/* False: nothing is kept, or the name is too long. */
static bool versions_folder(const Page *page, char folder[PAGE_PATH]) {
    int used = page->state ? snprintf(folder, PAGE_PATH, "%s.versions", page->state) : -1;
    return used > 0 && used < PAGE_PATH;
}

void text_versions(HttpRequest *request) {
    char folder[PAGE_PATH];
    Version list[VERSIONS_KEPT];
    json_t *versions = json_array();
    size_t count = versions_folder(request->page, folder) ? versions_list(folder, list) : 0;
    for (size_t i = 0; i < count; i++)
        json_array_append_new(versions, json_pack("{s:i, s:o, s:I}", "number", (int)list[i].number,
                                                  "kept", page_instant(list[i].kept), "bytes",
                                                  (json_int_t)list[i].bytes));
    reply_json(request, 200, json_pack("{s:o}", "versions", versions));
}

void text_version(HttpRequest *request) {
    char folder[PAGE_PATH], *text, *end;
    size_t length;
    unsigned long number = strtoul(request->parts[0], &end, 10);
    if (*end || number > 999999 || !versions_folder(request->page, folder) ||
        !versions_read(folder, (uint32_t)number, &text, &length))
        reply_problem(request, 404, "no-version", NULL, "that version is not there");
    else
        reply_text(request, text, length);
}

/* -------- kept -------- */

/* What waits for the player. */
typedef struct Keeping {
    HttpRequest *request;
    KeepRequest keep;
    Kept kept;
    char *text;
} Keeping;

static void keeping_free(Keeping *keeping) {
    keep_end(&keeping->kept);
    memory_release(keeping->text);
    memory_release(keeping);
}

static json_t *diagnostics_of(const Kept *kept) {
    return kept->score && kept->score->compilation ? content_diagnostics(kept->score->compilation)
                                                   : json_array();
}

/* The player has read it, or not. */
static void reload_answered(void *token, bool done, const char *text, size_t length) {
    Keeping *keeping = token;
    HttpRequest *request = keeping->request;
    (void)length;
    request->page->keeping = false;
    if (done) {
        said(SAID_NOTICE, "the home file was changed on the page");
        reply_json(request, 200,
                   json_pack("{s:s, s:s, s:o}", "said", text, "hash", keeping->kept.hash,
                             "diagnostics", diagnostics_of(&keeping->kept)));
    } else {
        bool back = keep_back(&keeping->keep, &keeping->kept);
        reply_problem(request, 422, "wrong-text",
                      json_pack("{s:o}", "diagnostics", diagnostics_of(&keeping->kept)),
                      "the player does not take it: %s%s", text,
                      back ? "" : "; what was there could not be put back");
    }
    request_ready(request);
    keeping_free(keeping);
}

static void refuse_busy(HttpRequest *request) {
    request->retry_after = 1;
    reply_problem(request, 503, "busy", NULL, KEEP_BUSY_SAID);
}

static void refuse(HttpRequest *request, const Kept *kept) {
    switch (kept->result) {
    case KEEP_BUSY:
        refuse_busy(request);
        return;
    case KEEP_CHANGED:
        reply_problem(request, 409, "changed", NULL, "%s", kept->said);
        return;
    case KEEP_WRONG:
        reply_problem(request, 422, "wrong-text",
                      json_pack("{s:o}", "diagnostics", diagnostics_of(kept)), "%s", kept->said);
        return;
    default:
        reply_problem(request, 503, "not-written", NULL, "%s", kept->said);
    }
}

/* Takes `text`. One at a time: what another would find there may be taken back yet. */
static void keep_text(HttpRequest *request, char *text, size_t length, const char *base) {
    if (request->page->keeping) {
        memory_release(text);
        refuse_busy(request);
        return;
    }
    Keeping *keeping = memory_allocate(1, sizeof *keeping);
    if (!keeping || !text) {
        memory_release(keeping);
        memory_release(text);
        reply_no_memory(request);
        return;
    }
    keeping->text = text;
    keeping->keep =
        (KeepRequest){.home = request->page->home, .text = text, .length = length, .base = base};
    keep_home(&keeping->keep, &keeping->kept);
    keeping->keep.base = NULL; /* it belongs to who asks */
    if (keeping->kept.result != KEEP_DONE) {
        refuse(request, &keeping->kept);
        keeping_free(keeping);
        return;
    }
    keeping->request = request;
    if (link_ask(request->page->link, "reload", reload_answered, keeping)) {
        request->page->keeping = true;
        request_later(request);
        return;
    }
    reply_problem(request, 503, "no-player", NULL, "it is kept; the player does not answer");
    keeping_free(keeping);
}

void text_keep(HttpRequest *request) {
    const char *text, *base;
    if (!request_text(request, "text", true, LIMIT_SOURCE_BYTES, &text) ||
        !request_text(request, "base", false, KEEP_HASH - 1, &base))
        return;
    size_t length = strlen(text);
    keep_text(request, memory_copy_text(text, length), length, base);
}

/* The version before the newest becomes the newest; asked again, it goes back to what it was. What
 * is in the file and is no version, since the player has not taken it, is not written over; nor is
 * a newest that is not the one that is to be taken back, if that is said. */
void text_undo(HttpRequest *request) {
    char folder[PAGE_PATH], newest[KEEP_HASH], *text = NULL, *last = NULL;
    const char *base;
    size_t length, last_length;
    Version list[VERSIONS_KEPT];
    if (!request_text(request, "base", false, KEEP_HASH - 1, &base))
        return;
    size_t count = versions_folder(request->page, folder) ? versions_list(folder, list) : 0;
    if (count < 2 || !versions_read(folder, list[0].number, &last, &last_length) ||
        !versions_read(folder, list[1].number, &text, &length)) {
        memory_release(last);
        reply_problem(request, 404, "no-version", NULL, "no version from before is there");
        return;
    }
    keep_hash(last, last_length, newest);
    memory_release(last);
    if (base && strcmp(base, newest) != 0) {
        memory_release(text);
        refuse(request, &(Kept){.result = KEEP_CHANGED, .said = KEEP_CHANGED_SAID});
        return;
    }
    keep_text(request, text, length, newest);
}
