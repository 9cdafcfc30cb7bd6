/* The state of a player on disk: what lies on top of the timetable (runtime/time/override.h), as
 * JSON with a version (spec/overrides.md). Routines, dials, lamps and events are stored by their
 * names, entries by their meaning, so that the file can be edited meanwhile: what it has no more is
 * dropped, and said. A file that is not understood never stops anything: it is set aside, said, and
 * the state is empty. */
#ifndef GLOAM_LIBRARY_STATE_FILE_H
#define GLOAM_LIBRARY_STATE_FILE_H

#include "lang/compile.h"
#include "runtime/time/override.h"

/* -------- the world of a compiled file -------- */

/* The program, the timetable (or none), and the names of the lamps of a compilation that has a
 * program; all are borrowed from it and from the zone. False: out of memory; state_world_free is
 * fine then too. */
bool state_world(World *world, const Compilation *compilation, const Program *program,
                 const Zone *zone);
void state_world_free(World *world);

/* -------- what is said -------- */

#define STATE_SAID 8
#define STATE_SENTENCE_BYTES 256

/* Sentences for the log: what was dropped or went wrong. `count` counts also those that found no
 * room. */
typedef struct StateSaid {
    uint32_t count;
    char sentences[STATE_SAID][STATE_SENTENCE_BYTES];
} StateSaid;

/* -------- as text -------- */

/* The state as JSON, memory_allocate'd, `length` bytes and a NUL; NULL: out of memory. */
char *state_write(const Overrides *overrides, const World *world, size_t *length);

typedef enum StateStatus {
    STATE_FINE,
    STATE_MISSING,    /* no file: an empty state */
    STATE_NONSENSE,   /* not JSON, cut short, of another version or too large: an empty state */
    STATE_UNREADABLE, /* the system refused: an empty state, the file is left alone */
    STATE_NO_MEMORY   /* the same */
} StateStatus;

/* Any bytes may come in. *overrides is always valid afterwards; empty unless STATE_FINE. It is to
 * be settled (overrides_settle) before it is used. */
StateStatus state_read(const char *text, size_t length, const World *world, Overrides *overrides,
                       StateSaid *said);

/* The state of one world for another: what a reload does. False: out of memory, nothing changed. */
bool state_move(Overrides *overrides, const World *from, const World *to, StateSaid *said);

/* -------- as a file -------- */

/* What saving asks of a disk; each as the system call of its name, errno and all. */
typedef struct StateDisk {
    int (*create)(const char *path); /* for writing, emptied; no link is followed */
    ssize_t (*write)(int file, const void *bytes, size_t length);
    int (*sync)(int file);
    int (*close)(int file);
    int (*rename)(const char *from, const char *to);
    int (*remove)(const char *path);
    int (*sync_folder)(const char *path); /* of the folder that `path` is in */
} StateDisk;
extern const StateDisk state_disk;

/* Whatever happens meanwhile, the file is what it was or what it becomes. False: *error is errno,
 * ENOMEM where memory ran out, and the file is what it was unless only its folder could not be
 * synchronised. */
bool state_save(const StateDisk *disk, const char *path, const Overrides *overrides,
                const World *world, int *error);

/* The same with any bytes. */
bool state_replace(const StateDisk *disk, const char *path, const char *bytes, size_t length,
                   int *error);

/* Whether a file is there that cannot have been a state, damaged or not: it is not empty and does
 * not begin as one. It is not to be set aside, nor written over. */
bool state_is_other(const char *path);

/* Reads a file; nonsense is set aside as PATH.aside-1, of which STATE_ASIDE are kept, the latest
 * with the least number. Without a disk (NULL) it is left where it is. */
#define STATE_ASIDE 3
StateStatus state_load(const StateDisk *disk, const char *path, const World *world,
                       Overrides *overrides, StateSaid *said);

/* -------- between the parts of it -------- */

#define STATE_VERSION 1
/* Lets jansson allocate through runtime/core/memory.h. Before anything of it is used. */
void state_json_begin(void);
/* Whether it has asked for memory in vain since then (in this thread). */
bool state_json_failed(void);
/* The value of a text, or NULL, with *error filled in or *no_memory set. */
struct json_t;
struct json_error_t;
struct json_t *state_json_parse(const char *text, size_t length, struct json_error_t *error,
                                bool *no_memory);
void state_say(StateSaid *said, const char *format, ...) __attribute__((format(printf, 2, 3)));

#endif
