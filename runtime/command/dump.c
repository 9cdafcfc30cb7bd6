/* gloam dump: frames as CSV. */
#include <math.h>

#include "backends/csv.h"
#include "runtime/command/load.h"
#include "runtime/core/memory.h"

/* The position of frame n: start + speed * round(n * 1,000,000 / fps). */
static int64_t frame_time(const Options *options, uint64_t n, int64_t *since_first) {
    double played = nearbyint((double)n * 1e6 / options->fps) * options->speed;
    *since_first = (int64_t)nearbyint(fabs(played));
    return options->start + (int64_t)nearbyint(played);
}

static int write_frames(Stage *stage, const Options *options, Backend *csv, uint8_t *bytes) {
    int64_t length = stage_length(stage, options), since;
    BackendError error;
    for (uint64_t n = 0;; n++) {
        int64_t time = frame_time(options, n, &since);
        if (n > 0 && since >= length)
            return EXIT_DONE;
        const float *light = stage_render(stage, stage->routine, time);
        if (!light)
            return command_fail(EXIT_MACHINE, "out of memory");
        if (!options->light) {
            bool still = stage_changes(stage, stage->routine, time) > time;
            stage_show(stage, stage->routine, time, since);
            pipeline_bytes(stage->pipeline, light, n, still, bytes);
        }
        BackendFrame frame = {n, time, light, bytes};
        if (csv_backend.frame(csv, &frame, &error) == BACKEND_FAILED)
            return command_fail(EXIT_MACHINE, "%s", error.sentence);
    }
}

static int dump(Stage *stage, const Options *options, Output *output) {
    uint8_t *bytes = memory_allocate(stage->lamp.scene.pixels, pipeline_columns(stage->pipeline));
    CsvOptions own = {.values = options->light ? CSV_LIGHT : CSV_BYTES};
    BackendOptions to = {.pixels = stage->lamp.scene.pixels,
                         .white = !options->light && stage->lamp_light.has_white,
                         .level = !options->light && stage->lamp_light.has_level,
                         .descriptor = fileno(output->stream),
                         .title = stage_routine_name(stage, stage->routine),
                         .own = &own};
    BackendError error = {"out of memory"};
    Backend *csv = bytes ? csv_backend.open(&to, &error) : NULL;
    int status = csv ? write_frames(stage, options, csv, bytes)
                     : command_fail(EXIT_MACHINE, "%s", error.sentence);
    if (csv && csv_backend.close(csv, &error) == BACKEND_FAILED && status == EXIT_DONE)
        status = command_fail(EXIT_MACHINE, "%s", error.sentence);
    memory_release(bytes);
    return status;
}

int dump_run(const Options *options) {
    if (options->speed == 0)
        return command_fail(EXIT_CALL, "--speed 0x never ends; --length 0s gives one frame");
    return stage_write(options, dump);
}
