#include "backends/spi.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/spi/spidev.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include "backends/clocked.h"
#include "backends/onewire.h"
#include "runtime/core/memory.h"
#include "runtime/light/order.h"

static const char limit_path[] = "/sys/module/spidev/parameters/bufsiz";

typedef struct Spi {
    Backend backend;
    const SpiSystem *system;
    const Chip *chip;
    const char *path, *order;
    SpiEnd ends;
    int descriptor;
    uint32_t pixels, hertz;
    bool level;
    uint32_t channels, columns;         /* on the wire; of the frames that come */
    const OnewireProfile *profile;      /* NULL: clocked */
    uint64_t length;                    /* bytes of a frame on the wire */
    uint8_t *wire, *ordered, *darkness; /* a frame; its bytes in the order of the wire; all off */
    OnewireTable table;
} Spi;

/* -------- the machine -------- */

static int system_open(const char *path, int flags) {
    return open(path, flags);
}

static int system_ioctl(int descriptor, unsigned long request, void *argument) {
    return ioctl(descriptor, request, argument);
}

static ssize_t system_read(int descriptor, void *into, size_t size) {
    return read(descriptor, into, size);
}

static int system_close(int descriptor) {
    return close(descriptor);
}

static const SpiSystem machine = {system_open, system_ioctl, system_read, system_close};

/* -------- sentences -------- */

#define SAY(error, ...) snprintf((error)->sentence, sizeof(error)->sentence, __VA_ARGS__)

static void say_open(const Spi *spi, int number, BackendError *error) {
    const char *path = spi->path;
    switch (number) {
    case EACCES:
    case EPERM:
        SAY(error,
            "you may not use the port %s: join the group that owns it (`ls -l %s` shows it) and "
            "sign in again, or let a udev rule give it to a group of yours",
            path, path);
        break;
    case ENOENT:
        SAY(error,
            "there is no port %s: enable SPI on the board, with the driver spidev; "
            "`ls /dev/spidev*` shows the ports that there are",
            path);
        break;
    case ENODEV:
    case ENXIO:
        SAY(error,
            "no SPI controller stands behind the port %s: enable SPI on the board and start it "
            "again",
            path);
        break;
    case EBUSY:
        SAY(error, "another program holds the port %s: end that one first", path);
        break;
    case ENOMEM:
        SAY(error, "no memory for the port %s: a smaller spidev.bufsiz may help, see %s", path,
            limit_path);
        break;
    default:
        SAY(error, "cannot open the port %s: %s", path, strerror(number));
    }
}

static void say_setting(const Spi *spi, const char *what, int number, BackendError *error) {
    if (number == ENOTTY)
        SAY(error, "%s is no SPI port: a lamp wants one like /dev/spidev0.0", spi->path);
    else
        SAY(error, "the port %s does not take %s: %s", spi->path, what, strerror(number));
}

/* `limit` is 0 where it could not be read. */
static void say_limit(const Spi *spi, unsigned long limit, BackendError *error) {
    uint64_t enough = 65536;
    while (enough < spi->length)
        enough *= 2;
    char most[48] = "less at once";
    if (limit > 0)
        snprintf(most, sizeof most, "%lu at once", limit);
    SAY(error,
        "%u pixels need %llu bytes a frame and the driver takes %s: write spidev.bufsiz=%llu on "
        "the kernel's command line, or `options spidev bufsiz=%llu` in "
        "/etc/modprobe.d/spidev.conf, and start the board again",
        (unsigned)spi->pixels, (unsigned long long)spi->length, most, (unsigned long long)enough,
        (unsigned long long)enough);
}

static void say_transfer(const Spi *spi, int number, BackendError *error) {
    switch (number) {
    case EMSGSIZE:
        say_limit(spi, 0, error);
        break;
    case ENODEV:
    case ENXIO:
    case ESHUTDOWN:
        SAY(error, "the port %s is gone: its SPI controller was taken away", spi->path);
        break;
    case EIO:
    case ETIMEDOUT:
        SAY(error,
            "the SPI controller of %s did not send a frame (%s): the kernel's log (`dmesg`) may "
            "say "
            "why; try a slower `clock` if the chip has one",
            spi->path, strerror(number));
        break;
    default:
        SAY(error, "cannot send a frame to %s: %s", spi->path, strerror(number));
    }
}

/* -------- opening -------- */

/* Set and read back: a driver may take a value and keep another. */
static bool spi_set(Spi *spi, unsigned long set, unsigned long get, void *value, const char *what,
                    BackendError *error) {
    if (spi->system->ioctl(spi->descriptor, set, value) >= 0 &&
        spi->system->ioctl(spi->descriptor, get, value) >= 0)
        return true;
    say_setting(spi, what, errno, error);
    return false;
}

static bool spi_mode(Spi *spi, BackendError *error) {
    static const char what[] = "mode 0, highest bit first, 8 bits a word";
    uint32_t mode = SPI_MODE_0;
    uint8_t bits = 8;
    if (!spi_set(spi, SPI_IOC_WR_MODE32, SPI_IOC_RD_MODE32, &mode, what, error) ||
        !spi_set(spi, SPI_IOC_WR_BITS_PER_WORD, SPI_IOC_RD_BITS_PER_WORD, &bits, what, error))
        return false;
    if ((mode & (SPI_CPHA | SPI_CPOL | SPI_LSB_FIRST)) == 0 && (bits == 8 || bits == 0))
        return true;
    SAY(error, "the port %s does not take %s: it keeps mode %u and %u bits", spi->path, what,
        (unsigned)mode, (unsigned)bits);
    return false;
}

/* Whole kHz inside the range. */
static void spi_wanted(const OnewireProfile *profile, char text[48]) {
    OnewireClocks clocks = onewire_range(profile);
    snprintf(text, 48, "%u to %u kHz", (unsigned)((clocks.least + 999) / 1000),
             (unsigned)(clocks.most / 1000));
}

static bool spi_clock(Spi *spi, BackendError *error) {
    char what[48];
    snprintf(what, sizeof what, "a clock of %.6g kHz", spi->hertz / 1e3);
    uint32_t hertz = spi->hertz;
    if (!spi_set(spi, SPI_IOC_WR_MAX_SPEED_HZ, SPI_IOC_RD_MAX_SPEED_HZ, &hertz, what, error))
        return false;
    if (hertz > 0 && (spi->profile == NULL || onewire_fits(spi->profile, hertz))) {
        spi->hertz = hertz;
        return true;
    }
    if (spi->profile == NULL) {
        SAY(error, "the port %s does not take %s", spi->path, what);
        return false;
    }
    char wanted[48];
    spi_wanted(spi->profile, wanted);
    SAY(error, "the port %s has a clock of %.6g kHz, and %s wants %s", spi->path, hertz / 1e3,
        spi->chip->name, wanted);
    return false;
}

/* Bytes that the driver takes at once; 0: not known. */
static unsigned long spi_limit(const Spi *spi) {
    char text[32] = "";
    int descriptor = spi->system->open(limit_path, O_RDONLY | O_CLOEXEC);
    if (descriptor < 0)
        return 0;
    ssize_t length = spi->system->read(descriptor, text, sizeof text - 1);
    spi->system->close(descriptor);
    return length > 0 ? strtoul(text, NULL, 10) : 0;
}

static bool spi_fits(Spi *spi, BackendError *error) {
    spi->length = spi->profile ? onewire_length(spi->profile->pattern, spi->hertz,
                                                (uint64_t)spi->channels * spi->pixels)
                               : clocked_length(spi->pixels);
    unsigned long limit = spi_limit(spi);
    if (spi->length <= (limit > 0 ? limit : UINT32_MAX))
        return true;
    say_limit(spi, limit, error);
    return false;
}

static bool spi_memory(Spi *spi, BackendError *error) {
    spi->wire = memory_allocate((size_t)spi->length, 1);
    spi->darkness = memory_allocate(spi->pixels, spi->columns);
    spi->ordered = memory_allocate(spi->pixels, spi->channels);
    if (spi->wire != NULL && spi->darkness != NULL && spi->ordered != NULL)
        return true;
    backend_say(error, "cannot open the port", ENOMEM);
    return false;
}

static bool spi_order_fits(const char *order, bool white) {
    const char *columns = white ? "rgbw" : "rgb";
    if (strlen(order) != strlen(columns))
        return false;
    for (; *columns; columns++)
        if (strchr(order, *columns) == NULL)
            return false;
    return true;
}

/* What needs no port. */
static bool spi_plan(Spi *spi, const BackendOptions *options, const SpiOptions *own,
                     BackendError *error) {
    const Chip *chip = own->chip;
    if (options->pixels == 0 || options->white != chip->white ||
        (options->level && chip->level == CHIP_LEVEL_NONE) ||
        !spi_order_fits(spi->order, chip->white)) {
        SAY(error, "these frames are not for pixels of the chip %s in the order %s", chip->name,
            spi->order);
        return false;
    }
    spi->channels = chip->white ? 4 : 3;
    spi->columns = spi->channels + (uint32_t)options->level;
    if (chip->wire == CHIP_CLOCKED) {
        spi->hertz = own->clock_hertz ? own->clock_hertz : CHIP_USUAL_CLOCK;
        return true;
    }
    spi->profile = onewire_profile(chip->name, own->clock_hertz);
    if (spi->profile == NULL) {
        char wanted[48];
        spi_wanted(onewire_profile(chip->name, 0), wanted);
        SAY(error, "%s wants a clock of %s, not %.6g: leave `clock` out, or say one of these",
            chip->name, wanted, own->clock_hertz / 1e3);
        return false;
    }
    spi->hertz = own->clock_hertz ? own->clock_hertz : spi->profile->hertz;
    onewire_table(spi->profile->pattern, &spi->table);
    return true;
}

static bool spi_free(Spi *spi) {
    bool fine = spi->descriptor < 0 || spi->system->close(spi->descriptor) == 0;
    int number = errno;
    memory_release(spi->wire);
    memory_release(spi->darkness);
    memory_release(spi->ordered);
    memory_release(spi);
    errno = number;
    return fine;
}

static bool spi_port(Spi *spi, BackendError *error) {
    spi->descriptor = spi->system->open(spi->path, O_RDWR | O_CLOEXEC);
    if (spi->descriptor >= 0)
        return true;
    say_open(spi, errno, error);
    return false;
}

static Backend *spi_open(const BackendOptions *options, BackendError *error) {
    const SpiOptions *own = options->own;
    Spi *spi = memory_allocate(1, sizeof *spi);
    if (spi == NULL) {
        backend_say(error, "cannot open the port", ENOMEM);
        return NULL;
    }
    spi->backend.kind = &spi_backend;
    spi->system = own->system ? own->system : &machine;
    spi->chip = own->chip;
    spi->path = own->path;
    spi->order = own->order ? own->order : own->chip->order;
    spi->ends = own->ends;
    spi->descriptor = -1;
    spi->pixels = options->pixels;
    spi->level = options->level;
    if (spi_plan(spi, options, own, error) && spi_port(spi, error) && spi_mode(spi, error) &&
        spi_clock(spi, error) && spi_fits(spi, error) && spi_memory(spi, error))
        return &spi->backend;
    spi_free(spi);
    return NULL;
}

/* -------- frames -------- */

static BackendResult spi_send(Spi *spi, const uint8_t *bytes, BackendError *error) {
    if (spi->profile) {
        order_channels(spi->order, bytes, spi->pixels, spi->ordered);
        onewire_frame(&spi->table, spi->hertz, spi->ordered, (size_t)spi->channels * spi->pixels,
                      spi->wire);
    } else {
        clocked_frame(spi->order, bytes, spi->level, spi->pixels, spi->wire);
    }
    struct spi_ioc_transfer transfer;
    memset(&transfer, 0, sizeof transfer);
    transfer.tx_buf = (uintptr_t)spi->wire;
    transfer.len = (uint32_t)spi->length;
    transfer.speed_hz = spi->hertz;
    transfer.bits_per_word = 8;
    int sent = spi->system->ioctl(spi->descriptor, SPI_IOC_MESSAGE(1), &transfer);
    if (sent < 0) {
        say_transfer(spi, errno, error);
        return BACKEND_FAILED;
    }
    if ((uint64_t)sent != spi->length) {
        SAY(error, "the SPI controller of %s sent %d of the %llu bytes of a frame", spi->path, sent,
            (unsigned long long)spi->length);
        return BACKEND_FAILED;
    }
    return BACKEND_FINE;
}

static BackendResult spi_frame(Backend *backend, const BackendFrame *frame, BackendError *error) {
    return spi_send((Spi *)backend, frame->bytes, error);
}

static BackendResult spi_close(Backend *backend, BackendError *error) {
    Spi *spi = (Spi *)backend;
    BackendResult result = BACKEND_FINE;
    if (spi->ends == SPI_END_DARK)
        result = spi_send(spi, spi->darkness, error);
    if (!spi_free(spi) && result == BACKEND_FINE) {
        backend_say(error, "cannot close the port", errno);
        result = BACKEND_FAILED;
    }
    return result;
}

const BackendKind spi_backend = {
    .name = "spi", .takes_light = false, .open = spi_open, .frame = spi_frame, .close = spi_close};
