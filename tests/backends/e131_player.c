/* For scripts: plays moving frames through the network backend, then rests on the last one, then
 * ends the stream.
 *   e131_player PORT UNIVERSE PRIORITY PIXELS ORDER FPS MOVING STILL [stays]
 * MOVING and STILL in seconds. Channel c of pixel p in frame n is (n + 3 p + 50 c) mod 256. Prints
 * what the backend counted. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "backends/e131.h"

static const uint8_t cid[16] = {0x12, 0x34, 0x56, 0x78, 0x9A, 0xBC, 0x4D, 0xEF,
                                0x80, 0x01, 2,    3,    4,    5,    6,    7};

typedef struct Play {
    Backend *backend;
    uint8_t *bytes;
    uint32_t pixels, channels;
    bool failed;
    BackendError error;
} Play;

static int64_t now(void) {
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (int64_t)time.tv_sec * 1000000 + time.tv_nsec / 1000;
}

static void sleep_until(int64_t then) {
    struct timespec time = {.tv_sec = then / 1000000, .tv_nsec = then % 1000000 * 1000};
    while (clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &time, NULL) != 0)
        continue;
}

/* Rests until then, but for what the backend wants to be called for. */
static void rest(Play *play, int64_t then) {
    for (int64_t due; (due = e131_backend.due(play->backend)) < then;) {
        sleep_until(due);
        play->failed |= e131_backend.again(play->backend, &play->error) == BACKEND_FAILED;
    }
    sleep_until(then);
}

static void show(Play *play, unsigned number) {
    for (uint32_t pixel = 0; pixel < play->pixels; pixel++)
        for (uint32_t channel = 0; channel < play->channels; channel++)
            play->bytes[pixel * play->channels + channel] =
                (uint8_t)(number + 3 * pixel + 50 * channel);
    const BackendFrame frame = {.number = number, .bytes = play->bytes};
    play->failed |= e131_backend.frame(play->backend, &frame, &play->error) == BACKEND_FAILED;
}

int main(int count, char **words) {
    if (count < 9)
        return 2;
    Play play = {.pixels = (uint32_t)atoi(words[4]), .channels = (uint32_t)strlen(words[5])};
    const E131Options own = {.port = words[1],
                             .universe = (uint32_t)atoi(words[2]),
                             .priority = (uint32_t)atoi(words[3]),
                             .order = words[5],
                             .name = "bakery l\xC3\xA4mp",
                             .cid = cid,
                             .stays = count > 9};
    const BackendOptions options = {
        .pixels = play.pixels, .white = play.channels == 4, .own = &own};
    const double fps = atof(words[6]);
    const unsigned frames = (unsigned)(fps * atof(words[7]));
    play.bytes = calloc(play.pixels, play.channels);
    play.backend = e131_backend.open(&options, &play.error);
    if (play.bytes == NULL || play.backend == NULL) {
        fprintf(stderr, "%s\n", play.error.sentence);
        return 1;
    }
    const int64_t start = now();
    for (unsigned number = 0; number < frames; number++) {
        rest(&play, start + (int64_t)(number * 1e6 / fps));
        show(&play, number);
    }
    rest(&play, now() + (int64_t)(1e6 * atof(words[8])));
    const E131Counts counts = e131_counts(play.backend);
    play.failed |= e131_backend.close(play.backend, &play.error) != BACKEND_FINE;
    free(play.bytes);
    printf("frames %llu dropped %llu packets %llu lost %llu trouble %s\n",
           (unsigned long long)counts.frames, (unsigned long long)counts.dropped,
           (unsigned long long)counts.packets, (unsigned long long)counts.lost,
           counts.trouble != 0 ? strerror(counts.trouble) : "none");
    if (play.failed)
        fprintf(stderr, "%s\n", play.error.sentence);
    return play.failed;
}
