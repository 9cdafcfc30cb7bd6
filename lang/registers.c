/* Registers of one kind: always the lowest that is free, so that code is the same every time and
 * touches little memory. */
#include <string.h>

#include "lang/emit_inside.h"

void registers_clear(RegisterBank *bank) {
    memset(bank->used, 0, sizeof bank->used);
}

uint16_t registers_take(RegisterBank *bank) {
    for (uint32_t word = 0; word < LIMIT_REGISTERS / 64; word++) {
        if (bank->used[word] == UINT64_MAX)
            continue;
        uint32_t bit = 0;
        while (bank->used[word] >> bit & 1)
            bit++;
        bank->used[word] |= UINT64_C(1) << bit;
        uint32_t index = word * 64 + bit;
        if (index >= bank->count)
            bank->count = index + 1;
        return (uint16_t)index;
    }
    return REGISTER_NONE;
}

void registers_give(RegisterBank *bank, uint16_t index) {
    bank->used[index / 64] &= ~(UINT64_C(1) << index % 64);
}
