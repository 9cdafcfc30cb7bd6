/* wire_samples CHIP PIXELS KILOHERTZ SAMPLES FRAMES: opens the chip's wire, shows two frames of
 * pseudo-random bytes and ends dark; SAMPLES is what the lines of the port did, one byte a sample
 * (bit 0 data, bit 1 clock), FRAMES what was shown, a pixel a line. Prints samples a second.
 * One-wire: a sample is an SPI bit. Clocked: two a bit, data changing while the clock is low.
 * slow_wire.sh has a signal analyser read the samples. */
#include <linux/spi/spidev.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "backends/spi.h"
#include "tests/support/chance.h"

enum { PORT = 3, MOST = 4000, IDLE = 2000 };

static FILE *samples;
static uint32_t hertz;
static bool clocked;

static void idle(void) {
    for (int i = 0; i < IDLE; i++)
        putc(0, samples);
}

static void send(const struct spi_ioc_transfer *transfer) {
    const uint8_t *bytes = (const uint8_t *)(uintptr_t)transfer->tx_buf;
    for (uint32_t i = 0; i < transfer->len; i++)
        for (int bit = 7; bit >= 0; bit--) {
            int level = bytes[i] >> bit & 1;
            putc(level, samples);
            if (clocked)
                putc(level | 2, samples);
        }
}

static int wire_open(const char *path, int flags) {
    (void)flags;
    return strcmp(path, "/dev/spidev0.0") == 0 ? PORT : -1;
}

static int wire_ioctl(int descriptor, unsigned long request, void *argument) {
    (void)descriptor;
    if (request == SPI_IOC_WR_MAX_SPEED_HZ)
        memcpy(&hertz, argument, sizeof hertz);
    if (request != SPI_IOC_MESSAGE(1))
        return 0;
    send(argument);
    return (int)((const struct spi_ioc_transfer *)argument)->len;
}

static ssize_t wire_read(int descriptor, void *into, size_t size) {
    (void)descriptor, (void)into, (void)size;
    return -1;
}

static int wire_close(int descriptor) {
    (void)descriptor;
    return 0;
}

static const SpiSystem wire = {wire_open, wire_ioctl, wire_read, wire_close};

static void fill(uint8_t *bytes, uint32_t pixels, uint32_t columns, bool level, FILE *frames) {
    for (uint32_t i = 0; i < pixels * columns; i++) {
        bool is_level = level && i % columns == columns - 1;
        bytes[i] = (uint8_t)(is_level ? chance() % 32 : chance());
        fprintf(frames, "%d%c", bytes[i], i % columns == columns - 1 ? '\n' : ' ');
    }
}

int main(int count, char **words) {
    if (count != 6)
        return 2;
    const Chip *chip = chip_find(words[1]);
    uint32_t pixels = (uint32_t)atoi(words[2]);
    samples = fopen(words[4], "wb");
    FILE *frames = fopen(words[5], "w");
    if (!chip || pixels == 0 || pixels > MOST || !samples || !frames)
        return 2;
    clocked = chip->wire == CHIP_CLOCKED;
    bool level = chip->level != CHIP_LEVEL_NONE;
    SpiOptions own = {.path = "/dev/spidev0.0",
                      .chip = chip,
                      .clock_hertz = 1000 * (uint32_t)atoi(words[3]),
                      .system = &wire};
    BackendOptions options = {.pixels = pixels, .white = chip->white, .level = level, .own = &own};
    BackendError error = {""};
    Backend *backend = spi_backend.open(&options, &error);
    static uint8_t bytes[4 * MOST];
    const BackendFrame frame = {.bytes = bytes};
    chance_state = 313;
    idle();
    for (int i = 0; backend && i < 2; i++) {
        fill(bytes, pixels, chip->white || level ? 4 : 3, level, frames);
        if (spi_backend.frame(backend, &frame, &error) != BACKEND_FINE)
            backend = NULL;
    }
    if (!backend || spi_backend.close(backend, &error) != BACKEND_FINE) {
        fprintf(stderr, "%s\n", error.sentence);
        return 1;
    }
    idle();
    printf("%u\n", clocked ? 2 * hertz : hertz);
    return fclose(samples) || fclose(frames);
}
