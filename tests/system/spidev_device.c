/* spidev_device NAME LOG: makes the character device /dev/NAME (CUSE, libfuse3), which answers the
 * calls of the driver spidev, and lists each call in LOG: spidev_answers.h. The device is there for
 * as long as this runs. */
#define FUSE_USE_VERSION 35
#include <cuse_lowlevel.h>

#include "tests/system/spidev_answers.h"

static int number;

static void device_open(fuse_req_t request, struct fuse_file_info *info) {
    int answer = spidev_open(number);
    if (answer < 0)
        fuse_reply_err(request, -answer);
    else
        fuse_reply_open(request, info);
}

static void device_release(fuse_req_t request, struct fuse_file_info *info) {
    (void)info;
    fuse_reply_err(request, -spidev_release());
}

static void device_ioctl(fuse_req_t request, int command, void *argument,
                         struct fuse_file_info *info, unsigned int flags, const void *in,
                         size_t in_size, size_t out_size) {
    (void)argument, (void)info, (void)flags;
    uint8_t data[256] = {0};
    if (in_size > sizeof data || out_size > sizeof data) {
        fuse_reply_err(request, EINVAL);
        return;
    }
    memcpy(data, in, in_size);
    int answer = spidev_ioctl(number, (unsigned int)command, data, fuse_req_ctx(request)->pid);
    if (answer < 0)
        fuse_reply_err(request, -answer);
    else
        fuse_reply_ioctl(request, answer, data, out_size);
}

static const struct cuse_lowlevel_ops operations = {
    .open = device_open, .release = device_release, .ioctl = device_ioctl};

int main(int count, char **words) {
    if (count != 3 || !spidev_list(words[2]) || (number = spidev_number(words[1])) < 0)
        return 2;
    char name[64];
    snprintf(name, sizeof name, "DEVNAME=%s", words[1]);
    const char *facts[] = {name};
    struct cuse_info device = {.dev_info_argc = 1, .dev_info_argv = facts};
    char *arguments[] = {words[0], (char[]){"-f"}, (char[]){"-s"}, NULL};
    return cuse_lowlevel_main(3, arguments, &device, &operations, NULL);
}
