/* Light is made without the system: a child that may do nothing but write and end (seccomp(2),
 * SECCOMP_MODE_STRICT) renders frames through the public library; any other call kills it. And no
 * frame allocates. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>
#include <linux/seccomp.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/prctl.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include "runtime/core/memory.h"
#include "runtime/library/gloam.h"

enum { PIXELS = 100, FRAMES = 50 };

/* One routine that uses every kind of operation: chance, colours, ramps, easings, groups. */
static const char TEXT[] =
    "dial warmth = 40% from 0% to 100%\n"
    "routine all {\n"
    "    paint black -> 2700K -> oklch(70%, 0.15, 60deg) over 20s ease-in-out in oklch\n"
    "    paint rgb(255, 136, 0) * noise(pos * 5, t / 300ms) where random(tick(2s), pixel) > 50%\n"
    "    paint (navy -> teal and back every 2s) delayed pos * 5s where sin(angle + t / 3s * "
    "1turn)\n"
    "    paint draw(tick(1s), coral, gold) * pow(radius, 2.2) where atan2(x, y) > 10deg\n"
    "    paint hsl(200deg, 50%, 50%) * warmth where moonlit * hour / 24 + sunheight / 1turn\n"
    "    paint red | lime | blue for 1s each where within(left) and apart(pos, 0.3) < 10%\n"
    "}\n";

static void frames(gloam_routine *routine, float *light) {
    const gloam_moment moment = {3.2, 0.7, 0.4, -0.1};
    for (int i = 0; i < FRAMES; i++) {
        double warmth = i / (double)FRAMES;
        gloam_set(routine, "warmth", &warmth);
        gloam_render(routine, (int64_t)i * 700003, &moment, light);
    }
}

static gloam_program *program_of(gloam_routine **routine) {
    gloam_program *program = gloam_compile_text("all.gloam", TEXT, strlen(TEXT));
    const char *reason = NULL;
    gloam_lamp lamp = gloam_ring(PIXELS);
    for (size_t i = 0; i < gloam_diagnostic_count(program); i++)
        print_message("%s\n", gloam_diagnostic_at(program, i)->message);
    *routine = gloam_open(program, NULL, &lamp, &reason);
    assert_null(reason);
    assert_non_null(*routine);
    return program;
}

static void test_frames_allocate_nothing(void **state) {
    (void)state;
    gloam_routine *routine;
    gloam_program *program = program_of(&routine);
    float light[3 * PIXELS];
    unsigned long made = memory_count();
    frames(routine, light);
    assert_int_equal(memory_count(), made);
    gloam_close(routine);
    gloam_free(program);
}

/* The status of a child in strict mode that renders, or that asks for its number instead. */
static int status_of_child(gloam_routine *routine, int misbehave) {
    static float light[3 * PIXELS];
    int status = 0;
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        if (prctl(PR_SET_SECCOMP, SECCOMP_MODE_STRICT) != 0)
            _exit(77);
        if (misbehave)
            (void)getppid();
        else
            frames(routine, light);
        syscall(SYS_exit, light[0] >= 0.0f ? 0 : 1); /* exit_group is not among what is allowed */
    }
    assert_int_equal(waitpid(child, &status, 0), child);
    return status;
}

static void test_frames_call_no_system(void **state) {
    (void)state;
    gloam_routine *routine;
    gloam_program *program = program_of(&routine);
    int refused = status_of_child(routine, 1), status = status_of_child(routine, 0);
    gloam_close(routine);
    gloam_free(program);
    if (WIFEXITED(refused) && WEXITSTATUS(refused) == 77) {
        print_message("skipped: this system has no strict mode\n");
        skip();
    }
    assert_true(WIFSIGNALED(refused) && WTERMSIG(refused) == SIGKILL); /* the trap works */
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_frames_allocate_nothing),
        cmocka_unit_test(test_frames_call_no_system),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
