/* Every operation that needs no machine, one value at a time, from the one list: what constants
 * are folded with, and what the machine's blocks are tested against. */
#ifndef GLOAM_CORE_REFERENCE_H
#define GLOAM_CORE_REFERENCE_H

#include "runtime/core/program.h"

typedef union ReferenceOperand {
    double number;
    Colour colour;
} ReferenceOperand;

/* Operands in the order of the operation's kinds; k is the index word, 0 without one.
 * Operations of form NUMBER; 0 for others. */
double reference_number(Operation operation, const double *operands, uint16_t k);
/* Operations of the forms CHANNEL and COLOUR; black for others. */
Colour reference_colour(Operation operation, const ReferenceOperand *operands, uint16_t k);

#endif
