#include "backends/csv.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "backends/decimal.h"
#include "runtime/core/memory.h"

enum {
    BUFFER_BYTES = 1 << 16,
    CELL = 8,             /* bytes copied at once for a short cell; only its length counts */
    LEAD_LONGEST = 48,    /* frame and seconds */
    ROW_LONGEST = 5 * 32, /* a row, and how far its last copy reaches beyond */
};

/* A cell ready to be copied, with the comma or the end of the line behind it. */
typedef struct Cell {
    char text[CELL];
} Cell;

typedef struct Csv {
    Backend backend;
    int descriptor;
    uint32_t pixels, columns;
    CsvValues values;
    bool live;
    Cell bytes[2][256]; /* with a comma; with the end of the line */
    uint8_t byte_lengths[256];
    Cell *numbers; /* one a pixel, with a comma */
    uint8_t *number_lengths;
    size_t used;
    char buffer[BUFFER_BYTES];
} Csv;

static const char csv_trouble[] = "cannot write the frames";

static bool csv_flush(Csv *csv, BackendError *error) {
    size_t length = csv->used;
    csv->used = 0;
    if (backend_write(csv->descriptor, csv->buffer, length))
        return true;
    backend_say(error, csv_trouble, errno);
    return false;
}

static void csv_fill_bytes(Csv *csv) {
    for (int value = 0; value < 256; value++) {
        char text[CELL];
        int length = snprintf(text, sizeof text, "%d", value);
        csv->byte_lengths[value] = (uint8_t)(length + 1);
        for (int last = 0; last < 2; last++) {
            memcpy(csv->bytes[last][value].text, text, (size_t)length);
            csv->bytes[last][value].text[length] = last ? '\n' : ',';
        }
    }
}

static void csv_fill_numbers(Csv *csv) {
    for (uint32_t pixel = 0; pixel < csv->pixels; pixel++) {
        char text[16];
        int length = snprintf(text, sizeof text, "%u,", pixel);
        memcpy(csv->numbers[pixel].text, text, CELL);
        csv->number_lengths[pixel] = (uint8_t)length;
    }
}

static void csv_header(Csv *csv, const BackendOptions *options) {
    bool bytes = csv->values == CSV_BYTES;
    csv->used = (size_t)snprintf(
        csv->buffer, BUFFER_BYTES, "%s%s%s\n", "frame,seconds,pixel,red,green,blue",
        bytes && options->white ? ",white" : "", bytes && options->level ? ",level" : "");
}

static void csv_free(Csv *csv) {
    memory_release(csv->numbers);
    memory_release(csv->number_lengths);
    memory_release(csv);
}

static Backend *csv_open(const BackendOptions *options, BackendError *error) {
    const CsvOptions *own = options->own;
    Csv *csv = memory_allocate(1, sizeof *csv);
    if (csv != NULL) {
        csv->numbers = memory_allocate(options->pixels, sizeof *csv->numbers);
        csv->number_lengths = memory_allocate(options->pixels, sizeof *csv->number_lengths);
    }
    if (csv == NULL || csv->numbers == NULL || csv->number_lengths == NULL) {
        backend_say(error, csv_trouble, ENOMEM);
        if (csv != NULL)
            csv_free(csv);
        return NULL;
    }
    csv->backend.kind = &csv_backend;
    csv->descriptor = options->descriptor;
    csv->pixels = options->pixels;
    csv->values = own == NULL ? CSV_BYTES : own->values;
    csv->live = own != NULL && own->live;
    csv->columns = 3;
    if (csv->values == CSV_BYTES)
        csv->columns += (uint32_t)options->white + (uint32_t)options->level;
    csv_fill_bytes(csv);
    csv_fill_numbers(csv);
    csv_header(csv, options);
    return &csv->backend;
}

/* What every row of a frame begins with; gives its length. */
static size_t csv_lead(const BackendFrame *frame, char *into) {
    long long microseconds = frame->microseconds;
    const char *sign = microseconds < 0 ? "-" : "";
    unsigned long long size = microseconds < 0 ? 0ull - (unsigned long long)microseconds
                                               : (unsigned long long)microseconds;
    int length = snprintf(into, LEAD_LONGEST, "%llu,%s%llu.%06llu,",
                          (unsigned long long)frame->number, sign, size / 1000000, size % 1000000);
    memset(into + length, 0, LEAD_LONGEST - (size_t)length);
    return (size_t)length;
}

/* Copies of a fixed size are a few moves each; what they copy too much is overwritten. */
static char *csv_row_start(const Csv *csv, uint32_t pixel, const char *lead, size_t length,
                           char *next) {
    memcpy(next, lead, LEAD_LONGEST);
    next += length;
    memcpy(next, csv->numbers[pixel].text, CELL);
    return next + csv->number_lengths[pixel];
}

static char *csv_bytes_row(const Csv *csv, const uint8_t *bytes, char *next) {
    for (uint32_t column = 0; column < csv->columns; column++) {
        uint8_t value = bytes[column];
        memcpy(next, csv->bytes[column + 1 == csv->columns][value].text, CELL);
        next += csv->byte_lengths[value];
    }
    return next;
}

static char *csv_light_row(const float *light, char *next) {
    for (int channel = 0; channel < 3; channel++) {
        next += decimal_light(light[channel], next);
        *next++ = channel == 2 ? '\n' : ',';
    }
    return next;
}

static BackendResult csv_frame(Backend *backend, const BackendFrame *frame, BackendError *error) {
    Csv *csv = (Csv *)backend;
    char lead[LEAD_LONGEST];
    size_t length = csv_lead(frame, lead);
    for (uint32_t pixel = 0; pixel < csv->pixels; pixel++) {
        if (csv->used > BUFFER_BYTES - ROW_LONGEST && !csv_flush(csv, error))
            return BACKEND_FAILED;
        char *next = csv_row_start(csv, pixel, lead, length, csv->buffer + csv->used);
        if (csv->values == CSV_LIGHT)
            next = csv_light_row(frame->light + 3 * (size_t)pixel, next);
        else
            next = csv_bytes_row(csv, frame->bytes + (size_t)csv->columns * pixel, next);
        csv->used = (size_t)(next - csv->buffer);
    }
    return csv->live && !csv_flush(csv, error) ? BACKEND_FAILED : BACKEND_FINE;
}

static BackendResult csv_close(Backend *backend, BackendError *error) {
    Csv *csv = (Csv *)backend;
    bool fine = csv_flush(csv, error);
    csv_free(csv);
    return fine ? BACKEND_FINE : BACKEND_FAILED;
}

const BackendKind csv_backend = {
    .name = "csv", .takes_light = false, .open = csv_open, .frame = csv_frame, .close = csv_close};
