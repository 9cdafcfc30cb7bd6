#include "runtime/service/page/frames.h"

#include <string.h>

#include "runtime/core/memory.h"
#include "runtime/library/lamp.h"
#include "runtime/light/encode.h"
#include "runtime/light/level.h"
#include "runtime/player/feed.h"
#include "runtime/player/inputs.h"

struct Frames {
    const Score *score;
    const RoutineInfo *routine;
    Lamp lamp;
    Vm *machine;
    DialValue *dials;
    Pipeline *pipeline;
    PipelineLamp light_of;
    ScreenTable table;
    float *light;
    int64_t utc;
    uint32_t step;
};

uint16_t frames_routine(const Score *score, const char *name) {
    const Program *program = score ? score->program : NULL;
    for (uint16_t i = 0; program && i < program->routine_count; i++)
        if (!name || strcmp(program->routines[i].name, name) == 0)
            return i;
    return ROUTINE_NONE;
}

/* As the state has them; a dial that it does not know keeps its default. */
static void take_dials(const Program *program, const json_t *told, DialValue *dials) {
    const json_t *list = json_object_get(told, "dials"), *one;
    size_t i;
    json_array_foreach(list, i, one) {
        const char *name = json_string_value(json_object_get(one, "name"));
        const json_t *value = json_object_get(one, "value");
        uint16_t dial = name ? dial_find(program, name, strlen(name)) : program->dial_count;
        if (dial >= program->dial_count)
            continue;
        const DialInfo *info = &program->dials[dial];
        DialValue set = dials[dial];
        if (info->type == DIAL_COLOUR && json_array_size(value) == 3)
            set.colour = (Colour){(float)json_number_value(json_array_get(value, 0)),
                                  (float)json_number_value(json_array_get(value, 1)),
                                  (float)json_number_value(json_array_get(value, 2))};
        else if (info->type == DIAL_TRUTH && json_is_boolean(value))
            set.number = json_is_true(value);
        else if (json_is_number(value))
            set.number = json_number_value(value) * (info->type == DIAL_DURATION ? 1e6 : 1);
        dials[dial] = dial_held(info, set);
    }
}

static bool make(Frames *frames, const LampInfo *info, const json_t *told) {
    const Program *program = frames->score->program;
    if (!lamp_make_declared(&frames->lamp, program, info))
        return false;
    frames->dials = dial_defaults(program);
    frames->light_of = lamp_light(info, 0);
    frames->pipeline = pipeline_create(&frames->light_of, frames->lamp.shape);
    frames->light = memory_allocate(frames->lamp.scene.pixels, 3 * sizeof *frames->light);
    if (!frames->dials || !frames->pipeline || !frames->light)
        return false;
    take_dials(program, told, frames->dials);
    frames->machine = vm_create(&frames->routine->code, &frames->lamp.scene, frames->dials);
    frames->step = feed_step(frames->lamp.scene.pixels);
    encode_screen_table(&frames->table);
    return frames->machine != NULL;
}

Frames *frames_open(const Score *score, int lamp, uint16_t routine, const json_t *told,
                    int64_t utc) {
    Frames *frames = memory_allocate(1, sizeof *frames);
    if (!frames)
        return NULL;
    frames->score = score;
    frames->routine = &score->program->routines[routine];
    frames->utc = utc;
    if (make(frames, (uint32_t)lamp < score->lamp_count ? &score->lamps[lamp] : NULL, told))
        return frames;
    frames_free(frames);
    return NULL;
}

void frames_free(Frames *frames) {
    if (!frames)
        return;
    vm_free(frames->machine);
    pipeline_free(frames->pipeline);
    memory_release(frames->dials);
    memory_release(frames->light);
    lamp_free(&frames->lamp);
    memory_release(frames);
}

uint32_t frames_pixels(const Frames *frames) {
    return (frames->lamp.scene.pixels + frames->step - 1) / frames->step;
}

/* A guess to the safe side, for a small board. */
double frames_cost(const Score *score, int lamp, uint16_t routine) {
    const uint32_t *lengths = score->program->routines[routine].code.lengths;
    bool declared = (uint32_t)lamp < score->lamp_count;
    double pixels = declared ? score->lamps[lamp].pixels : 16;
    double each = (double)lengths[SECTION_EACH] + lengths[SECTION_PIXEL];
    double once = (double)lengths[SECTION_SET] + lengths[SECTION_SET_SPREAD] +
                  lengths[SECTION_FRAME] + lengths[SECTION_FRAME_SPREAD];
    return 100 * once + 10 * (pixels + 31) * (16 + each);
}

void frames_at(Frames *frames, int64_t position, int64_t shown, uint8_t *rgb) {
    const World *world = &frames->score->world;
    const PlaceInfo *place = lang_place(frames->score->compilation);
    TimetablePlace at = {place->said, place->latitude, place->longitude, place->zone};
    Moment moment = {{0}};
    uint32_t count = 0;
    if (frames->routine->code.reads_clock)
        inputs_at(world->context.zone, &at, frames->utc + position, &moment);
    moment.input[INPUT_T] = (double)position;
    vm_render(frames->machine, &moment, frames->light);
    if (shown < 0)
        pipeline_restart(frames->pipeline);
    pipeline_show(frames->pipeline, shown < 0 ? 0 : shown, LEVEL_NO_CEILING, frames->light);
    for (uint32_t i = 0; i < frames->lamp.scene.pixels; i += frames->step)
        encode_screen(&frames->table, frames->light + 3 * (size_t)i, 1, rgb + 3 * count++);
}

double frames_lasts(const Frames *frames) {
    return frames->routine->lasts / 1e6;
}

bool frames_still(const Frames *frames) {
    return vm_still_from(frames->machine) <= 0;
}
