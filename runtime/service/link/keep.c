#include "runtime/service/link/keep.h"

#include <errno.h>
#include <fcntl.h>
#include <nettle/sha2.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/library/advice.h"
#include "runtime/library/reader.h"

enum { PATH_BYTES = 4096 };

void keep_hash(const char *text, size_t length, char hash[KEEP_HASH]) {
    struct sha256_ctx context;
    uint8_t digest[SHA256_DIGEST_SIZE];
    sha256_init(&context);
    sha256_update(&context, length, (const uint8_t *)text);
    sha256_digest(&context, sizeof digest, digest);
    for (int i = 0; i < (KEEP_HASH - 1) / 2; i++)
        snprintf(hash + 2 * i, 3, "%02x", digest[i]);
}

/* -------- compiled -------- */

typedef struct Instead {
    DiskReader disk;
    const char *text;
    size_t length;
} Instead;

/* The main file is read, so that the folder is known, and then has another text. */
static ReadStatus read_instead(void *context, const char *path, const char *from, char **text,
                               size_t *length, char **identity, const char **reason) {
    Instead *instead = context;
    const LangReader *disk = &instead->disk.reader;
    ReadStatus status = disk->read(disk->context, path, from, text, length, identity, reason);
    if (from || status != READ_FINE)
        return status;
    memory_release(*text);
    *text = NULL;
    if (instead->length > LIMIT_SOURCE_BYTES)
        status = READ_TOO_LARGE;
    else if (!(*text = memory_copy_text(instead->text, instead->length)))
        status = READ_NO_MEMORY;
    *length = instead->length;
    if (status != READ_FINE) {
        memory_release(*identity);
        *identity = NULL;
    }
    return status;
}

/* As the player looks at it, too: some mistakes only the light itself can tell. */
static void advise(void *context, Compilation *compilation) {
    (void)context;
    advice_give(compilation);
}

ScoreStatus keep_compile(const char *home, const char *text, size_t length, Score **score) {
    Instead instead = {.text = text, .length = length};
    LangReader reader = {read_instead, &instead};
    ScoreRequest request = {.path = home,
                            .variable = getenv("TZ"),
                            .folders = &zone_folders_system,
                            .compiled = advise};
    disk_reader_start(&instead.disk);
    ScoreStatus status = score_read(&reader, &request, score);
    disk_reader_end(&instead.disk);
    return status;
}

/* -------- the file -------- */

/* As state_disk's, with the rights of the file that `path`, less its end, has now. */
static int create_alike(const char *path) {
    struct stat about;
    char old[PATH_BYTES];
    int file = state_disk.create(path);
    size_t length = strlen(path), end = strlen(".new");
    if (file < 0 || length <= end || length >= sizeof old)
        return file;
    memcpy(old, path, length - end);
    old[length - end] = '\0';
    if (stat(old, &about) == 0) {
        (void)!fchown(file, (uid_t)-1, about.st_gid); /* as far as it may */
        (void)fchmod(file, about.st_mode & 0777);
    }
    return file;
}

const StateDisk *keep_disk(void) {
    static StateDisk disk;
    disk = state_disk;
    disk.create = create_alike;
    return &disk;
}

bool keep_read(const char *home, char **text, size_t *length, char said[KEEP_SENTENCE]) {
    const char *reason = NULL;
    ReadStatus status = disk_read_file(home, LIMIT_SOURCE_BYTES, text, length, &reason);
    if (status == READ_FINE)
        return true;
    snprintf(said, KEEP_SENTENCE, "the home file: %s", read_sentence(status, reason));
    return false;
}

/* -------- kept -------- */

/* Whether the file is still the one that was edited. */
static bool is_base(const KeepRequest *request, Kept *kept) {
    char hash[KEEP_HASH];
    memory_release(kept->before);
    kept->before = NULL;
    if (!keep_read(request->home, &kept->before, &kept->before_length, kept->said))
        return false;
    keep_hash(kept->before, kept->before_length, hash);
    if (!request->base || strcmp(hash, request->base) == 0)
        return true;
    kept->result = KEEP_CHANGED;
    snprintf(kept->said, sizeof kept->said, KEEP_CHANGED_SAID);
    return false;
}

/* Whether it compiles. */
static bool is_right(const KeepRequest *request, Kept *kept) {
    ScoreStatus status = keep_compile(request->home, request->text, request->length, &kept->score);
    if (status == SCORE_WRONG)
        kept->result = KEEP_WRONG;
    if (status == SCORE_NO_MEMORY)
        snprintf(kept->said, sizeof kept->said, "out of memory");
    else if (status == SCORE_WRONG)
        snprintf(kept->said, sizeof kept->said, "the text has mistakes: nothing is changed");
    return status == SCORE_FINE;
}

/* Whether the file is that text; in pieces, since memory may be what is short. */
static bool is_there(const char *path, const char *text, size_t length) {
    char piece[1024];
    size_t at = 0, got = 0;
    FILE *file = fopen(path, "rbe");
    if (!file)
        return false;
    setvbuf(file, NULL, _IONBF, 0);
    while ((got = fread(piece, 1, sizeof piece, file)) > 0 && got <= length - at &&
           memcmp(piece, text + at, got) == 0)
        at += got;
    bool same = got == 0 && at == length && !ferror(file);
    fclose(file);
    return same;
}

static bool put(const KeepRequest *request, const char *text, size_t length, Kept *kept) {
    char *place = realpath(request->home, NULL);
    int error = errno;
    const StateDisk *disk = request->disk ? request->disk : keep_disk();
    /* Where only the folder could not be synchronised the text is there, and will be read. */
    bool done = place &&
                (state_replace(disk, place, text, length, &error) || is_there(place, text, length));
    free(place);
    if (!done)
        snprintf(kept->said, sizeof kept->said, "the home file cannot be written: %s",
                 strerror(error));
    return done;
}

/* False: another program has it. A file system without locks does without. */
static bool take_lock(const KeepRequest *request, Kept *kept) {
    const char *slash = strrchr(request->home, '/');
    char folder[PATH_BYTES] = ".";
    if (slash)
        snprintf(folder, sizeof folder, "%.*s", (int)(slash + 1 - request->home), request->home);
    kept->lock = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    kept->locked = kept->lock >= 0;
    return !kept->locked || flock(kept->lock, LOCK_EX | LOCK_NB) == 0 || errno != EWOULDBLOCK;
}

void keep_home(const KeepRequest *request, Kept *kept) {
    *kept = (Kept){.result = KEEP_MACHINE};
    if (!take_lock(request, kept)) {
        kept->result = KEEP_BUSY;
        snprintf(kept->said, sizeof kept->said, KEEP_BUSY_SAID);
        return;
    }
    /* Twice, since compiling takes long enough for somebody to change the file. */
    if (!is_base(request, kept) || !is_right(request, kept) || !is_base(request, kept))
        return;
    if (!put(request, request->text, request->length, kept))
        return;
    kept->result = KEEP_DONE;
    keep_hash(request->text, request->length, kept->hash);
    snprintf(kept->said, sizeof kept->said, "kept");
}

bool keep_back(const KeepRequest *request, Kept *kept) {
    char *now = NULL, hash[KEEP_HASH];
    size_t length;
    if (!keep_read(request->home, &now, &length, kept->said))
        return false;
    keep_hash(now, length, hash);
    memory_release(now);
    /* What somebody else has written meanwhile is not touched. */
    return strcmp(hash, kept->hash) == 0 && put(request, kept->before, kept->before_length, kept);
}

void keep_end(Kept *kept) {
    score_free(kept->score);
    memory_release(kept->before);
    if (kept->locked)
        close(kept->lock);
    *kept = (Kept){.result = KEEP_MACHINE};
}
