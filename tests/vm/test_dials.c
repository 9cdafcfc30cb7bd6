/* What dials do to the machine, when light rests, groups that a lamp has not, memory to the byte,
 * and a process that may do nothing but compute. */
#include "tests/vm/build.h"

#include <errno.h>
#include <linux/seccomp.h>
#include <malloc.h>
#include <math.h>
#include <sys/prctl.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include "runtime/core/bytecode.h"
#include "runtime/vm/machine.h"
#include "tests/vm/scenes.h"

enum { PIXELS = 70 };

static void sound(const Program *program) {
    char why[256];
    if (!verify_program(program, why, sizeof why))
        fail_msg("%s", why);
}

/* Light tint * (kept pos * warmth) + red * warmth read anew in each frame; rests at pos * warmth
 * seconds. */
static Program *dial_program(void) {
    Program *program = build_program();
    build_dial(program, "warmth", DIAL_NUMBER);
    build_dial(program, "tint", DIAL_COLOUR);
    build_dial(program, "glide", DIAL_NUMBER);
    Code *code = &build_routine(program, "glow")->code;
    uint16_t second = build_number(code, 1e6), red = build_colour(code, 1, 0, 0);
    code->frame_numbers = 4;
    code->frame_colours = 3;
    code->pixel_numbers = 4;
    code->pixel_colours = 4;
    code->kept_numbers = 2;
    EMIT(code, SET, DIAL, .dst = 1, .k = 0);
    EMIT(code, SET, DIAL_LIGHT, .dst = 1, .k = 1);
    EMIT(code, SET, MULTIPLY, .dst = 2, .a = 1, .b = second);
    EMIT(code, SET_SPREAD, SPREAD, .dst = 0, .a = 1);
    EMIT(code, SET_SPREAD, SPREAD, .dst = 1, .a = 2);
    EMIT(code, EACH, FIELD, .dst = 2, .k = FIELD_POS);
    EMIT(code, EACH, MULTIPLY, .dst = 3, .a = 0, .b = 2);
    EMIT(code, EACH, KEEP, .a = 3, .k = 0);
    EMIT(code, EACH, MULTIPLY, .dst = 3, .a = 1, .b = 2);
    EMIT(code, EACH, KEEP, .a = 3, .k = 1);
    EMIT(code, FRAME, DIAL, .dst = 3, .k = 2);
    EMIT(code, FRAME, COLOUR_SCALE, .dst = 2, .a = red, .b = 3);
    EMIT(code, FRAME_SPREAD, SPREAD_LIGHT, .dst = 0, .a = 1);
    EMIT(code, FRAME_SPREAD, SPREAD_LIGHT, .dst = 1, .a = 2);
    EMIT(code, PIXEL, KEPT, .dst = 0, .k = 0);
    EMIT(code, PIXEL, COLOUR_SCALE, .dst = 2, .a = 0, .b = 0);
    EMIT(code, PIXEL, COLOUR_ADD, .dst = 3, .a = 2, .b = 1);
    code->result_each = true;
    code->result = 3;
    code->stillness = STILL_SETTLES;
    code->settle_each = true;
    code->settle = 1;
    sound(program);
    return program;
}

static void test_dials(void **state) {
    (void)state;
    Program *program = dial_program();
    TestScene test;
    scene_ring(&test, PIXELS);
    DialValue dials[3] = {{.number = 0.5}, {.number = 0}, {.number = 0.25}};
    dials[1].colour = (Colour){0.0f, 1.0f, 0.5f};
    Vm *vm = vm_create(&program->routines[0].code, &test.scene, dials);
    assert_non_null(vm);
    float light[3 * PIXELS];
    Moment moment = moment_at(0);
    for (int turn = 0; turn < 3; turn++) {
        if (turn == 1) /* read in FRAME only: the kept columns stay */
            dials[2].number = 0.75;
        if (turn == 2) {
            dials[0].number = 0.125;
            dials[1].colour.b = -0.25f;
        }
        vm_set_dials(vm, dials);
        vm_render(vm, &moment, light);
        for (uint32_t i = 0; i < PIXELS; i++) {
            float share = (float)(dials[0].number * ((i + 0.5) / PIXELS));
            float expected[3] = {dials[1].colour.r * share + (float)dials[2].number,
                                 dials[1].colour.g * share, dials[1].colour.b * share};
            assert_memory_equal(&light[3 * i], expected, sizeof expected);
        }
        /* The last pixel rests last. */
        double rest = dials[0].number * 1e6 * ((PIXELS - 0.5) / PIXELS);
        assert_true(vm_still_from(vm) == rest);
    }
    /* -0 is another setting than 0: 1 / -0 would show. */
    dials[0].number = 0.0;
    vm_set_dials(vm, dials);
    assert_true(!signbit(vm->kept_numbers[0][0]));
    dials[0].number = -0.0;
    vm_set_dials(vm, dials);
    assert_true(signbit(vm->kept_numbers[0][0]) != 0);
    vm_free(vm);
    scene_free(&test);
    program_free(program);
}

static void test_rest(void **state) {
    (void)state;
    Program *program = build_program();
    Code *code = &build_routine(program, "rest")->code;
    uint16_t late = build_number(code, 7e6), before = build_number(code, -3.0);
    build_colour(code, 0.5f, 0.25f, 2.0f);
    code->frame_numbers = 2;
    TestScene test;
    scene_ring(&test, 3);
    const struct {
        Stillness stillness;
        uint16_t settle;
        double from;
    } cases[] = {{STILL_ALWAYS, 0, 0.0},
                 {STILL_NEVER, 0, INFINITY},
                 {STILL_SETTLES, late, 7e6},
                 {STILL_SETTLES, before, 0.0}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        code->stillness = cases[i].stillness;
        code->settle = cases[i].settle;
        sound(program);
        Vm *vm = vm_create(code, &test.scene, NULL);
        assert_non_null(vm);
        assert_true(vm_still_from(vm) == cases[i].from);
        float light[9], expected[9] = {0.5f, 0.25f, 2.0f, 0.5f, 0.25f, 2.0f, 0.5f, 0.25f, 2.0f};
        Moment moment = moment_at(0);
        vm_render(vm, &moment, light); /* one colour for the whole lamp */
        assert_memory_equal(light, expected, sizeof light);
        vm_free(vm);
    }
    scene_free(&test);
    program_free(program);
}

/* Group 1 of 2 and one that the scene does not even count: false. */
static void test_groups(void **state) {
    (void)state;
    Program *program = build_program();
    build_group(program, "window");
    build_group(program, "attic");
    build_group(program, "cellar");
    Code *code = &build_routine(program, "glow")->code;
    build_colour(code, 1, 1, 1);
    code->pixel_numbers = 3;
    code->pixel_colours = 3;
    EMIT(code, FRAME_SPREAD, SPREAD_LIGHT, .dst = 0, .a = 0);
    EMIT(code, PIXEL, WITHIN, .dst = 0, .k = 2);
    EMIT(code, PIXEL, WITHIN, .dst = 1, .k = 0);
    EMIT(code, PIXEL, WITHIN, .dst = 2, .k = 1);
    EMIT(code, PIXEL, OR, .dst = 0, .a = 1, .b = 2);
    EMIT(code, PIXEL, COLOUR_SCALE, .dst = 1, .a = 0, .b = 0);
    code->result_each = true;
    code->result = 1;
    sound(program);
    TestScene test;
    scene_ring(&test, PIXELS);
    Vm *vm = vm_create(code, &test.scene, NULL);
    assert_non_null(vm);
    float light[3 * PIXELS];
    Moment moment = moment_at(0);
    vm_render(vm, &moment, light);
    for (uint32_t i = 0; i < PIXELS; i++)
        assert_true(light[3 * i] == (i % 3 == 0 ? 1.0f : 0.0f));
    vm_free(vm);
    scene_free(&test);
    program_free(program);
}

static void test_memory_to_the_byte(void **state) {
    (void)state;
    Program *program = dial_program();
    const Code *code = &program->routines[0].code;
    DialValue dials[3] = {{.number = 0}};
    for (uint32_t pixels = 1; pixels < 5000; pixels = 3 * pixels + 1) {
        TestScene test;
        scene_ring(&test, pixels);
        unsigned long live = memory_live();
        memory_fail_at(1);
        assert_null(vm_create(code, &test.scene, dials));
        memory_fail_at(0);
        Vm *vm = vm_create(code, &test.scene, dials);
        assert_non_null(vm);
        assert_int_equal(memory_live(), live + 1);
        /* What malloc gives is rounded up a little, never down. */
        size_t given = malloc_usable_size(vm->memory), said = vm_memory(code, pixels);
        assert_true(given >= said && given < said + 64 + 4096 * (said > 128 * 1024));
        vm_free(vm);
        scene_free(&test);
    }
    program_free(program);
}

/* In a child that the kernel kills at any call but to write and to end. */
static void test_no_call_to_the_system(void **state) {
    (void)state;
    Program *program = dial_program();
    TestScene test;
    scene_ring(&test, PIXELS);
    DialValue dials[3] = {{.number = 0.5}};
    Vm *vm = vm_create(&program->routines[0].code, &test.scene, dials);
    assert_non_null(vm);
    fflush(stdout);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        float light[3 * PIXELS];
        if (prctl(PR_SET_SECCOMP, SECCOMP_MODE_STRICT) != 0)
            _exit(77);
        for (int i = 0; i < 200; i++) {
            Moment moment = moment_at(1e4 * i);
            dials[0].number = 0.01 * i;
            vm_set_dials(vm, dials);
            vm_render(vm, &moment, light);
        }
        syscall(SYS_exit, light[0] >= 0.0f ? 0 : 1);
    }
    int status;
    while (waitpid(child, &status, 0) < 0)
        assert_int_equal(errno, EINTR);
    vm_free(vm);
    scene_free(&test);
    program_free(program);
    if (WIFEXITED(status) && WEXITSTATUS(status) == 77) {
        print_message("skipped: this kernel has no strict mode\n");
        skip();
    }
    if (!WIFEXITED(status) || WEXITSTATUS(status) != 0)
        fail_msg("expected frames without a call to the system (status %x)", (unsigned)status);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_dials), cmocka_unit_test(test_rest), cmocka_unit_test(test_groups),
        cmocka_unit_test(test_memory_to_the_byte), cmocka_unit_test(test_no_call_to_the_system)};
    return cmocka_run_group_tests_name("dials and rest", tests, NULL, NULL);
}
