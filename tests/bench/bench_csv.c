/* How long a row of the dump takes, beside two peers in the same run:
 *   plain    a table-driven writer as one would write it in half an hour: the digits of 0..255 in a
 *            table, numbers of pixels by division, one fwrite a buffer
 *   fprintf  the C library
 * All write the same text to the same file (checked). Prints nanoseconds a row, the median of
 * ROUNDS, and the ratio to plain: at most 2 is asked for bytes. */
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "backends/csv.h"

enum { PIXELS = 300, FRAMES = 2000, ROUNDS = 9 };

static uint8_t bytes[FRAMES][3 * PIXELS];
static float light[FRAMES][3 * PIXELS];

static double now(void) {
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec * 1e9 + (double)time.tv_nsec;
}

static char digits[256][4];
static int lengths[256];

static char *plain_number(char *next, unsigned value) {
    char text[12];
    int count = 0;
    do {
        text[count++] = (char)('0' + value % 10);
        value /= 10;
    } while (value > 0);
    while (count > 0)
        *next++ = text[--count];
    return next;
}

static void plain(FILE *file) {
    static char buffer[1 << 16];
    char *next = buffer;
    for (int i = 0; i < 256; i++)
        lengths[i] = snprintf(digits[i], sizeof digits[i], "%d", i);
    next += sprintf(next, "frame,seconds,pixel,red,green,blue\n");
    for (int frame = 0; frame < FRAMES; frame++) {
        char lead[48];
        int length = sprintf(lead, "%d,%.6f,", frame, frame * 0.016667);
        for (unsigned pixel = 0; pixel < PIXELS; pixel++) {
            if (next > buffer + sizeof buffer - 128) {
                fwrite(buffer, 1, (size_t)(next - buffer), file);
                next = buffer;
            }
            memcpy(next, lead, (size_t)length);
            next = plain_number(next + length, pixel);
            for (int channel = 0; channel < 3; channel++) {
                uint8_t value = bytes[frame][3 * pixel + channel];
                *next++ = ',';
                memcpy(next, digits[value], (size_t)lengths[value]);
                next += lengths[value];
            }
            *next++ = '\n';
        }
    }
    fwrite(buffer, 1, (size_t)(next - buffer), file);
}

static void printed(FILE *file) {
    fprintf(file, "frame,seconds,pixel,red,green,blue\n");
    for (int frame = 0; frame < FRAMES; frame++)
        for (int pixel = 0; pixel < PIXELS; pixel++) {
            const uint8_t *value = bytes[frame] + 3 * pixel;
            fprintf(file, "%d,%.6f,%d,%d,%d,%d\n", frame, frame * 0.016667, pixel, value[0],
                    value[1], value[2]);
        }
}

static void printed_light(FILE *file) {
    fprintf(file, "frame,seconds,pixel,red,green,blue\n");
    for (int frame = 0; frame < FRAMES; frame++)
        for (int pixel = 0; pixel < PIXELS; pixel++) {
            const float *value = light[frame] + 3 * pixel;
            fprintf(file, "%d,%.6f,%d,%.9g,%.9g,%.9g\n", frame, frame * 0.016667, pixel,
                    (double)value[0], (double)value[1], (double)value[2]);
        }
}

static void ours(FILE *file, CsvValues values) {
    const CsvOptions own = {.values = values};
    const BackendOptions options = {.pixels = PIXELS, .descriptor = fileno(file), .own = &own};
    BackendError error;
    Backend *backend = csv_backend.open(&options, &error);
    for (int frame = 0; frame < FRAMES; frame++) {
        const BackendFrame one = {(uint64_t)frame, frame * 16667, light[frame], bytes[frame]};
        csv_backend.frame(backend, &one, &error);
    }
    csv_backend.close(backend, &error);
}

static void ours_bytes(FILE *file) {
    ours(file, CSV_BYTES);
}
static void ours_light(FILE *file) {
    ours(file, CSV_LIGHT);
}

typedef struct Peer {
    const char *name;
    void (*write)(FILE *file);
    double round[ROUNDS];
    char *text;
    size_t length;
} Peer;

static void peer_run(Peer *peer, FILE *file, int round) {
    rewind(file);
    double start = now();
    peer->write(file);
    fflush(file);
    peer->round[round] = (now() - start) / ((double)FRAMES * PIXELS);
    off_t length = lseek(fileno(file), 0, SEEK_CUR);
    if (peer->text == NULL && (peer->text = malloc((size_t)length)) != NULL) {
        peer->length = (size_t)length;
        if (pread(fileno(file), peer->text, (size_t)length, 0) != length)
            perror("pread");
    }
}

static int compare(const void *left, const void *right) {
    double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
}

static double peer_median(Peer *peer) {
    qsort(peer->round, ROUNDS, sizeof *peer->round, compare);
    return peer->round[ROUNDS / 2];
}

static int same(const Peer *a, const Peer *b) {
    if (a->length == b->length && memcmp(a->text, b->text, a->length) == 0)
        return 1;
    printf("%s and %s wrote different texts\n", a->name, b->name);
    return 0;
}

int main(void) {
    Peer peers[] = {{.name = "plain", .write = plain},
                    {.name = "fprintf", .write = printed},
                    {.name = "csv bytes", .write = ours_bytes},
                    {.name = "fprintf %.9g", .write = printed_light},
                    {.name = "csv light", .write = ours_light}};
    enum { PEERS = sizeof peers / sizeof *peers };
    uint32_t state = 1;
    for (int i = 0; i < FRAMES * 3 * PIXELS; i++) {
        state = state * 1664525u + 1013904223u;
        bytes[i / (3 * PIXELS)][i % (3 * PIXELS)] = (uint8_t)(state >> 24);
        light[i / (3 * PIXELS)][i % (3 * PIXELS)] = (float)(state >> 8) / 16777216.0f;
    }
    FILE *file = tmpfile();
    if (file == NULL) {
        perror("tmpfile");
        return 1;
    }
    for (int round = 0; round < ROUNDS; round++)
        for (int i = 0; i < PEERS; i++)
            peer_run(&peers[i], file, round);
    double base = peer_median(&peers[0]);
    for (int i = 0; i < PEERS; i++) {
        double median = i == 0 ? base : peer_median(&peers[i]);
        printf("%-14s %8.1f ns a row  %6.2f of plain\n", peers[i].name, median, median / base);
    }
    return !(same(&peers[0], &peers[2]) && same(&peers[0], &peers[1]) &&
             same(&peers[3], &peers[4]));
}
