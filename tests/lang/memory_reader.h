/* Files that exist in memory only, for tests: an array of path and text, ended by {0}. The first
 * is the main file unless a test names another. A path is taken relative to the folder of the file
 * that uses it, so a test shows the same names as a disk would. */
#ifndef GLOAM_TESTS_LANG_MEMORY_READER_H
#define GLOAM_TESTS_LANG_MEMORY_READER_H

#include <stdio.h>
#include <string.h>

#include "lang/compile.h"
#include "runtime/core/memory.h"

typedef struct MemoryFile {
    const char *path;
    const char *text;
    size_t length;     /* 0: strlen(text) */
    ReadStatus status; /* what reading it gives, READ_FINE (0) for text */
} MemoryFile;

static ReadStatus memory_reader_read(void *context, const char *path, const char *from, char **text,
                                     size_t *length, char **identity, const char **reason) {
    char full[512];
    const char *slash = from ? strrchr(from, '/') : NULL;
    snprintf(full, sizeof full, "%.*s%s", slash ? (int)(slash - from + 1) : 0, from ? from : "",
             strncmp(path, "./", 2) == 0 ? path + 2 : path);
    for (const MemoryFile *file = context; file->path; file++) {
        if (strcmp(file->path, full) != 0)
            continue;
        if (file->status != READ_FINE) {
            *reason = "the disk is in flames";
            return file->status;
        }
        *length = file->length ? file->length : strlen(file->text);
        *text = memory_copy_text(file->text, *length);
        *identity = memory_copy_text(full, strlen(full));
        if (*text && *identity)
            return READ_FINE;
        memory_release(*text);
        memory_release(*identity);
        return READ_NO_MEMORY;
    }
    return READ_MISSING;
}

static inline LangReader memory_reader(const MemoryFile *files) {
    return (LangReader){memory_reader_read, (void *)files};
}

/* Compiles the first file. The caller frees the compilation. */
static inline Compilation *compile_files(const MemoryFile *files) {
    LangReader reader = memory_reader(files);
    return lang_compile(&reader, files[0].path);
}

/* Compiles one text as home.gloam. */
static inline Compilation *compile_text(const char *text) {
    MemoryFile files[] = {{.path = "home.gloam", .text = text}, {0}};
    return compile_files(files);
}

#endif
