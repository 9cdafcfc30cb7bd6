#include "runtime/player/region.h"

#include <string.h>

#include "runtime/core/memory.h"

void region_lamp(Region *region, const Scene *lamp) {
    *region = (Region){.part = -1, .pixels = lamp->pixels, .scene = *lamp};
}

static bool region_groups(Region *region, const Scene *lamp) {
    region->groups = memory_allocate(lamp->group_count, sizeof *region->groups);
    region->marks = memory_allocate(lamp->group_count, region->pixels);
    if (!region->groups || !region->marks)
        return false;
    for (uint32_t g = 0; g < lamp->group_count; g++) {
        unsigned char *marks = region->marks + (size_t)g * region->pixels;
        if (!lamp->groups[g])
            continue;
        memcpy(marks, lamp->groups[g] + region->first, region->pixels);
        region->groups[g] = marks;
    }
    return true;
}

bool region_part(Region *region, const Scene *lamp, const LampInfo *info, int32_t part) {
    const uint32_t *run = info->groups[part].runs[0];
    *region = (Region){.part = part, .first = run[0], .pixels = run[1] - run[0] + 1};
    ShapeRequest request = {.form = FORM_STRIP, .pixels = region->pixels};
    region->shape = shape_create(&request);
    if (!region->shape || !region_groups(region, lamp))
        return false;
    region->scene.pixels = region->pixels;
    memcpy(region->scene.field, shape_fields(region->shape), sizeof region->scene.field);
    region->scene.group_count = lamp->group_count;
    region->scene.groups = region->groups;
    return true;
}

void region_free(Region *region) {
    shape_free(region->shape);
    memory_release(region->groups);
    memory_release(region->marks);
    *region = (Region){0};
}
