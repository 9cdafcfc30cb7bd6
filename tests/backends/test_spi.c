/* The SPI port, with a system that is made of this file: what is asked of it and in which order,
 * the bytes of a frame, every call that can fail, memory. */
#include <errno.h>
#include <fcntl.h>
#include <linux/spi/spidev.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "backends/spi.h"
#include "runtime/core/memory.h"
#include "tests/support/chance.h"

enum { PORT = 0, PARAMETER = 42 }; /* 0: where standard input is closed */

/* -------- a system -------- */

static struct {
    int calls, fail_at, fail_with; /* counted from 1; 0: none fails */
    const char *limit; /* what the file of the driver's limit says; NULL: no such file */
    uint32_t mode, keeps_mode, hertz, keeps_hertz, transfer_hertz;
    uint8_t bits, keeps_bits;
    int opened, closed, flags, short_by;
    bool no_clock;
    int frames;
    uint32_t length;
    uint8_t wire[65536];
} fake;

static void fake_reset(void) {
    memset(&fake, 0, sizeof fake);
    fake.limit = "4096\n";
}

static bool fake_fails(void) {
    if (++fake.calls != fake.fail_at)
        return false;
    errno = fake.fail_with;
    return true;
}

static int fake_open(const char *path, int flags) {
    if (fake_fails())
        return -1;
    if (strcmp(path, "/sys/module/spidev/parameters/bufsiz") == 0) {
        if (fake.limit == NULL) {
            errno = ENOENT;
            return -1;
        }
        assert_int_equal(flags & O_ACCMODE, O_RDONLY);
        fake.opened++;
        return PARAMETER;
    }
    assert_string_equal(path, "/dev/spidev0.0");
    fake.flags = flags;
    fake.opened++;
    return PORT;
}

static ssize_t fake_read(int descriptor, void *into, size_t size) {
    if (fake_fails())
        return -1;
    assert_int_equal(descriptor, PARAMETER);
    assert_true(size > strlen(fake.limit));
    memcpy(into, fake.limit, strlen(fake.limit));
    return (ssize_t)strlen(fake.limit);
}

static int fake_close(int descriptor) {
    assert_true(descriptor == PORT || descriptor == PARAMETER);
    fake.closed++;
    return fake_fails() ? -1 : 0;
}

static int fake_transfer(const struct spi_ioc_transfer *transfer) {
    assert_true(transfer->rx_buf == 0 && transfer->cs_change == 0 && transfer->tx_nbits == 0);
    assert_true(transfer->delay_usecs == 0 && transfer->word_delay_usecs == 0);
    assert_true(transfer->rx_nbits == 0 && transfer->pad == 0 && transfer->bits_per_word == 8);
    if (fake.limit != NULL && transfer->len > strtoul(fake.limit, NULL, 10)) {
        errno = EMSGSIZE;
        return -1;
    }
    assert_true(transfer->len <= sizeof fake.wire);
    fake.length = transfer->len;
    fake.transfer_hertz = transfer->speed_hz;
    memcpy(fake.wire, (const void *)(uintptr_t)transfer->tx_buf, transfer->len);
    fake.frames++;
    return (int)transfer->len - fake.short_by;
}

static int fake_ioctl(int descriptor, unsigned long request, void *argument) {
    assert_int_equal(descriptor, PORT);
    if (fake_fails())
        return -1;
    uint32_t *wide = argument;
    uint8_t *byte = argument;
    if (request == SPI_IOC_WR_MODE32)
        fake.mode = *wide | fake.keeps_mode;
    else if (request == SPI_IOC_RD_MODE32)
        *wide = fake.mode;
    else if (request == SPI_IOC_WR_BITS_PER_WORD)
        fake.bits = fake.keeps_bits ? fake.keeps_bits : *byte;
    else if (request == SPI_IOC_RD_BITS_PER_WORD)
        *byte = fake.bits;
    else if (request == SPI_IOC_WR_MAX_SPEED_HZ)
        fake.hertz = fake.keeps_hertz ? fake.keeps_hertz : *wide;
    else if (request == SPI_IOC_RD_MAX_SPEED_HZ)
        *wide = fake.no_clock ? 0 : fake.hertz;
    else if (request == SPI_IOC_MESSAGE(1))
        return fake_transfer(argument);
    else
        fail_msg("unknown request %lx", request);
    return 0;
}

static const SpiSystem fake_system = {fake_open, fake_ioctl, fake_read, fake_close};

/* -------- a lamp -------- */

typedef struct Strip {
    SpiOptions own;
    BackendOptions options;
} Strip;

/* The options point into the strip, so it is made in place. */
static void strip(Strip *into, const char *chip, uint32_t pixels) {
    const Chip *found = chip_find(chip);
    into->own = (SpiOptions){.path = "/dev/spidev0.0", .chip = found, .system = &fake_system};
    into->options = (BackendOptions){.pixels = pixels,
                                     .white = found->white,
                                     .level = found->level != CHIP_LEVEL_NONE,
                                     .own = &into->own};
}

static Backend *opened(const Strip *strip) {
    BackendError error = {""};
    Backend *backend = spi_backend.open(&strip->options, &error);
    if (backend == NULL)
        fail_msg("%s", error.sentence);
    assert_ptr_equal(backend->kind, &spi_backend);
    return backend;
}

static void show(Backend *backend, const uint8_t *bytes) {
    BackendError error = {""};
    const BackendFrame frame = {.bytes = bytes};
    if (spi_backend.frame(backend, &frame, &error) != BACKEND_FINE)
        fail_msg("%s", error.sentence);
}

static void shut(Backend *backend) {
    BackendError error = {""};
    if (spi_backend.close(backend, &error) != BACKEND_FINE)
        fail_msg("%s", error.sentence);
    assert_int_equal(fake.opened, fake.closed);
    assert_int_equal(memory_live(), 0);
}

/* Opening fails and says all of `words`, a NULL behind the last. */
static void refused(const Strip *strip, const char *const *words) {
    BackendError error = {""};
    assert_null(spi_backend.open(&strip->options, &error));
    for (; *words; words++)
        if (strstr(error.sentence, *words) == NULL)
            fail_msg("no `%s` in: %s", *words, error.sentence);
    assert_int_equal(fake.opened, fake.closed);
    assert_int_equal(memory_live(), 0);
}
#define REFUSED(strip, ...) refused(strip, (const char *const[]){__VA_ARGS__, NULL})

/* -------- tests -------- */

/* One pixel of rgb(255 0 128) on the WS2812B's wire, by hand (test_onewire.c), and then dark. */
static void test_one_wire(void **state) {
    (void)state;
    static const uint8_t pixel[] = {255, 0, 128};
    static const uint8_t wanted[] = {0,    0x88, 0x88, 0x88, 0x88, 0xEE, 0xEE,
                                     0xEE, 0xEE, 0xE8, 0x88, 0x88, 0x88};
    fake_reset();
    Strip lamp;
    strip(&lamp, "ws2812b", 1);
    Backend *backend = opened(&lamp);
    assert_int_equal(fake.flags & O_ACCMODE, O_RDWR);
    assert_true(fake.flags & O_CLOEXEC);
    assert_true(fake.mode == SPI_MODE_0 && fake.bits == 8 && fake.hertz == 3200000);
    assert_int_equal(fake.frames, 0);
    show(backend, pixel);
    assert_int_equal(fake.frames, 1);
    assert_int_equal(fake.transfer_hertz, 3200000);
    assert_int_equal(fake.length, 1 + 12 + 120);
    assert_memory_equal(fake.wire, wanted, sizeof wanted);
    for (uint32_t i = sizeof wanted; i < fake.length; i++)
        assert_int_equal(fake.wire[i], 0);
    shut(backend);
    assert_int_equal(fake.frames, 2);
    for (uint32_t i = 0; i < fake.length; i++)
        assert_int_equal(fake.wire[i], i >= 1 && i < 13 ? 0x88 : 0);
}

static void test_ends(void **state) {
    (void)state;
    static const uint8_t pixel[] = {255, 0, 128};
    fake_reset();
    Strip lamp;
    strip(&lamp, "ws2812b", 1);
    lamp.own.ends = SPI_END_LAST;
    Backend *backend = opened(&lamp);
    show(backend, pixel);
    shut(backend);
    assert_int_equal(fake.frames, 1);
}

/* The vector of test_clocked.c; dark is level 0 and no colour. */
static void test_clocked(void **state) {
    (void)state;
    static const uint8_t bytes[] = {255, 0, 0, 31, 0, 0x80, 0, 1};
    static const uint8_t wanted[] = {0, 0, 0, 0, 0xFF, 0, 0, 0xFF, 0xE1, 0, 0x80, 0, 0, 0, 0, 0, 0};
    static const uint8_t dark[] = {0, 0, 0, 0, 0xE0, 0, 0, 0, 0xE0, 0, 0, 0, 0, 0, 0, 0, 0};
    static const char *const chips[] = {"apa102", "sk9822"};
    for (int i = 0; i < 2; i++) {
        fake_reset();
        Strip lamp;
        strip(&lamp, chips[i], 2);
        lamp.own.clock_hertz = i ? 1000000 : 0;
        Backend *backend = opened(&lamp);
        assert_int_equal(fake.hertz, i ? 1000000 : 4000000);
        show(backend, bytes);
        assert_int_equal(fake.length, sizeof wanted);
        assert_memory_equal(fake.wire, wanted, sizeof wanted);
        shut(backend);
        assert_memory_equal(fake.wire, dark, sizeof dark);
    }
    fake_reset();
    Strip lamp;
    strip(&lamp, "apa102", 2);
    lamp.options.level = false;
    static const uint8_t plain[] = {255, 0, 0, 0, 0x80, 0};
    Backend *backend = opened(&lamp);
    show(backend, plain);
    assert_true(fake.wire[4] == 0xFF && fake.wire[8] == 0xFF);
    shut(backend);
}

/* A byte of the wire from its SPI bits, 1000 or 1100. */
static uint8_t byte_of(const uint8_t *wire) {
    int byte = 0;
    for (int i = 0; i < 8; i++) {
        int bits = wire[i / 2] >> (i % 2 ? 0 : 4) & 15;
        assert_true(bits == 8 || bits == 12);
        byte = byte << 1 | (bits == 12);
    }
    return (uint8_t)byte;
}

static void check_order(const char *chip, const char *order) {
    enum { PIXELS = 5 };
    fake_reset();
    Strip lamp;
    strip(&lamp, chip, PIXELS);
    lamp.own.order = order;
    size_t channels = strlen(order);
    uint8_t bytes[4 * PIXELS];
    for (size_t i = 0; i < sizeof bytes; i++)
        bytes[i] = (uint8_t)chance();
    Backend *backend = opened(&lamp);
    show(backend, bytes);
    assert_int_equal(fake.length, 1 + 4 * channels * PIXELS + 120);
    for (size_t i = 0; i < PIXELS; i++)
        for (size_t place = 0; place < channels; place++) {
            char name = order[place];
            size_t column = name == 'r' ? 0 : name == 'g' ? 1 : name == 'b' ? 2 : 3;
            assert_int_equal(byte_of(fake.wire + 1 + 4 * (channels * i + place)),
                             bytes[channels * i + column]);
        }
    shut(backend);
}

static int orders;

static void permute(const char *chip, char *order, size_t from, size_t length) {
    if (from == length) {
        check_order(chip, order);
        orders++;
    }
    for (size_t i = from; i < length; i++) {
        char here = order[from];
        order[from] = order[i], order[i] = here;
        permute(chip, order, from + 1, length);
        here = order[from];
        order[from] = order[i], order[i] = here;
    }
}

static void test_orders(void **state) {
    (void)state;
    char three[] = "rgb", four[] = "rgbw";
    chance_state = 312;
    permute("sk6812", three, 0, 3);
    permute("sk6812w", four, 0, 4);
    assert_int_equal(orders, 6 + 24);
    for (int i = 0; i < CHIP_COUNT; i++) { /* the chip's own, where none is said */
        fake_reset();
        Strip lamp;
        strip(&lamp, CHIPS[i].name, 1);
        shut(opened(&lamp));
    }
}

/* 16, 60, 300 and 1000 pixels: sizes by hand. One-wire: 1 + 12 or 16 a pixel + 120; clocked: 4 + 4
 * a pixel + 4 + a sixteenth, rounded up. The driver takes 4096 unless told otherwise. */
static void test_sizes(void **state) {
    (void)state;
    static const struct {
        const char *chip;
        uint32_t pixels, length;
    } sizes[] = {{"ws2812b", 16, 313},   {"ws2812b", 60, 841},     {"ws2812b", 331, 4093},
                 {"ws2812b", 332, 4105}, {"ws2812b", 1000, 12121}, {"sk6812w", 60, 1081},
                 {"sk6812w", 248, 4089}, {"sk6812w", 249, 4105},   {"apa102", 300, 1227},
                 {"sk9822", 1005, 4091}, {"sk9822", 1006, 4095},   {"sk9822", 1007, 4099}};
    uint8_t *bytes = calloc(4, 2000);
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        fake_reset();
        Strip lamp;
        strip(&lamp, sizes[i].chip, sizes[i].pixels);
        char pixels[32], needed[32];
        snprintf(pixels, sizeof pixels, "%u pixels need", sizes[i].pixels);
        snprintf(needed, sizeof needed, "%u bytes", sizes[i].length);
        if (sizes[i].length > 4096) {
            REFUSED(&lamp, pixels, needed, "4096 at once", "spidev.bufsiz=65536 ",
                    "options spidev bufsiz=65536", "/etc/modprobe.d/");
            fake_reset();
            fake.limit = "65536\n";
        }
        Backend *backend = opened(&lamp);
        show(backend, bytes);
        assert_int_equal(fake.length, sizes[i].length);
        shut(backend);
    }
    free(bytes);
}

static void test_just_fits(void **state) {
    (void)state;
    fake_reset();
    fake.limit = "4093";
    Strip lamp;
    strip(&lamp, "ws2812b", 331);
    shut(opened(&lamp));
    assert_int_equal(fake.length, 4093);
    fake.limit = "4092";
    REFUSED(&lamp, "331 pixels need 4093 bytes", "4092 at once");
}

/* What is to be written holds the frame: 65536, or the next power of two. */
static void test_remedy(void **state) {
    (void)state;
    fake_reset();
    Strip lamp;
    strip(&lamp, "ws2812b", 100000);
    REFUSED(&lamp, "100000 pixels need 1200121 bytes", "spidev.bufsiz=2097152 ", "bufsiz=2097152`");
    fake_reset();
    fake.limit = "65536\n";
    strip(&lamp, "ws2812b", 5452);
    REFUSED(&lamp, "65545 bytes", "65536 at once", "spidev.bufsiz=131072 ");
}

/* Nothing said by the system: the driver refuses the frame itself, and the sentence is the same. */
static void test_limit_unknown(void **state) {
    (void)state;
    static const char *const odd[] = {NULL, "", "none\n", "0\n"};
    uint8_t bytes[3000] = {0};
    for (size_t i = 0; i < sizeof odd / sizeof *odd; i++) {
        fake_reset();
        fake.limit = odd[i];
        Strip lamp;
        strip(&lamp, "ws2812b", 1000);
        lamp.own.ends = SPI_END_LAST;
        Backend *backend = opened(&lamp);
        fake.limit = "4096\n";
        BackendError error = {""};
        const BackendFrame frame = {.bytes = bytes};
        assert_int_equal(spi_backend.frame(backend, &frame, &error), BACKEND_FAILED);
        assert_non_null(strstr(error.sentence, "1000 pixels need 12121 bytes"));
        assert_non_null(strstr(error.sentence, "spidev.bufsiz=65536"));
        shut(backend);
    }
}

/* Every call fails in turn, in each way: no descriptor and no memory is lost, a sentence is said;
 * what only tells the limit may fail. */
static void test_failures(void **state) {
    (void)state;
    static const int numbers[] = {EACCES, EPERM,  ENOENT, ENODEV, ENXIO,    EBUSY,     ENOMEM,
                                  ENOTTY, EINVAL, EIO,    EINTR,  EMSGSIZE, ETIMEDOUT, ESHUTDOWN};
    static const uint8_t bytes[6] = {1, 2, 3, 4, 5, 6};
    fake_reset();
    Strip lamp;
    strip(&lamp, "ws2812b", 2);
    Backend *backend = opened(&lamp);
    int opening = fake.calls;
    show(backend, bytes);
    assert_int_equal(fake.calls, opening + 1);
    shut(backend);
    assert_int_equal(fake.calls, opening + 3); /* dark, close */
    assert_int_equal(opening, 1 + 6 + 3);
    for (size_t n = 0; n < sizeof numbers / sizeof *numbers; n++)
        for (int at = 1; at <= opening + 3; at++) {
            fake_reset();
            fake.fail_at = at, fake.fail_with = numbers[n];
            BackendError error = {""};
            backend = spi_backend.open(&lamp.options, &error);
            bool limit = at > 7 && at <= opening;
            assert_int_equal(backend == NULL, at <= opening && !limit);
            if (backend != NULL) {
                const BackendFrame frame = {.bytes = bytes};
                BackendResult shown = spi_backend.frame(backend, &frame, &error);
                assert_int_equal(shown == BACKEND_FAILED, at == opening + 1);
                BackendResult ended = spi_backend.close(backend, &error);
                assert_int_equal(ended == BACKEND_FAILED, at > opening + 1);
            }
            assert_int_equal(error.sentence[0] == 0, limit);
            assert_true(strlen(error.sentence) < sizeof error.sentence - 1); /* not cut off */
            assert_int_equal(fake.opened, fake.closed);
            assert_int_equal(memory_live(), 0);
        }
}

static void test_sentences(void **state) {
    (void)state;
    static const struct {
        int at, number;
        const char *words[3];
    } said[] = {
        {1, EACCES, {"you may not use the port /dev/spidev0.0", "group", "udev"}},
        {1, EPERM, {"you may not use the port", "ls -l /dev/spidev0.0", "udev"}},
        {1, ENOENT, {"no port /dev/spidev0.0", "enable SPI on the board", "ls /dev/spidev*"}},
        {1, ENODEV, {"no SPI controller", "/dev/spidev0.0", "enable SPI on the board"}},
        {1, ENXIO, {"no SPI controller", "/dev/spidev0.0", "enable SPI on the board"}},
        {1, EBUSY, {"another program", "/dev/spidev0.0", "end that one"}},
        {1, ENOMEM, {"no memory", "spidev.bufsiz", "/dev/spidev0.0"}},
        {2, ENOTTY, {"/dev/spidev0.0 is no SPI port", "", ""}},
        {2, EINVAL, {"/dev/spidev0.0 does not take mode 0", "8 bits", ""}},
        {4, EINVAL, {"/dev/spidev0.0 does not take mode 0", "8 bits", ""}},
        {6, EINVAL, {"does not take a clock of 3200 kHz", "/dev/spidev0.0", ""}},
    };
    for (size_t i = 0; i < sizeof said / sizeof *said; i++) {
        fake_reset();
        fake.fail_at = said[i].at, fake.fail_with = said[i].number;
        Strip lamp;
        strip(&lamp, "ws2812b", 2);
        REFUSED(&lamp, said[i].words[0], said[i].words[1], said[i].words[2]);
    }
    static const struct {
        int number;
        const char *words;
    } sent[] = {{EIO, "did not send a frame"}, {ETIMEDOUT, "did not send a frame"},
                {ENODEV, "is gone"},           {ESHUTDOWN, "is gone"},
                {EMSGSIZE, "spidev.bufsiz="},  {EINVAL, "cannot send a frame to /dev/spidev0.0"}};
    static const uint8_t bytes[6] = {0};
    const BackendFrame frame = {.bytes = bytes};
    for (size_t i = 0; i < sizeof sent / sizeof *sent; i++) {
        fake_reset();
        Strip lamp;
        strip(&lamp, "ws2812b", 2);
        Backend *backend = opened(&lamp);
        fake.fail_at = fake.calls + 1, fake.fail_with = sent[i].number;
        BackendError error = {""};
        assert_int_equal(spi_backend.frame(backend, &frame, &error), BACKEND_FAILED);
        assert_non_null(strstr(error.sentence, sent[i].words));
        show(backend, bytes); /* the next one may go out */
        shut(backend);
    }
}

/* The port says yes and does something else. */
static void test_read_back(void **state) {
    (void)state;
    Strip lamp;
    strip(&lamp, "ws2812b", 2);
    const uint32_t modes[] = {SPI_CPHA, SPI_CPOL, SPI_LSB_FIRST};
    for (int i = 0; i < 3; i++) {
        fake_reset();
        fake.keeps_mode = modes[i];
        REFUSED(&lamp, "does not take mode 0", "it keeps mode");
    }
    fake_reset(); /* a select line that is high when active: no matter, strips have none */
    fake.keeps_mode = SPI_CS_HIGH;
    shut(opened(&lamp));
    fake_reset();
    fake.keeps_bits = 16;
    REFUSED(&lamp, "8 bits a word", "16 bits");
    fake_reset();
    fake.keeps_hertz = 3000000;
    REFUSED(&lamp, "a clock of 3000 kHz", "ws2812b wants 3158 to 3333 kHz");
    fake_reset(); /* inside the windows: taken, and the rest lasts as long at that clock */
    fake.keeps_hertz = 3300000;
    Backend *backend = opened(&lamp);
    static const uint8_t bytes[6] = {0};
    show(backend, bytes);
    assert_int_equal(fake.transfer_hertz, 3300000);
    assert_int_equal(fake.length, 1 + 24 + 124); /* 990 bits */
    shut(backend);
    strip(&lamp, "apa102", 2);
    fake_reset();
    fake.keeps_hertz = 500000;
    backend = opened(&lamp);
    shut(backend);
    assert_int_equal(fake.transfer_hertz, 500000);
    fake_reset();
    fake.no_clock = true;
    REFUSED(&lamp, "/dev/spidev0.0 does not take a clock of 4000 kHz");
    fake_reset();
    fake.short_by = 1;
    lamp.own.ends = SPI_END_DARK;
    backend = opened(&lamp);
    BackendError error = {""};
    assert_int_equal(spi_backend.close(backend, &error), BACKEND_FAILED);
    assert_non_null(strstr(error.sentence, "sent 16 of the 17 bytes"));
}

static void test_clock(void **state) {
    (void)state;
    fake_reset();
    Strip lamp;
    strip(&lamp, "ws2812b", 2);
    lamp.own.clock_hertz = 2400000;
    REFUSED(&lamp, "ws2812b wants a clock of 3158 to 3333 kHz, not 2400");
    assert_int_equal(fake.calls, 0);
    lamp.own.clock_hertz = 6400000;
    Backend *backend = opened(&lamp);
    assert_int_equal(fake.hertz, 6400000);
    static const uint8_t bytes[6] = {0, 255, 0, 0, 0, 0};
    show(backend, bytes);
    assert_int_equal(fake.length, 1 + 48 + 240);
    for (int i = 0; i < 48; i++)
        assert_int_equal(fake.wire[1 + i], i < 8 ? 0xFC : 0xC0);
    shut(backend);
}

/* Frames of another kind of pixel are refused before the port is touched. */
static void test_misfits(void **state) {
    (void)state;
    fake_reset();
    static const char *const wrong[] = {"", "rg", "rgg", "rgbb", "rgbw", "RGB", "xyz"};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        Strip lamp;
        strip(&lamp, "ws2812b", 2);
        lamp.own.order = wrong[i];
        REFUSED(&lamp, "not for pixels of the chip ws2812b");
    }
    Strip lamp;
    strip(&lamp, "ws2812b", 2);
    lamp.options.white = true;
    REFUSED(&lamp, "ws2812b");
    strip(&lamp, "ws2812b", 2);
    lamp.options.level = true;
    REFUSED(&lamp, "ws2812b");
    strip(&lamp, "sk6812w", 2);
    lamp.options.white = false;
    REFUSED(&lamp, "sk6812w");
    strip(&lamp, "apa102", 0);
    REFUSED(&lamp, "apa102");
    assert_int_equal(fake.calls, 0);
}

static void test_memory(void **state) {
    (void)state;
    Strip lamp;
    strip(&lamp, "apa102", 3);
    for (unsigned long at = 1; at <= 4; at++) {
        fake_reset();
        memory_fail_at(at);
        REFUSED(&lamp, "cannot open the port");
        memory_fail_at(0);
    }
    fake_reset();
    memory_fail_at(5);
    shut(opened(&lamp));
    memory_fail_at(0);
}

/* The machine's own calls, where they can be made without a port. */
static void test_machine(void **state) {
    (void)state;
    Strip lamp;
    strip(&lamp, "ws2812b", 2);
    lamp.own.system = NULL;
    lamp.own.path = "/nowhere/spidev0.0";
    REFUSED(&lamp, "no port /nowhere/spidev0.0");
    lamp.own.path = "/dev/null";
    REFUSED(&lamp, "/dev/null is no SPI port");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_one_wire),  cmocka_unit_test(test_ends),
        cmocka_unit_test(test_clocked),   cmocka_unit_test(test_orders),
        cmocka_unit_test(test_sizes),     cmocka_unit_test(test_just_fits),
        cmocka_unit_test(test_remedy),    cmocka_unit_test(test_limit_unknown),
        cmocka_unit_test(test_failures),  cmocka_unit_test(test_sentences),
        cmocka_unit_test(test_read_back), cmocka_unit_test(test_clock),
        cmocka_unit_test(test_misfits),   cmocka_unit_test(test_memory),
        cmocka_unit_test(test_machine),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
