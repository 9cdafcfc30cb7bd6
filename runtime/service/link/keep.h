/* A new text for the home file: compiled as the player would, then put in its place as a whole.
 * The player is then to be told `reload`; it keeps the versions (runtime/player/versions.h). */
#ifndef GLOAM_SERVICE_LINK_KEEP_H
#define GLOAM_SERVICE_LINK_KEEP_H

#include <stdbool.h>
#include <stddef.h>

#include "runtime/library/state_file.h"
#include "runtime/player/score.h"

enum { KEEP_HASH = 17, KEEP_SENTENCE = 320 };
#define KEEP_CHANGED_SAID "the file on the lamp has changed meanwhile: look at it first"
#define KEEP_BUSY_SAID "another text is being kept: try again"

/* The first 16 hexadecimal digits of the text's SHA-256 (FIPS 180-4). */
void keep_hash(const char *text, size_t length, char hash[KEEP_HASH]);

/* Compiles `text` as if it were the file at `home`: what it uses is read from that file's folder
 * and nowhere else. *score is the caller's, whatever is returned (score_free; its compilation has
 * the diagnostics); NULL where memory ran out or the folder is not there. */
ScoreStatus keep_compile(const char *home, const char *text, size_t length, Score **score);

typedef enum KeepResult {
    KEEP_DONE,
    KEEP_CHANGED, /* the file is another than `base` */
    KEEP_WRONG,   /* the text is: see the diagnostics */
    KEEP_BUSY,    /* the player has not answered yet for a text of another program */
    KEEP_MACHINE  /* full, read-only, no memory: `said` tells; the file is what it was */
} KeepResult;

typedef struct KeepRequest {
    const char *home; /* links are followed */
    const char *text;
    size_t length;
    const char *base;      /* the hash of the text that was edited; NULL: whatever is there */
    const StateDisk *disk; /* NULL: keep_disk */
} KeepRequest;

typedef struct Kept {
    KeepResult result;
    Score *score; /* of the text; may be NULL */
    char *before; /* what was there; may be NULL */
    size_t before_length;
    bool locked; /* the folder of the home file, against other programs that keep one */
    int lock;    /* its descriptor */
    char hash[KEEP_HASH];
    char said[KEEP_SENTENCE];
} Kept;

/* As state_disk, but a file takes over group and rights of the one it replaces. */
const StateDisk *keep_disk(void);

/* Until keep_end, which is to follow, no other program keeps a text in that folder: what it found
 * there might be taken back yet. */
void keep_home(const KeepRequest *request, Kept *kept);
/* Where the player does not take what was kept: what was there before, unless the file has become
 * another again. False: it is not written back. */
bool keep_back(const KeepRequest *request, Kept *kept);
void keep_end(Kept *kept);

/* The file as it is; memory_allocate'd, NUL-terminated. False: `said` tells why. */
bool keep_read(const char *home, char **text, size_t *length, char said[KEEP_SENTENCE]);

#endif
