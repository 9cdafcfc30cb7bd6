/* gloam preview: plays routines in the terminal. */
#include <string.h>

#include "runtime/command/load.h"
#include "runtime/command/preview.h"
#include "runtime/core/limits.h"
#include "runtime/core/memory.h"

static Rendered render(void *context, int routine, int64_t microseconds, int64_t shown,
                       float *light) {
    Stage *stage = context;
    const float *frame = stage_render(stage, (uint16_t)routine, microseconds);
    if (!frame)
        return RENDER_FAILED;
    bool held = stage_show(stage, shown);
    memcpy(light, frame, 3 * sizeof *light * stage->lamp.scene.pixels);
    return held ? RENDER_HELD : RENDER_FINE;
}

static int64_t still_from(void *context, int routine) {
    Vm *machine = stage_machine(context, (uint16_t)routine);
    double from = machine ? vm_still_from(machine) : 0;
    return from < LIMIT_MICROSECONDS ? (int64_t)from : INT64_MAX;
}

static ColourChoice colour_choice(const Options *options) {
    if (!options->colour || strcmp(options->colour, "auto") == 0)
        return COLOUR_AUTO;
    return strcmp(options->colour, "always") == 0 ? COLOUR_ALWAYS : COLOUR_NEVER;
}

static int play(Stage *stage, const Options *options) {
    const Program *program = stage->loaded.program;
    PreviewRoutine *routines = memory_allocate(program->routine_count, sizeof *routines);
    if (!routines)
        return command_fail(EXIT_MACHINE, "out of memory");
    for (uint16_t i = 0; i < program->routine_count; i++)
        routines[i] =
            (PreviewRoutine){stage_routine_name(stage, i), (int64_t)program->routines[i].lasts};
    PreviewOptions preview = {.input = 0,
                              .output = 1,
                              .shape = stage->lamp.shape,
                              .routines = routines,
                              .routine_count = program->routine_count,
                              .routine = stage->routine,
                              .fps = options->fps,
                              .speed = options->speed,
                              .start = options->start,
                              .length = options->length,
                              .colour = colour_choice(options),
                              .ascii = options->ascii,
                              .context = stage,
                              .render = render,
                              .still_from = still_from};
    int status = preview_run(&preview);
    memory_release(routines);
    return status;
}

int preview_command_run(const Options *options) {
    Stage stage;
    int status = stage_open(&stage, options, true);
    if (status == EXIT_DONE && !options->routine && stage.loaded.compilation &&
        lang_has_timetable(stage.loaded.compilation))
        fprintf(stderr,
                "gloam: the timetable is not played yet; this is `%s`, `n` shows the next\n",
                stage_routine_name(&stage, stage.routine));
    if (status == EXIT_DONE)
        status = play(&stage, options);
    stage_close(&stage);
    return status;
}
