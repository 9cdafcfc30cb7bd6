/* When toggling between two codes may not be seen: IEEE Std 1789-2015 (second hand: the standard is
 * sold). Modulation is (most - least) / (most + least) of the light. */
#ifndef GLOAM_LIGHT_FLICKER_H
#define GLOAM_LIGHT_FLICKER_H

#include <stdint.h>

/* The largest modulation, 0..1, of recommended practice 1 (low risk) at that frequency: 0.025 % a
 * hertz below 90 Hz, 0.08 % up to 1250 Hz, all above. */
double flicker_low_risk(double hertz);

/* The bits that time may add below each code: the most b for which toggling code and code + 1 at
 * frames / 2^b is at 90 Hz or faster and inside the low-risk line; at most FLICKER_BITS. `frames`
 * are frames a second on the wire; what is not finite or below 0 counts as 0. */
enum { FLICKER_BITS = 4 };
void flicker_bits(double frames, uint8_t bits[256]);

/* Frames a second that a wire can carry: one-wire 1.25 us a bit and 300 us of rest (the longest any
 * sheet asks for); clocked (`hertz` of its clock, above 0) 32 bits a pixel, 64 and half a bit a
 * pixel besides. */
double flicker_one_wire_rate(uint32_t pixels, uint32_t channels);
double flicker_clocked_rate(uint32_t pixels, double hertz);

#endif
