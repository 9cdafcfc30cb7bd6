#include "runtime/library/state_file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "runtime/core/memory.h"
#include "runtime/library/reader.h"

/* -------- the world -------- */

static bool world_lamp_names(WorldLamp *lamp, const LampInfo *info) {
    const char **groups = memory_allocate(info->group_count, sizeof *groups);
    *lamp = (WorldLamp){info->name, 0, groups};
    if (!groups)
        return false;
    lamp->group_count = info->group_count;
    for (uint32_t i = 0; i < info->group_count; i++)
        groups[i] = info->groups[i].name;
    return true;
}

bool state_world(World *world, const Compilation *compilation, const Program *program,
                 const Zone *zone) {
    const Timetable *timetable = lang_timetable(compilation);
    uint32_t count;
    const LampInfo *infos = lang_lamps(compilation, &count);
    WorldLamp *lamps = memory_allocate(count, sizeof *lamps);
    *world = (World){{timetable ? timetable : &world_no_timetable, program, zone}, 0, lamps};
    for (uint32_t i = 0; lamps && i < count; i++) {
        if (!world_lamp_names(&lamps[i], &infos[i]))
            return false;
        world->lamp_count++;
    }
    return lamps != NULL;
}

void state_world_free(World *world) {
    for (uint32_t i = 0; i < world->lamp_count; i++)
        memory_release((void *)world->lamps[i].groups);
    memory_release((void *)world->lamps);
    *world = (World){0};
}

/* -------- what all parts need -------- */

void state_say(StateSaid *said, const char *format, ...) {
    if (said->count < STATE_SAID) {
        va_list values;
        va_start(values, format);
        vsnprintf(said->sentences[said->count], STATE_SENTENCE_BYTES, format, values);
        va_end(values);
    }
    said->count++;
}

bool state_move(Overrides *overrides, const World *from, const World *to, StateSaid *said) {
    size_t length;
    char *text = state_write(overrides, from, &length);
    Overrides *moved = text ? memory_allocate(1, sizeof *moved) : NULL;
    bool done = moved && state_read(text, length, to, moved, said) == STATE_FINE;
    if (done)
        *overrides = *moved;
    memory_release(moved);
    memory_release(text);
    return done;
}

/* -------- the disk -------- */

static int disk_create(const char *path) {
    return open(path, O_WRONLY | O_CREAT | O_TRUNC | O_NOFOLLOW | O_CLOEXEC, 0600);
}

static int disk_sync_folder(const char *path) {
    const char *slash = strrchr(path, '/');
    size_t length = slash ? (size_t)(slash - path) : 0;
    char *folder = slash ? memory_copy_text(path, length ? length : 1) : memory_copy_text(".", 1);
    if (!folder) {
        errno = ENOMEM;
        return -1;
    }
    int file = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    memory_release(folder);
    if (file < 0)
        return -1;
    int result = fsync(file), error = errno;
    close(file);
    errno = error;
    return result;
}

const StateDisk state_disk = {disk_create, write, fsync, close, rename, unlink, disk_sync_folder};

static char *beside(const char *path, const char *suffix) {
    size_t length = strlen(path), more = strlen(suffix);
    char *name = memory_allocate(length + more + 1, 1);
    if (name) {
        memcpy(name, path, length);
        memcpy(name + length, suffix, more);
    }
    return name;
}

static bool write_all(const StateDisk *disk, int file, const char *bytes, size_t length) {
    while (length > 0) {
        ssize_t wrote = disk->write(file, bytes, length);
        if (wrote < 0 && errno == EINTR)
            continue;
        if (wrote <= 0) {
            errno = wrote == 0 ? ENOSPC : errno;
            return false;
        }
        bytes += wrote;
        length -= (size_t)wrote;
    }
    return true;
}

/* What is written has reached the disk before the name points to it. */
static bool write_whole(const StateDisk *disk, const char *path, const char *bytes, size_t length) {
    int file = disk->create(path);
    if (file < 0)
        return false;
    bool done = write_all(disk, file, bytes, length) && disk->sync(file) == 0;
    int error = errno;
    if (disk->close(file) != 0 && done)
        return false;
    errno = error;
    return done;
}

static bool save_text(const StateDisk *disk, const char *path, const char *fresh, const char *text,
                      size_t length, int *error) {
    if (write_whole(disk, fresh, text, length) && disk->rename(fresh, path) == 0) {
        if (disk->sync_folder(path) == 0)
            return true;
        *error = errno;
        return false;
    }
    *error = errno;
    (void)disk->remove(fresh);
    return false;
}

bool state_replace(const StateDisk *disk, const char *path, const char *bytes, size_t length,
                   int *error) {
    char *fresh = beside(path, ".new");
    *error = ENOMEM;
    bool saved = fresh && save_text(disk, path, fresh, bytes, length, error);
    memory_release(fresh);
    return saved;
}

bool state_save(const StateDisk *disk, const char *path, const Overrides *overrides,
                const World *world, int *error) {
    size_t length;
    char *text = state_write(overrides, world, &length);
    *error = ENOMEM;
    bool saved = text && state_replace(disk, path, text, length, error);
    memory_release(text);
    return saved;
}

/* -------- reading and setting aside -------- */

/* A power cut may leave nothing, zeros, or a piece. */
static bool begins_as_state(const char *text, size_t length) {
    static const char key[] = "\"gloam_state\"";
    size_t at = 0;
    while (at < length && (text[at] == '\0' || strchr(" \t\r\n", text[at])))
        at++;
    if (at == length)
        return true;
    if (text[at++] != '{')
        return false;
    size_t left = length - at, most = left < sizeof key - 1 ? left : sizeof key - 1;
    return memcmp(text + at, key, most) == 0 || memmem(text + at, left, key, sizeof key - 1);
}

bool state_is_other(const char *path) {
    char text[4096];
    struct stat about;
    int file = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
    bool regular = file >= 0 && fstat(file, &about) == 0 && S_ISREG(about.st_mode);
    ssize_t got = regular ? read(file, text, sizeof text) : -1;
    if (file >= 0)
        close(file);
    return got > 0 && !begins_as_state(text, (size_t)got);
}

static void set_aside(const StateDisk *disk, const char *path, StateSaid *said) {
    char *names[STATE_ASIDE + 1] = {0};
    bool named = true;
    for (int i = 1; i <= STATE_ASIDE; i++) {
        char suffix[24];
        snprintf(suffix, sizeof suffix, ".aside-%d", i);
        names[i] = beside(path, suffix);
        named = named && names[i];
    }
    for (int i = STATE_ASIDE; named && i > 1; i--)
        (void)disk->rename(names[i - 1], names[i]);
    if (named && disk->rename(path, names[1]) == 0)
        state_say(said, "it is kept beside it as %s; nothing is overridden", names[1]);
    else
        state_say(said,
                  "it could not be set aside and will be written over; nothing is overridden");
    for (int i = 1; i <= STATE_ASIDE; i++)
        memory_release(names[i]);
}

StateStatus state_load(const StateDisk *disk, const char *path, const World *world,
                       Overrides *overrides, StateSaid *said) {
    char *text = NULL;
    size_t length = 0;
    const char *reason = NULL;
    memset(overrides, 0, sizeof *overrides);
    ReadStatus status = disk_read_file(path, LIMIT_STATE_BYTES, &text, &length, &reason);
    if (status == READ_MISSING)
        return STATE_MISSING;
    if (status == READ_NO_MEMORY) {
        state_say(said, "memory ran out while the state was read: nothing is overridden");
        return STATE_NO_MEMORY;
    }
    if (status != READ_FINE && status != READ_TOO_LARGE) {
        state_say(said, "the state was not read from %.120s: %s; nothing is overridden", path,
                  read_sentence(status, reason));
        return STATE_UNREADABLE;
    }
    StateStatus got = STATE_NONSENSE;
    if (status == READ_TOO_LARGE)
        state_say(said, "the state file is larger than %d bytes", LIMIT_STATE_BYTES);
    else
        got = state_read(text, length, world, overrides, said);
    memory_release(text);
    if (got == STATE_NONSENSE && disk)
        set_aside(disk, path, said);
    else if (got == STATE_NONSENSE)
        state_say(said, "nothing is overridden; the next act sets it aside");
    return got;
}
