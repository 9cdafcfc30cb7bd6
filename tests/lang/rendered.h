/* The light of a routine written in a test, on a strip: 10 pixels, or as many as asked for. */
#ifndef GLOAM_TESTS_LANG_RENDERED_H
#define GLOAM_TESTS_LANG_RENDERED_H

#include <stdlib.h>

#include "runtime/core/limits.h"
#include "runtime/vm/vm.h"
#include "said.h"

enum { RENDERED_MOST = 64, RENDERED_USUAL = 10 };

typedef struct Rendered {
    float light[RENDERED_MOST][3];
} Rendered;

/* A strip along x, pixel 0 on the left; pixel 2 is in every group. hour 3.5, moonlit 0.25, moonage
 * 0.5, sunheight 0.1 turns. */
static inline void rendered_strip(Scene *scene, uint32_t pixels, double fields[][RENDERED_MOST],
                                  unsigned char *group, const unsigned char **groups,
                                  uint32_t group_count) {
    scene->pixels = pixels;
    for (uint32_t i = 0; i < pixels; i++) {
        double x = 2.0 * (i + 0.5) / pixels - 1.0;
        fields[FIELD_PIXEL][i] = i;
        fields[FIELD_POS][i] = (i + 0.5) / pixels;
        fields[FIELD_X][i] = x;
        fields[FIELD_Y][i] = fields[FIELD_Z][i] = 0.0;
        fields[FIELD_RADIUS][i] = x < 0.0 ? -x : x;
        fields[FIELD_ANGLE][i] = x < 0.0 ? 0.75 : 0.25;
        group[i] = i == 2;
    }
    for (int f = 0; f < FIELD_COUNT; f++)
        scene->field[f] = fields[f];
    for (uint32_t g = 0; g < group_count; g++)
        groups[g] = group;
    scene->group_count = group_count;
    scene->groups = groups;
}

/* Renders routine number `routine` (in the order of the text) of a whole file at `seconds`. */
static inline bool render_file(const char *text, uint16_t routine, uint32_t pixels, double seconds,
                               Rendered *out) {
    Compilation *compilation = compile_text(text);
    const Program *program = lang_program(compilation);
    if (!program || routine >= program->routine_count) {
        said_print(compilation);
        lang_free(compilation);
        return false;
    }
    static double fields[FIELD_COUNT][RENDERED_MOST];
    unsigned char group[RENDERED_MOST];
    const unsigned char *groups[LIMIT_GROUPS];
    Scene scene;
    rendered_strip(&scene, pixels, fields, group, groups, program->group_count);
    DialValue dials[LIMIT_DIALS];
    for (uint16_t i = 0; i < program->dial_count; i++)
        dials[i] = (DialValue){program->dials[i].number, program->dials[i].colour};
    Vm *vm = vm_create(&program->routines[routine].code, &scene, dials);
    Moment moment = {{[INPUT_T] = seconds * 1e6,
                      [INPUT_HOUR] = 3.5,
                      [INPUT_MOONLIT] = 0.25,
                      [INPUT_MOONAGE] = 0.5,
                      [INPUT_SUNHEIGHT] = 0.1}};
    if (vm)
        vm_render(vm, &moment, out->light[0]);
    vm_free(vm);
    lang_free(compilation);
    return vm != NULL;
}

/* The same of the body of a routine that lasts 20 s. */
static inline bool render_body(const char *body, double seconds, Rendered *out) {
    char text[2000];
    snprintf(text, sizeof text, "routine test lasts 20s {\n%s\n}\n", body);
    return render_file(text, 0, RENDERED_USUAL, seconds, out);
}

#endif
