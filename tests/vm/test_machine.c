/* The machine on whole programs: blocks against the scalar reference, any number of pixels, any
 * order of frames, ten years, no allocation. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <glob.h>
#include <math.h>

#include "runtime/core/memory.h"
#include "runtime/library/lamp.h"
#include "runtime/library/reader.h"
#include "runtime/vm/vm.h"
#include "tests/lang/memory_reader.h"

static const double YEAR = 365.25 * 86400e6;

typedef struct Stage {
    Compilation *compilation;
    const Program *program;
    DialValue *dials;
    Lamp lamp;
    Vm *vm;
    float *light, *other;
} Stage;

static void stage_lamp(Stage *stage, uint16_t routine, uint32_t pixels) {
    ShapeRequest request = {.form = FORM_RING, .pixels = pixels};
    assert_true(lamp_make(&stage->lamp, stage->program, &request, NULL));
    stage->vm =
        vm_create(&stage->program->routines[routine].code, &stage->lamp.scene, stage->dials);
    stage->light = malloc(3 * pixels * sizeof(float));
    stage->other = malloc(3 * pixels * sizeof(float));
    assert_true(stage->vm && stage->light && stage->other);
}

static void stage_strike(Stage *stage) {
    vm_free(stage->vm);
    lamp_free(&stage->lamp);
    free(stage->light);
    free(stage->other);
}

static void stage_begin(Stage *stage, Compilation *compilation) {
    *stage = (Stage){.compilation = compilation, .program = lang_program(compilation)};
    if (stage->program)
        stage->dials = dial_defaults(stage->program);
}

static void stage_end(Stage *stage) {
    memory_release(stage->dials);
    lang_free(stage->compilation);
}

static void show(Vm *vm, double time, float *light) {
    Moment moment = {{[INPUT_T] = time,
                      [INPUT_HOUR] = fmod(time / 3600e6, 24),
                      [INPUT_MOONLIT] = 0.7,
                      [INPUT_MOONAGE] = 0.31,
                      [INPUT_SUNHEIGHT] = -0.02}};
    vm_render(vm, &moment, light);
}

/* ---- blocks against the reference, on every program that the project has ---- */

static unsigned compare_routine(Stage *stage, uint16_t routine, uint32_t pixels, const char *path) {
    static const double TIMES[] = {-1.5e6, 0, 1, 999999, 1.7e6, 4e6, 61e6, 1799e6, 3e9, 3.2e14};
    unsigned frames = 0;
    stage_lamp(stage, routine, pixels);
    for (size_t i = 0; i < sizeof TIMES / sizeof *TIMES; i++) {
        Moment moment = {{[INPUT_T] = TIMES[i],
                          [INPUT_HOUR] = 3.17,
                          [INPUT_MOONLIT] = 0.7,
                          [INPUT_MOONAGE] = 0.31,
                          [INPUT_SUNHEIGHT] = -0.02}};
        vm_render(stage->vm, &moment, stage->light);
        vm_render_reference(stage->vm, &moment, stage->other);
        if (memcmp(stage->light, stage->other, 3 * pixels * sizeof(float)) != 0)
            fail_msg("expected the same bits in blocks and by the reference: %s, %s at %g us on %u",
                     path, stage->program->routines[routine].name, TIMES[i], pixels);
        frames++;
    }
    stage_strike(stage);
    return frames;
}

static unsigned compare_files(const char *pattern, unsigned *programs) {
    glob_t found;
    unsigned frames = 0;
    if (glob(pattern, 0, NULL, &found) != 0)
        return 0;
    for (size_t i = 0; i < found.gl_pathc; i++) {
        DiskReader disk;
        Stage stage;
        disk_reader_start(&disk);
        stage_begin(&stage, lang_compile(&disk.reader, found.gl_pathv[i]));
        for (uint16_t r = 0; stage.program && r < stage.program->routine_count; r++) {
            frames += compare_routine(&stage, r, 1, found.gl_pathv[i]);
            frames += compare_routine(&stage, r, 70, found.gl_pathv[i]);
        }
        *programs += stage.program != NULL;
        stage_end(&stage);
        disk_reader_end(&disk);
    }
    globfree(&found);
    return frames;
}

static void test_blocks_give_the_bits_of_the_reference(void **state) {
    (void)state;
    static const char *const KERNELS[] = {"baseline", "avx2"};
    for (int k = 0; k < 2; k++) {
        if (!vm_choose_kernels(KERNELS[k])) {
            print_message("skipped: this processor has no %s\n", KERNELS[k]);
            continue;
        }
        unsigned programs = 0;
        unsigned frames = compare_files("examples/*.gloam", &programs);
        frames += compare_files("spec/conformance/*/*.gloam", &programs);
        print_message("%s: %u frames of %u programs alike\n", KERNELS[k], frames, programs);
        assert_true(programs > 200 && frames > 4000);
    }
}

/* ---- numbers of pixels ---- */

static void test_any_number_of_pixels(void **state) {
    (void)state;
    Stage stage;
    stage_begin(&stage, compile_text("routine a { paint (navy -> teal -> gold every 3s) delayed "
                                     "pixel * 70ms where 0.3 + 0.7 * noise(pixel / 3) }"));
    static const uint32_t COUNTS[] = {1,  2,  11,  12,  31,  32,   33,    63,
                                      64, 65, 127, 128, 129, 1000, 100000};
    enum { KNOWN = 129 };
    float known[3 * KNOWN];
    stage_lamp(&stage, 0, KNOWN);
    show(stage.vm, 1234567, known);
    stage_strike(&stage);
    for (size_t i = 0; i < sizeof COUNTS / sizeof *COUNTS; i++) {
        stage_lamp(&stage, 0, COUNTS[i]);
        show(stage.vm, 1234567, stage.light);
        uint32_t shared = COUNTS[i] < KNOWN ? COUNTS[i] : KNOWN;
        if (memcmp(stage.light, known, 3 * shared * sizeof(float)) != 0)
            fail_msg("expected the first pixels of %u to be those of any lamp", COUNTS[i]);
        stage_strike(&stage);
    }
    stage_end(&stage);
}

/* ---- order and time ---- */

static const char *const SMOOTH =
    "routine swell { paint black -> 2700K and back every 8s ease-in-out }\n"
    "routine drift { paint gold * noise(pixel, t / 4s) }\n"
    "routine hues { paint oklch(75%, 0.12, angle + t / 40s * 1turn) }\n"
    "routine wave { paint (navy -> teal and back every 8s) delayed pos * 5s }\n";

static void test_frames_in_any_order(void **state) {
    (void)state;
    Stage stage;
    stage_begin(&stage, compile_text(SMOOTH));
    enum { PIXELS = 40, FRAMES = 50 };
    static float ahead[FRAMES][3 * PIXELS];
    for (uint16_t r = 0; r < stage.program->routine_count; r++) {
        stage_lamp(&stage, r, PIXELS);
        for (int i = 0; i < FRAMES; i++)
            show(stage.vm, i * 16667.0, ahead[i]);
        for (int i = 0, k = 17; i < FRAMES; i++, k = (k + 33) % FRAMES) {
            show(stage.vm, k * 16667.0, stage.light);
            if (memcmp(stage.light, ahead[k], sizeof ahead[k]) != 0)
                fail_msg("expected frame %d to be the same out of order", k);
        }
        stage_strike(&stage);
    }
    stage_end(&stage);
}

/* The largest change of a channel from one frame to the next, over ten seconds at 60 a second. */
static double roughness(Stage *stage, double start) {
    double most = 0;
    uint32_t count = 3 * stage->lamp.scene.pixels;
    show(stage->vm, start, stage->light);
    for (int i = 1; i <= 600; i++) {
        show(stage->vm, start + nearbyint(i * 1e6 / 60), stage->other);
        for (uint32_t k = 0; k < count; k++) {
            double change = fabs((double)stage->other[k] - (double)stage->light[k]);
            most = change > most ? change : most;
        }
        float *shown = stage->light;
        stage->light = stage->other;
        stage->other = shown;
    }
    return most;
}

static void test_ten_years_are_as_smooth_as_a_minute(void **state) {
    (void)state;
    Stage stage;
    stage_begin(&stage, compile_text(SMOOTH));
    for (uint16_t r = 0; r < stage.program->routine_count; r++) {
        stage_lamp(&stage, r, 16);
        /* A whole number of every period above, 40 s: ten years later, and 280 years later. */
        double ten = nearbyint(10 * YEAR / 40e6) * 40e6, most = nearbyint(280 * YEAR / 40e6) * 40e6;
        double first = roughness(&stage, 3e6), then = roughness(&stage, ten + 3e6);
        print_message("%-6s largest step in a frame: first minute %.9f, after ten years %.9f\n",
                      stage.program->routines[r].name, first, then);
        if (r == 1) /* noise does not repeat; its steps are bounded alike */
            assert_true(then < 2 * first + 0.01);
        else
            assert_true(fabs(then - first) < 1e-6);
        if (r == 0 || r == 3) { /* drivers: the very bits, as long as durations reach */
            show(stage.vm, 1234567, stage.light);
            show(stage.vm, ten + 1234567, stage.other);
            assert_memory_equal(stage.light, stage.other, 3 * 16 * sizeof(float));
            show(stage.vm, most + 1234567, stage.other);
            assert_memory_equal(stage.light, stage.other, 3 * 16 * sizeof(float));
        }
        stage_strike(&stage);
    }
    stage_end(&stage);
}

/* ---- memory ---- */

static void test_memory_is_known_beforehand(void **state) {
    (void)state;
    Stage stage;
    stage_begin(&stage, compile_text(SMOOTH));
    for (uint32_t pixels = 1; pixels <= 1000; pixels = pixels * 7 + 1) {
        ShapeRequest request = {.form = FORM_RING, .pixels = pixels};
        assert_true(lamp_make(&stage.lamp, stage.program, &request, NULL));
        const Code *code = &stage.program->routines[3].code; /* reads pos: a column of doubles */
        unsigned long before = memory_count();
        stage.vm = vm_create(code, &stage.lamp.scene, stage.dials);
        assert_int_equal(memory_count() - before, 1);
        assert_true(vm_memory(code, pixels) >= pixels * sizeof(double));
        stage.light = malloc(3 * pixels * sizeof(float));
        before = memory_count();
        vm_set_dials(stage.vm, stage.dials);
        for (int i = 0; i < 100; i++)
            show(stage.vm, i * 1e5, stage.light);
        assert_int_equal(memory_count(), before);
        free(stage.light);
        vm_free(stage.vm);
        lamp_free(&stage.lamp);
    }
    stage_end(&stage);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_blocks_give_the_bits_of_the_reference),
        cmocka_unit_test(test_any_number_of_pixels),
        cmocka_unit_test(test_frames_in_any_order),
        cmocka_unit_test(test_ten_years_are_as_smooth_as_a_minute),
        cmocka_unit_test(test_memory_is_known_beforehand),
    };
    return cmocka_run_group_tests(tests, NULL, NULL) != 0;
}
