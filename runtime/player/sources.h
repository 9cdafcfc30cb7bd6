/* The files of a program as they were read: to know which to watch, and to keep a copy that can be
 * compiled again when the files themselves are wrong. */
#ifndef GLOAM_PLAYER_SOURCES_H
#define GLOAM_PLAYER_SOURCES_H

#include "lang/compile.h"
#include "runtime/library/state_file.h"

/* One reading: what was asked for, and what came of it. */
typedef struct Source {
    char *path, *from; /* from is NULL for the main file */
    char *identity;    /* NULL: it could not be read */
    char *text;
    size_t length;
} Source;

typedef struct Sources {
    uint32_t count;
    Source *list;
    const LangReader *inner; /* while recording */
    bool no_memory;          /* something is missing from the list */
} Sources;

/* Begin with (Sources){0}. A reader that hands on to `inner`, which outlives it, and writes down
 * what was read. */
LangReader sources_record(Sources *sources, const LangReader *inner);
/* A reader that gives what was written down. */
LangReader sources_replay(Sources *sources);
void sources_free(Sources *sources);

/* The file on disk that a reading was of: absolute, `folder` being what relative names begin at.
 * False: it has none (standard input), or its name is too long. */
bool sources_file(const Source *source, const char *folder, char *path, size_t size);

/* As one file. Saving leaves a file that holds the same already alone. False: errno in *error. */
bool sources_save(const Sources *sources, const StateDisk *disk, const char *path, int *error);
/* False: there is none, it is not whole, or memory ran out; then *sources is empty. */
bool sources_load(Sources *sources, const char *path);

#endif
