/* Programs by hand, for tests of the bytecode and the machine. Everything is given up on at the
 * first failure, as in any test. */
#ifndef GLOAM_TESTS_VM_BUILD_H
#define GLOAM_TESTS_VM_BUILD_H

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>

#include "runtime/core/memory.h"
#include "runtime/core/program.h"

static inline void *build_more(void *list, size_t count, size_t size) {
    list = memory_resize(list, count + 1, size);
    assert_non_null(list);
    memset((char *)list + count * size, 0, size);
    return list;
}

static inline char *build_text(const char *text) {
    char *copy = memory_copy_text(text, strlen(text));
    assert_non_null(copy);
    return copy;
}

static inline Program *build_program(void) {
    Program *program = memory_allocate(1, sizeof *program);
    assert_non_null(program);
    return program;
}

/* A routine without code. The pointer is good until the next routine is built. */
static inline RoutineInfo *build_routine(Program *program, const char *name) {
    program->routines =
        build_more(program->routines, program->routine_count, sizeof *program->routines);
    RoutineInfo *routine = &program->routines[program->routine_count++];
    routine->name = build_text(name);
    routine->then = ROUTINE_NONE;
    routine->code.stillness = STILL_NEVER;
    return routine;
}

static inline DialInfo *build_dial(Program *program, const char *name, DialType type) {
    program->dials = build_more(program->dials, program->dial_count, sizeof *program->dials);
    DialInfo *dial = &program->dials[program->dial_count++];
    dial->name = build_text(name);
    dial->type = type;
    dial->used = true;
    return dial;
}

static inline void build_event(Program *program, const char *name, const char *label) {
    program->events = build_more(program->events, program->event_count, sizeof *program->events);
    EventInfo *event = &program->events[program->event_count++];
    event->name = build_text(name);
    event->label = label ? build_text(label) : NULL;
}

static inline void build_group(Program *program, const char *name) {
    program->groups = build_more(program->groups, program->group_count, sizeof *program->groups);
    program->groups[program->group_count++] = build_text(name);
}

/* Constants come before every other register of the frame. */
static inline uint16_t build_number(Code *code, double number) {
    assert_int_equal(code->frame_numbers, code->number_constants);
    code->numbers = build_more(code->numbers, code->number_constants, sizeof *code->numbers);
    code->numbers[code->number_constants++] = number;
    return code->frame_numbers++;
}

static inline uint16_t build_colour(Code *code, float r, float g, float b) {
    assert_int_equal(code->frame_colours, code->colour_constants);
    code->colours = build_more(code->colours, code->colour_constants, sizeof *code->colours);
    code->colours[code->colour_constants++] = (Colour){r, g, b};
    return code->frame_colours++;
}

static inline uint16_t build_easing(Code *code, Easing easing) {
    code->easings = build_more(code->easings, code->easing_count, sizeof *code->easings);
    code->easings[code->easing_count] = easing;
    return (uint16_t)code->easing_count++;
}

static inline uint16_t build_ramp(Code *code, bool colour, uint16_t blend) {
    code->ramps = build_more(code->ramps, code->ramp_count, sizeof *code->ramps);
    Ramp *ramp = &code->ramps[code->ramp_count];
    ramp->colour = colour;
    ramp->blend = blend;
    return (uint16_t)code->ramp_count++;
}

static inline void build_stop(Code *code, uint16_t ramp, uint16_t place, uint16_t value,
                              uint16_t easing) {
    Ramp *it = &code->ramps[ramp];
    it->stops = build_more(it->stops, it->count, sizeof *it->stops);
    it->stops[it->count++] = (RampStop){place, value, easing};
}

static inline Instruction *build_instruction(Code *code, Section section, Operation operation,
                                             Instruction words) {
    code->sections[section] =
        build_more(code->sections[section], code->lengths[section], sizeof(Instruction));
    Instruction *it = &code->sections[section][code->lengths[section]++];
    *it = words;
    it->op = (uint16_t)operation;
    return it;
}

/* EMIT(code, PIXEL, ADD, .dst = 2, .a = 0, .b = 1) */
#define EMIT(code, section, operation, ...)                                                        \
    build_instruction(code, SECTION_##section, OP_##operation, (Instruction){__VA_ARGS__})

#endif
