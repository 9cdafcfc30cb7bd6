/* Pixels at an SPI port of the machine, through the driver spidev (/dev/spidevB.C). A frame is one
 * transfer: between two the line could rest for as long as ends a frame. Nothing answers at the
 * other end, so a missing strip is no error. */
#ifndef GLOAM_BACKENDS_SPI_H
#define GLOAM_BACKENDS_SPI_H

#include <stdint.h>
#include <sys/types.h>

#include "backends/backend.h"
#include "runtime/core/chip.h"

/* What is asked of the system; each returns what the call of that name does, errno set. */
typedef struct SpiSystem {
    int (*open)(const char *path, int flags);
    int (*ioctl)(int descriptor, unsigned long request, void *argument);
    ssize_t (*read)(int descriptor, void *into, size_t size);
    int (*close)(int descriptor);
} SpiSystem;

typedef enum SpiEnd {
    SPI_END_DARK, /* closing sends a dark frame */
    SPI_END_LAST  /* the lamp stays as it is */
} SpiEnd;

/* `own` of the options: needed. */
typedef struct SpiOptions {
    const char *path;
    const Chip *chip;
    const char *order;       /* NULL: the chip's usual one */
    uint32_t clock_hertz;    /* 0: the usual one. Of one-wire chips it chooses the profile */
    SpiEnd ends;             /* dark unless said */
    const SpiSystem *system; /* NULL: the machine's own */
} SpiOptions;

/* Takes bytes. `white` must be what the chip has, `level` only where it has levels. A frame returns
 * when it is on the wire; after one that failed the next may be tried. */
extern const BackendKind spi_backend;

#endif
