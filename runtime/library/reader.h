/* Files for the language: the main file and what it uses, all inside the main file's folder. */
#ifndef GLOAM_LIBRARY_READER_H
#define GLOAM_LIBRARY_READER_H

#include "lang/compile.h"

/* A reader of files on disk. The root is the folder of the first file read (links followed); a
 * used file must lie in it, wherever links lead (rule M5). "-" as the main file is standard input,
 * whose folder is the working directory. Only regular files are read. */
typedef struct DiskReader {
    LangReader reader;
    char *root;   /* real path of the folder, "" for `/` */
    char *prefix; /* that folder as the user wrote it, with a slash, or "" */
    char *input;  /* what was read from standard input, or NULL */
    size_t input_length;
    ReadStatus input_status;
    const char *input_reason;
    bool input_read;
} DiskReader;

void disk_reader_start(DiskReader *disk);
void disk_reader_end(DiskReader *disk);

/* Reads standard input, at most `limit` bytes, into disk->input, ahead of the compiler, which will
 * then be given it as the file "-". */
void disk_read_input(DiskReader *disk, size_t limit);

/* Reads a whole regular file, at most `limit` bytes (memory_allocate'd, a NUL behind). */
ReadStatus disk_read_file(const char *path, size_t limit, char **bytes, size_t *length,
                          const char **reason);

/* The one text of a program that uses no files; context of text_reader_read. */
typedef struct TextReader {
    const char *text;
    size_t length;
} TextReader;
ReadStatus text_reader_read(void *context, const char *path, const char *from, char **text,
                            size_t *length, char **identity, const char **reason);

/* A status as a sentence that says what to do; `reason` is that of READ_FAILED. */
const char *read_sentence(ReadStatus status, const char *reason);

#endif
