/* play_frames HOME UTC FRAMES: plays a home with one lamp, a ws2812b strip, from UTC (seconds since
 * 1970) for so many sixtieths of a second, by the player that `gloam run` is, on a clock that is
 * moved instead of waited for: from text to the bytes that an SPI port gets. The port's system
 * calls are answered here. Prints how many frames were worked out and sent, how many bytes were
 * sent, and their hash (FNV-1a, 64 bits: public domain, by Fowler, Noll and Vo). */
#include <errno.h>
#include <inttypes.h>
#include <linux/spi/spidev.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "backends/spi.h"
#include "runtime/player/clock_fake.h"
#include "runtime/player/player.h"

static uint64_t messages, sent, hash = UINT64_C(0xcbf29ce484222325);

static int port_open(const char *path, int flags) {
    (void)flags;
    errno = ENOENT;
    return strncmp(path, "/dev/spidev", 11) == 0 ? 1000 : -1;
}

static int port_ioctl(int descriptor, unsigned long request, void *argument) {
    (void)descriptor;
    if (request != SPI_IOC_MESSAGE(1))
        return 0; /* each setting is taken, and reads back as it was set */
    const struct spi_ioc_transfer *transfer = argument;
    const uint8_t *bytes = (const uint8_t *)(uintptr_t)transfer->tx_buf;
    messages++;
    sent += transfer->len;
    if (getenv("HASH"))
        for (uint32_t i = 0; i < transfer->len; i++)
            hash = (hash ^ bytes[i]) * UINT64_C(0x100000001b3);
    return (int)transfer->len;
}

static ssize_t port_read(int descriptor, void *into, size_t size) {
    (void)descriptor;
    return snprintf(into, size, "65536\n");
}

static int port_close(int descriptor) {
    (void)descriptor;
    return 0;
}

static void say(void *context, PlayerGravity gravity, const char *sentence) {
    (void)context;
    if (gravity <= PLAYER_WARNING)
        fprintf(stderr, "%s\n", sentence);
}

static void compiled(void *context, Compilation *compilation) {
    (void)context;
    if (!lang_program(compilation))
        diagnostics_print(lang_diagnostics(compilation), stderr, false);
}

/* As `gloam run` does it, but that time goes by when there is nothing to do. */
static void play(Player *player, Loop *loop, ClockFake *fake, int64_t length) {
    int64_t until = fake->now.monotonic + length;
    player_turn(player);
    for (;;) {
        while (loop_wait(loop, 0))
            player_turn(player);
        int64_t next = clock_fake_next(fake), left = until - fake->now.monotonic;
        if (next >= left)
            return;
        clock_fake_advance(fake, next);
        player_turn(player);
    }
}

int main(int count, char **words) {
    static const SpiSystem system = {port_open, port_ioctl, port_read, port_close};
    if (count != 4)
        return 2;
    char folder[4096];
    ClockFake fake;
    Clock clock = clock_fake_start(&fake, atoll(words[2]) * 1000000, INT64_C(3600000000));
    fake.signs.synchronised = true;
    SpiOptions own = {.path = "/dev/spidev0.0", .chip = chip_find("ws2812b"), .system = &system};
    Loop *loop = loop_create();
    PlayerRequest request = {.path = words[1],
                             .folder = getcwd(folder, sizeof folder),
                             .disk = &state_disk,
                             .variable = "",
                             .folders = &zone_folders_system,
                             .instead = {.kind = &spi_backend, .own = &own, .wire = true},
                             .fps = 60,
                             .speed = 1,
                             .seen = 1,
                             .say = say,
                             .compiled = compiled};
    Player *player = NULL;
    if (!loop || !own.chip || player_create(&request, &clock, loop, &player) != PLAYER_STARTED ||
        player_lamps(player) != 1)
        return 1;
    play(player, loop, &fake, atoll(words[3]) * 1000000 / 60);
    printf("%" PRIu64 " frames, %" PRIu64 " messages, %" PRIu64 " bytes, hash %016" PRIx64 "\n",
           lamp_player_counts(player_lamp(player, 0))->rendered, messages, sent, hash);
    bool ended = player_ended(player) != PLAYER_GOES_ON;
    player_free(player);
    loop_free(loop);
    return ended;
}
