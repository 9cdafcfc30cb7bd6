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
    TRY_LEVEL,      /* likewise */
    TRY_FIRST,
    TRY_LAST,
    TRY_WALK,
    TRY_RISE,
    TRY_STEPS
} TryStep;

/* Of all the light, in all steps but the last: enough to see, and little current. */
#define TRY_LIGHT 0.25
/* Where no supply is said, so much current at most (common practice for a supply that is not known:
 * what an old USB port gives). */
#define TRY_AMPERE 0.5
/* Frames a second, and seconds: of the walk at least, of the level that falls, of the rise. */
enum { TRY_FRAMES = 25 };
#define TRY_WALKING 8.0
#define TRY_FALLING 6.2
#define TRY_RISING 10.0

/* The lamp that is tried. */
typedef struct TryAbout {
    uint32_t pixels;
    const char *order;  /* that its port goes by */
    bool white, level;  /* what its chips have */
    bool one_wire;      /* else data and clock */
    double limit, most; /* amperes: that it may draw; that the last step does, estimated */
    bool said;          /* the limit was said, else it is TRY_AMPERE */
} TryAbout;

extern const char *const TRY_NAMES[TRY_STEPS];

bool try_has(TryStep step, const TryAbout *about);
/* How long a step takes by itself, in seconds, where each other one takes `every`. */
double try_length(TryStep step, uint32_t pixels, double every);
/* 3 floats a pixel of linear light, `at` seconds into the step; of the last step up to 1, of the
 * white parts what they take over from green. */
void try_light(TryStep step, double at, uint32_t pixels, float *light);
/* What becomes of a level of 1 to 31 that the light of a step would have. */
uint8_t try_level(TryStep step, double at, uint8_t level);

/* What one should see, and what else one may: sentences parted by `; `. */
typedef struct TryWords {
    char look[160], otherwise[480];
} TryWords;
void try_words(TryStep step, const TryAbout *about, TryWords *words);

/* What `order` has to be where red, green and blue were seen as these letters: `seen` is 'g', 'r',
 * 'b' where red looked green and green red. False: they are not three different ones. */
bool try_order(const char *order, const char seen[3], char *right, size_t size);

#endif
