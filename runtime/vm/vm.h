/* The machine: runs the code of one routine on one lamp, a block of pixels at a time.
 *
 * The code must have passed verify_program. After vm_create nothing allocates, no system call and
 * no function of libm is made; vm_render always ends, at a cost known beforehand. Frames are a
 * pure function of (code, scene, dials, moment): calls in any order give the same light. */
#ifndef GLOAM_VM_VM_H
#define GLOAM_VM_VM_H

#include "runtime/core/program.h"
#include "runtime/core/scene.h"

typedef struct Vm Vm;

/* What a dial is set to. Truths are 0 or 1, durations microseconds. */
typedef struct DialValue {
    double number;
    Colour colour;
} DialValue;

/* Bytes that vm_create takes for this routine on a lamp of so many pixels. */
size_t vm_memory(const Code *code, uint32_t pixels);

/* NULL: out of memory. Code and scene must outlive the machine. Dials are taken from the array
 * (program->dial_count entries, read in this call and in vm_set_dials only). */
Vm *vm_create(const Code *code, const Scene *scene, const DialValue *dials);
void vm_free(Vm *vm);

/* New dial values: redoes the work that only dials and the lamp decide. */
void vm_set_dials(Vm *vm, const DialValue *dials);

/* One frame: light[3 * pixel + channel], linear, 3 * pixels floats. moment->input[INPUT_PIXELS] is
 * ignored. */
void vm_render(Vm *vm, const Moment *moment, float *light);

/* Microseconds since the routine's start from which its light no longer changes while dials rest:
 * 0 for a routine in which nothing moves, INFINITY where it never rests. */
double vm_still_from(const Vm *vm);

/* Tests: the same frame by the scalar reference, pixel for pixel, without blocks. */
void vm_render_reference(Vm *vm, const Moment *moment, float *light);
/* Tests and --version: "baseline" or "avx2"; vm_choose_kernels forces one (false: not available).
 */
const char *vm_kernels(void);
bool vm_choose_kernels(const char *name);

#endif
