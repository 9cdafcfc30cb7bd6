#include "runtime/library/versions.h"

#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/library/reader.h"

enum { PATH_BYTES = 4096, LARGEST = 999999, READ_MOST = 64 };

/* False: the name is too long. */
static bool path_of(const char *folder, uint32_t number, char path[PATH_BYTES]) {
    int used = snprintf(path, PATH_BYTES, "%s/%06u.gloam", folder, number);
    return used > 0 && used < PATH_BYTES;
}

/* 0: it is none. */
static uint32_t number_of(const char *name) {
    unsigned number = 0;
    char rest[8] = "";
    if (strlen(name) != strlen("000000.gloam") || strspn(name, "0123456789") != 6 ||
        sscanf(name, "%6u%7s", &number, rest) != 2 || strcmp(rest, ".gloam") != 0)
        return 0;
    return number;
}

/* Puts a number in its place among the greatest, the greatest first. */
static size_t insert(uint32_t *numbers, size_t count, size_t most, uint32_t number) {
    size_t place = count;
    while (place > 0 && numbers[place - 1] < number)
        place--;
    if (place == most)
        return count;
    count += count < most;
    memmove(numbers + place + 1, numbers + place, (count - place - 1) * sizeof *numbers);
    numbers[place] = number;
    return count;
}

/* The greatest numbers, the greatest first. False: the folder cannot be looked through; errno
 * tells. */
static bool find(const char *folder, uint32_t *numbers, size_t most, size_t *count) {
    DIR *open = opendir(folder);
    *count = 0;
    if (!open)
        return false;
    errno = 0;
    for (const struct dirent *one; (one = readdir(open));) {
        uint32_t number = number_of(one->d_name);
        if (number > 0)
            *count = insert(numbers, *count, most, number);
    }
    int error = errno;
    closedir(open);
    errno = error;
    return error == 0;
}

size_t versions_list(const char *folder, Version list[VERSIONS_KEPT]) {
    uint32_t numbers[VERSIONS_KEPT];
    size_t there, count = 0;
    (void)find(folder, numbers, VERSIONS_KEPT, &there);
    for (size_t i = 0; i < there; i++) {
        char path[PATH_BYTES];
        struct stat about;
        if (path_of(folder, numbers[i], path) && stat(path, &about) == 0 && S_ISREG(about.st_mode))
            list[count++] = (Version){numbers[i], (int64_t)about.st_mtime, (uint64_t)about.st_size};
    }
    return count;
}

bool versions_read(const char *folder, uint32_t number, char **text, size_t *length) {
    char path[PATH_BYTES];
    const char *reason = NULL;
    return number > 0 && number <= LARGEST && path_of(folder, number, path) &&
           disk_read_file(path, LIMIT_SOURCE_BYTES, text, length, &reason) == READ_FINE;
}

static bool is_newest(const char *folder, uint32_t number, const char *text, size_t length) {
    char *kept;
    size_t kept_length;
    if (number == 0 || !versions_read(folder, number, &kept, &kept_length))
        return false;
    bool same = kept_length == length && memcmp(kept, text, length) == 0;
    memory_release(kept);
    return same;
}

/* Those that are no more among the ten; more may be there where an earlier removal failed. */
static void remove_old(const StateDisk *disk, const char *folder) {
    uint32_t numbers[READ_MOST];
    size_t count;
    (void)find(folder, numbers, READ_MOST, &count);
    for (size_t i = VERSIONS_KEPT; i < count; i++) {
        char path[PATH_BYTES];
        if (path_of(folder, numbers[i], path))
            disk->remove(path);
    }
}

/* False: errno tells. */
static bool make_folder(const StateDisk *disk, const char *folder) {
    if (mkdir(folder, 0750) == 0)
        return disk->sync_folder(folder) == 0;
    return errno == EEXIST;
}

bool versions_keep(const StateDisk *disk, const char *folder, const char *text, size_t length,
                   int *error) {
    uint32_t newest = 0;
    size_t count;
    char path[PATH_BYTES];
    /* Where none can be seen, a number may be taken. */
    if (!make_folder(disk, folder) || !find(folder, &newest, 1, &count)) {
        *error = errno;
        return false;
    }
    if (is_newest(folder, newest, text, length))
        return true;
    *error = newest == LARGEST ? EOVERFLOW : ENAMETOOLONG;
    if (newest == LARGEST || !path_of(folder, newest + 1, path) ||
        !state_replace(disk, path, text, length, error))
        return false;
    remove_old(disk, folder);
    return true;
}
