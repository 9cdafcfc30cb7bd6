#include "runtime/library/lamp.h"

#include <string.h>

#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/light/flicker.h"

bool lamp_request(const LampInfo *info, ShapeRequest *request, ShapePoint **points) {
    static const ShapeForm FORMS[] = {[SHAPE_STRIP] = FORM_STRIP,
                                      [SHAPE_RING] = FORM_RING,
                                      [SHAPE_GRID] = FORM_GRID,
                                      [SHAPE_BALL] = FORM_BALL,
                                      [SHAPE_POINTS] = FORM_POINTS};
    *points = NULL;
    *request = (ShapeRequest){.form = FORMS[info->shape],
                              .pixels = info->pixels,
                              .across = info->across,
                              .up = info->up,
                              .zigzag = info->zigzag,
                              .frequency = info->frequency,
                              .faces = info->faces,
                              .turned = info->turned,
                              .mirrored = info->mirrored};
    if (info->shape != SHAPE_POINTS)
        return true;
    *points = memory_allocate(info->point_count, sizeof **points);
    if (!*points)
        return false;
    for (uint32_t i = 0; i < info->point_count; i++)
        (*points)[i] = (ShapePoint){info->points[i].x, info->points[i].y, info->points[i].z};
    request->point_count = info->point_count;
    request->points = *points;
    return true;
}

static void mark(unsigned char *marks, uint32_t pixels, const LampGroup *group) {
    for (uint32_t run = 0; run < group->run_count; run++)
        for (uint32_t i = group->runs[run][0]; i <= group->runs[run][1] && i < pixels; i++)
            marks[i] = 1;
}

static bool make_groups(Lamp *lamp, const Program *program, const LampInfo *info) {
    uint32_t pixels = lamp->scene.pixels;
    lamp->groups = memory_allocate(program->group_count, sizeof *lamp->groups);
    lamp->marks = memory_allocate(program->group_count, pixels);
    if (!lamp->groups || !lamp->marks)
        return false;
    for (uint16_t g = 0; info && g < program->group_count; g++) {
        for (uint32_t i = 0; i < info->group_count; i++) {
            if (strcmp(info->groups[i].name, program->groups[g]) != 0)
                continue;
            unsigned char *marks = lamp->marks + (size_t)g * pixels;
            mark(marks, pixels, &info->groups[i]);
            lamp->groups[g] = marks;
        }
    }
    return true;
}

bool lamp_make(Lamp *lamp, const Program *program, const ShapeRequest *request,
               const LampInfo *info) {
    *lamp = (Lamp){.shape = shape_create(request)};
    if (!lamp->shape)
        return false;
    lamp->scene.pixels = shape_pixels(lamp->shape);
    memcpy(lamp->scene.field, shape_fields(lamp->shape), sizeof lamp->scene.field);
    if (!make_groups(lamp, program, info))
        return false;
    lamp->scene.group_count = program->group_count;
    lamp->scene.groups = lamp->groups;
    return true;
}

bool lamp_make_declared(Lamp *lamp, const Program *program, const LampInfo *info) {
    ShapeRequest shape = {.form = FORM_RING, .pixels = 16};
    ShapePoint *points = NULL;
    *lamp = (Lamp){0};
    bool made =
        (!info || lamp_request(info, &shape, &points)) && lamp_make(lamp, program, &shape, info);
    memory_release(points);
    return made;
}

void lamp_free(Lamp *lamp) {
    shape_free(lamp->shape);
    memory_release(lamp->groups);
    memory_release(lamp->marks);
    *lamp = (Lamp){0};
}

const LampInfo *lamp_called(const LampInfo *lamps, uint32_t count, const char *name,
                            char missing[LAMP_MISSING]) {
    const char *names[LIMIT_LAMPS];
    for (uint32_t i = 0; i < count; i++) {
        names[i] = lamps[i].name;
        if (strcmp(lamps[i].name, name) == 0)
            return &lamps[i];
    }
    const char *near = diagnostics_nearest(name, names, count);
    snprintf(missing, LAMP_MISSING, "has no lamp `%.80s`%s%s%s", name, near ? ": `" : "",
             near ? near : "", near ? "`?" : "");
    diagnostics_clean(missing);
    return NULL;
}

const Chip *lamp_chip(const LampInfo *info) {
    const Chip *chip = info ? chip_find(info->chip) : NULL;
    return chip ? chip : chip_find("ws2812b");
}

double lamp_frames(const LampInfo *info) {
    const Chip *chip = lamp_chip(info);
    double wire =
        chip->wire == CHIP_ONE_WIRE
            ? flicker_one_wire_rate(info->pixels, chip->white ? 4 : 3)
            : flicker_clocked_rate(info->pixels,
                                   info->clock_hertz > 0 ? info->clock_hertz : CHIP_USUAL_CLOCK);
    return wire < chip->pwm_hertz ? wire : chip->pwm_hertz;
}

PipelineLamp lamp_light(const LampInfo *info, double frames) {
    const Chip *chip = lamp_chip(info);
    PipelineLamp light = {
        .level = 1,
        .gain = {1, 1, 1},
        .guarded = true,
        .supply = {.channel_ampere = chip->channel_ampere, .idle_ampere = chip->idle_ampere}};
    if (!info)
        return light;
    bool by_time = info->dither && strcmp(info->dither, "time") == 0;
    bool by_level = info->dither && strcmp(info->dither, "level") == 0;
    light.level = info->level;
    memcpy(light.gain, info->gain, sizeof light.gain);
    light.white = info->white_kelvin;
    light.die = info->die_kelvin;
    light.has_white = chip->white;
    light.has_level = chip->level != CHIP_LEVEL_NONE;
    light.level_free = chip->level == CHIP_LEVEL_CURRENT || (light.has_level && by_level);
    light.dither = true;
    light.frames = by_time && frames <= lamp_frames(info) ? frames : 0;
    light.guarded = info->flashes == NULL;
    if (info->draws_ampere > 0)
        light.supply.channel_ampere = info->draws_ampere;
    if (info->idle_ampere >= 0)
        light.supply.idle_ampere = info->idle_ampere;
    light.supply.limit_ampere = info->supply_ampere;
    return light;
}
