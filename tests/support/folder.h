/* Folders and files of a test's own. What the system refuses fails the test, with its reason. */
#ifndef GLOAM_TESTS_SUPPORT_FOLDER_H
#define GLOAM_TESTS_SUPPORT_FOLDER_H

#include <stddef.h>

enum { FOLDER_PATH = 64 };

/* A new one, /tmp/gloam-NAME-XXXXXX. */
void folder_make(char path[FOLDER_PATH], const char *name);
/* For who watches each folder on the way: not beside the files of all the other tests. */
void folder_make_aside(char path[FOLDER_PATH], const char *name);
/* What is in it goes, whatever its rights; no link is followed. */
void folder_empty(const char *path);
/* The folder too. */
void folder_remove(const char *path);
/* Files, folders and links in it, also those that begin with a dot. */
int folder_count(const char *path);

void file_write(const char *path, const char *text);
void file_write_bytes(const char *path, const void *bytes, size_t length);
/* The whole of it with a 0 behind, to be freed; `length` may be NULL. */
char *file_read(const char *path, size_t *length);
/* To be written and read: a file without a name, gone when it is closed. */
int file_nameless(void);

#endif
