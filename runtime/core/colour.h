/* Colours: from what is written to linear light, and between two of them. Doubles inside, three
 * floats of linear sRGB light outside; the meaning is that of CSS Color 4. */
#ifndef GLOAM_CORE_COLOUR_H
#define GLOAM_CORE_COLOUR_H

#include "runtime/core/light.h"
#include "runtime/core/number.h"
#include "runtime/core/program.h"

/* Three coordinates in some space: linear light, encoded sRGB, OKLab, or OKLCH with the hue in
 * turns. */
typedef struct Coordinates {
    double x, y, z;
} Coordinates;

/* The sRGB transfer function both ways, sign-mirrored, unbounded. */
double colour_decode(double encoded);
double colour_encode(double linear);

Coordinates colour_to_oklab(Coordinates linear);
Coordinates colour_from_oklab(Coordinates lab);

/* Arguments are held within their ranges; hues wrap; the result is not clipped to a gamut. */
Colour colour_rgb(double r, double g, double b);                    /* 0..255 each */
Colour colour_hsl(double hue, double saturation, double lightness); /* turns, 0..1, 0..1 */
Colour colour_hwb(double hue, double whiteness, double blackness);  /* turns, 0..1, 0..1 */
Colour colour_oklab(double lightness, double a, double b);
Colour colour_oklch(double lightness, double chroma, double hue); /* 0..1, from 0, turns */

/* Two colours made ready to be blended in the space and hue path of `code` (BLEND_CODE): their
 * coordinates, hues put right for the path. */
void colour_pair(uint16_t code, Colour a, Colour b, Coordinates *from, Coordinates *to);
/* The light at `share` of the way between coordinates that colour_pair made. */
Colour colour_between(uint16_t code, const Coordinates *from, const Coordinates *to, double share);
/* a where share is 0, b where it is 1, exactly; else both of the above. */
Colour colour_blend(uint16_t code, Colour a, Colour b, double share);

#define COLOUR_KELVIN_LEAST 1000.0
#define COLOUR_KELVIN_MOST 25000.0
/* The black body of that temperature, largest channel 1, no channel below 0. False outside
 * 1000..25000 K: *out is left alone. */
bool colour_blackbody(double kelvin, Colour *out);

#endif
