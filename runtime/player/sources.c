#include "runtime/player/sources.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/library/reader.h"

#define HEAD "gloam accepted 1\n"
/* All files of a program, at most, and what stands around them. */
#define MOST_BYTES ((size_t)LIMIT_FILES * (LIMIT_SOURCE_BYTES + 16384))

static bool same(const char *a, const char *b) {
    return a == b || (a && b && strcmp(a, b) == 0);
}

static char *copy(const char *text) {
    return text ? memory_copy_text(text, strlen(text)) : NULL;
}

static void source_free(Source *source) {
    memory_release(source->path);
    memory_release(source->from);
    memory_release(source->identity);
    memory_release(source->text);
}

void sources_free(Sources *sources) {
    for (uint32_t i = 0; i < sources->count; i++)
        source_free(&sources->list[i]);
    memory_release(sources->list);
    *sources = (Sources){0};
}

/* -------- recording and replaying -------- */

static void sources_add(Sources *sources, Source *source) {
    Source *larger =
        memory_resize(sources->list, (size_t)sources->count + 1, sizeof *sources->list);
    if (!larger) {
        source_free(source);
        sources->no_memory = true;
        return;
    }
    sources->list = larger;
    sources->list[sources->count++] = *source;
}

static ReadStatus record(void *context, const char *path, const char *from, char **text,
                         size_t *length, char **identity, const char **reason) {
    Sources *sources = context;
    ReadStatus status =
        sources->inner->read(sources->inner->context, path, from, text, length, identity, reason);
    bool fine = status == READ_FINE;
    Source source = {.path = copy(path), .from = copy(from)};
    if (fine) {
        source.identity = copy(*identity);
        source.text = memory_copy_text(*text, *length);
        source.length = *length;
    }
    if (!source.path || (from && !source.from) || (fine && (!source.identity || !source.text))) {
        source_free(&source);
        sources->no_memory = true;
    } else {
        sources_add(sources, &source);
    }
    return status;
}

LangReader sources_record(Sources *sources, const LangReader *inner) {
    sources->inner = inner;
    return (LangReader){record, sources};
}

static ReadStatus replay(void *context, const char *path, const char *from, char **text,
                         size_t *length, char **identity, const char **reason) {
    const Sources *sources = context;
    (void)reason;
    *text = NULL;
    *identity = NULL;
    for (uint32_t i = 0; i < sources->count; i++) {
        const Source *source = &sources->list[i];
        bool found = from ? same(source->path, path) && same(source->from, from) : !source->from;
        if (!found || !source->identity)
            continue;
        *text = memory_copy_text(source->text, source->length);
        *identity = copy(source->identity);
        *length = source->length;
        if (*text && *identity)
            return READ_FINE;
        memory_release(*text);
        memory_release(*identity);
        *text = NULL;
        *identity = NULL;
        return READ_NO_MEMORY;
    }
    return READ_MISSING;
}

LangReader sources_replay(Sources *sources) {
    return (LangReader){replay, sources};
}

bool sources_file(const Source *source, const char *folder, char *path, size_t size) {
    const char *name = source->identity ? source->identity : source->path;
    char joined[8192];
    if (!source->from && strcmp(name, "-") == 0)
        return false;
    if (!source->identity && source->from && *name != '/') { /* beside the file that uses it */
        const char *slash = strrchr(source->from, '/');
        int before = slash ? (int)(slash - source->from) + 1 : 0;
        if ((size_t)snprintf(joined, sizeof joined, "%.*s%s", before, source->from, name) >=
            sizeof joined)
            return false;
        name = joined;
    }
    int used = *name == '/' ? snprintf(path, size, "%s", name)
                            : snprintf(path, size, "%s/%s", folder, name);
    return used > 0 && (size_t)used < size;
}

/* -------- as a file -------- */

/* A line of the lengths of path, from, identity and text, then the four, one behind the other. */
static size_t source_bytes(const Source *source, char *into, size_t room) {
    const char *from = source->from ? source->from : "";
    size_t lengths[] = {strlen(source->path), strlen(from), strlen(source->identity),
                        source->length};
    const char *texts[] = {source->path, from, source->identity, source->text};
    char line[96];
    size_t head = (size_t)snprintf(line, sizeof line, "%zu %zu %zu %zu\n", lengths[0], lengths[1],
                                   lengths[2], lengths[3]);
    size_t whole = head + lengths[0] + lengths[1] + lengths[2] + lengths[3];
    if (whole > room)
        return whole;
    memcpy(into, line, head);
    into += head;
    for (int i = 0; i < 4; i++) {
        memcpy(into, texts[i], lengths[i]);
        into += lengths[i];
    }
    return whole;
}

static size_t sources_bytes(const Sources *sources, char *into, size_t room) {
    size_t used = sizeof HEAD - 1;
    if (used <= room)
        memcpy(into, HEAD, used);
    for (uint32_t i = 0; i < sources->count; i++)
        if (sources->list[i].identity)
            used += source_bytes(&sources->list[i], into ? into + used : NULL,
                                 used < room ? room - used : 0);
    return used;
}

bool sources_save(const Sources *sources, const StateDisk *disk, const char *path, int *error) {
    size_t length = sources_bytes(sources, NULL, 0), held = 0;
    char *bytes = memory_allocate(length, 1), *before = NULL;
    const char *reason;
    *error = ENOMEM;
    if (!bytes)
        return false;
    sources_bytes(sources, bytes, length);
    bool saved = disk_read_file(path, MOST_BYTES, &before, &held, &reason) == READ_FINE &&
                 held == length && memcmp(before, bytes, length) == 0;
    if (!saved)
        saved = state_replace(disk, path, bytes, length, error);
    memory_release(before);
    memory_release(bytes);
    return saved;
}

/* The next length of a line; false where there is none. */
static bool take_length(const char **at, const char *end, char behind, size_t *length) {
    size_t value = 0;
    const char *p = *at;
    while (p < end && *p >= '0' && *p <= '9' && value < MOST_BYTES)
        value = value * 10 + (size_t)(*p++ - '0');
    if (p == *at || p == end || *p != behind)
        return false;
    *length = value;
    *at = p + 1;
    return true;
}

static bool take_text(const char **at, const char *end, size_t length, char **text) {
    if ((size_t)(end - *at) < length)
        return false;
    *text = memory_copy_text(*at, length);
    *at += length;
    return *text != NULL;
}

static bool take_source(Sources *sources, const char **at, const char *end) {
    Source source = {0};
    size_t from, identity, path;
    bool taken =
        take_length(at, end, ' ', &path) && take_length(at, end, ' ', &from) &&
        take_length(at, end, ' ', &identity) && take_length(at, end, '\n', &source.length) &&
        take_text(at, end, path, &source.path) && take_text(at, end, from, &source.from) &&
        take_text(at, end, identity, &source.identity) &&
        take_text(at, end, source.length, &source.text);
    if (!taken) {
        source_free(&source);
        return false;
    }
    if (from == 0) {
        memory_release(source.from);
        source.from = NULL;
    }
    sources_add(sources, &source);
    return !sources->no_memory;
}

bool sources_load(Sources *sources, const char *path) {
    char *bytes = NULL;
    size_t length = 0;
    const char *reason;
    *sources = (Sources){0};
    if (disk_read_file(path, MOST_BYTES, &bytes, &length, &reason) != READ_FINE)
        return false;
    const char *at = bytes, *end = bytes + length;
    bool whole = length > sizeof HEAD && memcmp(bytes, HEAD, sizeof HEAD - 1) == 0;
    if (whole)
        at += sizeof HEAD - 1;
    while (whole && at < end)
        whole = take_source(sources, &at, end);
    memory_release(bytes);
    if (!whole)
        sources_free(sources);
    return whole;
}
