#include "runtime/library/reader.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "runtime/core/limits.h"
#include "runtime/core/memory.h"

static ReadStatus status_of(int error, const char **reason) {
    switch (error) {
    case ENOENT:
    case ENOTDIR:
        return READ_MISSING;
    case EACCES:
    case EPERM:
        return READ_REFUSED;
    case EISDIR:
        return READ_DIRECTORY;
    case ENOMEM:
        return READ_NO_MEMORY;
    default:
        *reason = strerror(error);
        return READ_FAILED;
    }
}

/* Reads to the end of the descriptor, at most `limit` bytes. */
static ReadStatus read_all(int descriptor, size_t limit, char **bytes, size_t *length,
                           const char **reason) {
    size_t room = 16384, used = 0;
    char *buffer = memory_allocate(room, 1);
    while (buffer) {
        if (used + 1 == room) {
            char *larger = memory_resize(buffer, room * 2, 1);
            if (!larger)
                break;
            buffer = larger;
            room *= 2;
        }
        ssize_t got = read(descriptor, buffer + used, room - used - 1);
        if (got < 0 && errno == EINTR)
            continue;
        if (got < 0) {
            ReadStatus status = status_of(errno, reason);
            memory_release(buffer);
            return status;
        }
        if (got == 0) {
            buffer[used] = '\0';
            *bytes = buffer;
            *length = used;
            return READ_FINE;
        }
        used += (size_t)got;
        if (used > limit) {
            memory_release(buffer);
            return READ_TOO_LARGE;
        }
    }
    memory_release(buffer);
    return READ_NO_MEMORY;
}

/* O_NONBLOCK: a pipe somebody put in the way must not hold us up; it is refused below. */
enum { OPEN_FILE = O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY };

/* Opens a file of the root by its real path (`inside`: slash, folder, slash, name), folder by
 * folder, so that a link put there since the path was resolved leads nowhere. */
static int open_below(const char *root, const char *inside) {
    int folder = open(*root ? root : "/", O_PATH | O_DIRECTORY | O_CLOEXEC);
    char part[PATH_MAX];
    while (folder >= 0) {
        size_t length = strcspn(++inside, "/");
        memcpy(part, inside, length);
        part[length] = '\0';
        inside += length;
        int flags = *inside ? O_PATH | O_DIRECTORY | O_CLOEXEC : OPEN_FILE;
        int next = openat(folder, part, flags | O_NOFOLLOW);
        int error = errno;
        close(folder);
        errno = error;
        if (!*inside)
            return next;
        folder = next;
    }
    return -1;
}

/* Reads what was opened, if it is a regular file, and closes it. */
static ReadStatus read_opened(int descriptor, size_t limit, char **bytes, size_t *length,
                              const char **reason) {
    *bytes = NULL;
    *length = 0;
    if (descriptor < 0)
        return status_of(errno, reason);
    struct stat about;
    ReadStatus status;
    if (fstat(descriptor, &about) != 0) {
        status = status_of(errno, reason);
    } else if (S_ISDIR(about.st_mode)) {
        status = READ_DIRECTORY;
    } else if (!S_ISREG(about.st_mode)) {
        *reason = "it is no regular file";
        status = READ_FAILED;
    } else if ((uintmax_t)about.st_size > limit) {
        status = READ_TOO_LARGE;
    } else {
        status = read_all(descriptor, limit, bytes, length, reason);
    }
    close(descriptor);
    return status;
}

ReadStatus disk_read_file(const char *path, size_t limit, char **bytes, size_t *length,
                          const char **reason) {
    if (strcmp(path, "-") != 0)
        return read_opened(open(path, OPEN_FILE), limit, bytes, length, reason);
    *bytes = NULL;
    *length = 0;
    return read_all(STDIN_FILENO, limit, bytes, length, reason);
}

void disk_read_input(DiskReader *disk, size_t limit) {
    disk->input_read = true;
    disk->input_reason = "cannot be read";
    disk->input_status =
        read_all(STDIN_FILENO, limit, &disk->input, &disk->input_length, &disk->input_reason);
}

/* The main file; standard input may have been read already. */
static ReadStatus read_main(DiskReader *disk, const char *path, char **text, size_t *length,
                            const char **reason) {
    if (!disk->input_read || strcmp(path, "-") != 0)
        return disk_read_file(path, LIMIT_SOURCE_BYTES, text, length, reason);
    *reason = disk->input_reason;
    if (disk->input_status == READ_FINE && disk->input_length > LIMIT_SOURCE_BYTES)
        return READ_TOO_LARGE;
    *text = disk->input;
    *length = disk->input_length;
    disk->input = NULL;
    return disk->input_status;
}

static char *join(const char *first, size_t first_length, const char *second) {
    size_t second_length = strlen(second);
    char *joined = memory_allocate(first_length + second_length + 1, 1);
    if (joined) {
        memcpy(joined, first, first_length);
        memcpy(joined + first_length, second, second_length);
    }
    return joined;
}

/* Sets root and prefix from the main file's path; the identity is the path as written. */
static ReadStatus start_at(DiskReader *disk, const char *path, char **identity,
                           const char **reason) {
    const char *slash = strcmp(path, "-") == 0 ? NULL : strrchr(path, '/');
    size_t folder = slash ? (size_t)(slash - path) + 1 : 0;
    disk->prefix = memory_copy_text(path, folder);
    *identity = memory_copy_text(path, strlen(path));
    if (!disk->prefix || !*identity)
        return READ_NO_MEMORY;
    char real[PATH_MAX];
    if (!realpath(folder ? disk->prefix : ".", real))
        return status_of(errno, reason);
    disk->root = memory_copy_text(real, strcmp(real, "/") == 0 ? 0 : strlen(real));
    return disk->root ? READ_FINE : READ_NO_MEMORY;
}

/* Where `path`, used by the file `from`, leads: into `real` (PATH_MAX bytes), of which *inside is
 * what is behind the root; and the identity. */
static ReadStatus resolve(DiskReader *disk, const char *path, const char *from, char *real,
                          const char **inside, char **identity, const char **reason) {
    const char *slash = strrchr(from, '/');
    char *joined = join(from, slash ? (size_t)(slash - from) + 1 : 0, path);
    if (!joined)
        return READ_NO_MEMORY;
    const char *found = realpath(joined, real);
    int error = errno;
    memory_release(joined);
    if (!found)
        return status_of(error, reason);
    size_t root = strlen(disk->root);
    if (strncmp(real, disk->root, root) != 0 || real[root] != '/')
        return READ_OUTSIDE;
    *inside = real + root;
    *identity = join(disk->prefix, strlen(disk->prefix), *inside + 1);
    return *identity ? READ_FINE : READ_NO_MEMORY;
}

static ReadStatus disk_read(void *context, const char *path, const char *from, char **text,
                            size_t *length, char **identity, const char **reason) {
    DiskReader *disk = context;
    char real[PATH_MAX];
    *text = NULL;
    *identity = NULL;
    ReadStatus status;
    if (!from) {
        status = start_at(disk, path, identity, reason);
        if (status == READ_FINE)
            status = read_main(disk, path, text, length, reason);
    } else {
        const char *inside = NULL;
        status = resolve(disk, path, from, real, &inside, identity, reason);
        if (status == READ_FINE)
            status = read_opened(open_below(disk->root, inside), LIMIT_SOURCE_BYTES, text, length,
                                 reason);
    }
    if (status != READ_FINE) {
        memory_release(*identity);
        *identity = NULL;
    }
    return status;
}

void disk_reader_start(DiskReader *disk) {
    *disk = (DiskReader){.reader = {disk_read, NULL}};
    disk->reader.context = disk;
}

void disk_reader_end(DiskReader *disk) {
    memory_release(disk->root);
    memory_release(disk->prefix);
    memory_release(disk->input);
    *disk = (DiskReader){0};
}

ReadStatus text_reader_read(void *context, const char *path, const char *from, char **text,
                            size_t *length, char **identity, const char **reason) {
    const TextReader *one = context;
    (void)reason;
    if (from)
        return READ_MISSING;
    *text = memory_copy_text(one->text, one->length);
    *identity = memory_copy_text(path, strlen(path));
    *length = one->length;
    if (*text && *identity)
        return READ_FINE;
    memory_release(*text);
    memory_release(*identity);
    return READ_NO_MEMORY;
}

const char *read_sentence(ReadStatus status, const char *reason) {
    switch (status) {
    case READ_MISSING:
        return "there is no such file";
    case READ_REFUSED:
        return "may not be read: `chmod +r` it, or run as its owner";
    case READ_DIRECTORY:
        return "is a folder: name a file in it";
    case READ_TOO_LARGE:
        return "is larger than 1 MiB: split it with `use`";
    case READ_OUTSIDE:
        return "lies outside the folder of the main file: copy it there";
    case READ_NO_MEMORY:
        return "does not fit into memory";
    default:
        return reason;
    }
}
