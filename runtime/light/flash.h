/* The flash rule of WCAG 2.2, success criterion 2.3.1, applied to a lamp's relative light: an
 * analyser for a run of frames. Light is linear, 3 floats a pixel, after the gamut step and before
 * dithering. The exemption for small areas is not used: a lamp lights the whole room.
 *
 * A transition is a change of relative luminance by 0.10 or more whose darker end is below 0.80
 * (general), or a change to or from a saturated red (R / (R + G + B) >= 0.8) by more than 0.2 in
 * CIE 1976 u'v' (red; black counts as white). Two signals are watched: the mean of all pixels, and
 * the pixels one by one, where a frame counts when pixels that are a quarter of all or more
 * complete a transition the same way in it. A kind breaks the rule when seven transitions of one
 * signal lie within a second of time, half open: the seventh less than a second after the first.
 * (Three flashes are six transitions; a fourth flash cannot begin without the seventh.) */
#ifndef GLOAM_LIGHT_FLASH_H
#define GLOAM_LIGHT_FLASH_H

#include <stdbool.h>
#include <stdint.h>

typedef enum FlashKind { FLASH_GENERAL, FLASH_RED, FLASH_KINDS } FlashKind;

enum {
    FLASH_TOO_MANY = 7, /* transitions within a second */
    FLASH_MOST = 256    /* the most that are counted within a second, and kept */
};

/* What was seen so far; each figure is that of the worse signal of its kind. */
typedef struct FlashSeen {
    uint32_t total[FLASH_KINDS]; /* transitions */
    uint32_t most[FLASH_KINDS];  /* within one half-open second */
    int64_t worst[FLASH_KINDS];  /* time of the first transition of that second */
    /* Four to six a second go on: the times between two successive transitions of which the second
     * that ends with the later holds 4 to 6 come to more than 4 of the 5 seconds before some
     * transition. No breach of the rule, yet uncomfortable (common practice). */
    bool sustained[FLASH_KINDS];
} FlashSeen;

typedef struct Flash Flash;

Flash *flash_create(uint32_t pixels); /* NULL: out of memory */
void flash_free(Flash *flash);
/* Forgets all that was seen. */
void flash_restart(Flash *flash);

/* Takes the next frame; times never fall. What is not within 0..1 is seen as held within it.
 * Allocates nothing. A frame with the bits of the one before completes no transition. */
void flash_frame(Flash *flash, int64_t microseconds, const float *light);
/* Whether that frame would be one transition too many of some kind; nothing is changed. Costs next
 * to nothing unless six transitions of a kind lie within the last second. */
bool flash_would_break(const Flash *flash, int64_t microseconds, const float *light);
const FlashSeen *flash_seen(const Flash *flash);

#endif
