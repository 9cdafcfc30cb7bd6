#include "runtime/core/colour.h"

/* The Planckian locus in CIE 1931 x, y as Chebyshev series in the reciprocal temperature: a least
 * squares fit to 64 points of Planck's law (c2 = 1.438776877e-2 m K) summed over the CIE 1931
 * 2-degree colour-matching functions, 1 nm, 360 to 830 nm. Within 3e-6 of those points. */
enum { TERMS = 13 };
static const double locus_x[TERMS] = {
    0.487482692,     0.205345484,     -0.0416383306,   -0.00271461845,  0.00655928071,
    -0.00273191954,  0.000370481834,  0.000186749211,  -0.000131099367, 3.14210072e-05,
    -5.44100898e-06, -1.88921567e-06, -1.81143051e-06,
};
static const double locus_y[TERMS] = {
    0.35358586,      0.03153386,     -0.0583360567,   0.0186696298,    0.00156151902,
    -0.00384336899,  0.00166144731,  -0.000290655455, -8.88787619e-05, 5.22467421e-05,
    -3.42826307e-05, -1.6927244e-06, -7.6320614e-06,
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
