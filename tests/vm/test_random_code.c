/* Routines at random, and the same with words spoilt: what the verifier lets through runs, in
 * blocks as by the reference, bit for bit, and gives finite light. */
#include "tests/vm/random_code.h"

#include "runtime/core/bytecode.h"
#include "runtime/vm/vm.h"
#include "tests/vm/scenes.h"

enum { MOST_PIXELS = 70 };

static const uint32_t sizes[] = {1, 31, 33, MOST_PIXELS};
static TestScene scenes[4];
static float blocks[3 * MOST_PIXELS], scalars[3 * MOST_PIXELS], again[3 * MOST_PIXELS];
static unsigned frames, different;

static void compare(Vm *vm, const Moment *moment, uint32_t pixels, const Program *program) {
    const size_t bytes = 3 * pixels * sizeof(float);
    vm_render(vm, moment, blocks);
    vm_render_reference(vm, moment, scalars);
    vm_render(vm, moment, again);
    if (memcmp(blocks, scalars, bytes) != 0 || memcmp(blocks, again, bytes) != 0) {
        disassemble_program(program, stdout);
        for (uint32_t i = 0; i < 3 * pixels; i++)
            if (memcmp(&blocks[i], &scalars[i], sizeof(float)) != 0)
                fail_msg("%s: pixel %u of %u: %a in blocks, %a by the reference", vm_kernels(),
                         i / 3, pixels, (double)blocks[i], (double)scalars[i]);
        fail_msg("the second frame is not the first");
    }
    for (uint32_t i = 0; i < 3 * pixels; i++) {
        if (blocks[i] - blocks[i] != 0.0f) {
            disassemble_program(program, stdout);
            fail_msg("light that is not finite");
        }
        different += blocks[i] != blocks[0];
    }
    frames++;
}

static void play(const Program *program) {
    DialValue dials[4] = {{.number = 0.4}, {.number = 2e6}, {.number = 1.0}};
    DialValue other[4] = {{.number = 0.1}, {.number = 5e6}, {.number = 0.0}};
    dials[3].colour = (Colour){1.0f, 0.4f, 0.1f};
    other[3].colour = (Colour){0.0f, 0.4f, 0.9f};
    for (int i = 0; i < 4; i++) {
        Vm *vm = vm_create(&program->routines[0].code, &scenes[i].scene, dials);
        assert_non_null(vm);
        Moment early = moment_at(-12345.0), late = moment_at(3.2e14 + 5.0);
        compare(vm, &early, sizes[i], program);
        vm_set_dials(vm, other);
        compare(vm, &late, sizes[i], program);
        vm_set_dials(vm, dials);
        vm_render(vm, &early, again);
        Vm *fresh = vm_create(&program->routines[0].code, &scenes[i].scene, dials);
        assert_non_null(fresh);
        vm_render(fresh, &early, blocks);
        assert_memory_equal(blocks, again, 3 * sizes[i] * sizeof(float));
        vm_free(fresh);
        vm_free(vm);
    }
}

static void made_programs_run(void) {
    char why[300];
    for (int turn = 0; turn < 300; turn++) {
        Program *program = random_program();
        if (!verify_program(program, why, sizeof why)) {
            disassemble_program(program, stdout);
            fail_msg("expected a routine that keeps the rules to pass: %s", why);
        }
        play(program);
        program_free(program);
    }
}

static uint16_t *random_word(Code *code) {
    for (;;) {
        Section section = (Section)below(SECTION_COUNT);
        if (code->lengths[section] == 0)
            continue;
        Instruction *it = &code->sections[section][below(code->lengths[section])];
        uint16_t *words[7] = {&it->op, &it->dst, &it->a, &it->b, &it->c, &it->d, &it->k};
        return words[below(7)];
    }
}

/* One or two words changed to something near. */
static void spoilt_programs_run_or_are_refused(void) {
    unsigned refused = 0, accepted = 0;
    char why[300];
    for (int turn = 0; turn < 2500; turn++) {
        Program *program = random_program();
        for (unsigned changes = 1 + (below(4) == 0); changes; changes--)
            *random_word(&program->routines[0].code) = (uint16_t)below(below(2) ? 12 : 40);
        if (verify_program(program, why, sizeof why)) {
            play(program);
            accepted++;
        } else {
            refused++;
        }
        program_free(program);
    }
    print_message("spoilt: %u refused, %u run\n", refused, accepted);
    assert_true(refused > 200 && accepted > 200);
}

static void with_kernels(const char *name) {
    if (!vm_choose_kernels(name)) {
        print_message("skipped: this processor has no %s\n", name);
        skip();
    }
    frames = different = 0;
    chance_state = 20260321;
    made_programs_run();
    spoilt_programs_run_or_are_refused();
    print_message("%s: %u frames alike\n", name, frames);
    assert_true(different > frames); /* they do not all show one colour */
}

static void test_baseline(void **state) {
    (void)state;
    with_kernels("baseline");
}

static void test_avx2(void **state) {
    (void)state;
    with_kernels("avx2");
}

static int make_scenes(void **state) {
    (void)state;
    for (int i = 0; i < 4; i++)
        scene_ring(&scenes[i], sizes[i]);
    return 0;
}

static int free_scenes(void **state) {
    (void)state;
    for (int i = 0; i < 4; i++)
        scene_free(&scenes[i]);
    return 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_baseline),
                                       cmocka_unit_test(test_avx2)};
    return cmocka_run_group_tests_name("random code", tests, make_scenes, free_scenes);
}
