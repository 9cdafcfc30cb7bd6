#include "runtime/player/truths.h"

#include "runtime/core/memory.h"
#include "runtime/library/lamp.h"

/* A lamp of one pixel in its middle: conditions read dials only. */
static const double MIDDLE[1] = {0.0};

static DialValue *dials_by_hand(const Overrides *overrides, const Program *program) {
    DialValue *dials = dial_defaults(program);
    for (uint16_t i = 0; dials && i < program->dial_count; i++) {
        const DialSet *set = overrides_dial(overrides, i);
        if (set)
            dials[i] = (DialValue){set->setting.number, set->setting.colour};
    }
    return dials;
}

static bool work_out(const Timetable *timetable, const DialValue *dials, bool *truths) {
    Scene scene = {.pixels = 1};
    Moment moment = {{0}};
    for (int field = 0; field < FIELD_COUNT; field++)
        scene.field[field] = MIDDLE;
    for (uint16_t i = 0; i < timetable->condition_count; i++) {
        float light[3];
        Vm *machine = vm_create(&timetable->conditions[i], &scene, dials);
        if (!machine)
            return false;
        vm_render(machine, &moment, light);
        truths[i] = light[0] > 0.0f;
        vm_free(machine);
    }
    return true;
}

bool truths_tell(Overrides *overrides, const World *world, const Now *now) {
    const Timetable *timetable = world->context.timetable;
    if (timetable->condition_count == 0)
        return true;
    bool *truths = memory_allocate(timetable->condition_count, sizeof *truths);
    DialValue *dials = dials_by_hand(overrides, world->context.program);
    bool fine = truths && dials && work_out(timetable, dials, truths);
    if (fine)
        overrides_truths(overrides, world, now, truths);
    memory_release(truths);
    memory_release(dials);
    return fine;
}
