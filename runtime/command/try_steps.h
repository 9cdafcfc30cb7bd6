/* The steps of `gloam try-wiring`: what is lit, what one should see, and what it means where one
 * sees something else. Pure. */
#ifndef GLOAM_COMMAND_TRY_STEPS_H
#define GLOAM_COMMAND_TRY_STEPS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef enum TryStep {
    TRY_DARK,
    TRY_RED,
    TRY_GREEN,
    TRY_BLUE,
    TRY_WHITE_PART, /* of chips that have one */
    TRY_FIRST,
    TRY_LAST,
    TRY_WALK,
    TRY_RISE,
    TRY_STEPS
} TryStep;

/* Of all the light, in colour steps: enough to see, and little current. */
#define TRY_LIGHT 0.25
/* Where no supply is said, so much current at most (common practice for a supply that is not known:
 * what an old USB port gives). */
#define TRY_AMPERE 0.5
/* Seconds that the walk takes, and the rise until it stands. */
#define TRY_WALKING 8.0
#define TRY_RISING 10.0

extern const char *const TRY_NAMES[TRY_STEPS];

/* How long a step takes by itself, in seconds, where each other one takes `every`. */
double try_length(TryStep step, double every);
/* 3 floats a pixel of linear light, `at` seconds into the step. */
void try_light(TryStep step, double at, uint32_t pixels, float *light);
/* What to look for. `order` is that of the lamp. */
void try_words(TryStep step, uint32_t pixels, const char *order, char *text, size_t size);

/* What `order` has to be where red, green and blue were seen as these letters: `seen` is 'g', 'r',
 * 'b' where red looked green and green red. False: they are not three different ones. */
bool try_order(const char *order, const char seen[3], char *right, size_t size);

#endif
