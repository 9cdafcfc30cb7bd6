/* The machine's one allocation, and a routine's instructions with their addresses worked out. */
#include <string.h>

#include "runtime/core/limits.h"
#include "runtime/core/memory.h"
#include "runtime/core/operations.h"
#include "runtime/vm/machine.h"

enum { ALIGNMENT = 64 };

/* -------- memory: laid out twice, once to measure and once to use -------- */

typedef struct Layout {
    char *base;  /* NULL: measure only */
    size_t size; /* SIZE_MAX: more than can be addressed */
} Layout;

static void *lay_out(Layout *layout, size_t count, size_t size) {
    if (layout->size > SIZE_MAX / 2 || (size && count > SIZE_MAX / 4 / size)) {
        layout->size = SIZE_MAX;
        return NULL;
    }
    void *place = layout->base ? layout->base + layout->size : NULL;
    layout->size += (count * size + ALIGNMENT - 1) / ALIGNMENT * ALIGNMENT;
    return place;
}

/* What a routine's code asks for, beside its registers. */
typedef struct Needs {
    bool field[FIELD_COUNT], group[LIMIT_GROUPS];
    size_t groups, highest_group, dials; /* the highest by number, plus 1 */
} Needs;

static void find_needs(const Code *code, Needs *needs) {
    memset(needs, 0, sizeof *needs);
    for (int section = 0; section < SECTION_COUNT; section++)
        for (size_t i = 0; i < code->lengths[section]; i++) {
            const Instruction *it = &code->sections[section][i];
            if (it->op == OP_FIELD)
                needs->field[it->k] = true;
            if (it->op == OP_WITHIN) {
                needs->groups += !needs->group[it->k];
                needs->group[it->k] = true;
                if (it->k >= needs->highest_group)
                    needs->highest_group = (size_t)it->k + 1;
            }
            if ((it->op == OP_DIAL || it->op == OP_DIAL_LIGHT) && it->k >= needs->dials)
                needs->dials = (size_t)it->k + 1;
        }
}

static Steps lay_out_steps(Layout *layout, const Code *code, Section section) {
    Steps steps = {0, lay_out(layout, code->lengths[section], sizeof(Step))};
    return steps;
}

static void lay_out_machine(Layout *layout, Vm *vm, const Code *code, const Needs *needs,
                            uint32_t pixels) {
    size_t blocks = ((size_t)pixels + LANES - 1) / LANES;
    vm->code = code;
    vm->pixels = pixels;
    vm->blocks = (uint32_t)blocks;
    vm->dial_count = needs->dials;
    vm->numbers = lay_out(layout, code->frame_numbers, sizeof *vm->numbers);
    vm->colours = lay_out(layout, code->frame_colours, sizeof *vm->colours);
    vm->pixel_numbers = lay_out(layout, code->pixel_numbers, sizeof *vm->pixel_numbers);
    vm->pixel_colours = lay_out(layout, code->pixel_colours, sizeof *vm->pixel_colours);
    vm->kept_numbers = lay_out(layout, blocks * code->kept_numbers, sizeof *vm->kept_numbers);
    vm->kept_colours = lay_out(layout, blocks * code->kept_colours, sizeof *vm->kept_colours);
    for (int field = 0; field < FIELD_COUNT; field++)
        vm->fields[field] =
            needs->field[field] ? lay_out(layout, blocks, sizeof *vm->fields[field]) : NULL;
    vm->groups = lay_out(layout, blocks * needs->groups, LANES);
    vm->group_place = lay_out(layout, needs->highest_group, sizeof *vm->group_place);
    vm->dials = lay_out(layout, needs->dials, sizeof *vm->dials);
    vm->dial_sets = lay_out(layout, needs->dials, sizeof *vm->dial_sets);
    vm->ramps = lay_out(layout, code->ramp_count, sizeof *vm->ramps);
    for (size_t i = 0; i < code->ramp_count; i++) {
        RampStretch *room = lay_out(layout, code->ramps[i].count, sizeof *room);
        if (layout->base)
            vm->ramps[i].stretches = room;
    }
    vm->set_spread = lay_out_steps(layout, code, SECTION_SET_SPREAD);
    vm->each = lay_out_steps(layout, code, SECTION_EACH);
    vm->spread_once = lay_out_steps(layout, code, SECTION_FRAME_SPREAD);
    vm->spread_frame = lay_out_steps(layout, code, SECTION_FRAME_SPREAD);
    vm->pixel = lay_out_steps(layout, code, SECTION_PIXEL);
}

/* All of it, the Vm itself first. */
static Vm *lay_out_all(Layout *layout, Vm *measured, const Code *code, const Needs *needs,
                       uint32_t pixels) {
    Vm *vm = lay_out(layout, 1, sizeof *vm);
    lay_out_machine(layout, layout->base ? vm : measured, code, needs, pixels);
    return vm;
}

static size_t measure(const Code *code, const Needs *needs, uint32_t pixels) {
    Layout layout = {NULL, 0};
    Vm measured;
    (void)lay_out_all(&layout, &measured, code, needs, pixels);
    return layout.size > SIZE_MAX / 2 ? SIZE_MAX : layout.size + ALIGNMENT - 1;
}

size_t vm_memory(const Code *code, uint32_t pixels) {
    Needs needs;
    find_needs(code, &needs);
    return measure(code, &needs, pixels);
}

/* -------- from instructions to steps -------- */

static const char *pixel_register(const Vm *vm, char kind, uint16_t index) {
    return kind == 'c' ? (const char *)vm->pixel_colours[index]
                       : (const char *)vm->pixel_numbers[index];
}

static const char *frame_register(const Vm *vm, char kind, uint16_t index) {
    return kind == 'c' ? (const char *)&vm->colours[index] : (const char *)&vm->numbers[index];
}

/* Operands that are no registers. */
static void add_context(const Vm *vm, Step *step) {
    enum { NUMBERS = LANES * sizeof(double), LIGHTS = 3 * LANES * sizeof(float) };
    size_t column = (size_t)step->k * vm->blocks;
    switch ((Operation)step->operation) {
    case OP_FIELD:
        step->a = (const char *)vm->fields[step->k];
        step->a_stride = NUMBERS;
        break;
    case OP_WITHIN:
        step->a = (const char *)vm->groups[vm->group_place[step->k] * (size_t)vm->blocks];
        step->a_stride = LANES;
        break;
    case OP_KEEP:
        step->out = (char *)vm->kept_numbers[column];
        step->out_stride = NUMBERS;
        break;
    case OP_KEEP_LIGHT:
        step->out = (char *)vm->kept_colours[column];
        step->out_stride = LIGHTS;
        break;
    case OP_KEPT:
        step->a = (const char *)vm->kept_numbers[column];
        step->a_stride = NUMBERS;
        break;
    case OP_KEPT_LIGHT:
        step->a = (const char *)vm->kept_colours[column];
        step->a_stride = LIGHTS;
        break;
    case OP_EASE:
        step->b = (const char *)&vm->code->easings[step->k];
        break;
    case OP_RAMP_NUMBER:
    case OP_RAMP_COLOUR:
        step->b = (const char *)&vm->ramps[step->k];
        break;
    default:
        break;
    }
}

static void add_step(const Vm *vm, Steps *steps, const Instruction *it, bool spread) {
    const Operation operation = (Operation)it->op;
    const uint16_t words[4] = {it->a, it->b, it->c, it->d};
    const char *operands[4] = {NULL, NULL, NULL, NULL};
    for (unsigned i = 0; i < 4; i++) {
        char kind = operation_operand(operation, i);
        if (kind)
            operands[i] =
                spread ? frame_register(vm, kind, words[i]) : pixel_register(vm, kind, words[i]);
        else if (i)
            operands[i] = operands[0]; /* read by no one, but an address */
    }
    Step *step = &steps->all[steps->count++];
    *step = (Step){.operation = it->op,
                   .k = it->k,
                   .a = operands[0],
                   .b = operands[1],
                   .c = operands[2],
                   .d = operands[3]};
    char result = operation_result(operation);
    if (result == 'c')
        step->out = (char *)vm->pixel_colours[it->dst];
    else if (result == 'n')
        step->out = (char *)vm->pixel_numbers[it->dst];
    add_context(vm, step);
}

/* Which registers of a kind a section writes, as bits. */
typedef struct Written {
    unsigned char bits[LIMIT_REGISTERS / 8];
} Written;

static Written find_written(const Code *code, Section section, char kind) {
    Written written = {{0}};
    for (size_t i = 0; i < code->lengths[section]; i++) {
        const Instruction *it = &code->sections[section][i];
        if (operation_result((Operation)it->op) == kind)
            written.bits[it->dst / 8] |= (unsigned char)(1u << it->dst % 8);
    }
    return written;
}

static bool is_written(const Written *written, uint16_t index) {
    return written->bits[index / 8] >> index % 8 & 1;
}

/* What FRAME does not write and PIXEL does not write over is spread once for all frames. */
static void add_spreads(Vm *vm, char kind) {
    const Code *code = vm->code;
    const Written frame = find_written(code, SECTION_FRAME, kind);
    const Written pixel = find_written(code, SECTION_PIXEL, kind);
    for (size_t i = 0; i < code->lengths[SECTION_FRAME_SPREAD]; i++) {
        const Instruction *it = &code->sections[SECTION_FRAME_SPREAD][i];
        if (operation_result((Operation)it->op) != kind)
            continue;
        bool moves = is_written(&frame, it->a) || is_written(&pixel, it->dst);
        add_step(vm, moves ? &vm->spread_frame : &vm->spread_once, it, true);
    }
}

static void add_section(Vm *vm, Steps *steps, Section section) {
    for (size_t i = 0; i < vm->code->lengths[section]; i++)
        add_step(vm, steps, &vm->code->sections[section][i], section == SECTION_SET_SPREAD);
}

static void add_steps(Vm *vm) {
    add_section(vm, &vm->set_spread, SECTION_SET_SPREAD);
    add_section(vm, &vm->each, SECTION_EACH);
    add_spreads(vm, 'n');
    add_spreads(vm, 'c');
    add_section(vm, &vm->pixel, SECTION_PIXEL);
}

/* -------- life -------- */

/* Lanes behind the last pixel repeat it, so that they are as ordinary as any. */
static void copy_scene(Vm *vm, const Scene *scene, const Needs *needs) {
    size_t padded = (size_t)vm->blocks * LANES, last = vm->pixels - 1;
    for (int field = 0; field < FIELD_COUNT; field++)
        for (size_t i = 0; vm->fields[field] && i < padded; i++)
            vm->fields[field][i / LANES][i % LANES] = scene->field[field][i < last ? i : last];
    unsigned char *truths = (unsigned char *)vm->groups;
    uint16_t place = 0;
    for (size_t group = 0; group < needs->highest_group; group++) {
        if (!needs->group[group])
            continue;
        vm->group_place[group] = place++;
        const unsigned char *from = group < scene->group_count ? scene->groups[group] : NULL;
        for (size_t i = 0; from && i < padded; i++)
            truths[i] = from[i < last ? i : last] != 0;
        truths += padded;
    }
}

static void mark_set_dials(Vm *vm) {
    for (size_t i = 0; i < vm->code->lengths[SECTION_SET]; i++) {
        const Instruction *it = &vm->code->sections[SECTION_SET][i];
        if (it->op == OP_DIAL || it->op == OP_DIAL_LIGHT)
            vm->dial_sets[it->k] = true;
    }
}

Vm *vm_create(const Code *code, const Scene *scene, const DialValue *dials) {
    Needs needs;
    find_needs(code, &needs);
    size_t size = measure(code, &needs, scene->pixels);
    char *memory = memory_allocate(1, size);
    if (!memory)
        return NULL;
    (void)vm_kernels();
    size_t slack = (ALIGNMENT - (uintptr_t)memory % ALIGNMENT) % ALIGNMENT;
    Layout layout = {memory + slack, 0};
    Vm *vm = lay_out_all(&layout, NULL, code, &needs, scene->pixels);
    vm->memory = memory;
    vm->inputs[INPUT_PIXELS] = scene->pixels;
    copy_scene(vm, scene, &needs);
    mark_set_dials(vm);
    add_steps(vm);
    for (size_t i = 0; i < code->number_constants; i++)
        vm->numbers[i] = code->numbers[i];
    for (size_t i = 0; i < code->colour_constants; i++)
        vm->colours[i] = code->colours[i];
    for (size_t i = 0; i < vm->dial_count; i++)
        vm->dials[i] = dials[i];
    vm_run_set(vm);
    return vm;
}

void vm_free(Vm *vm) {
    if (vm)
        memory_release(vm->memory);
}
