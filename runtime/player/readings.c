#include "runtime/player/readings.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

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

static void reading_free(Reading *reading) {
    memory_release(reading->path);
    memory_release(reading->from);
    memory_release(reading->identity);
    memory_release(reading->text);
}

void readings_free(Readings *readings) {
    for (uint32_t i = 0; i < readings->count; i++)
        reading_free(&readings->list[i]);
    memory_release(readings->list);
    *readings = (Readings){0};
}

/* -------- recording and replaying -------- */

static void readings_add(Readings *readings, Reading *reading) {
    Reading *larger =
        memory_resize(readings->list, (size_t)readings->count + 1, sizeof *readings->list);
    if (!larger) {
        reading_free(reading);
        readings->no_memory = true;
        return;
    }
    readings->list = larger;
    readings->list[readings->count++] = *reading;
}

static ReadStatus record(void *context, const char *path, const char *from, char **text,
                         size_t *length, char **identity, const char **reason) {
    Readings *readings = context;
    ReadStatus status =
        readings->inner->read(readings->inner->context, path, from, text, length, identity, reason);
    bool fine = status == READ_FINE;
    Reading reading = {.path = copy(path), .from = copy(from)};
    if (fine) {
        reading.identity = copy(*identity);
        reading.text = memory_copy_text(*text, *length);
        reading.length = *length;
    }
    if (!reading.path || (from && !reading.from) ||
        (fine && (!reading.identity || !reading.text))) {
        reading_free(&reading);
        readings->no_memory = true;
    } else {
        readings_add(readings, &reading);
    }
    return status;
}

LangReader readings_record(Readings *readings, const LangReader *inner) {
    readings->inner = inner;
    return (LangReader){record, readings};
}

static ReadStatus replay(void *context, const char *path, const char *from, char **text,
                         size_t *length, char **identity, const char **reason) {
    const Readings *readings = context;
    (void)reason;
    *text = NULL;
    *identity = NULL;
    for (uint32_t i = 0; i < readings->count; i++) {
        const Reading *reading = &readings->list[i];
        bool found = from ? same(reading->path, path) && same(reading->from, from) : !reading->from;
        if (!found || !reading->identity)
            continue;
        *text = memory_copy_text(reading->text, reading->length);
        *identity = copy(reading->identity);
        *length = reading->length;
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

LangReader readings_replay(Readings *readings) {
    return (LangReader){replay, readings};
}

bool readings_file(const Reading *reading, const char *folder, char *path, size_t size) {
    const char *name = reading->identity ? reading->identity : reading->path;
    char joined[8192];
    if (!reading->from && strcmp(name, "-") == 0)
        return false;
    if (!reading->identity && reading->from && *name != '/') { /* beside the file that uses it */
        const char *slash = strrchr(reading->from, '/');
        int before = slash ? (int)(slash - reading->from) + 1 : 0;
        if ((size_t)snprintf(joined, sizeof joined, "%.*s%s", before, reading->from, name) >=
            sizeof joined)
            return false;
        name = joined;
    }
    int used = *name == '/' ? snprintf(path, size, "%s", name)
                            : snprintf(path, size, "%s/%s", folder, name);
    return used > 0 && (size_t)used < size;
}

/* -------- whose they are -------- */

/* memory_allocate'd; NULL: out of memory. */
static char *absolute(const char *path, const char *folder) {
    size_t size = strlen(folder) + strlen(path) + 2;
    char *whole = *path == '/' ? copy(path) : memory_allocate(size, 1);
    if (whole && *path != '/')
        snprintf(whole, size, "%s/%s", folder, path);
    return whole;
}

bool readings_name(Readings *readings, const char *folder) {
    Reading *home = readings->count ? &readings->list[0] : NULL;
    if (!home || home->from || strcmp(home->path, "-") == 0)
        return true;
    char *path = absolute(home->path, folder);
    if (!path)
        return false;
    memory_release(home->path);
    home->path = path;
    return true;
}

bool readings_same_file(const char *a, const char *b) {
    struct stat first, second;
    return stat(a, &first) == 0 && stat(b, &second) == 0 && first.st_dev == second.st_dev &&
           first.st_ino == second.st_ino;
}

bool readings_are_of(const Readings *readings, const char *path, const char *folder) {
    char *whole = absolute(path, folder);
    const char *home = readings->count ? readings->list[0].path : "";
    bool are = whole && *home == '/' && (same(home, whole) || readings_same_file(home, whole));
    memory_release(whole);
    return are;
}

/* -------- as a file -------- */

/* A line of the lengths of path, from, identity and text, then the four, one behind the other. */
static size_t reading_bytes(const Reading *reading, char *into, size_t room) {
    const char *from = reading->from ? reading->from : "";
    size_t lengths[] = {strlen(reading->path), strlen(from), strlen(reading->identity),
                        reading->length};
    const char *texts[] = {reading->path, from, reading->identity, reading->text};
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

static size_t readings_bytes(const Readings *readings, char *into, size_t room) {
    size_t used = sizeof HEAD - 1;
    if (used <= room)
        memcpy(into, HEAD, used);
    for (uint32_t i = 0; i < readings->count; i++)
        if (readings->list[i].identity)
            used += reading_bytes(&readings->list[i], into ? into + used : NULL,
                                  used < room ? room - used : 0);
    return used;
}

bool readings_save(const Readings *readings, const StateDisk *disk, const char *path, int *error) {
    size_t length = readings_bytes(readings, NULL, 0), held = 0;
    char *bytes = memory_allocate(length, 1), *before = NULL;
    const char *reason;
    *error = ENOMEM;
    if (!bytes)
        return false;
    readings_bytes(readings, bytes, length);
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

static bool take_reading(Readings *readings, const char **at, const char *end) {
    Reading reading = {0};
    size_t from, identity, path;
    bool taken =
        take_length(at, end, ' ', &path) && take_length(at, end, ' ', &from) &&
        take_length(at, end, ' ', &identity) && take_length(at, end, '\n', &reading.length) &&
        take_text(at, end, path, &reading.path) && take_text(at, end, from, &reading.from) &&
        take_text(at, end, identity, &reading.identity) &&
        take_text(at, end, reading.length, &reading.text);
    if (!taken) {
        reading_free(&reading);
        return false;
    }
    if (from == 0) {
        memory_release(reading.from);
        reading.from = NULL;
    }
    readings_add(readings, &reading);
    return !readings->no_memory;
}

bool readings_load(Readings *readings, const char *path) {
    char *bytes = NULL;
    size_t length = 0;
    const char *reason;
    *readings = (Readings){0};
    if (disk_read_file(path, MOST_BYTES, &bytes, &length, &reason) != READ_FINE)
        return false;
    const char *at = bytes, *end = bytes + length;
    bool whole = length > sizeof HEAD && memcmp(bytes, HEAD, sizeof HEAD - 1) == 0;
    if (whole)
        at += sizeof HEAD - 1;
    while (whole && at < end)
        whole = take_reading(readings, &at, end);
    memory_release(bytes);
    if (!whole)
        readings_free(readings);
    return whole;
}
