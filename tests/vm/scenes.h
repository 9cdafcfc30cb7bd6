/* Lamps for tests: rings of any size, and a fixed moment. */
#ifndef GLOAM_TESTS_VM_SCENES_H
#define GLOAM_TESTS_VM_SCENES_H

#include <math.h>
#include <stdlib.h>

#include "runtime/core/scene.h"

typedef struct TestScene {
    Scene scene;
    double *field[FIELD_COUNT];
    unsigned char *group;
    const unsigned char *groups[2];
} TestScene;

/* A ring; group 0 is every third pixel, group 1 is not on this lamp. */
static inline void scene_ring(TestScene *test, uint32_t pixels) {
    memset(test, 0, sizeof *test);
    test->scene.pixels = pixels;
    for (int field = 0; field < FIELD_COUNT; field++) {
        test->field[field] = calloc(pixels, sizeof(double));
        assert_non_null(test->field[field]);
        test->scene.field[field] = test->field[field];
    }
    test->group = calloc(pixels, 1);
    assert_non_null(test->group);
    for (uint32_t i = 0; i < pixels; i++) {
        double turn = (double)i / pixels, circle = 6.283185307179586;
        test->field[FIELD_PIXEL][i] = i;
        test->field[FIELD_POS][i] = (i + 0.5) / pixels;
        test->field[FIELD_X][i] = sin(circle * turn);
        test->field[FIELD_Y][i] = cos(circle * turn);
        test->field[FIELD_RADIUS][i] = 1.0;
        test->field[FIELD_ANGLE][i] = turn;
        test->group[i] = i % 3 == 0;
    }
    test->groups[0] = test->group;
    test->scene.group_count = 2;
    test->scene.groups = test->groups;
}

static inline void scene_free(TestScene *test) {
    for (int field = 0; field < FIELD_COUNT; field++)
        free(test->field[field]);
    free(test->group);
}

static inline Moment moment_at(double t) {
    Moment moment = {{t, 3.25, 0.5, 0.25, -0.1, 0}};
    return moment;
}

#endif
