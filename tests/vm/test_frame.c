/* The sections that work on frame registers against the scalar reference: every operation that
 * needs no machine, the same bits. */
#include "tests/vm/random_code.h"

#include "runtime/core/bytecode.h"
#include "runtime/core/reference.h"
#include "runtime/vm/machine.h"
#include "tests/vm/scenes.h"

enum { NUMBERS = 10, COLOURS = 6, ROUNDS = 400 };

/* One instruction for each operation, with operands among the constants. */
static Program *all_operations(void) {
    Program *program = build_program();
    Code *code = &build_routine(program, "all")->code;
    for (int i = 0; i < NUMBERS; i++)
        build_number(code, random_constant());
    for (int i = 0; i < COLOURS; i++)
        build_colour(code, (float)chance_unit(), (float)(chance_unit() * 3.0 - 1.0),
                     i ? (float)chance_unit() : 0.0f);
    for (int i = 0; i < OPERATION_COUNT; i++) {
        Operation operation = (Operation)i;
        if (operation_form(operation) == FORM_CONTEXT)
            continue;
        Instruction it = {0};
        uint16_t *words[4] = {&it.a, &it.b, &it.c, &it.d};
        for (unsigned k = 0; k < 4 && operation_operand(operation, k); k++)
            *words[k] = (uint16_t)below(operation_operand(operation, k) == 'c' ? COLOURS : NUMBERS);
        if (operation == OP_COLOUR_BLEND)
            it.k = (uint16_t)below(4);
        else if (operation_has_index(operation))
            it.k = (uint16_t)(1 + below(3));
        it.dst = operation_result(operation) == 'c' ? code->frame_colours++ : code->frame_numbers++;
        build_instruction(code, SECTION_FRAME, operation, it);
    }
    return program;
}

static void compare(const Vm *vm, const Instruction *it) {
    const Operation operation = (Operation)it->op;
    const uint16_t words[4] = {it->a, it->b, it->c, it->d};
    double numbers[4] = {0};
    ReferenceOperand operands[4] = {{0}};
    for (unsigned i = 0; i < 4 && operation_operand(operation, i); i++) {
        if (operation_operand(operation, i) == 'c')
            operands[i].colour = vm->colours[words[i]];
        else
            operands[i].number = numbers[i] = vm->numbers[words[i]];
    }
    if (operation_result(operation) == 'n') {
        double expected = reference_number(operation, numbers, it->k);
        if (memcmp(&expected, &vm->numbers[it->dst], sizeof expected) != 0)
            fail_msg("%s(%a, %a, %a, %a) = %a, reference %a", operation_name(operation), numbers[0],
                     numbers[1], numbers[2], numbers[3], vm->numbers[it->dst], expected);
        return;
    }
    Colour expected = reference_colour(operation, operands, it->k);
    if (memcmp(&expected, &vm->colours[it->dst], sizeof expected) != 0)
        fail_msg("%s gives another colour than the reference", operation_name(operation));
}

static void test_like_the_reference(void **state) {
    (void)state;
    char why[256];
    TestScene test;
    unsigned compared = 0;
    scene_ring(&test, 1);
    chance_state = 310;
    for (int round = 0; round < ROUNDS; round++) {
        Program *program = all_operations();
        const Code *code = &program->routines[0].code;
        if (!verify_program(program, why, sizeof why))
            fail_msg("%s", why);
        Vm *vm = vm_create(code, &test.scene, NULL);
        assert_non_null(vm);
        float light[3];
        Moment moment = moment_at(0);
        vm_render(vm, &moment, light);
        for (uint32_t i = 0; i < code->lengths[SECTION_FRAME]; i++, compared++)
            compare(vm, &code->sections[SECTION_FRAME][i]);
        vm_free(vm);
        program_free(program);
    }
    scene_free(&test);
    print_message("%u results alike\n", compared);
    assert_true(compared > 50 * ROUNDS);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_like_the_reference)};
    return cmocka_run_group_tests_name("frame sections", tests, NULL, NULL);
}
