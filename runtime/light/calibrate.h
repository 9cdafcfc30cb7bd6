/* What makes the light of this lamp's dies look as it is meant. */
#ifndef GLOAM_LIGHT_CALIBRATE_H
#define GLOAM_LIGHT_CALIBRATE_H

#include <stddef.h>

/* The factors of the channels, each above 0 and at most 1. `gain` stands in the lamp; `white` is
 * the colour temperature that all three at full look like, 0 where the lamp does not say: then the
 * factors are the gains. Else each is gain * B(6504 K) / B(white), B being the black body's channel
 * (colour_blackbody), all scaled so that the largest B quotient is 1; a channel that is 0 in
 * B(white) keeps its gain. So `white 6504K` changes nothing, 9000 K takes back blue. */
void calibrate_factors(const double gain[3], double white, float factors[3]);

void calibrate(const float factors[3], const float *light, size_t pixels, float *into);

#endif
