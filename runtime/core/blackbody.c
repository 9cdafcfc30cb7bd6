#include "runtime/core/colour.h"

/* The Planckian locus in CIE 1931 x, y as Chebyshev series in the reciprocal temperature: a least
 * squares fit to the linear light of 64 points of Planck's law (c2 = 1.438776877e-2 m K) summed
 * over the CIE 1931 2-degree colour-matching functions, 1 nm, 360 to 830 nm. The light of those
 * points is met within 2e-6 of full light. */
enum { TERMS = 16 };
static const double locus_x[TERMS] = {
    0.487488393,     0.205356394,     -0.0416290276,   -0.00270782014,
    0.00656289723,   -0.00273139032,  0.000368033554,  0.000182259344,
    -0.000136861647, 2.53192575e-05,  -1.12646276e-05, -6.69713099e-06,
    -5.34821105e-06, -2.40665849e-06, -1.34161195e-06, -8.55734579e-07,
};
static const double locus_y[TERMS] = {
    0.353600404,     0.0315613532,    -0.0583125426,   0.0186866218,
    0.00157114973,   -0.0038412625,   0.00165639654,   -0.000301038044,
    -0.000102944083, 3.7312814e-05,   -4.89193735e-05, -1.41982527e-05,
    -1.78481902e-05, -6.86457732e-06, -4.7935729e-06,  -1.48078983e-06,
};

/* Sum of series[i] times the Chebyshev polynomial i at u (Clenshaw). */
static double chebyshev(const double series[TERMS], double u) {
    double last = 0.0, before = 0.0;
    for (int i = TERMS - 1; i > 0; i--) {
        const double next = 2.0 * u * last - before + series[i];
        before = last;
        last = next;
    }
    return u * last - before + series[0];
}

bool colour_blackbody(double kelvin, Colour *out) {
    if (!(kelvin >= COLOUR_KELVIN_LEAST && kelvin <= COLOUR_KELVIN_MOST))
        return false;
    const double u = (1000.0 / kelvin - 0.52) / 0.48; /* 25000 K is -1, 1000 K is 1 */
    const double x = chebyshev(locus_x, u);
    const double y = chebyshev(locus_y, u);
    /* Luminance 1, then XYZ to linear sRGB (the fractions of CSS Color 4). */
    const double large_x = x / y, large_z = (1.0 - x - y) / y;
    double light[3] = {
        12831.0 / 3959.0 * large_x - 329.0 / 214.0 - 1974.0 / 3959.0 * large_z,
        -851781.0 / 878810.0 * large_x + 1648619.0 / 878810.0 + 36519.0 / 878810.0 * large_z,
        705.0 / 12673.0 * large_x - 2585.0 / 12673.0 + 705.0 / 667.0 * large_z,
    };
    double largest = 0.0;
    for (int i = 0; i < 3; i++) {
        light[i] = light[i] > 0.0 ? light[i] : 0.0; /* blue below 1900 K */
        largest = light[i] > largest ? light[i] : largest;
    }
    out->r = (float)(light[0] / largest);
    out->g = (float)(light[1] / largest);
    out->b = (float)(light[2] / largest);
    return true;
}
