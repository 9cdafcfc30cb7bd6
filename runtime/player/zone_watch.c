#include "runtime/player/zone_watch.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/player/path_watch.h"

#define WRONG_BYTES 512
#define SHOWN 200 /* bytes of a name or path in a sentence */

struct ZoneWatch {
    char *name, *variable, *database, *machine;
    Zone *zone;
    bool read; /* some zone was read: a broken one leaves it in force */
    ZoneFileStatus status;
    PathWatch *path;
    int watch_error; /* why the file is not watched; 0: it is, or there is none */
    char wrong[WRONG_BYTES];
};

static ZoneSource source_of(const ZoneWatch *watch) {
    return (ZoneSource){watch->name, watch->variable};
}

static ZoneFolders folders_of(const ZoneWatch *watch) {
    return (ZoneFolders){watch->database, watch->machine};
}

static void say_wrong(ZoneWatch *watch) {
    const char *called = watch->name       ? watch->name
                         : watch->variable ? watch->variable
                                           : watch->machine;
    const char *instead =
        watch->read ? "the one read before stays in force" : "UTC stands in for it";
    watch->wrong[0] = '\0';
    if (watch->status == ZONE_FILE_MISSING && called == watch->machine)
        snprintf(watch->wrong, sizeof watch->wrong,
                 "the zone of this machine, `%.*s`, is gone: make it a link into %.*s; %s", SHOWN,
                 called, SHOWN, watch->database, instead);
    else if (watch->status != ZONE_FILE_FINE)
        snprintf(watch->wrong, sizeof watch->wrong, "the zone `%.*s` %s; %s", SHOWN, called,
                 zone_file_sentence(watch->status), instead);
    else if (watch->watch_error)
        snprintf(watch->wrong, sizeof watch->wrong,
                 "the zone `%.*s` cannot be watched (%s): start again after an update of tzdata",
                 SHOWN, called, strerror(watch->watch_error));
}

/* True where another zone is in force now. */
static bool read_zone(ZoneWatch *watch) {
    ZoneSource source = source_of(watch);
    ZoneFolders folders = folders_of(watch);
    Zone *zone;
    watch->status = zone_source_read(&source, &folders, &zone);
    /* A link that is swapped may be gone for a moment: that must not be an hour of UTC. */
    if (watch->status == ZONE_FILE_FINE && !zone && watch->zone)
        watch->status = ZONE_FILE_MISSING;
    if (watch->status == ZONE_FILE_FINE) {
        zone_free(watch->zone);
        watch->zone = zone;
        watch->read = true;
    }
    say_wrong(watch);
    return watch->status == ZONE_FILE_FINE;
}

static bool copy(char **to, const char *text) {
    *to = text ? memory_copy_text(text, strlen(text)) : NULL;
    return *to || !text;
}

bool zone_watch_open(const ZoneSource *source, const ZoneFolders *folders, ZoneWatch **watch) {
    *watch = NULL;
    ZoneWatch *made = memory_allocate(1, sizeof *made);
    if (!made)
        return false;
    if (!copy(&made->name, source->name) || !copy(&made->variable, source->variable) ||
        !copy(&made->database, folders->database) || !copy(&made->machine, folders->machine)) {
        zone_watch_close(made);
        return false;
    }
    char path[ZONE_SOURCE_BYTES];
    /* Watched first, then read: nothing is missed in between. */
    if (zone_source_path(source, folders, path) && !path_watch_open(path, &made->path))
        made->watch_error = errno;
    read_zone(made);
    if (made->status == ZONE_FILE_NO_MEMORY || made->watch_error == ENOMEM) {
        zone_watch_close(made);
        return false;
    }
    *watch = made;
    return true;
}

void zone_watch_close(ZoneWatch *watch) {
    if (!watch)
        return;
    path_watch_close(watch->path);
    zone_free(watch->zone);
    memory_release(watch->name);
    memory_release(watch->variable);
    memory_release(watch->database);
    memory_release(watch->machine);
    memory_release(watch);
}

int zone_watch_descriptor(const ZoneWatch *watch) {
    return watch->path ? path_watch_descriptor(watch->path) : -1;
}

ZoneNews zone_watch_look(ZoneWatch *watch) {
    if (!watch->path || !path_watch_changed(watch->path))
        return ZONE_NEWS_NONE;
    ZoneFileStatus before = watch->status;
    if (read_zone(watch))
        return ZONE_NEWS_ZONE;
    return watch->status == before ? ZONE_NEWS_NONE : ZONE_NEWS_WRONG;
}

const Zone *zone_watch_zone(const ZoneWatch *watch) {
    return watch->zone;
}

const char *zone_watch_wrong(const ZoneWatch *watch) {
    return watch->wrong;
}
