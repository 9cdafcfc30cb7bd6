#include "runtime/library/zone_file.h"

#include <stdio.h>

#include "runtime/core/memory.h"
#include "runtime/core/zone_name.h"
#include "runtime/library/reader.h"

#define ZONE_FILE_FOLDER "/usr/share/zoneinfo/"
#define ZONE_FILE_MACHINE "/etc/localtime"
#define ZONE_FILE_BYTES 65536 /* the largest of the database has less than 4000 */

static ZoneFileStatus zone_file_status(ReadStatus status) {
    switch (status) {
    case READ_FINE:
        return ZONE_FILE_FINE;
    case READ_MISSING:
    case READ_DIRECTORY:
        return ZONE_FILE_MISSING;
    case READ_NO_MEMORY:
        return ZONE_FILE_NO_MEMORY;
    default:
        return ZONE_FILE_BROKEN;
    }
}

ZoneFileStatus zone_file_read(const char *name, Zone **zone) {
    char path[sizeof ZONE_FILE_FOLDER + ZONE_PATH_BYTES] = ZONE_FILE_MACHINE;
    *zone = NULL;
    if (name && !zone_name_fits(name))
        return ZONE_FILE_NAME;
    if (name)
        snprintf(path, sizeof path, ZONE_FILE_FOLDER "%s", name);
    char *bytes;
    size_t length;
    const char *reason;
    ReadStatus read = disk_read_file(path, ZONE_FILE_BYTES, &bytes, &length, &reason);
    if (read != READ_FINE)
        return zone_file_status(read);
    ZoneStatus status = zone_from_bytes(bytes, length, zone);
    memory_release(bytes);
    if (status == ZONE_NO_MEMORY)
        return ZONE_FILE_NO_MEMORY;
    return status == ZONE_FINE ? ZONE_FILE_FINE : ZONE_FILE_BROKEN;
}

const char *zone_file_sentence(ZoneFileStatus status) {
    switch (status) {
    case ZONE_FILE_NAME:
        return "is no name of the time zone database: write one such as `Europe/London`";
    case ZONE_FILE_MISSING:
        return "is not in this machine's time zone database: install tzdata, or see "
               "/usr/share/zoneinfo for the names";
    case ZONE_FILE_BROKEN:
        return "cannot be read from this machine's time zone database: install tzdata again";
    case ZONE_FILE_NO_MEMORY:
        return "does not fit into memory";
    default:
        return "";
    }
}
