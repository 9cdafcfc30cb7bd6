/* spidev_file FOLDER LOG: mounts files at FOLDER (libfuse3) that answer the calls of the driver
 * spidev, and lists each call in LOG: spidev_answers.h. Runs until it is told to end. */
#define FUSE_USE_VERSION 35
#include <fuse.h>
#include <sys/stat.h>

#include "tests/system/spidev_answers.h"

static int number_of(const char *path) {
    return spidev_number(path + 1);
}

static int answer_attributes(const char *path, struct stat *into, struct fuse_file_info *info) {
    (void)info;
    memset(into, 0, sizeof *into);
    into->st_mode = strcmp(path, "/") == 0 ? S_IFDIR | 0755 : S_IFREG | 0660;
    into->st_nlink = 1;
    return strcmp(path, "/") == 0 || number_of(path) >= 0 ? 0 : -ENOENT;
}

static int answer_open(const char *path, struct fuse_file_info *info) {
    info->direct_io = 1;
    return spidev_open(number_of(path));
}

static int answer_release(const char *path, struct fuse_file_info *info) {
    (void)path, (void)info;
    return spidev_release();
}

static int answer_ioctl(const char *path, unsigned int request, void *argument,
                        struct fuse_file_info *info, unsigned int flags, void *data) {
    (void)argument, (void)info, (void)flags;
    return spidev_ioctl(number_of(path), request, data, fuse_get_context()->pid);
}

static const struct fuse_operations operations = {.getattr = answer_attributes,
                                                  .open = answer_open,
                                                  .release = answer_release,
                                                  .ioctl = answer_ioctl};

int main(int count, char **words) {
    if (count != 3 || !spidev_list(words[2]))
        return 2;
    char *arguments[] = {words[0], (char[]){"-f"}, (char[]){"-s"}, words[1], NULL};
    return fuse_main(4, arguments, &operations, NULL);
}
