/* Bytecode of any bytes: refused with a reason, or it reads back as the same bytes, prints, and
 * runs on lamps of a few sizes under a budget of instructions. Length and checksum of the header
 * are put right first, so that what lies behind them is reached. */
#include <string.h>

#include "runtime/core/bytecode.h"
#include "runtime/core/memory.h"
#include "runtime/vm/vm.h"
#include "tests/fuzz/must.h"

enum { HEADER = 20, LENGTH_AT = 12, SUM_AT = 16, MOST_PIXELS = 65, BUDGET = 4000 };

static double column[FIELD_COUNT][MOST_PIXELS];
static unsigned char truths[MOST_PIXELS];

static void put_word(unsigned char *bytes, uint32_t word) {
    for (int i = 0; i < 4; i++)
        bytes[i] = (unsigned char)(word >> (8 * i));
}

static uint32_t checksum(const unsigned char *bytes, size_t length) {
    uint32_t sum = 0xFFFFFFFFu;
    for (size_t i = 0; i < length; i++) {
        sum ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            sum = (sum & 1) ? sum >> 1 ^ 0xEDB88320u : sum >> 1;
    }
    return ~sum;
}

static void run_routine(const Program *program, const Code *code, uint32_t pixels) {
    const unsigned char *groups[256];
    DialValue dials[256] = {{0}};
    float light[3 * MOST_PIXELS];
    Scene scene = {.pixels = pixels, .group_count = program->group_count, .groups = groups};
    for (int field = 0; field < FIELD_COUNT; field++)
        scene.field[field] = column[field];
    for (int i = 0; i < program->group_count; i++)
        groups[i] = i % 2 ? NULL : truths;
    for (int i = 0; i < program->dial_count; i++) {
        dials[i].number = program->dials[i].number;
        dials[i].colour = program->dials[i].colour;
    }
    unsigned long before = memory_count();
    Vm *vm = vm_create(code, &scene, dials);
    MUST(vm);
    MUST(memory_count() == before + 1);
    static const double times[] = {0.0, -1e6, 123456789.0};
    for (size_t i = 0; i < sizeof times / sizeof *times; i++) {
        Moment moment = {{times[i], 3.2, 0.5, 0.25, -0.1, 0.0}};
        vm_render(vm, &moment, light);
        for (uint32_t k = 0; k < 3 * pixels; k++)
            MUST(light[k] - light[k] == 0.0f);
    }
    MUST(vm_still_from(vm) >= 0.0);
    dials[0].number = 0.25;
    vm_set_dials(vm, dials);
    vm_free(vm);
}

static void run(const Program *program) {
    static const uint32_t sizes[] = {1, 31, 33, 63, MOST_PIXELS};
    for (int i = 0; i < program->routine_count; i++) {
        const Code *code = &program->routines[i].code;
        uint32_t instructions = 0;
        for (int section = 0; section < SECTION_COUNT; section++)
            instructions += code->lengths[section];
        for (size_t k = 0; instructions <= BUDGET && k < sizeof sizes / sizeof *sizes; k++)
            run_routine(program, code, sizes[k]);
    }
}

static void check(const unsigned char *bytes, size_t length, FILE *nowhere) {
    char reason[200] = "";
    unsigned long live = memory_live();
    Program *program = bytecode_read(bytes, length, reason, sizeof reason);
    MUST(program || reason[0]);
    if (program) {
        unsigned char *again;
        size_t again_length;
        MUST(bytecode_write(program, &again, &again_length));
        MUST(again_length == length && memcmp(again, bytes, length) == 0);
        memory_release(again);
        disassemble_program(program, nowhere);
        run(program);
    }
    program_free(program);
    MUST(memory_live() == live);
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length) {
    static FILE *nowhere;
    if (!nowhere) {
        nowhere = fopen("/dev/null", "w");
        MUST(nowhere);
        for (int i = 0; i < MOST_PIXELS; i++) {
            for (int field = 0; field < FIELD_COUNT; field++)
                column[field][i] = field == FIELD_PIXEL ? i : (i + 0.5) / MOST_PIXELS - 0.1 * field;
            truths[i] = i % 3 == 0;
        }
    }
    check(bytes, length, nowhere);
    if (length < HEADER)
        return 0;
    unsigned char *copy = malloc(length);
    MUST(copy);
    memcpy(copy, bytes, length);
    put_word(copy + LENGTH_AT, (uint32_t)(length - HEADER));
    put_word(copy + SUM_AT, checksum(copy + HEADER, length - HEADER));
    check(copy, length, nowhere);
    free(copy);
    return 0;
}
