/* spidev_file FOLDER LOG: mounts files at FOLDER (libfuse3) that answer the calls of the driver
 * spidev, and writes each call to LOG, a line each: `open`, `mode N`, `bits N`, `speed N`, `message
 * SPEED BYTES` with the bytes that were sent in hexadecimal, `release`. Runs until it is told to
 * end.
 *   spidev0.0  takes all, up to 4096 bytes a message, as the driver does
 *   spidev0.1  fails each message with EIO      spidev0.2  may not be opened
 *   spidev0.3  keeps a clock of 1 MHz           spidev0.4  has nothing behind it */
#define FUSE_USE_VERSION 35
#include <errno.h>
#include <fuse.h>
#include <linux/spi/spidev.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/uio.h>

enum { FILES = 5, LIMIT = 4096 };

static FILE *list;
static uint32_t mode, hertz;
static uint8_t bits;

static int number_of(const char *path) {
    int length = 0, number = -1;
    if (sscanf(path, "/spidev0.%d%n", &number, &length) != 1 || path[length] || number >= FILES)
        return -1;
    return number;
}

static int answer_attributes(const char *path, struct stat *into, struct fuse_file_info *info) {
    (void)info;
    memset(into, 0, sizeof *into);
    into->st_mode = strcmp(path, "/") == 0 ? S_IFDIR | 0755 : S_IFREG | 0660;
    into->st_nlink = 1;
    return strcmp(path, "/") == 0 || number_of(path) >= 0 ? 0 : -ENOENT;
}

static int answer_open(const char *path, struct fuse_file_info *info) {
    int number = number_of(path);
    if (number == 2 || number == 4)
        return number == 2 ? -EACCES : -ENODEV;
    fprintf(list, "open\n");
    info->direct_io = 1;
    return number < 0 ? -ENOENT : 0;
}

static int answer_release(const char *path, struct fuse_file_info *info) {
    (void)path, (void)info;
    fprintf(list, "release\n");
    return 0;
}

static int take_message(int number, const struct spi_ioc_transfer *transfer) {
    static uint8_t bytes[LIMIT];
    if (transfer->len > LIMIT)
        return -EMSGSIZE;
    if (number == 1)
        return -EIO;
    struct iovec here = {bytes, transfer->len};
    struct iovec there = {(void *)(uintptr_t)transfer->tx_buf, transfer->len};
    if (process_vm_readv(fuse_get_context()->pid, &here, 1, &there, 1, 0) != transfer->len)
        return -EFAULT;
    fprintf(list, "message %u ", transfer->speed_hz);
    for (uint32_t i = 0; i < transfer->len; i++)
        fprintf(list, "%02X", bytes[i]);
    fprintf(list, "\n");
    return (int)transfer->len;
}

static int answer_ioctl(const char *path, unsigned int request, void *argument,
                        struct fuse_file_info *info, unsigned int flags, void *data) {
    (void)argument, (void)info, (void)flags;
    int number = number_of(path);
    switch (request) {
    case SPI_IOC_WR_MODE32:
        memcpy(&mode, data, sizeof mode);
        fprintf(list, "mode %u\n", mode);
        return 0;
    case SPI_IOC_RD_MODE32:
        memcpy(data, &mode, sizeof mode);
        return 0;
    case SPI_IOC_WR_BITS_PER_WORD:
        memcpy(&bits, data, sizeof bits);
        fprintf(list, "bits %u\n", bits);
        return 0;
    case SPI_IOC_RD_BITS_PER_WORD:
        memcpy(data, &bits, sizeof bits);
        return 0;
    case SPI_IOC_WR_MAX_SPEED_HZ:
        memcpy(&hertz, data, sizeof hertz);
        fprintf(list, "speed %u\n", hertz);
        if (number == 3)
            hertz = 1000000;
        return 0;
    case SPI_IOC_RD_MAX_SPEED_HZ:
        memcpy(data, &hertz, sizeof hertz);
        return 0;
    case SPI_IOC_MESSAGE(1):
        return take_message(number, data);
    default:
        return -ENOTTY;
    }
}

static const struct fuse_operations operations = {.getattr = answer_attributes,
                                                  .open = answer_open,
                                                  .release = answer_release,
                                                  .ioctl = answer_ioctl};

int main(int count, char **words) {
    if (count != 3 || (list = fopen(words[2], "a")) == NULL)
        return 2;
    setvbuf(list, NULL, _IOLBF, BUFSIZ);
    char *arguments[] = {words[0], (char[]){"-f"}, (char[]){"-s"}, words[1], NULL};
    return fuse_main(4, arguments, &operations, NULL);
}
