#include "runtime/player/zone_source.h"

#include <stdio.h>
#include <string.h>

#include "runtime/core/zone_name.h"

const ZoneFolders zone_folders_system = {ZONE_FILE_DATABASE, ZONE_FILE_MACHINE};

/* tzset(3): a colon may go before it. */
static const char *bare(const char *variable) {
    return *variable == ':' ? variable + 1 : variable;
}

bool zone_source_path(const ZoneSource *source, const ZoneFolders *folders,
                      char path[ZONE_SOURCE_BYTES]) {
    const char *name = source->name;
    int length;
    if (!name && source->variable) {
        name = bare(source->variable);
        if (*name == '/') {
            length = snprintf(path, ZONE_SOURCE_BYTES, "%s", name);
            return length < ZONE_SOURCE_BYTES;
        }
    }
    if (!name)
        length = snprintf(path, ZONE_SOURCE_BYTES, "%s", folders->machine);
    else if (zone_name_fits(name))
        length = snprintf(path, ZONE_SOURCE_BYTES, "%s/%s", folders->database, name);
    else
        return false;
    return length < ZONE_SOURCE_BYTES;
}

static ZoneFileStatus rule_read(const char *rule, ZoneFileStatus otherwise, Zone **zone) {
    switch (zone_from_rule(rule, zone)) {
    case ZONE_FINE:
        return ZONE_FILE_FINE;
    case ZONE_NO_MEMORY:
        return ZONE_FILE_NO_MEMORY;
    default:
        return otherwise;
    }
}

ZoneFileStatus zone_source_read(const ZoneSource *source, const ZoneFolders *folders, Zone **zone) {
    char path[ZONE_SOURCE_BYTES];
    *zone = NULL;
    const char *variable = source->name || !source->variable ? NULL : bare(source->variable);
    if (variable && !*variable)
        return ZONE_FILE_FINE;
    ZoneFileStatus status = ZONE_FILE_NAME;
    if (zone_source_path(source, folders, path))
        status = zone_file_read_path(path, zone);
    if (variable && (status == ZONE_FILE_NAME || status == ZONE_FILE_MISSING))
        return rule_read(variable, status, zone);
    if (!source->name && !variable && status == ZONE_FILE_MISSING)
        return ZONE_FILE_FINE; /* localtime(5): without that file it is UTC */
    return status;
}
