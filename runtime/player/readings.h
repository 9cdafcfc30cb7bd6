/* The files of a program as they were read: to know which to watch, and to keep a copy that can be
 * compiled again when the files themselves are wrong. */
#ifndef GLOAM_PLAYER_READINGS_H
#define GLOAM_PLAYER_READINGS_H

#include "lang/compile.h"
#include "runtime/library/state_file.h"

/* One reading: what was asked for, and what came of it. */
typedef struct Reading {
    char *path, *from; /* from is NULL for the main file */
    char *identity;    /* NULL: it could not be read */
    char *text;
    size_t length;
} Reading;

typedef struct Readings {
    uint32_t count;
    Reading *list;
    const LangReader *inner; /* while recording */
    bool no_memory;          /* something is missing from the list */
} Readings;

/* Begin with (Readings){0}. A reader that hands on to `inner`, which outlives it, and writes down
 * what was read. */
LangReader readings_record(Readings *readings, const LangReader *inner);
/* A reader that gives what was written down. */
LangReader readings_replay(Readings *readings);
void readings_free(Readings *readings);

/* The file on disk that a reading was of: absolute, `folder` being what relative names begin at.
 * False: it has none (standard input), or its name is too long. */
bool readings_file(const Reading *reading, const char *folder, char *path, size_t size);

/* Whose files they are is told by the path of the main one, which becomes absolute so. False: out
 * of memory. */
bool readings_name(Readings *readings, const char *folder);
/* Whether they are of the main file at `path`: by that name, or because it is the same file. */
bool readings_are_of(const Readings *readings, const char *path, const char *folder);

/* Whether two paths lead to one file that is there. */
bool readings_same_file(const char *a, const char *b);

/* As one file. Saving leaves a file that holds the same already alone. False: errno in *error. */
bool readings_save(const Readings *readings, const StateDisk *disk, const char *path, int *error);
/* False: there is none, it is not whole, or memory ran out; then *readings is empty. */
bool readings_load(Readings *readings, const char *path);

#endif
