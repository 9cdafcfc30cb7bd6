/* gloam picture: a routine as one PNG. */
#include "backends/picture.h"

#include <string.h>

#include "runtime/command/days_picture.h"

#define DAY (24 * INT64_C(3600000000))

static const float *render(void *context, int64_t microseconds) {
    Stage *stage = context;
    const float *light = stage_render(stage, stage->routine, microseconds);
    pipeline_restart(stage->pipeline); /* columns are no moments that follow each other */
    if (light)
        stage_show(stage, stage->routine, microseconds, microseconds);
    return light;
}

/* "ring of 16", "grid 8 by 8 `window`" */
void picture_describe(const Stage *stage, char *text, size_t size) {
    static const char *NAMES[] = {"strip of", "ring of", "grid", "ball of", "lamp of"};
    const Shape *shape = stage->lamp.shape;
    const char *name = NAMES[shape_form(shape)];
    if (shape_form(shape) == FORM_GRID)
        snprintf(text, size, "%s %u by %u", name, shape_across(shape), shape_up(shape));
    else
        snprintf(text, size, "%s %u", name, shape_pixels(shape));
}

static int draw(Stage *stage, const Options *options, Output *output) {
    char note[64];
    picture_describe(stage, note, sizeof note);
    bool day = stage->routine == STAGE_TIMETABLE && options->length < 0;
    PictureOptions own = {.start = options->start,
                          .length = day ? DAY : stage_length(stage, options),
                          .fps = 60,
                          .width = (int)options->width,
                          .height = (int)options->height,
                          .note = note};
    BackendOptions to = {.pixels = stage->lamp.scene.pixels,
                         .descriptor = fileno(output->stream),
                         .title = stage_routine_name(stage, stage->routine),
                         .own = &own};
    BackendError error;
    return picture_draw(&to, render, stage, &error)
               ? EXIT_DONE
               : command_fail(EXIT_MACHINE, "%s", error.sentence);
}

int picture_run(const Options *options) {
    if (!options->output)
        return command_fail(EXIT_CALL,
                            "a picture needs a file: -o dawn.png (- is standard output)");
    if (options_days(options))
        return days_picture_run(options);
    return stage_write(options, draw);
}
