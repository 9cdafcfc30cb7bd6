#include "runtime/command/still.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "backends/axis.h"
#include "backends/backend.h"
#include "runtime/command/command.h"
#include "runtime/light/encode.h"

enum {
    MOMENTS = 9,        /* the first and the last included */
    CELLS_MOST = 60,    /* characters of light in a line */
    LINE_LONGEST = 4096 /* CELLS_MOST of the longest sequences, the time, and what plays */
};

/* The mean light of pixels first .. end - 1, for a screen. */
static void still_mean(const ScreenTable *table, const float *light, uint32_t first, uint32_t end,
                       uint8_t *bytes) {
    float mean[3] = {0.0f, 0.0f, 0.0f};
    for (uint32_t pixel = first; pixel < end; pixel++) {
        float shown[3];
        encode_gamut(light + 3 * (size_t)pixel, 1, shown);
        for (int channel = 0; channel < 3; channel++)
            mean[channel] += shown[channel] / (float)(end - first);
    }
    encode_screen(table, mean, 1, bytes);
}

static size_t still_light(const PreviewOptions *options, Depth depth, const ScreenTable *table,
                          const float *light, char *into) {
    uint32_t pixels = shape_pixels(options->shape);
    uint32_t cells = pixels < CELLS_MOST ? pixels : CELLS_MOST;
    char *next = into;
    for (uint32_t cell = 0; cell < cells; cell++) {
        uint8_t bytes[3];
        uint32_t first = (uint32_t)((uint64_t)cell * pixels / cells);
        uint32_t end = (uint32_t)((uint64_t)(cell + 1) * pixels / cells);
        still_mean(table, light, first, end, bytes);
        uint32_t code = palette_code(depth, bytes[0], bytes[1], bytes[2]);
        next += palette_sequence(depth, true, code, next);
        *next++ = depth == DEPTH_NONE ? palette_letter(bytes[0], bytes[1], bytes[2]) : ' ';
    }
    return (size_t)(next - into);
}

/* What --length says, else what the routine lasts, else 10 s; of a timetable a day. */
static int64_t still_length(const PreviewOptions *options) {
    int64_t lasts = options->routines[options->routine].lasts;
    if (options->length >= 0)
        return options->length;
    if (options->routines[options->routine].timetable)
        return 24 * INT64_C(3600000000);
    return lasts > options->start ? lasts - options->start : 10000000;
}

static bool still_line(const PreviewOptions *options, Depth depth, const ScreenTable *table,
                       int moment_number, int64_t moment, float *light, int *status) {
    char line[LINE_LONGEST], time[PREVIEW_WORDS], title[PREVIEW_WORDS] = "";
    /* Moments far apart, to be read one by one: an hour each for the flash guard. */
    int64_t shown = 3600000000 * (moment_number + 1);
    if (options->render(options->context, options->routine, moment, shown, light) ==
        RENDER_FAILED) {
        *status = command_fail(EXIT_MACHINE, "out of memory");
        return false;
    }
    if (options->routines[options->routine].timetable)
        options->describe(options->context, moment, title, time);
    else
        axis_time(moment, time, sizeof time);
    size_t length = (size_t)snprintf(line, sizeof line, "%12s  ", time);
    length += still_light(options, depth, table, light, line + length);
    length += (size_t)snprintf(line + length, sizeof line - length, "%s%s%s\n",
                               depth == DEPTH_NONE ? "" : "\x1b[0m", *title ? "  " : "", title);
    if (!backend_write(options->output, line, length)) {
        *status = command_fail(EXIT_MACHINE, "cannot write: %s", strerror(errno));
        return false;
    }
    return true;
}

int still_lines(const PreviewOptions *options, Depth depth, float *light) {
    ScreenTable table;
    int status = EXIT_DONE;
    int64_t length = still_length(options);
    int64_t direction = options->speed < 0.0 ? -1 : 1;
    encode_screen_table(&table);
    char title[160];
    int used = snprintf(title, sizeof title, "%.100s, %u pixels\n",
                        options->routines[options->routine].name, shape_pixels(options->shape));
    if (!backend_write(options->output, title, (size_t)used))
        return command_fail(EXIT_MACHINE, "cannot write: %s", strerror(errno));
    for (int i = 0; i < MOMENTS; i++) {
        int64_t since = length / (MOMENTS - 1) * i + length % (MOMENTS - 1) * i / (MOMENTS - 1);
        if (!still_line(options, depth, &table, i, options->start + direction * since, light,
                        &status))
            break;
        if (length == 0)
            break;
    }
    return status;
}
