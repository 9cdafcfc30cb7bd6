/* Every operation in blocks, with every set of kernels, against the scalar reference: the same
 * bits for every combination of special values and for random ones. */
#include <float.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>

#include "runtime/core/operations.h"
#include "runtime/core/reference.h"
#include "runtime/vm/kernels.h"
#include "runtime/vm/vm.h"

enum { OPERANDS = 4, CASES = 4096 };

static const double specials[] = {0.0,
                                  -0.0,
                                  1.0,
                                  -1.0,
                                  0.5,
                                  -0.5,
                                  1.5,
                                  2.5,
                                  0.25,
                                  1.0 / 3.0,
                                  255.0,
                                  1e-300,
                                  4.9406564584124654e-324, /* the smallest double */
                                  -4.9406564584124654e-324,
                                  DBL_MIN,
                                  DBL_MAX,
                                  -DBL_MAX,
                                  1.401298464324817e-45, /* the smallest single */
                                  FLT_MIN,
                                  3.4028234663852886e38, /* the largest single */
                                  -3.5e38,
                                  4503599627370496.5,
                                  9007199254740992.0,
                                  -9007199254740993.0,
                                  1e15,
                                  123456789.75,
                                  0.04045,
                                  0.0031308,
                                  4e-6,
                                  0.49999999999999994,
                                  0.9999999999999999,
                                  1.0000000000000002};
enum { SPECIALS = sizeof specials / sizeof *specials };

static uint64_t random_state;

static uint64_t random_bits(void) {
    random_state = random_state * 6364136223846793005u + 1442695040888963407u;
    return random_state >> 11 ^ random_state << 37;
}

/* Doubles of every exponent, or of ordinary size. */
static double random_number(void) {
    uint64_t bits = random_bits();
    if (bits & 1)
        return (double)(int64_t)random_bits() / 1e18;
    if (bits & 2)
        return specials[(bits >> 8) % SPECIALS];
    double number;
    bits = random_bits();
    memcpy(&number, &bits, sizeof number);
    return number - number == 0.0 ? number : 0.0;
}

static float channel_of(double number) {
    return number > (double)FLT_MAX || number < -(double)FLT_MAX ? 0.0f : (float)number;
}

/* What the operations are given: by operand, channel (numbers take the first) and case. */
static double given[OPERANDS][3][CASES];

static void fill_operands(uint32_t round) {
    for (uint32_t i = 0; i < CASES; i++)
        for (int operand = 0; operand < OPERANDS; operand++)
            for (int channel = 0; channel < 3; channel++) {
                double number = random_number();
                /* The first rounds meet every special with every other. */
                if (round == 0 && operand < 2)
                    number = specials[(operand ? i / SPECIALS : i) % SPECIALS];
                if (round == 1 && operand && operand < 3)
                    number = specials[(operand == 2 ? i / SPECIALS : i) % SPECIALS];
                given[operand][channel][i] = number;
            }
}

static _Alignas(64) double number_lanes[OPERANDS][LANES];
static _Alignas(64) float light_lanes[OPERANDS][3][LANES];
static _Alignas(64) double number_result[LANES];
static _Alignas(64) float light_result[3][LANES];

static void load_lanes(uint32_t first) {
    for (int operand = 0; operand < OPERANDS; operand++)
        for (int i = 0; i < LANES; i++) {
            number_lanes[operand][i] = given[operand][0][first + i];
            for (int channel = 0; channel < 3; channel++)
                light_lanes[operand][channel][i] = channel_of(given[operand][channel][first + i]);
        }
}

static void run_block(const Kernels *kernels, Operation operation, uint16_t k) {
    const void *operands[OPERANDS];
    for (unsigned i = 0; i < OPERANDS; i++) {
        operands[i] = operation_operand(operation, i) == 'c' ? (void *)light_lanes[i]
                                                             : (void *)number_lanes[i];
        if (!operation_operand(operation, i))
            operands[i] = operands[0];
    }
    void *out = operation_result(operation) == 'c' ? (void *)light_result : (void *)number_result;
    kernels->run[operation](out, operands[0], operands[1], operands[2], operands[3], k);
}

static void compare_lane(const Kernels *kernels, Operation operation, uint16_t k, int lane) {
    double numbers[OPERANDS] = {0};
    ReferenceOperand operands[OPERANDS] = {{0}};
    for (unsigned i = 0; i < OPERANDS; i++) {
        char kind = operation_operand(operation, i);
        if (kind == 'c')
            operands[i].colour =
                (Colour){light_lanes[i][0][lane], light_lanes[i][1][lane], light_lanes[i][2][lane]};
        else if (kind)
            operands[i].number = numbers[i] = number_lanes[i][lane];
    }
    if (operation_result(operation) == 'n') {
        double expected = reference_number(operation, numbers, k);
        if (memcmp(&expected, &number_result[lane], sizeof expected) != 0)
            fail_msg("%s %s(%a, %a, %a, %a; %u) = %a, reference %a", kernels->name,
                     operation_name(operation), numbers[0], numbers[1], numbers[2], numbers[3], k,
                     number_result[lane], expected);
        assert_true(expected - expected == 0.0);
        return;
    }
    Colour expected = reference_colour(operation, operands, k);
    Colour got = {light_result[0][lane], light_result[1][lane], light_result[2][lane]};
    if (memcmp(&expected, &got, sizeof got) != 0)
        fail_msg("%s %s lane %d k %u: %a %a %a, reference %a %a %a", kernels->name,
                 operation_name(operation), lane, k, (double)got.r, (double)got.g, (double)got.b,
                 (double)expected.r, (double)expected.g, (double)expected.b);
}

static uint16_t index_count(Operation operation) {
    if (operation == OP_COLOUR_BLEND)
        return BLEND_CODE_COUNT;
    return operation_has_index(operation) ? SALT_NOISE + 1 : 1;
}

static void check_operation(const Kernels *kernels, Operation operation) {
    for (uint16_t k = 0; k < index_count(operation); k++) {
        if (operation == OP_COLOUR_BLEND && k > 3 && (k & 3) != SPACE_OKLCH)
            continue;
        for (uint32_t first = 0; first < CASES; first += LANES) {
            load_lanes(first);
            run_block(kernels, operation, k);
            for (int lane = 0; lane < LANES; lane++)
                compare_lane(kernels, operation, k, lane);
        }
    }
}

static void every_operation(const Kernels *kernels) {
    unsigned operations = 0;
    random_state = 20260321;
    for (uint32_t round = 0; round < 4; round++) {
        fill_operands(round);
        for (int operation = 0; operation < OPERATION_COUNT; operation++)
            if (operation_form((Operation)operation) != FORM_CONTEXT) {
                check_operation(kernels, (Operation)operation);
                operations++;
            }
    }
    print_message("%s: %u operations, %d values each in 4 rounds\n", kernels->name, operations / 4,
                  CASES);
    assert_true(operations > 4 * 50);
}

static void baseline_like_the_reference(void **state) {
    (void)state;
    every_operation(&kernels_baseline);
}

static void avx2_like_the_reference(void **state) {
    (void)state;
    if (!kernels_avx2.name || !vm_choose_kernels("avx2")) {
        print_message("skipped: this processor has no AVX2\n");
        skip();
    }
    every_operation(&kernels_avx2);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(baseline_like_the_reference),
                                       cmocka_unit_test(avx2_like_the_reference)};
    return cmocka_run_group_tests_name("kernels", tests, NULL, NULL);
}
