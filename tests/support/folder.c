#include "tests/support/folder.h"

#include <dirent.h>
#include <errno.h>
#include <limits.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

static void want(int done, const char *path) {
    if (!done)
        fail_msg("%s: %s", path, strerror(errno));
}

static void make(char path[FOLDER_PATH], const char *within, const char *name) {
    snprintf(path, FOLDER_PATH, "%s/gloam-%s-XXXXXX", within, name);
    want(mkdtemp(path) != NULL, path);
}

void folder_make(char path[FOLDER_PATH], const char *name) {
    make(path, "/tmp", name);
}

void folder_make_aside(char path[FOLDER_PATH], const char *name) {
    make(path, "/var/tmp", name);
}

static const struct dirent *next_inside(DIR *open) {
    const struct dirent *one;
    do
        one = readdir(open);
    while (one && (strcmp(one->d_name, ".") == 0 || strcmp(one->d_name, "..") == 0));
    return one;
}

void folder_empty(const char *path) {
    want(chmod(path, 0700) == 0, path);
    DIR *open = opendir(path);
    want(open != NULL, path);
    for (const struct dirent *one; (one = next_inside(open));) {
        char inside[PATH_MAX];
        snprintf(inside, sizeof inside, "%s/%s", path, one->d_name);
        if (unlink(inside) != 0)
            folder_remove(inside);
    }
    closedir(open);
}

void folder_remove(const char *path) {
    folder_empty(path);
    want(rmdir(path) == 0, path);
}

int folder_count(const char *path) {
    int count = 0;
    DIR *open = opendir(path);
    want(open != NULL, path);
    while (next_inside(open))
        count++;
    closedir(open);
    return count;
}

void file_write_bytes(const char *path, const void *bytes, size_t length) {
    FILE *file = fopen(path, "w");
    want(file != NULL, path);
    want(fwrite(bytes, 1, length, file) == length, path);
    want(fclose(file) == 0, path);
}

void file_write(const char *path, const char *text) {
    file_write_bytes(path, text, strlen(text));
}

char *file_read(const char *path, size_t *length) {
    struct stat about;
    FILE *file = fopen(path, "r");
    want(file != NULL && fstat(fileno(file), &about) == 0, path);
    char *text = calloc(1, (size_t)about.st_size + 1);
    assert_non_null(text);
    want(fread(text, 1, (size_t)about.st_size, file) == (size_t)about.st_size, path);
    fclose(file);
    if (length)
        *length = (size_t)about.st_size;
    return text;
}

int file_nameless(void) {
    char path[] = "/tmp/gloam-test-XXXXXX";
    int file = mkstemp(path);
    want(file >= 0, path);
    unlink(path);
    return file;
}
