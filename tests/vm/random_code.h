/* Routines at random that keep every rule of spec/bytecode.md: any operation, registers used
 * again, constants at the edges. Meaningless, which is the point. */
#ifndef GLOAM_TESTS_VM_RANDOM_CODE_H
#define GLOAM_TESTS_VM_RANDOM_CODE_H

#include <float.h>

#include "runtime/core/operations.h"
#include "tests/support/chance.h"
#include "tests/vm/build.h"

enum { MAKER_REGISTERS = 200, FRAME_BANK = 0, PIXEL_BANK = 2, BANK_COUNT = 4 };

typedef struct Maker {
    Code *code;
    Section section;
    uint16_t count[BANK_COUNT];              /* frame numbers, frame colours, pixel the same */
    bool known[BANK_COUNT][MAKER_REGISTERS]; /* may be read */
    bool own[BANK_COUNT][MAKER_REGISTERS];   /* written in this section: may be written over */
    uint16_t kept[2], ready[64], ready_count;
} Maker;

static inline unsigned below(unsigned limit) {
    return (unsigned)(chance() % limit);
}

static inline double random_constant(void) {
    static const double edges[] = {
        0.0,      -0.0, 1.0, -1.0, 0.5,       1e-300, 4.9e-324, 255.0,   DBL_MAX,
        -DBL_MAX, 1e15, 1e6, 3e-5, 1.0 / 3.0, 2.5,    -0.25,    86400e6, 9007199254740992.0};
    if (below(3) == 0)
        return edges[below(sizeof edges / sizeof *edges)];
    return (chance_unit() - 0.3) * (below(2) ? 1.0 : 40.0);
}

/* A register that may be read, or -1. */
static inline int maker_source(const Maker *maker, int bank) {
    unsigned start = maker->count[bank] ? below(maker->count[bank]) : 0;
    for (unsigned i = 0; i < maker->count[bank]; i++) {
        unsigned index = (start + i) % maker->count[bank];
        if (maker->known[bank][index])
            return (int)index;
    }
    return -1;
}

/* A new register, or one of this section that no operand is in. */
static inline int maker_target(Maker *maker, int bank, const Instruction *it) {
    if (maker->count[bank] > 12 && below(3)) {
        unsigned start = below(maker->count[bank]);
        for (unsigned i = 0; i < maker->count[bank]; i++) {
            unsigned index = (start + i) % maker->count[bank];
            if (maker->own[bank][index] && index != it->a && index != it->b && index != it->c &&
                index != it->d)
                return (int)index;
        }
    }
    return maker->count[bank] < MAKER_REGISTERS ? maker->count[bank]++ : -1;
}

static inline void maker_begin(Maker *maker, Section section) {
    maker->section = section;
    memset(maker->own, 0, sizeof maker->own);
    if (section == SECTION_SET_SPREAD || section == SECTION_FRAME_SPREAD) {
        memset(maker->known[PIXEL_BANK], 0, sizeof maker->known[PIXEL_BANK]);
        memset(maker->known[PIXEL_BANK + 1], 0, sizeof maker->known[PIXEL_BANK + 1]);
    }
}

/* k of an operation in this section; false where it has no place here, or nothing to name. */
static inline bool maker_index(Maker *maker, Operation operation, uint16_t *k) {
    const bool scalar = maker->section == SECTION_SET || maker->section == SECTION_FRAME;
    switch (operation) {
    case OP_EASE:
        *k = (uint16_t)below(maker->code->easing_count);
        return true;
    case OP_HASH1:
    case OP_HASH2:
    case OP_HASH3:
    case OP_HASH4:
        *k = (uint16_t)(1 + below(3));
        return true;
    case OP_COLOUR_BLEND:
        *k = (uint16_t)below(4);
        if (*k == SPACE_OKLCH)
            *k = BLEND_CODE(SPACE_OKLCH, below(4));
        return true;
    case OP_INPUT:
        *k = maker->section == SECTION_FRAME ? (uint16_t)below(INPUT_COUNT) : INPUT_PIXELS;
        return scalar;
    case OP_DIAL:
        *k = (uint16_t)below(3);
        return scalar;
    case OP_DIAL_LIGHT:
        *k = 3;
        return scalar;
    case OP_FIELD:
        *k = (uint16_t)below(FIELD_COUNT);
        return !scalar;
    case OP_WITHIN:
        *k = (uint16_t)below(2);
        return !scalar;
    case OP_KEEP:
    case OP_KEEP_LIGHT: {
        uint16_t *count = &maker->kept[operation == OP_KEEP_LIGHT];
        *k = *count;
        return maker->section == SECTION_EACH && *count < 20 && ++*count;
    }
    case OP_KEPT:
    case OP_KEPT_LIGHT: {
        unsigned count = maker->kept[operation == OP_KEPT_LIGHT];
        *k = count ? (uint16_t)below(count) : 0;
        return maker->section == SECTION_PIXEL && count;
    }
    case OP_RAMP_NUMBER:
    case OP_RAMP_COLOUR:
        if (maker->ready_count == 0)
            return false;
        *k = maker->ready[below(maker->ready_count)];
        return maker->code->ramps[*k].colour == (operation == OP_RAMP_COLOUR);
    default:
        return false;
    }
}

static inline void maker_emit(Maker *maker, Operation operation) {
    const bool spread =
        maker->section == SECTION_SET_SPREAD || maker->section == SECTION_FRAME_SPREAD;
    const bool scalar = maker->section == SECTION_SET || maker->section == SECTION_FRAME;
    Instruction it = {0};
    uint16_t *words[4] = {&it.a, &it.b, &it.c, &it.d};
    for (unsigned i = 0; i < 4 && operation_operand(operation, i); i++) {
        int bank =
            (scalar || spread ? FRAME_BANK : PIXEL_BANK) + (operation_operand(operation, i) == 'c');
        int source = maker_source(maker, bank);
        if (source < 0)
            return;
        *words[i] = (uint16_t)source;
    }
    if (operation_has_index(operation) && !maker_index(maker, operation, &it.k))
        return;
    if (operation_result(operation) != '-') {
        int bank = (scalar ? FRAME_BANK : PIXEL_BANK) + (operation_result(operation) == 'c');
        int target = -1;
        if (!spread)
            target = maker_target(maker, bank, &it);
        else if (maker->count[bank] < MAKER_REGISTERS)
            target = maker->count[bank]++;
        if (target < 0)
            return;
        it.dst = (uint16_t)target;
        maker->known[bank][target] = true;
        maker->own[bank][target] = true;
    }
    build_instruction(maker->code, maker->section, operation, it);
}

/* A ramp of registers that are known here, made ready here. Its places may fall. */
static inline void maker_ramp(Maker *maker) {
    const bool colour = below(3) != 0;
    const uint16_t space = (uint16_t)below(4);
    if (maker->ready_count == 64 || maker->code->ramp_count > 60)
        return;
    uint16_t ramp = build_ramp(maker->code, colour,
                               !colour                ? 0
                               : space == SPACE_OKLCH ? BLEND_CODE(space, below(4))
                                                      : space);
    maker->code->ramps[ramp].bars = below(5) == 0;
    for (unsigned stops = 2 + below(5); stops; stops--)
        build_stop(maker->code, ramp, (uint16_t)maker_source(maker, FRAME_BANK),
                   (uint16_t)maker_source(maker, FRAME_BANK + colour),
                   below(3) ? EASING_NONE : (uint16_t)below(maker->code->easing_count));
    Instruction it = {.k = ramp};
    build_instruction(maker->code, maker->section, OP_RAMP_READY, it);
    maker->ready[maker->ready_count++] = ramp;
}

static inline void maker_section(Maker *maker, Section section, unsigned length) {
    const bool spread = section == SECTION_SET_SPREAD || section == SECTION_FRAME_SPREAD;
    const bool scalar = section == SECTION_SET || section == SECTION_FRAME;
    maker_begin(maker, section);
    for (unsigned i = 0; i < length; i++) {
        Operation operation = (Operation)below(OPERATION_COUNT);
        if (spread)
            operation = below(3) ? OP_SPREAD : OP_SPREAD_LIGHT;
        else if (!scalar && i < 4)
            operation = OP_FIELD;
        else if (operation == OP_SPREAD || operation == OP_SPREAD_LIGHT)
            continue;
        if (operation == OP_RAMP_READY) {
            if (scalar)
                maker_ramp(maker);
        } else {
            maker_emit(maker, operation);
        }
    }
}

static inline void maker_tables(Code *code) {
    for (int i = 0; i < 9; i++)
        build_number(code, random_constant());
    for (int i = 0; i < 4; i++)
        build_colour(code, (float)chance_unit(), (float)(chance_unit() - 0.2),
                     (float)(chance_unit() * 2.0));
    Easing bezier = {.kind = EASING_BEZIER,
                     .bezier = {chance_unit(), random_constant(), chance_unit(), chance_unit()}};
    build_easing(code, bezier);
    Easing steps = {.kind = EASING_STEPS, .jump = (Jump)below(4), .count = 2 + below(9)};
    build_easing(code, steps);
    Easing linear = {.kind = EASING_LINEAR, .count = 3};
    linear.points = memory_allocate(6, sizeof(double));
    assert_non_null(linear.points);
    linear.points[1] = chance_unit();
    linear.points[2] = chance_unit();
    linear.points[3] = chance_unit() * 2.0 - 0.5;
    linear.points[4] = 1.0;
    linear.points[5] = 1.0;
    build_easing(code, linear);
}

/* A program of one routine, dials 0 to 2 numbers and dial 3 a colour, two groups. */
static inline Program *random_program(void) {
    Program *program = build_program();
    build_dial(program, "warmth", DIAL_NUMBER);
    build_dial(program, "pace", DIAL_DURATION);
    build_dial(program, "lit", DIAL_TRUTH);
    build_dial(program, "tint", DIAL_COLOUR);
    build_group(program, "door");
    build_group(program, "attic");
    Code *code = &build_routine(program, "made")->code;
    maker_tables(code);
    Maker maker = {.code = code, .count = {code->frame_numbers, code->frame_colours, 0, 0}};
    memset(maker.known[FRAME_BANK], 1, code->frame_numbers);
    memset(maker.known[FRAME_BANK + 1], 1, code->frame_colours);
    maker_section(&maker, SECTION_SET, 25);
    maker_ramp(&maker);
    maker_section(&maker, SECTION_SET_SPREAD, 8);
    maker_section(&maker, SECTION_EACH, 30);
    /* A carried register that FRAME reads may not be written over: only new ones are. */
    maker_section(&maker, SECTION_FRAME, 25);
    maker_ramp(&maker);
    maker_section(&maker, SECTION_FRAME_SPREAD, 8);
    maker_section(&maker, SECTION_PIXEL, 60);
    code->frame_numbers = maker.count[0];
    code->frame_colours = maker.count[1];
    code->pixel_numbers = maker.count[2];
    code->pixel_colours = maker.count[3];
    code->kept_numbers = maker.kept[0];
    code->kept_colours = maker.kept[1];
    code->reads_clock = true;
    int light = maker_source(&maker, PIXEL_BANK + 1);
    code->result_each = light >= 0;
    code->result = (uint16_t)(light >= 0 ? light : maker_source(&maker, FRAME_BANK + 1));
    return program;
}

#endif
