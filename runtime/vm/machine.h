/* What the machine is made of; only the files of this folder look inside. */
#ifndef GLOAM_VM_MACHINE_H
#define GLOAM_VM_MACHINE_H

#include "runtime/core/ramp.h"
#include "runtime/vm/kernels.h"
#include "runtime/vm/vm.h"

/* An instruction of a block section with its addresses worked out. An operand that belongs to a
 * lamp's pixels instead of a register moves on by its stride, in bytes, from block to block. */
typedef struct Step {
    uint16_t operation, k;
    uint32_t out_stride, a_stride;
    char *out; /* NULL: none */
    const char *a, *b, *c, *d;
} Step;

typedef struct Steps {
    size_t count;
    Step *all;
} Steps;

struct Vm {
    const Code *code;
    void *memory; /* the one allocation, which holds this too */
    uint32_t pixels, blocks;
    size_t dial_count;
    double still_from;

    double *numbers; /* frame registers */
    Colour *colours;
    double (*pixel_numbers)[LANES];
    float (*pixel_colours)[3][LANES];
    double (*kept_numbers)[LANES]; /* column after column, each of `blocks` */
    float (*kept_colours)[3][LANES];
    double (*fields[FIELD_COUNT])[LANES]; /* NULL: not read */
    unsigned char (*groups)[LANES];       /* those that are read, each of `blocks` */
    uint16_t *group_place;                /* by k of WITHIN: which of those */
    RampReady *ramps;
    DialValue *dials;
    bool *dial_sets; /* by dial: SET reads it */
    double inputs[INPUT_COUNT];

    Steps set_spread, each, spread_once, spread_frame, pixel;
};

/* Runs a section that works on frame registers. */
void scalar_run(Vm *vm, Section section);

/* SET, SET_SPREAD, EACH, and those of FRAME_SPREAD that never change. */
void vm_run_set(Vm *vm);

#endif
