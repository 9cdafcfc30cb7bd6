#include "runtime/core/program.h"

#include "runtime/core/memory.h"

void program_free_code(Code *code) {
    memory_release(code->numbers);
    memory_release(code->colours);
    for (uint32_t i = 0; code->easings && i < code->easing_count; i++)
        memory_release(code->easings[i].points);
    memory_release(code->easings);
    for (uint32_t i = 0; code->ramps && i < code->ramp_count; i++)
        memory_release(code->ramps[i].stops);
    memory_release(code->ramps);
    for (int section = 0; section < SECTION_COUNT; section++)
        memory_release(code->sections[section]);
}

static void free_dials(DialInfo *dials, uint32_t count) {
    for (uint32_t i = 0; dials && i < count; i++) {
        memory_release(dials[i].name);
        memory_release(dials[i].label);
    }
    memory_release(dials);
}

static void free_events(EventInfo *events, uint32_t count) {
    for (uint32_t i = 0; events && i < count; i++) {
        memory_release(events[i].name);
        memory_release(events[i].label);
    }
    memory_release(events);
}

/* Arrays may be missing or half filled: a program that was being read when memory ran out is
 * freed by the same function. */
void program_free(Program *program) {
    if (!program)
        return;
    free_dials(program->dials, program->dial_count);
    free_events(program->events, program->event_count);
    for (uint32_t i = 0; program->routines && i < program->routine_count; i++) {
        memory_release(program->routines[i].name);
        program_free_code(&program->routines[i].code);
    }
    memory_release(program->routines);
    for (uint32_t i = 0; program->groups && i < program->group_count; i++)
        memory_release(program->groups[i]);
    memory_release(program->groups);
    memory_release(program);
}
