#include "runtime/core/chip.h"

#include <string.h>

#define CHIP(name, wire, white, level, order, channel, idle, pwm)                                  \
    {#name, CHIP_##wire, white, CHIP_LEVEL_##level, order, channel / 1e3, idle / 1e3, pwm},
const Chip CHIPS[CHIP_COUNT] = {
#include "runtime/core/chips.def"
};

const Chip *chip_find(const char *name) {
    for (int i = 0; name && i < CHIP_COUNT; i++)
        if (strcmp(CHIPS[i].name, name) == 0)
            return &CHIPS[i];
    return NULL;
}
