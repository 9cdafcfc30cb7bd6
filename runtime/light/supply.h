/* What a frame draws, estimated: a channel's current is its current at full times its code's share
 * of full, and every pixel draws its idle current besides (the sheets' figures: chips.def).
 *
 * A frame is limited before it is quantised, with one code a channel in hand, so that the bytes
 * never draw more than the supply gives, whichever way each of them is rounded. */
#ifndef GLOAM_LIGHT_SUPPLY_H
#define GLOAM_LIGHT_SUPPLY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef struct Supply {
    double channel_ampere; /* of one channel at full */
    double idle_ampere;    /* of a pixel, dark or not */
    double limit_ampere;   /* that the supply gives; 0: no limit */
} Supply;

/* Amperes of `pixels` pixels whose channels sum up to `shares` (1: a channel at full). */
double supply_current(const Supply *supply, uint32_t pixels, double shares);

/* The factor, 0..1, that keeps a frame of `shares` in `channels` channels a pixel inside the limit;
 * exactly 1 where it is inside already or there is no limit; 0 where not even the dark lamp is. */
double supply_factor(const Supply *supply, uint32_t pixels, uint32_t channels, double shares);

/* The shares of bytes as quantise.h lays them out: `channels` a pixel, and where `level` a global
 * level 0..31 behind them that multiplies them. */
double supply_shares(const uint8_t *bytes, uint32_t pixels, uint32_t channels, bool level);

#endif
