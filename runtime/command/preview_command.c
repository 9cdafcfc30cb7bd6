/* gloam preview: plays the timetable or routines in the terminal. */
#include <string.h>

#include "runtime/command/load.h"
#include "runtime/command/preview.h"
#include "runtime/core/civil.h"
#include "runtime/core/memory.h"
#include "runtime/library/agenda.h"

/* What a preview calls its first is the timetable, where the file has one; behind it come the
 * routines. */
typedef struct Shown {
    Stage *stage;
    int first; /* the number of the first routine */
} Shown;

static uint16_t routine_of(const Shown *shown, int number) {
    return number < shown->first ? STAGE_TIMETABLE : (uint16_t)(number - shown->first);
}

static Rendered render(void *context, int number, int64_t position, int64_t seen, float *light) {
    Shown *shown = context;
    Stage *stage = shown->stage;
    const float *frame = stage_render(stage, routine_of(shown, number), position);
    if (!frame)
        return RENDER_FAILED;
    bool held = stage_show(stage, routine_of(shown, number), position, seen);
    memcpy(light, frame, 3 * sizeof *light * stage->lamp.scene.pixels);
    return held ? RENDER_HELD : RENDER_FINE;
}

static int64_t changes(void *context, int number, int64_t position) {
    Shown *shown = context;
    return stage_changes(shown->stage, routine_of(shown, number), position);
}

/* "daybreak, by 03:10", "Tue 2026-11-24 02:55:03" */
static void describe(void *context, int64_t position, char title[PREVIEW_WORDS],
                     char clock[PREVIEW_WORDS]) {
    const Stage *stage = ((Shown *)context)->stage;
    const TimetableContext *timetable = &stage->world.context;
    int64_t utc = stage->clock + position;
    TimetableState state;
    timetable_state(timetable, stage->lamp_index, TIMETABLE_NOT_SAID, utc, &state);
    char why[AGENDA_CAUSE] = "";
    if (state.plays)
        agenda_why(timetable, state.entry, state.began, why, sizeof why);
    snprintf(title, PREVIEW_WORDS, "%.64s%s%s", agenda_routine(timetable->program, state.routine),
             *why ? ", " : "", why);
    int64_t second = civil_floor_divide(utc, 1000000);
    int64_t wall = second + zone_offset(stage->zone, second).offset;
    int32_t date = (int32_t)civil_floor_divide(wall, 86400);
    int of_day = (int)(wall - (int64_t)date * 86400);
    CivilDate civil = civil_from_days(date);
    static const char *const DAYS[] = {"Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
    snprintf(clock, PREVIEW_WORDS, "%s %04d-%02d-%02d %02d:%02d:%02d",
             DAYS[weekday_from_days(date)], (int)civil.year, (int)civil.month, (int)civil.day,
             of_day / 3600, of_day / 60 % 60, of_day % 60);
}

static ColourChoice colour_choice(const Options *options) {
    if (!options->colour || strcmp(options->colour, "auto") == 0)
        return COLOUR_AUTO;
    return strcmp(options->colour, "always") == 0 ? COLOUR_ALWAYS : COLOUR_NEVER;
}

static int play(Stage *stage, const Options *options) {
    const Program *program = stage->loaded.program;
    Shown shown = {stage, stage->routine == STAGE_TIMETABLE ? 1 : 0};
    PreviewRoutine *routines = memory_allocate(program->routine_count + 1u, sizeof *routines);
    if (!routines)
        return command_fail(EXIT_MACHINE, "out of memory");
    routines[0] = (PreviewRoutine){stage_routine_name(stage, STAGE_TIMETABLE), 0, true};
    for (uint16_t i = 0; i < program->routine_count; i++)
        routines[shown.first + i] = (PreviewRoutine){stage_routine_name(stage, i),
                                                     (int64_t)program->routines[i].lasts, false};
    PreviewOptions preview = {.input = 0,
                              .output = 1,
                              .shape = stage->lamp.shape,
                              .routines = routines,
                              .routine_count = shown.first + program->routine_count,
                              .routine = stage->routine == STAGE_TIMETABLE ? 0 : stage->routine,
                              .fps = options->fps,
                              .speed = options->speed,
                              .start = options->start,
                              .length = options->length,
                              .colour = colour_choice(options),
                              .ascii = options->ascii,
                              .context = &shown,
                              .render = render,
                              .changes = changes,
                              .describe = describe};
    int status = preview_run(&preview);
    memory_release(routines);
    return status;
}

int preview_command_run(const Options *options) {
    Stage stage;
    int status = stage_open(&stage, options, true);
    if (status == EXIT_DONE)
        status = play(&stage, options);
    stage_close(&stage);
    return status;
}
