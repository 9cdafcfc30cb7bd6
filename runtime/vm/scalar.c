/* The sections that work on frame registers, and whole frames one pixel at a time for tests. */
#include "runtime/core/easing.h"
#include "runtime/core/hash.h"
#include "runtime/core/light.h"
#include "runtime/core/number.h"
#include "runtime/core/operations.h"
#include "runtime/core/reference.h"
#include "runtime/vm/machine.h"

/* Operations that need the machine, at `a`, of scalar sections. */
static ReferenceOperand in_context(const Vm *vm, const Instruction *it, double a) {
    ReferenceOperand result = {0};
    switch ((Operation)it->op) {
    case OP_EASE:
        result.number = easing_at(&vm->code->easings[it->k], a);
        break;
    case OP_RAMP_NUMBER:
        result.number = ramp_number(&vm->ramps[it->k], a);
        break;
    case OP_RAMP_COLOUR:
        result.colour = ramp_colour(&vm->ramps[it->k], a);
        break;
    case OP_INPUT:
        result.number = vm->inputs[it->k];
        break;
    case OP_DIAL:
        result.number = vm->dials[it->k].number;
        break;
    case OP_DIAL_LIGHT:
        result.colour = vm->dials[it->k].colour;
        break;
    default:
        break;
    }
    return result;
}

/* The numbers' operations and the channels' operations inline, from the one list: frames must be
 * cheap. */
#define CASE_NUMBER(name, expression)                                                              \
    case OP_##name:                                                                                \
        return expression;
#define CASE_CHANNEL(name, expression)
#define CASE_COLOUR(name, expression)
#define CASE_CONTEXT(name, expression)
#define OP(name, kinds, form, expression, cost, text) CASE_##form(name, expression)
static double number_of(Operation operation, double a, double b, double c, double d, uint16_t k) {
    switch (operation) {
#include "runtime/core/operations.def"
    default:
        return 0.0;
    }
}
#undef OP
#undef CASE_NUMBER
#undef CASE_CHANNEL

static inline float part_of(Colour colour, int channel) {
    return channel == 0 ? colour.r : channel == 1 ? colour.g : colour.b;
}

/* An operand as a channel sees it: a colour's; a number in single precision, but a number in front
 * is a truth; 0 where there is none. */
#define OPERAND(kinds, index, word)                                                                \
    (sizeof(kinds) <= 3 + (index) || (kinds)[2 + (index)] == 'k' ? 0.0f                            \
     : (kinds)[2 + (index)] == 'c' ? part_of(vm->colours[word], channel)                           \
     : (index) == 0                ? (vm->numbers[word] != 0.0 ? 1.0f : 0.0f)                      \
                                   : (float)vm->numbers[word])
#define CASE_NUMBER(name, kinds, expression)
#define CASE_CHANNEL(name, kinds, expression)                                                      \
    case OP_##name:                                                                                \
        for (int channel = 0; channel < 3; channel++) {                                            \
            const float a = OPERAND(kinds, 0, it->a), b = OPERAND(kinds, 1, it->b);                \
            const float c = OPERAND(kinds, 2, it->c);                                              \
            (void)c;                                                                               \
            light[channel] = expression;                                                           \
        }                                                                                          \
        break;
#undef CASE_COLOUR
#undef CASE_CONTEXT
#define CASE_COLOUR(name, kinds, expression)
#define CASE_CONTEXT(name, kinds, expression)
#define OP(name, kinds, form, expression, cost, text) CASE_##form(name, kinds, expression)
static void run_channels(Vm *vm, const Instruction *it) {
    float light[3] = {0.0f, 0.0f, 0.0f};
    switch ((Operation)it->op) {
#include "runtime/core/operations.def"
    default:
        break;
    }
    vm->colours[it->dst] = (Colour){light[0], light[1], light[2]};
}
#undef OP

static void run_number(Vm *vm, const Instruction *it) {
    const double *numbers = vm->numbers;
    vm->numbers[it->dst] = number_of((Operation)it->op, numbers[it->a], numbers[it->b],
                                     numbers[it->c], numbers[it->d], it->k);
}

static void run_colour(Vm *vm, const Instruction *it) {
    const uint16_t words[4] = {it->a, it->b, it->c, it->d};
    ReferenceOperand operands[4] = {{0}};
    for (unsigned i = 0; i < 4; i++) {
        char kind = operation_operand((Operation)it->op, i);
        if (kind == 'c')
            operands[i].colour = vm->colours[words[i]];
        else if (kind)
            operands[i].number = vm->numbers[words[i]];
    }
    vm->colours[it->dst] = reference_colour((Operation)it->op, operands, it->k);
}

static void run_context(Vm *vm, const Instruction *it) {
    if (it->op == OP_RAMP_READY) {
        ramp_ready(&vm->ramps[it->k], &vm->code->ramps[it->k], vm->code->easings, vm->numbers,
                   vm->colours);
        return;
    }
    const bool place = operation_operand((Operation)it->op, 0) == 'n';
    const ReferenceOperand result = in_context(vm, it, place ? vm->numbers[it->a] : 0.0);
    if (operation_result((Operation)it->op) == 'c')
        vm->colours[it->dst] = result.colour;
    else
        vm->numbers[it->dst] = result.number;
}

void scalar_run(Vm *vm, Section section) {
    const Code *code = vm->code;
    for (size_t i = 0; i < code->lengths[section]; i++) {
        const Instruction *it = &code->sections[section][i];
        switch (operation_form((Operation)it->op)) {
        case FORM_NUMBER:
            run_number(vm, it);
            break;
        case FORM_CHANNEL:
            run_channels(vm, it);
            break;
        case FORM_COLOUR:
            run_colour(vm, it);
            break;
        case FORM_CONTEXT:
            run_context(vm, it);
            break;
        }
    }
}

/* -------- frames pixel by pixel, for tests -------- */

/* One pixel's registers are lane 0 of the blocks'. */
static ReferenceOperand lane_read(const Vm *vm, char kind, uint16_t index) {
    ReferenceOperand value = {0};
    if (kind == 'c') {
        float(*lanes)[LANES] = vm->pixel_colours[index];
        value.colour = (Colour){lanes[0][0], lanes[1][0], lanes[2][0]};
    } else {
        value.number = vm->pixel_numbers[index][0];
    }
    return value;
}

static void light_write(float (*lanes)[LANES], size_t lane, Colour light) {
    lanes[0][lane] = light.r;
    lanes[1][lane] = light.g;
    lanes[2][lane] = light.b;
}

static Colour light_read(float (*lanes)[LANES], size_t lane) {
    return (Colour){lanes[0][lane], lanes[1][lane], lanes[2][lane]};
}

static ReferenceOperand pixel_context(const Vm *vm, const Instruction *it,
                                      const ReferenceOperand *operand, size_t pixel) {
    const size_t block = (size_t)it->k * vm->blocks + pixel / LANES, lane = pixel % LANES;
    ReferenceOperand result = {0};
    switch ((Operation)it->op) {
    case OP_FIELD:
        result.number = vm->fields[it->k][pixel / LANES][lane];
        return result;
    case OP_WITHIN:
        result.number =
            vm->groups[vm->group_place[it->k] * (size_t)vm->blocks + pixel / LANES][lane];
        return result;
    case OP_KEEP:
        vm->kept_numbers[block][lane] = operand->number;
        return result;
    case OP_KEEP_LIGHT:
        light_write(vm->kept_colours[block], lane, operand->colour);
        return result;
    case OP_KEPT:
        result.number = vm->kept_numbers[block][lane];
        return result;
    case OP_KEPT_LIGHT:
        result.colour = light_read(vm->kept_colours[block], lane);
        return result;
    default:
        return in_context(vm, it, operand->number);
    }
}

static void pixel_run(Vm *vm, Section section, size_t pixel) {
    const Code *code = vm->code;
    const bool spread = section == SECTION_SET_SPREAD || section == SECTION_FRAME_SPREAD;
    for (size_t i = 0; i < code->lengths[section]; i++) {
        const Instruction *it = &code->sections[section][i];
        const Operation operation = (Operation)it->op;
        const uint16_t words[4] = {it->a, it->b, it->c, it->d};
        ReferenceOperand operands[4] = {{0}}, result = {0};
        double numbers[4] = {0};
        for (unsigned j = 0; j < 4 && !spread && operation_operand(operation, j); j++) {
            operands[j] = lane_read(vm, operation_operand(operation, j), words[j]);
            numbers[j] = operands[j].number;
        }
        if (operation == OP_SPREAD)
            result.number = vm->numbers[it->a];
        else if (operation == OP_SPREAD_LIGHT)
            result.colour = vm->colours[it->a];
        else if (operation_form(operation) == FORM_NUMBER)
            result.number = reference_number(operation, numbers, it->k);
        else if (operation_form(operation) == FORM_CONTEXT)
            result = pixel_context(vm, it, operands, pixel);
        else
            result.colour = reference_colour(operation, operands, it->k);
        if (operation_result(operation) == 'c')
            light_write(vm->pixel_colours[it->dst], 0, result.colour);
        else if (operation_result(operation) == 'n')
            vm->pixel_numbers[it->dst][0] = result.number;
    }
}

void vm_render_reference(Vm *vm, const Moment *moment, float *light) {
    const Code *code = vm->code;
    for (int input = 0; input < INPUT_COUNT; input++)
        if (input != INPUT_PIXELS)
            vm->inputs[input] = moment->input[input];
    scalar_run(vm, SECTION_SET);
    pixel_run(vm, SECTION_SET_SPREAD, 0);
    for (size_t pixel = 0; pixel < vm->pixels; pixel++)
        pixel_run(vm, SECTION_EACH, pixel);
    scalar_run(vm, SECTION_FRAME);
    pixel_run(vm, SECTION_FRAME_SPREAD, 0);
    for (size_t pixel = 0; pixel < vm->pixels; pixel++) {
        Colour result;
        if (code->result_each) {
            pixel_run(vm, SECTION_PIXEL, pixel);
            result = light_read(vm->pixel_colours[code->result], 0);
        } else {
            result = vm->colours[code->result];
        }
        light[3 * pixel] = result.r;
        light[3 * pixel + 1] = result.g;
        light[3 * pixel + 2] = result.b;
    }
    vm_run_set(vm); /* puts back what the blocks had left in their registers */
}
