/* The machine against plain C on the same frames, in one run: nanoseconds a pixel and operation.
 *
 * Three routines of the shop window's kind: `sheen`, nothing but the cheapest operations, so that
 * the cost of dispatch shows, `glint`, arithmetic with a sine, and `embers`, two ramps of colours.
 * Peers are a hand-written loop over the same functions, one over libm, and the scalar reference.
 * Then every operation's kernel by itself. */
#include "tests/vm/build.h"
#include "tests/vm/scenes.h"

#include <stdio.h>
#include <time.h>

#include "runtime/core/bytecode.h"
#include "runtime/core/hash.h"
#include "runtime/core/light.h"
#include "runtime/core/operations.h"
#include "runtime/core/ramp.h"
#include "runtime/vm/kernels.h"
#include "runtime/vm/vm.h"

static double now(void) {
    struct timespec time;
    clock_gettime(CLOCK_MONOTONIC, &time);
    return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

enum { SHEEN_OPERATIONS = 10, GLINT_OPERATIONS = 14, EMBERS_OPERATIONS = 9 };

/* -------- sheen: 10 cheap operations a pixel -------- */

static Program *sheen_program(void) {
    Program *program = build_program();
    Code *code = &build_routine(program, "sheen")->code;
    uint16_t second = build_number(code, 1e6), half = build_number(code, 0.5);
    uint16_t gold = build_colour(code, 1.0f, 0.68f, 0.0f);
    code->frame_numbers = 4;
    code->pixel_numbers = 6;
    code->pixel_colours = 3;
    EMIT(code, FRAME, INPUT, .dst = 2, .k = INPUT_T);
    EMIT(code, FRAME, DIVIDE, .dst = 3, .a = 2, .b = second);
    EMIT(code, FRAME_SPREAD, SPREAD, .dst = 0, .a = 3);
    EMIT(code, FRAME_SPREAD, SPREAD, .dst = 1, .a = half);
    EMIT(code, FRAME_SPREAD, SPREAD_LIGHT, .dst = 0, .a = gold);
    EMIT(code, PIXEL, FIELD, .dst = 2, .k = FIELD_X);
    EMIT(code, PIXEL, MULTIPLY, .dst = 3, .a = 2, .b = 0);
    EMIT(code, PIXEL, SUBTRACT, .dst = 4, .a = 3, .b = 1);
    EMIT(code, PIXEL, MULTIPLY, .dst = 5, .a = 4, .b = 4);
    EMIT(code, PIXEL, LESS, .dst = 3, .a = 2, .b = 5);
    EMIT(code, PIXEL, SELECT, .dst = 4, .a = 3, .b = 2, .c = 5);
    EMIT(code, PIXEL, UNIT, .dst = 3, .a = 4);
    EMIT(code, PIXEL, ADD, .dst = 4, .a = 3, .b = 1);
    EMIT(code, PIXEL, COLOUR_SCALE, .dst = 1, .a = 0, .b = 4);
    EMIT(code, PIXEL, COLOUR_ADD, .dst = 2, .a = 1, .b = 0);
    code->result_each = true;
    code->result = 2;
    return program;
}

static void sheen_loop(const Scene *scene, const Moment *moment, float *restrict light) {
    const double time = moment->input[INPUT_T] / 1e6;
    const double *restrict across = scene->field[FIELD_X];
    for (uint32_t i = 0; i < scene->pixels; i++) {
        const double x = across[i];
        const double shifted = number_finite(number_finite(x * time) - 0.5);
        const double square = number_finite(shifted * shifted);
        const float much = (float)(number_unit(x < square ? x : square) + 0.5);
        light[3 * i] = light_finite(light_finite(1.0f * much) + 1.0f);
        light[3 * i + 1] = light_finite(light_finite(0.68f * much) + 0.68f);
        light[3 * i + 2] = light_finite(light_finite(0.0f * much) + 0.0f);
    }
}

/* -------- glint: 14 operations a pixel -------- */

static Program *glint_program(void) {
    Program *program = build_program();
    Code *code = &build_routine(program, "glint")->code;
    uint16_t one = build_number(code, 1.0), three = build_number(code, 3.0);
    uint16_t zero = build_number(code, 0.0), period = build_number(code, 4e6);
    uint16_t gold = build_colour(code, 1.0f, 0.68f, 0.0f);
    uint16_t blue = build_colour(code, 0.0f, 0.02f, 0.2f);
    code->frame_numbers = 6;
    code->pixel_numbers = 8;
    code->pixel_colours = 5;
    EMIT(code, FRAME, INPUT, .dst = 4, .k = INPUT_T);
    EMIT(code, FRAME, PHASE, .dst = 5, .a = 4, .b = period);
    EMIT(code, FRAME_SPREAD, SPREAD, .dst = 0, .a = 5);
    EMIT(code, FRAME_SPREAD, SPREAD, .dst = 1, .a = one);
    EMIT(code, FRAME_SPREAD, SPREAD, .dst = 2, .a = three);
    EMIT(code, FRAME_SPREAD, SPREAD, .dst = 3, .a = zero);
    EMIT(code, FRAME_SPREAD, SPREAD_LIGHT, .dst = 0, .a = gold);
    EMIT(code, FRAME_SPREAD, SPREAD_LIGHT, .dst = 1, .a = blue);
    EMIT(code, PIXEL, FIELD, .dst = 4, .k = FIELD_POS);
    EMIT(code, PIXEL, ADD, .dst = 5, .a = 4, .b = 0);
    EMIT(code, PIXEL, MODULO, .dst = 6, .a = 5, .b = 1);
    EMIT(code, PIXEL, THERE_AND_BACK, .dst = 5, .a = 6);
    EMIT(code, PIXEL, MULTIPLY, .dst = 6, .a = 5, .b = 5);
    EMIT(code, PIXEL, MULTIPLY, .dst = 5, .a = 4, .b = 2);
    EMIT(code, PIXEL, SUBTRACT, .dst = 4, .a = 5, .b = 0);
    EMIT(code, PIXEL, SINE, .dst = 5, .a = 4);
    EMIT(code, PIXEL, MAXIMUM, .dst = 4, .a = 3, .b = 5);
    EMIT(code, PIXEL, MULTIPLY, .dst = 5, .a = 4, .b = 6);
    EMIT(code, PIXEL, SUBTRACT, .dst = 4, .a = 1, .b = 5);
    EMIT(code, PIXEL, COLOUR_SCALE, .dst = 2, .a = 0, .b = 5);
    EMIT(code, PIXEL, COLOUR_SCALE, .dst = 3, .a = 1, .b = 4);
    EMIT(code, PIXEL, COLOUR_ADD, .dst = 4, .a = 2, .b = 3);
    code->result_each = true;
    code->result = 4;
    return program;
}

static void glint_same_functions(const Scene *scene, const Moment *moment, float *restrict light) {
    const double phase = number_phase(moment->input[INPUT_T], 4e6);
    const double *restrict position = scene->field[FIELD_POS];
    for (uint32_t i = 0; i < scene->pixels; i++) {
        const double way = number_modulo(number_finite(position[i] + phase), 1.0);
        const double back = way < 0.5 ? 2.0 * way : 2.0 - 2.0 * way;
        const double wave = number_sine(number_finite(number_finite(position[i] * 3.0) - phase));
        const double share = number_finite((wave > 0.0 ? wave : 0.0) * number_finite(back * back));
        const float much = (float)share, rest = (float)number_finite(1.0 - share);
        light[3 * i] = light_finite(light_finite(1.0f * much) + light_finite(0.0f * rest));
        light[3 * i + 1] = light_finite(light_finite(0.68f * much) + light_finite(0.02f * rest));
        light[3 * i + 2] = light_finite(light_finite(0.0f * much) + light_finite(0.2f * rest));
    }
}

static void glint_libm(const Scene *scene, const Moment *moment, float *restrict light) {
    const double phase = fmod(moment->input[INPUT_T], 4e6) / 4e6;
    const double *restrict position = scene->field[FIELD_POS];
    for (uint32_t i = 0; i < scene->pixels; i++) {
        const double turn = position[i] + phase, way = turn - floor(turn);
        const double back = way < 0.5 ? 2.0 * way : 2.0 - 2.0 * way;
        const double wave = sin(6.283185307179586 * (position[i] * 3.0 - phase));
        const double share = fmax(wave, 0.0) * back * back;
        const float much = (float)share, rest = (float)(1.0 - share);
        light[3 * i] = 1.0f * much;
        light[3 * i + 1] = 0.68f * much + 0.02f * rest;
        light[3 * i + 2] = 0.2f * rest;
    }
}

/* -------- embers: two ramps, eased and mixed; 9 operations a pixel -------- */

static Program *embers_program(void) {
    Program *program = build_program();
    Code *code = &build_routine(program, "embers")->code;
    uint16_t place[4] = {build_number(code, 0.0), build_number(code, 0.3), build_number(code, 0.7),
                         build_number(code, 1.0)};
    uint16_t period = build_number(code, 9e6);
    uint16_t glow[4] = {build_colour(code, 0, 0, 0), build_colour(code, 0.4f, 0.02f, 0),
                        build_colour(code, 1, 0.3f, 0.01f), build_colour(code, 1, 0.8f, 0.3f)};
    code->frame_numbers = 7;
    code->pixel_numbers = 6;
    code->pixel_colours = 3;
    uint16_t ramp = build_ramp(code, true, BLEND_CODE(SPACE_OKLAB, HUE_SHORTER));
    for (int i = 0; i < 4; i++)
        build_stop(code, ramp, place[i], glow[i], EASING_NONE);
    EMIT(code, SET, RAMP_READY, .k = ramp);
    EMIT(code, FRAME, INPUT, .dst = 5, .k = INPUT_T);
    EMIT(code, FRAME, DIVIDE, .dst = 6, .a = 5, .b = period);
    EMIT(code, FRAME_SPREAD, SPREAD, .dst = 0, .a = 6);
    EMIT(code, PIXEL, FIELD, .dst = 1, .k = FIELD_X);
    EMIT(code, PIXEL, ADD, .dst = 2, .a = 1, .b = 0);
    EMIT(code, PIXEL, NOISE1, .dst = 3, .a = 2);
    EMIT(code, PIXEL, RAMP_COLOUR, .dst = 0, .a = 3, .k = ramp);
    EMIT(code, PIXEL, FIELD, .dst = 4, .k = FIELD_POS);
    EMIT(code, PIXEL, RAMP_COLOUR, .dst = 1, .a = 4, .k = ramp);
    EMIT(code, PIXEL, SINE, .dst = 5, .a = 2);
    EMIT(code, PIXEL, UNIT, .dst = 2, .a = 5);
    EMIT(code, PIXEL, COLOUR_MIX, .dst = 2, .a = 0, .b = 1, .c = 2);
    code->result_each = true;
    code->result = 2;
    return program;
}

static RampReady ember_ramp;

static void embers_same_functions(const Scene *scene, const Moment *moment, float *restrict light) {
    const double time = number_divide(moment->input[INPUT_T], 9e6);
    for (uint32_t i = 0; i < scene->pixels; i++) {
        const double at = number_finite(scene->field[FIELD_X][i] + time);
        const Colour a = ramp_colour(&ember_ramp, noise_1(at));
        const Colour b = ramp_colour(&ember_ramp, scene->field[FIELD_POS][i]);
        const float share = (float)number_unit(number_sine(at));
        light[3 * i] = light_mix(a.r, b.r, share);
        light[3 * i + 1] = light_mix(a.g, b.g, share);
        light[3 * i + 2] = light_mix(a.b, b.b, share);
    }
}

/* -------- timing -------- */

typedef void Peer(const Scene *scene, const Moment *moment, float *light);

/* Best of several runs of about 20 ms, nanoseconds a frame. */
static double time_frames(Vm *vm, bool reference, Peer *peer, const Scene *scene, float *light) {
    double best = 1e30;
    size_t frames = 1;
    for (int run = 0; run < 6;) {
        double start = now();
        for (size_t i = 0; i < frames; i++) {
            Moment moment = moment_at(16667.0 * (double)i);
            if (peer)
                peer(scene, &moment, light);
            else if (reference)
                vm_render_reference(vm, &moment, light);
            else
                vm_render(vm, &moment, light);
        }
        double spent = now() - start;
        if (spent < 0.02) {
            frames *= 2;
            continue;
        }
        best = fmin(best, spent * 1e9 / (double)frames);
        run++;
    }
    return best;
}

static void bench_routine(Program *program, int operations, Peer *same, Peer *libm) {
    static const uint32_t sizes[] = {12, 16, 60, 144, 300, 3000, 100000};
    char reason[200];
    if (!verify_program(program, reason, sizeof reason))
        fail_msg("%s", reason);
    const RoutineInfo *routine = &program->routines[0];
    printf("\n%s, %d operations a pixel: ns a pixel and operation\n"
           "%8s %10s %10s %10s %10s %10s   %s\n",
           routine->name, operations, "pixels", "baseline", "avx2", "C loop", "C + libm", "scalar",
           "best kernels: us a frame, ratio to C loop, to C + libm, to scalar");
    for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
        TestScene test;
        scene_ring(&test, sizes[i]);
        float *light = calloc(3 * (size_t)sizes[i], sizeof *light);
        assert_non_null(light);
        Vm *vm = vm_create(&routine->code, &test.scene, NULL);
        assert_non_null(vm);
        double unit = (double)sizes[i] * operations;
        assert_true(vm_choose_kernels("baseline"));
        double baseline = time_frames(vm, false, NULL, NULL, light), best = baseline, avx2 = NAN;
        if (vm_choose_kernels("avx2"))
            best = avx2 = time_frames(vm, false, NULL, NULL, light);
        double scalar = time_frames(vm, true, NULL, NULL, light);
        double loop = time_frames(NULL, false, same, &test.scene, light);
        double outside = libm ? time_frames(NULL, false, libm, &test.scene, light) : NAN;
        printf("%8u %10.3f %10.3f %10.3f %10.3f %10.3f   %.2f us, %.2f, %.2f, %.3f\n", sizes[i],
               baseline / unit, avx2 / unit, loop / unit, outside / unit, scalar / unit,
               best / 1000.0, best / loop, best / outside, best / scalar);
        vm_free(vm);
        free(light);
        scene_free(&test);
    }
}

/* -------- the frame section, one instruction at a time -------- */

static void bench_frame(void) {
    enum { REPEATS = 100 };
    static const Operation trials[] = {OP_ADD,        OP_PHASE,      OP_SINE,
                                       OP_COLOUR_ADD, OP_COLOUR_MIX, OP_COLOUR_BLEND};
    TestScene test;
    float light[3];
    scene_ring(&test, 1);
    printf("\nframe section, ns an instruction:");
    for (size_t i = 0; i < sizeof trials / sizeof *trials; i++) {
        Program *program = build_program();
        Code *code = &build_routine(program, "frame")->code;
        build_number(code, 0.25);
        build_number(code, 0.75);
        build_colour(code, 0.1f, 0.2f, 0.3f);
        build_colour(code, 0.4f, 0.5f, 0.6f);
        code->frame_numbers = code->frame_colours = 3;
        for (int k = 0; k < REPEATS; k++) {
            Instruction it = {.dst = 2};
            uint16_t *words[3] = {&it.a, &it.b, &it.c};
            for (unsigned w = 0; w < 3; w++)
                *words[w] = operation_operand(trials[i], w) ? w % 2 : 0;
            build_instruction(code, SECTION_FRAME, trials[i], it);
        }
        code->result = 0;
        char reason[200];
        if (!verify_program(program, reason, sizeof reason))
            fail_msg("%s", reason);
        Vm *vm = vm_create(code, &test.scene, NULL);
        assert_non_null(vm);
        printf(" %s %.1f", operation_name(trials[i]),
               time_frames(vm, false, NULL, NULL, light) / REPEATS);
        vm_free(vm);
        program_free(program);
    }
    printf("\n");
    scene_free(&test);
}

/* -------- each operation by itself -------- */

static double time_kernel(Kernel *kernel, void *out, void *const *operands) {
    double best = 1e30;
    size_t rounds = 64;
    for (int run = 0; run < 4;) {
        double start = now();
        for (size_t i = 0; i < rounds; i++)
            kernel(out, operands[0], operands[1], operands[2], operands[3], 1);
        double spent = now() - start;
        if (spent < 0.001) {
            rounds *= 2;
            continue;
        }
        best = fmin(best, spent * 1e9 / (double)rounds / LANES);
        run++;
    }
    return best;
}

static void bench_operations(void) {
    static _Alignas(64) double numbers[4][LANES], result[2 * LANES];
    static _Alignas(64) float lights[4][3][LANES];
    for (int operand = 0; operand < 4; operand++)
        for (int i = 0; i < LANES; i++) {
            numbers[operand][i] = 0.1 + 0.8 * i / LANES + 0.01 * operand;
            for (int channel = 0; channel < 3; channel++)
                lights[operand][channel][i] = 0.1f + 0.3f * (float)channel + 0.004f * (float)i;
        }
    printf("\nkernels, ns a pixel: %-16s %8s %8s   (list says)\n", "operation", "baseline", "avx2");
    for (int i = 0; i < OPERATION_COUNT; i++) {
        Operation operation = (Operation)i;
        if (operation_form(operation) == FORM_CONTEXT)
            continue;
        void *operands[4];
        for (unsigned j = 0; j < 4; j++)
            operands[j] =
                operation_operand(operation, j) == 'c' ? (void *)lights[j] : (void *)numbers[j];
        printf("%37s %8.3f %8.3f   %.3f\n", operation_name(operation),
               time_kernel(kernels_baseline.run[i], result, operands),
               kernels_avx2.name ? time_kernel(kernels_avx2.run[i], result, operands) : NAN,
               operation_cost(operation) / 1000.0);
    }
}

static void bench(void **state) {
    (void)state;
    printf("block of %d pixels; best kernels here: %s\n", LANES, vm_kernels());
    Program *sheen = sheen_program(), *glint = glint_program(), *embers = embers_program();
    bench_routine(sheen, SHEEN_OPERATIONS, sheen_loop, NULL);
    bench_routine(glint, GLINT_OPERATIONS, glint_same_functions, glint_libm);
    static RampStretch stretches[4];
    ember_ramp.stretches = stretches;
    const Code *code = &embers->routines[0].code;
    ramp_ready(&ember_ramp, &code->ramps[0], NULL, code->numbers, code->colours);
    bench_routine(embers, EMBERS_OPERATIONS, embers_same_functions, NULL);
    bench_frame();
    bench_operations();
    program_free(sheen);
    program_free(glint);
    program_free(embers);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(bench)};
    return cmocka_run_group_tests_name("bench_vm", tests, NULL, NULL);
}
