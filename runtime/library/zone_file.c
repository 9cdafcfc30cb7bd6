#include "runtime/library/zone_file.h"

#include <limits.h>
#include <stdio.h>
#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/core/zone_name.h"
#include "runtime/library/reader.h"

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

ZoneFileStatus zone_file_read_path(const char *path, Zone **zone) {
    *zone = NULL;
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

ZoneFileStatus zone_file_read(const char *name, Zone **zone) {
    char path[sizeof ZONE_FILE_DATABASE + 1 + ZONE_PATH_BYTES];
    *zone = NULL;
    if (!name)
        return zone_file_read_path(ZONE_FILE_MACHINE, zone);
    if (!zone_name_fits(name))
        return ZONE_FILE_NAME;
    snprintf(path, sizeof path, ZONE_FILE_DATABASE "/%s", name);
    return zone_file_read_path(path, zone);
}

/* What a line of a file has behind `before`: letters, digits, `.` and `-`. */
static bool zone_release_line(const char *database, const char *file, const char *before,
                              char release[ZONE_FILE_RELEASE_BYTES]) {
    char path[PATH_MAX], line[80] = "";
    if (snprintf(path, sizeof path, "%s/%s", database, file) >= (int)sizeof path)
        return false;
    FILE *opened = fopen(path, "re");
    if (!opened)
        return false;
    bool read = fgets(line, sizeof line, opened) != NULL;
    fclose(opened);
    size_t skipped = strlen(before);
    if (!read || strncmp(line, before, skipped) != 0)
        return false;
    const char *text = line + skipped;
    size_t length =
        strspn(text, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-");
    if (length == 0 || length >= ZONE_FILE_RELEASE_BYTES || (text[length] && text[length] != '\n'))
        return false;
    memcpy(release, text, length);
    release[length] = '\0';
    return true;
}

char *zone_file_release(const char *database, char release[ZONE_FILE_RELEASE_BYTES]) {
    if (!zone_release_line(database, "tzdata.zi", "# version ", release) &&
        !zone_release_line(database, "+VERSION", "", release))
        strcpy(release, "unknown");
    return release;
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
