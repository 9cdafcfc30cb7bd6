#include "runtime/command/try_steps.h"

#include <stdio.h>
#include <string.h>

const char *const TRY_NAMES[TRY_STEPS] = {"dark",  "red",  "green", "blue", "white part",
                                          "first", "last", "each",  "rise"};

double try_length(TryStep step, double every) {
    return step == TRY_WALK ? TRY_WALKING : step == TRY_RISE ? TRY_RISING + every : every;
}

static void fill(uint32_t from, uint32_t until, float red, float green, float blue, float *light) {
    for (uint32_t i = from; i < until; i++) {
        light[3 * (size_t)i] = red;
        light[3 * (size_t)i + 1] = green;
        light[3 * (size_t)i + 2] = blue;
    }
}

void try_light(TryStep step, double at, uint32_t pixels, float *light) {
    const float some = (float)TRY_LIGHT;
    double part = step == TRY_WALK ? at / TRY_WALKING : at / TRY_RISING;
    part = part < 0 ? 0 : part > 1 ? 1 : part;
    uint32_t here = (uint32_t)(part * pixels);
    here = here < pixels ? here : pixels - 1;
    fill(0, pixels, 0, 0, 0, light);
    switch (step) {
    case TRY_RED:
        fill(0, pixels, some, 0, 0, light);
        return;
    case TRY_GREEN:
        fill(0, pixels, 0, some, 0, light);
        return;
    case TRY_BLUE:
        fill(0, pixels, 0, 0, some, light);
        return;
    case TRY_WHITE_PART:
        fill(0, pixels, some, some, some, light);
        return;
    case TRY_FIRST:
        fill(0, 1, some, some, some, light);
        return;
    case TRY_LAST:
        fill(pixels - 1, pixels, some, some, some, light);
        return;
    case TRY_WALK:
        fill(here, here + 1, some, some, some, light);
        return;
    case TRY_RISE:
        fill(0, pixels, (float)part, (float)part, (float)part, light);
        return;
    case TRY_DARK:
    case TRY_STEPS:
        return;
    }
}

void try_words(TryStep step, uint32_t pixels, const char *order, char *text, size_t size) {
    switch (step) {
    case TRY_DARK:
        snprintf(
            text, size,
            "all is dark. Some pixels are lit: data does not reach them (its wire, ground, the "
            "level of its voltage), or the strip begins at the other end");
        return;
    case TRY_RED:
    case TRY_GREEN:
    case TRY_BLUE:
        snprintf(text, size,
                 "all %u pixels are %s. Another colour: `order` is not `%s`. Only some: the end of "
                 "the wire is reached there, or the supply is weak",
                 pixels, TRY_NAMES[step], order);
        return;
    case TRY_WHITE_PART:
        snprintf(text, size,
                 "the white parts alone are lit. Colours instead: the chip has no white part, or "
                 "`order` has its `w` elsewhere");
        return;
    case TRY_FIRST:
        snprintf(text, size,
                 "one pixel is lit, the one where data comes in. None, or one at the other end: "
                 "data comes in at the wrong end");
        return;
    case TRY_LAST:
        snprintf(text, size,
                 "the very last pixel is lit. None: fewer than %u are there; one before the end: "
                 "there are more, write `pixels` as many",
                 pixels);
        return;
    case TRY_WALK:
        snprintf(text, size,
                 "one light walks along the wire, pixel by pixel. It jumps or stands: a pixel is "
                 "broken, or soldered out of turn");
        return;
    case TRY_RISE:
        snprintf(text, size,
                 "white rises slowly, as far as the supply is said to give. The far end turns "
                 "yellow or red: feed it there too; it flickers, or the board starts anew: the "
                 "supply is too weak. Feel supply, wires and pixels: hot is wrong");
        return;
    case TRY_STEPS:
        *text = '\0';
    }
}

bool try_order(const char *order, const char seen[3], char *right, size_t size) {
    static const char channels[] = "rgb";
    for (int i = 0; i < 3; i++) {
        const char *one = seen[i] ? strchr(channels, seen[i]) : NULL;
        if (!one || seen[i] == seen[(i + 1) % 3])
            return false;
    }
    size_t length = strlen(order);
    if (length >= size)
        return false;
    for (size_t i = 0; i < length; i++) {
        const char *channel = strchr(channels, order[i]);
        right[i] = channel ? seen[channel - channels] : order[i];
    }
    right[length] = '\0';
    return true;
}
