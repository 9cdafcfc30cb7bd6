/* What the driver spidev answers, for programs that stand in for it. Each call is written to a
 * list, a line each: `open`, `mode N`, `bits N`, `speed N`, `message SPEED BYTES` with the bytes
 * that were sent in hexadecimal, `release`.
 *
 * - spidev0.0 takes all, up to 4096 bytes a message, as the driver does
 * - spidev0.1 fails each message with EIO
 * - spidev0.2 may not be opened
 * - spidev0.3 keeps a clock of 1 MHz
 * - spidev0.4 has nothing behind it */
#ifndef GLOAM_TESTS_SYSTEM_SPIDEV_ANSWERS_H
#define GLOAM_TESTS_SYSTEM_SPIDEV_ANSWERS_H

#include <errno.h>
#include <linux/spi/spidev.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/uio.h>

enum { SPIDEV_NUMBERS = 5, SPIDEV_LIMIT = 4096 };

static FILE *list;
static uint32_t mode, hertz;
static uint8_t bits;

/* False: the list cannot be written. */
static int spidev_list(const char *path) {
    list = fopen(path, "a");
    if (list)
        setvbuf(list, NULL, _IOLBF, BUFSIZ);
    return list != NULL;
}

/* Of `spidev0.N`; -1: there is none of that name. */
static int spidev_number(const char *name) {
    int length = 0, number = -1;
    if (sscanf(name, "spidev0.%d%n", &number, &length) != 1 || name[length] ||
        number >= SPIDEV_NUMBERS)
        return -1;
    return number;
}

static int spidev_open(int number) {
    if (number == 2 || number == 4)
        return number == 2 ? -EACCES : -ENODEV;
    fprintf(list, "open\n");
    return number < 0 ? -ENOENT : 0;
}

static int spidev_release(void) {
    fprintf(list, "release\n");
    return 0;
}

static int spidev_message(int number, const struct spi_ioc_transfer *transfer, pid_t caller) {
    static uint8_t bytes[SPIDEV_LIMIT];
    if (transfer->len > SPIDEV_LIMIT)
        return -EMSGSIZE;
    if (number == 1)
        return -EIO;
    struct iovec here = {bytes, transfer->len};
    struct iovec there = {(void *)(uintptr_t)transfer->tx_buf, transfer->len};
    if (process_vm_readv(caller, &here, 1, &there, 1, 0) != transfer->len)
        return -EFAULT;
    fprintf(list, "message %u ", transfer->speed_hz);
    for (uint32_t i = 0; i < transfer->len; i++)
        fprintf(list, "%02X", bytes[i]);
    fprintf(list, "\n");
    return (int)transfer->len;
}

/* `data` is what the request carries, in and out. */
static int spidev_ioctl(int number, unsigned int request, void *data, pid_t caller) {
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
        return spidev_message(number, data, caller);
    default:
        return -ENOTTY;
    }
}

#endif
