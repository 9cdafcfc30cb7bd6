#include "runtime/library/lamp.h"

#include <string.h>

#include "runtime/core/memory.h"

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

void lamp_free(Lamp *lamp) {
    shape_free(lamp->shape);
    memory_release(lamp->groups);
    memory_release(lamp->marks);
    *lamp = (Lamp){0};
}
