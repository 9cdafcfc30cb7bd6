#include "runtime/command/try_steps.h"

#include <stdio.h>
#include <string.h>

const char *const TRY_NAMES[TRY_STEPS] = {"dark",  "red",   "green", "blue", "white part",
                                          "level", "first", "last",  "each", "rise"};
static const char CHANNELS[] = "rgb";

/* Where more pixels are, several are walked over at once, so that it takes 40 s at most. */
enum { PLACES = 40 * TRY_FRAMES, ORDER_BYTES = 8 };

bool try_has(TryStep step, const TryAbout *about) {
    return step == TRY_WHITE_PART ? about->white : step != TRY_LEVEL || about->level;
}

static uint32_t places(uint32_t pixels) {
    return pixels < PLACES ? pixels : PLACES;
}

static double walking(uint32_t pixels) {
    double each = (double)places(pixels) / TRY_FRAMES;
    return each > TRY_WALKING ? each : TRY_WALKING;
}

double try_length(TryStep step, uint32_t pixels, double every) {
    switch (step) {
    case TRY_WALK:
        return walking(pixels);
    case TRY_LEVEL:
        return TRY_FALLING + every;
    case TRY_RISE:
        return TRY_RISING + every;
    default:
        return every;
    }
}

/* -------- light -------- */

static void fill(uint32_t from, uint32_t until, float red, float green, float blue, float *light) {
    for (uint32_t i = from; i < until; i++) {
        light[3 * (size_t)i] = red;
        light[3 * (size_t)i + 1] = green;
        light[3 * (size_t)i + 2] = blue;
    }
}

static void light_place(double at, uint32_t pixels, float *light) {
    const float some = (float)TRY_LIGHT;
    uint64_t count = places(pixels), here = 0;
    double place = at / walking(pixels) * (double)count + 1e-6; /* frames fall on whole places */
    if (place > 0)
        here = place < (double)count ? (uint64_t)place : count - 1;
    fill((uint32_t)(here * pixels / count), (uint32_t)((here + 1) * pixels / count), some, some,
         some, light);
}

void try_light(TryStep step, double at, uint32_t pixels, float *light) {
    const float some = (float)TRY_LIGHT;
    double part = at / TRY_RISING;
    part = part < 0 ? 0 : part > 1 ? 1 : part;
    fill(0, pixels, 0, 0, 0, light);
    switch (step) {
    case TRY_RED:
        fill(0, pixels, some, 0, 0, light);
        return;
    case TRY_GREEN:
    case TRY_WHITE_PART:
        fill(0, pixels, 0, some, 0, light);
        return;
    case TRY_BLUE:
        fill(0, pixels, 0, 0, some, light);
        return;
    case TRY_LEVEL:
        fill(0, pixels, some, some, some, light);
        return;
    case TRY_FIRST:
        fill(0, 1, some, some, some, light);
        return;
    case TRY_LAST:
        fill(pixels - 1, pixels, some, some, some, light);
        return;
    case TRY_WALK:
        light_place(at, pixels, light);
        return;
    case TRY_RISE:
        fill(0, pixels, (float)part, (float)part, (float)part, light);
        return;
    case TRY_DARK:
    case TRY_STEPS:
        return;
    }
}

uint8_t try_level(TryStep step, double at, uint8_t level) {
    enum { LEVELS = 31 };
    int gone = step == TRY_LEVEL && at > 0 ? (int)(at / TRY_FALLING * LEVELS + 1e-6) : 0;
    gone = gone < LEVELS ? gone : LEVELS - 1;
    int left = (level * (LEVELS - gone) + LEVELS - 1) / LEVELS;
    return (uint8_t)left;
}

/* -------- words -------- */

/* "`order rgb` or `order bgr`": where the channel of this number was seen as `letter`. */
static void candidates(const char *order, int channel, char letter, char *text, size_t size) {
    char seen[3] = {0}, one[ORDER_BYTES], two[ORDER_BYTES];
    int other = (int)(strchr(CHANNELS, letter) - CHANNELS), third = 3 - channel - other;
    seen[channel] = letter;
    seen[other] = CHANNELS[channel];
    seen[third] = CHANNELS[third];
    bool fits = try_order(order, seen, one, sizeof one);
    seen[other] = CHANNELS[third];
    seen[third] = CHANNELS[channel];
    fits = fits && try_order(order, seen, two, sizeof two);
    snprintf(text, size, fits ? "`order %s` or `order %s`" : "another `order`", one, two);
}

static void colour_words(int channel, const TryAbout *about, TryWords *words) {
    static const char *const COLOURS[] = {"red", "green", "blue"};
    int next = channel == 0 ? 1 : 0, last = 3 - channel - next;
    char first[64], second[64];
    candidates(about->order, channel, CHANNELS[next], first, sizeof first);
    candidates(about->order, channel, CHANNELS[last], second, sizeof second);
    snprintf(words->look, sizeof words->look, "all %u pixels are %s", about->pixels,
             COLOURS[channel]);
    int used = snprintf(words->otherwise, sizeof words->otherwise, "all %s: %s; all %s: %s; ",
                        COLOURS[next], first, COLOURS[last], second);
    if (used < 0 || (size_t)used >= sizeof words->otherwise)
        return;
    snprintf(words->otherwise + used, sizeof words->otherwise - (size_t)used,
             "dark from one pixel on: data is lost there, or there are no more%s",
             !about->one_wire ? "; colours that jump: a loose wire, or a slower `clock 1000kHz`"
             : about->white ? "; colours that change along the strip: the chip has no white part, "
                              "`chip sk6812`"
                            : "; colours that change along the strip: the chip has a white part, "
                              "`chip sk6812w`");
}

static void rise_words(const TryAbout *about, TryWords *words) {
    snprintf(words->look, sizeof words->look, "white rises in %.0f s to about %.2f A (%s %.2f A)",
             TRY_RISING, about->most,
             about->said ? "the supply gives" : "no supply is said: at most", about->limit);
    snprintf(words->otherwise, sizeof words->otherwise,
             "the far end turns yellow, reddish or dim: volts are lost on the way, feed it there "
             "too; it flickers, goes out, or the board starts anew: the supply gives less than "
             "that, say less in `supply`; feel supply, wires and pixels: hot is wrong, switch off");
}

void try_words(TryStep step, const TryAbout *about, TryWords *words) {
    const char *look = "", *otherwise = "";
    switch (step) {
    case TRY_DARK:
        look = "all is dark";
        otherwise = "pixels that are lit get no data: its wire, the common ground, the arrows on "
                    "the strip, which point away from the board, the level shifter";
        break;
    case TRY_RED:
    case TRY_GREEN:
    case TRY_BLUE:
        colour_words((int)step - TRY_RED, about, words);
        return;
    case TRY_WHITE_PART:
        look = "the white parts alone are lit";
        otherwise = "a colour: the `w` of `order` is elsewhere; nothing, or colours that change "
                    "along the strip: the chip has no white part, `chip sk6812`";
        break;
    case TRY_LEVEL:
        look = "white falls step by step and keeps its colour";
        otherwise = "it stays as it is: the chip has no level, so it is another; pixels that jump: "
                    "a loose wire, or a slower `clock 1000kHz`";
        break;
    case TRY_FIRST:
        look = "one pixel is lit, the first, where the wire comes in";
        otherwise = "it should be the other end: turn the strip round, or write `mirrored`; two "
                    "pixels: the first only hands data on, or `chip` is another";
        break;
    case TRY_LAST:
        snprintf(words->look, sizeof words->look, "one pixel is lit, the very last of all %u",
                 about->pixels);
        snprintf(words->otherwise, sizeof words->otherwise,
                 "none: there are fewer than %u; one before the end: there are more; write as many "
                 "in `pixels`",
                 about->pixels);
        return;
    case TRY_WALK:
        look = about->pixels > PLACES ? "a short light walks along the wire, without a gap"
                                      : "one light walks along the wire, pixel by pixel";
        otherwise = "it skips a place: that pixel is broken, or hidden; it turns back or jumps: "
                    "the wire runs another way, say another `shape`";
        break;
    case TRY_RISE:
        rise_words(about, words);
        return;
    case TRY_STEPS:
        break;
    }
    snprintf(words->look, sizeof words->look, "%s", look);
    snprintf(words->otherwise, sizeof words->otherwise, "%s", otherwise);
}

bool try_order(const char *order, const char seen[3], char *right, size_t size) {
    for (int i = 0; i < 3; i++) {
        const char *one = seen[i] ? strchr(CHANNELS, seen[i]) : NULL;
        if (!one || seen[i] == seen[(i + 1) % 3])
            return false;
    }
    size_t length = strlen(order);
    if (length >= size)
        return false;
    for (size_t i = 0; i < length; i++) {
        const char *channel = strchr(CHANNELS, order[i]);
        right[i] = channel ? seen[channel - CHANNELS] : order[i];
    }
    right[length] = '\0';
    return true;
}
