/* The scalar reference of the operations: worked by hand for each, finite for whatever finite
 * operands, and the list itself. */
#include <float.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "runtime/core/operations.h"
#include "runtime/core/reference.h"

static const double numbers[] = {0.0,
                                 -0.0,
                                 1.0,
                                 -1.0,
                                 0.5,
                                 -0.5,
                                 0.25,
                                 2.0,
                                 -3.0,
                                 1e-9,
                                 1e9,
                                 5e-324,
                                 -5e-324,
                                 DBL_MIN,
                                 DBL_MAX,
                                 -DBL_MAX,
                                 1e300,
                                 -1e-300,
                                 0x1p52,
                                 0x1p53,
                                 1e38,
                                 1e-40,
                                 -1e17,
                                 0.9999999999999999,
                                 4503599627370495.5};
enum { NUMBERS = sizeof numbers / sizeof numbers[0] };

static const Colour colours[] = {
    {0.0f, -0.0f, 1.0f},         {FLT_MAX, -FLT_MAX, FLT_MIN}, {0.5f, 0.25f, 0.125f},
    {1e-45f, -1e-45f, 1e-38f},   {-1.0f, 2.0f, 1e30f},         {1.0f, 1.0f, 1.0f},
    {-FLT_MAX, FLT_MAX, -1e20f},
};
enum { COLOURS = sizeof colours / sizeof colours[0] };

static unsigned operand_count(Operation operation) {
    unsigned count = 0;
    while (count < 4 && operation_operand(operation, count))
        count++;
    return count;
}

static bool finite_colour(Colour colour) {
    return isfinite(colour.r) && isfinite(colour.g) && isfinite(colour.b);
}

/* Fills operand `at` with everything and goes on to the next; true where all results are finite. */
static bool all_finite(Operation operation, ReferenceOperand *operands, unsigned at, uint16_t k) {
    if (at == operand_count(operation)) {
        if (operation_result(operation) == 'c')
            return finite_colour(reference_colour(operation, operands, k));
        const double plain[4] = {operands[0].number, operands[1].number, operands[2].number,
                                 operands[3].number};
        return isfinite(reference_number(operation, plain, k));
    }
    const bool colour = operation_operand(operation, at) == 'c';
    for (int i = 0; i < (colour ? COLOURS : NUMBERS); i++) {
        if (colour)
            operands[at].colour = colours[i];
        else
            operands[at].number = numbers[i];
        if (!all_finite(operation, operands, at + 1, k))
            return false;
    }
    return true;
}

/* Rule N1: of finite operands a finite result, everything with everything. */
static void test_finite(void **state) {
    (void)state;
    for (int i = 0; i < OPERATION_COUNT; i++) {
        const Operation operation = (Operation)i;
        if (operation_form(operation) == FORM_CONTEXT)
            continue;
        const bool blend = strcmp(operation_kinds(operation), "c<ccnk") == 0;
        for (uint16_t k = 0; k < (blend ? BLEND_CODE_COUNT : 1); k++) {
            ReferenceOperand operands[4] = {{0}};
            if (!all_finite(operation, operands, 0, k)) {
                print_error("%s of %.17g, %.17g, %.17g\n", operation_name(operation),
                            operands[0].number, operands[1].number, operands[2].number);
                fail();
            }
        }
    }
}

typedef struct NumberExample {
    Operation operation;
    double operands[4];
    double result;
} NumberExample;

/* By hand from the texts of the list. */
static const NumberExample number_examples[] = {
    {OP_ADD, {2, 3}, 5},
    {OP_ADD, {DBL_MAX, DBL_MAX}, 0},
    {OP_SUBTRACT, {2, 3}, -1},
    {OP_MULTIPLY, {2, 3}, 6},
    {OP_DIVIDE, {3, 2}, 1.5},
    {OP_DIVIDE, {3, 0}, 0},
    {OP_DIVIDE, {0, 0}, 0},
    {OP_NEGATE, {2}, -2},
    {OP_ABSOLUTE, {-2}, 2},
    {OP_MINIMUM, {2, -3}, -3},
    {OP_MAXIMUM, {2, -3}, 2},
    {OP_FLOOR, {-2.5}, -3},
    {OP_CEILING, {-2.5}, -2},
    {OP_ROUND, {-2.5}, -2},
    {OP_ROUND, {2.5}, 3},
    {OP_MICROSECONDS, {2.5}, 2},
    {OP_MICROSECONDS, {-1e300}, -9007199254740992.0},
    {OP_MODULO, {-7, 3}, 2},
    {OP_MODULO, {7, -3}, -2},
    {OP_MODULO, {7, 0}, 0},
    {OP_UNIT, {1.5}, 1},
    {OP_APART, {0.875, 0.125}, 0.25},
    {OP_SQUARE_ROOT, {9}, 3},
    {OP_SQUARE_ROOT, {-9}, 0},
    {OP_POWER, {2, 10}, 1024},
    {OP_POWER, {-2, 2}, 0},
    {OP_POWER, {0, 0}, 1},
    {OP_SINE, {0.25}, 1},
    {OP_COSINE, {0.5}, -1},
    {OP_TANGENT, {0.125}, 1},
    {OP_TANGENT, {0.25}, 0},
    {OP_ARC_TANGENT, {1, 0}, 0.25},
    {OP_ARC_TANGENT, {-0.0, -1}, 0.5},
    {OP_ARC_TANGENT, {0, 0}, 0},
    {OP_LERP, {2, 4, 0.25}, 2.5},
    {OP_LERP, {2, 4, 1.5}, 5},
    {OP_SELECT, {1, 2, 3}, 2},
    {OP_SELECT, {0, 2, 3}, 3},
    {OP_LESS, {1, 2}, 1},
    {OP_LESS, {2, 2}, 0},
    {OP_LESS_EQUAL, {2, 2}, 1},
    {OP_EQUAL, {0.0, -0.0}, 1},
    {OP_AND, {1, 0}, 0},
    {OP_OR, {1, 0}, 1},
    {OP_NOT, {1}, 0},
    {OP_OVER, {3, 4}, 0.75},
    {OP_OVER, {3, 0}, 1},
    {OP_PHASE, {-1, 4}, 0.75},
    {OP_PHASE, {1, 0}, 0},
    {OP_TICK, {-1, 4}, -1},
    {OP_TICK, {-1, 0}, 0},
    {OP_THERE_AND_BACK, {0.75}, 0.5},
};

static void test_numbers(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof number_examples / sizeof number_examples[0]; i++) {
        const NumberExample *example = &number_examples[i];
        const double got = reference_number(example->operation, example->operands, 0);
        if (got != example->result) {
            print_error("%s: %.17g\n", operation_name(example->operation), got);
            fail();
        }
    }
}

static void light(Operation operation, ReferenceOperand a, ReferenceOperand b, ReferenceOperand c,
                  float red, float green, float blue) {
    const ReferenceOperand operands[] = {a, b, c};
    const Colour got = reference_colour(operation, operands, 0);
    if (got.r != red || got.g != green || got.b != blue) {
        print_error("%s: %g %g %g\n", operation_name(operation), (double)got.r, (double)got.g,
                    (double)got.b);
        fail();
    }
}

static void test_light(void **state) {
    (void)state;
    const ReferenceOperand a = {.colour = {0.5f, 2.0f, -1.0f}}, b = {.colour = {0.25f, 0.5f, 1.0f}};
    const ReferenceOperand two = {.number = 2.0}, none = {.number = 0.0}, tiny = {.number = 1e-60};
    light(OP_COLOUR_ADD, a, b, none, 0.75f, 2.5f, 0.0f);
    light(OP_COLOUR_SUBTRACT, a, b, none, 0.25f, 1.5f, -2.0f);
    light(OP_COLOUR_MULTIPLY, a, b, none, 0.125f, 1.0f, -1.0f);
    light(OP_COLOUR_SCALE, a, two, none, 1.0f, 4.0f, -2.0f);
    light(OP_COLOUR_DIVIDE, a, two, none, 0.25f, 1.0f, -0.5f);
    light(OP_COLOUR_DIVIDE, a, none, none, 0.0f, 0.0f, 0.0f);
    light(OP_COLOUR_SELECT, tiny, a, b, 0.5f, 2.0f, -1.0f); /* not 0, so true */
    light(OP_COLOUR_SELECT, none, a, b, 0.25f, 0.5f, 1.0f);
    light(OP_COLOUR_MIX, a, b, (ReferenceOperand){.number = 0.5}, 0.375f, 1.25f, 0.0f);
    light(OP_COLOUR_MIX, a, b, none, 0.5f, 2.0f, -1.0f);
    light(OP_LAYER_SCREEN, a, b, none, 0.625f, 1.0f, 1.0f);
    light(OP_LAYER_MULTIPLY, a, b, none, 0.125f, 0.5f, 0.0f);
    light(OP_LAYER_LIGHTEN, a, b, none, 0.5f, 1.0f, 1.0f);
    light(OP_LAYER_DARKEN, a, b, none, 0.25f, 0.5f, 0.0f);
    const ReferenceOperand huge = {.number = 1e300};
    light(OP_COLOUR_SCALE, a, huge, none, 0.0f, 0.0f, 0.0f); /* out of range: 0 */
    light(OP_COLOUR_RGB, (ReferenceOperand){.number = 255.0}, none, none, 1.0f, 0.0f, 0.0f);
    light(OP_COLOUR_BLEND, a, b, (ReferenceOperand){.number = 1.0}, 0.25f, 0.5f, 1.0f);
}

/* A result, `<`, up to four operands, the index word last; kinds of colours where the forms want
 * them: the reference takes COLOUR_BLEND alone for a whole-colour operation of colours. */
static void test_list(void **state) {
    (void)state;
    for (int i = 0; i < OPERATION_COUNT; i++) {
        const Operation operation = (Operation)i;
        const char *kinds = operation_kinds(operation);
        assert_true(strchr("nc-", kinds[0]) && kinds[1] == '<');
        const unsigned operands = operand_count(operation);
        assert_int_equal(strlen(kinds), 2 + operands + operation_has_index(operation));
        assert_true(strspn(kinds + 2, "nc") == operands);
        assert_true(*operation_name(operation));
        const bool of_colours = strchr(kinds + 2, 'c') != NULL;
        switch (operation_form(operation)) {
        case FORM_NUMBER:
            assert_true(kinds[0] == 'n' && !of_colours && operation_cost(operation) > 0);
            break;
        case FORM_CHANNEL:
            assert_true(kinds[0] == 'c' && of_colours && operation_cost(operation) > 0);
            break;
        case FORM_COLOUR:
            assert_true(kinds[0] == 'c' && of_colours == (operation == OP_COLOUR_BLEND));
            break;
        case FORM_CONTEXT:
            break;
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_finite),
        cmocka_unit_test(test_numbers),
        cmocka_unit_test(test_light),
        cmocka_unit_test(test_list),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
