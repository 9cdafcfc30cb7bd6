/* What is known of the pixel chips, from chips.def. */
#ifndef GLOAM_CORE_CHIP_H
#define GLOAM_CORE_CHIP_H

#include <stdbool.h>
#include <stddef.h>

typedef enum ChipWire { CHIP_ONE_WIRE, CHIP_CLOCKED } ChipWire;
typedef enum ChipLevel { CHIP_LEVEL_NONE, CHIP_LEVEL_CURRENT, CHIP_LEVEL_SLOW } ChipLevel;

typedef struct Chip {
    const char *name;
    ChipWire wire;
    bool white;
    ChipLevel level;
    const char *order;
    double channel_ampere, idle_ampere, pwm_hertz;
} Chip;

enum { CHIP_COUNT = 6 };
/* Hertz that every clocked chip takes (common practice, no source), where a lamp says none. */
enum { CHIP_USUAL_CLOCK = 4000000 };
extern const Chip CHIPS[CHIP_COUNT];

/* NULL where there is none of that name; NULL is no name. */
const Chip *chip_find(const char *name);

#endif
