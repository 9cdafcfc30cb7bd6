/* The inner loops: one function an operation, each over one block of pixels.
 *
 * A block is LANES pixels. A number register is double[LANES], a colour register
 * float[3][LANES], both aligned to 64 bytes; `out` never overlaps an operand. What the operands of
 * the operations of form CONTEXT are is told in kernels.c. Built twice, for the plain machine and
 * for AVX2, from the same text and with the same bits as result. */
#ifndef GLOAM_VM_KERNELS_H
#define GLOAM_VM_KERNELS_H

#include "runtime/core/program.h"

/* 32 as measured by tests/bench/bench_vm.c, with blocks of 16, 32, 64 and 128: a lamp pays for
 * whole blocks, so that 12 or 16 pixels cost half of what they cost with 64, and 100,000 pixels at
 * most a sixth more, where every operation is of the cheapest. A multiple of 16. */
#ifndef LANES
#define LANES 32
#endif

typedef void Kernel(void *restrict out, const void *a, const void *b, const void *c, const void *d,
                    unsigned k);

typedef struct Kernels {
    const char *name; /* NULL: not for this kind of processor */
    Kernel *run[OPERATION_COUNT];
} Kernels;

extern const Kernels kernels_baseline;
extern const Kernels kernels_avx2;

#endif
