/* Easings of CSS Easing Functions Level 2. */
#ifndef GLOAM_CORE_EASING_H
#define GLOAM_CORE_EASING_H

#include "runtime/core/program.h"

/* The easing at x, outside 0..1 too; a finite number. The before flag of steps is never set. */
double easing_at(const Easing *easing, double x);

#endif
