#include "runtime/vm/vm.h"

#include <math.h>
#include <stdatomic.h>
#include <string.h>

#include "runtime/vm/machine.h"

/* -------- kernels -------- */

static _Atomic(const Kernels *) kernels; /* NULL: not chosen yet */

static const Kernels *kernels_best(void) {
#if defined(__x86_64__)
    if (kernels_avx2.name && __builtin_cpu_supports("avx2"))
        return &kernels_avx2;
#endif
    return &kernels_baseline;
}

const char *vm_kernels(void) {
    const Kernels *chosen = kernels;
    if (!chosen)
        kernels = chosen = kernels_best();
    return chosen->name;
}

bool vm_choose_kernels(const char *name) {
    const Kernels *best = kernels_best();
    if (strcmp(name, kernels_baseline.name) == 0)
        kernels = &kernels_baseline;
    else if (strcmp(name, best->name) == 0)
        kernels = best;
    else
        return false;
    return true;
}

/* -------- running -------- */

static void run_steps(const Steps *steps, size_t block) {
    const Kernels *chosen = atomic_load_explicit(&kernels, memory_order_relaxed);
    for (size_t i = 0; i < steps->count; i++) {
        const Step *step = &steps->all[i];
        chosen->run[step->operation](step->out + block * step->out_stride,
                                     step->a + block * step->a_stride, step->b, step->c, step->d,
                                     step->k);
    }
}

/* The time from which the light rests, from what vm_run_set left. */
static double find_rest(const Vm *vm) {
    const Code *code = vm->code;
    if (code->stillness == STILL_ALWAYS)
        return 0.0;
    if (code->stillness == STILL_NEVER)
        return INFINITY;
    if (!code->settle_each)
        return vm->numbers[code->settle] > 0.0 ? vm->numbers[code->settle] : 0.0;
    const double *column = vm->kept_numbers[(size_t)code->settle * vm->blocks];
    double last = 0.0;
    for (size_t i = 0; i < vm->pixels; i++)
        last = column[i] > last ? column[i] : last;
    return last;
}

void vm_run_set(Vm *vm) {
    scalar_run(vm, SECTION_SET);
    run_steps(&vm->set_spread, 0);
    for (size_t block = 0; vm->each.count && block < vm->blocks; block++)
        run_steps(&vm->each, block);
    run_steps(&vm->spread_once, 0);
    vm->still_from = find_rest(vm);
}

double vm_still_from(const Vm *vm) {
    return vm->still_from;
}

/* As bits: -0 is another setting than 0. */
static bool same_value(const DialValue *a, const DialValue *b) {
    return memcmp(&a->number, &b->number, sizeof a->number) == 0 &&
           memcmp(&a->colour, &b->colour, sizeof a->colour) == 0;
}

void vm_set_dials(Vm *vm, const DialValue *dials) {
    bool changed = false;
    for (size_t i = 0; i < vm->dial_count; i++) {
        DialValue *old = &vm->dials[i];
        if (vm->dial_sets[i] && !same_value(old, &dials[i]))
            changed = true;
        *old = dials[i];
    }
    if (changed)
        vm_run_set(vm);
}

static void fill(float *light, size_t pixels, Colour colour) {
    for (size_t i = 0; i < pixels; i++) {
        light[3 * i] = colour.r;
        light[3 * i + 1] = colour.g;
        light[3 * i + 2] = colour.b;
    }
}

static void copy_block(float *restrict light, const float (*lanes)[LANES], size_t count) {
    for (size_t i = 0; i < count; i++) {
        light[3 * i] = lanes[0][i];
        light[3 * i + 1] = lanes[1][i];
        light[3 * i + 2] = lanes[2][i];
    }
}

void vm_render(Vm *vm, const Moment *moment, float *light) {
    const Code *code = vm->code;
    for (int input = 0; input < INPUT_COUNT; input++)
        if (input != INPUT_PIXELS)
            vm->inputs[input] = moment->input[input];
    scalar_run(vm, SECTION_FRAME);
    if (!code->result_each) {
        fill(light, vm->pixels, vm->colours[code->result]);
        return;
    }
    run_steps(&vm->spread_frame, 0);
    for (size_t block = 0; block < vm->blocks; block++) {
        run_steps(&vm->pixel, block);
        size_t left = vm->pixels - block * LANES;
        copy_block(light + 3 * LANES * block,
                   (const float(*)[LANES])vm->pixel_colours[code->result],
                   left < LANES ? left : LANES);
    }
}
