/* Colours: from what is written to linear light, and between two of them. Doubles inside, three
 * floats of linear sRGB light outside; the meaning is that of CSS Color 4. Inline and without
 * branches where the space is known, so that loops over blocks of pixels become vector code. */
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

/* Into every loop, however long: a call would end vector code. */
#define COLOUR_INLINE static inline __attribute__((always_inline))

/* Chroma up to here has no hue (CSS Color 4, powerless hue in OKLCH). */
#define COLOUR_GREY 4e-6

/* The sRGB transfer function both ways, sign-mirrored, unbounded. */
COLOUR_INLINE double colour_decode(double encoded) {
    const double size = number_absolute(encoded);
    const double bent = number_power((size + 0.055) / 1.055, 2.4);
    return number_signed(size <= 0.04045 ? size / 12.92 : bent, encoded);
}

COLOUR_INLINE double colour_encode(double linear) {
    const double size = number_absolute(linear);
    const double bent = 1.055 * number_power(size, 1.0 / 2.4) - 0.055;
    return number_signed(size > 0.0031308 ? bent : 12.92 * size, linear);
}

/* The matrices are those of CSS Color 4 (linear sRGB to XYZ as fractions, XYZ to LMS and LMS to
 * OKLab as decimals), multiplied and inverted exactly, then rounded to double once. */

COLOUR_INLINE Coordinates colour_to_oklab(Coordinates linear) {
    const double r = linear.x, g = linear.y, b = linear.z;
    const double l =
        number_cube_root(0.412221469470763 * r + 0.5363325372617348 * g + 0.0514459932675022 * b);
    const double m = number_cube_root(0.21190349581782522 * r + 0.6806995506452344 * g +
                                      0.10739695353694055 * b);
    const double s =
        number_cube_root(0.08830245919005643 * r + 0.2817188391361215 * g + 0.6299787016738221 * b);
    const Coordinates lab = {
        0.210454268309314 * l + 0.7936177747023054 * m - 0.0040720430116193 * s,
        1.9779985324311684 * l - 2.42859224204858 * m + 0.450593709617411 * s,
        0.0259040424655478 * l + 0.7827717124575296 * m - 0.8086757549230774 * s,
    };
    return lab;
}

COLOUR_INLINE Coordinates colour_from_oklab(Coordinates lab) {
    const double l_root = lab.x + 0.396337777376175 * lab.y + 0.2158037573099136 * lab.z;
    const double m_root = lab.x - 0.10556134581565856 * lab.y - 0.06385417282581334 * lab.z;
    const double s_root = lab.x - 0.08948417752981182 * lab.y - 1.2914855480194094 * lab.z;
    const double l = l_root * l_root * l_root;
    const double m = m_root * m_root * m_root;
    const double s = s_root * s_root * s_root;
    const Coordinates linear = {
        4.076741636075958 * l - 3.3077115392580625 * m + 0.23096990318210447 * s,
        -1.268437973285032 * l + 2.609757349287689 * m - 0.3413193760026573 * s,
        -0.00419607613867548 * l - 0.7034186179359363 * m + 1.7076146940746117 * s,
    };
    return linear;
}

COLOUR_INLINE Coordinates colour_polar(Coordinates lab) {
    const double chroma = number_square_root(lab.y * lab.y + lab.z * lab.z);
    const double hue = number_modulo(number_arc_tangent(lab.z, lab.y), 1.0);
    const Coordinates lch = {lab.x, chroma, hue};
    return lch;
}

COLOUR_INLINE Coordinates colour_straight(Coordinates lch) {
    const Coordinates lab = {lch.x, lch.y * number_cosine(lch.z), lch.y * number_sine(lch.z)};
    return lab;
}

/* Rounds to single precision; what is out of its range is 0, as everything not finite is. */
COLOUR_INLINE float colour_channel(double light) {
    return light_finite((float)light);
}

COLOUR_INLINE Colour colour_of(Coordinates linear) {
    const Colour colour = {colour_channel(linear.x), colour_channel(linear.y),
                           colour_channel(linear.z)};
    return colour;
}

COLOUR_INLINE Colour colour_decoded(double r, double g, double b) {
    const Coordinates linear = {colour_decode(r), colour_decode(g), colour_decode(b)};
    return colour_of(linear);
}

/* sRGB of 0..255 each. Here and below arguments are held within their ranges and hues wrap; the
 * result is not clipped to a gamut. */
COLOUR_INLINE Colour colour_rgb(double r, double g, double b) {
    return colour_decoded(number_unit(r / 255.0), number_unit(g / 255.0), number_unit(b / 255.0));
}

/* One channel of HSL: n is 0, 8, 4 for red, green, blue (CSS Color 4, hslToRgb). */
COLOUR_INLINE double colour_of_hue(double n, double hue, double saturation, double lightness) {
    const double k = number_modulo(n + number_modulo(hue, 1.0) * 12.0, 12.0);
    const double rest = 1.0 - lightness;
    const double reach = saturation * (lightness < rest ? lightness : rest);
    const double rising = k - 3.0, falling = 9.0 - k;
    const double lower = rising < falling ? rising : falling;
    const double held = lower < 1.0 ? lower : 1.0;
    return lightness - reach * (held > -1.0 ? held : -1.0);
}

/* Hue in turns, the rest 0..1. */
COLOUR_INLINE Colour colour_hsl(double hue, double saturation, double lightness) {
    const double s = number_unit(saturation), l = number_unit(lightness);
    return colour_decoded(colour_of_hue(0.0, hue, s, l), colour_of_hue(8.0, hue, s, l),
                          colour_of_hue(4.0, hue, s, l));
}

/* Hue in turns, the rest 0..1. */
COLOUR_INLINE Colour colour_hwb(double hue, double whiteness, double blackness) {
    const double w = number_unit(whiteness), b = number_unit(blackness);
    const double sum = w + b;
    const double grey = number_divide(w, sum);
    const double part = 1.0 - w - b;
    const int is_grey = sum >= 1.0;
    const double red = colour_of_hue(0.0, hue, 1.0, 0.5) * part + w;
    const double green = colour_of_hue(8.0, hue, 1.0, 0.5) * part + w;
    const double blue = colour_of_hue(4.0, hue, 1.0, 0.5) * part + w;
    return colour_decoded(is_grey ? grey : red, is_grey ? grey : green, is_grey ? grey : blue);
}

/* Lightness 0..1. */
COLOUR_INLINE Colour colour_oklab(double lightness, double a, double b) {
    const Coordinates lab = {number_unit(lightness), a, b};
    return colour_of(colour_from_oklab(lab));
}

/* Lightness 0..1, chroma from 0, hue in turns. */
COLOUR_INLINE Colour colour_oklch(double lightness, double chroma, double hue) {
    const Coordinates lch = {number_unit(lightness), chroma > 0.0 ? chroma : 0.0, hue};
    return colour_of(colour_from_oklab(colour_straight(lch)));
}

COLOUR_INLINE Coordinates colour_coordinates(BlendSpace space, Colour colour) {
    const Coordinates linear = {(double)colour.r, (double)colour.g, (double)colour.b};
    switch (space) {
    case SPACE_OKLAB:
        return colour_to_oklab(linear);
    case SPACE_OKLCH:
        return colour_polar(colour_to_oklab(linear));
    case SPACE_SRGB: {
        const Coordinates encoded = {colour_encode(linear.x), colour_encode(linear.y),
                                     colour_encode(linear.z)};
        return encoded;
    }
    case SPACE_SRGB_LINEAR:
        break;
    }
    return linear;
}

COLOUR_INLINE Colour colour_from(BlendSpace space, Coordinates place) {
    switch (space) {
    case SPACE_OKLAB:
        return colour_of(colour_from_oklab(place));
    case SPACE_OKLCH:
        return colour_of(colour_from_oklab(colour_straight(place)));
    case SPACE_SRGB:
        return colour_decoded(place.x, place.y, place.z);
    case SPACE_SRGB_LINEAR:
        break;
    }
    return colour_of(place);
}

/* Hues nearer to each other than this part of a turn are equal: else rounding would decide whether
 * two shades of one hue turn full circle. */
static const double SAME_HUE = 1e-6;

/* Hues nearer to each other than this part of a turn are equal: else rounding would decide whether
 * two shades of one hue turn full circle. */
#define COLOUR_SAME_HUE 1e-6

/* Hue fix-up of CSS Color 4, section 12.4, in turns; equal hues go the shorter way. */
COLOUR_INLINE void colour_hues(HuePath path, double *from, double *to) {
    const double way = *to - *from;
    const double apart = number_absolute(way);
    const int equal = (apart < COLOUR_SAME_HUE) | (apart > 1.0 - COLOUR_SAME_HUE);
    const int shorter = equal | (path == HUE_SHORTER);
    const int longer = (shorter == 0) & (path == HUE_LONGER);
    const int increasing = (shorter == 0) & (path == HUE_INCREASING);
    const int decreasing = (shorter == 0) & (path == HUE_DECREASING);
    const int first =
        (shorter & (way > 0.5)) | (longer & (way > 0.0) & (way < 0.5)) | (decreasing & (way > 0.0));
    const int second = (shorter & (way < -0.5)) | (longer & (way > -0.5) & (way <= 0.0)) |
                       (increasing & (way < 0.0));
    *from = first ? *from + 1.0 : *from;
    *to = second ? *to + 1.0 : *to;
    *to = (equal & (path == HUE_LONGER)) ? *to + 1.0 : *to;
}

/* Two colours made ready to be blended in the space and hue path of `code` (BLEND_CODE): their
 * coordinates, hues put right for the path; a grey takes the other's hue. */
COLOUR_INLINE void colour_pair(uint16_t code, Colour a, Colour b, Coordinates *from,
                               Coordinates *to) {
    const BlendSpace space = (BlendSpace)(code & 3);
    *from = colour_coordinates(space, a);
    *to = colour_coordinates(space, b);
    if (space != SPACE_OKLCH)
        return;
    const int from_grey = from->y <= COLOUR_GREY;
    const int to_grey = to->y <= COLOUR_GREY;
    const double lent = to_grey ? 0.0 : to->z;
    from->z = from_grey ? lent : from->z;
    to->z = to_grey ? from->z : to->z;
    colour_hues((HuePath)((code >> 2) & 3), &from->z, &to->z);
}

/* The light at `share` of the way between coordinates that colour_pair made. */
COLOUR_INLINE Colour colour_between(uint16_t code, const Coordinates *from, const Coordinates *to,
                                    double share) {
    const Coordinates place = {
        from->x + share * (to->x - from->x),
        from->y + share * (to->y - from->y),
        from->z + share * (to->z - from->z),
    };
    return colour_from((BlendSpace)(code & 3), place);
}

/* first where share is 0, second where it is 1, exactly; else between. */
COLOUR_INLINE Colour colour_ends(Colour first, Colour second, Colour between, double share) {
    const int at_first = share == 0.0, at_second = share == 1.0;
    const Colour result = {
        at_first ? first.r : (at_second ? second.r : between.r),
        at_first ? first.g : (at_second ? second.g : between.g),
        at_first ? first.b : (at_second ? second.b : between.b),
    };
    return result;
}

COLOUR_INLINE Colour colour_blend(uint16_t code, Colour a, Colour b, double share) {
    Coordinates from, to;
    colour_pair(code, a, b, &from, &to);
    return colour_ends(a, b, colour_between(code, &from, &to, share), share);
}

#define COLOUR_KELVIN_LEAST 1000.0
#define COLOUR_KELVIN_MOST 25000.0
/* The black body of that temperature, largest channel 1, no channel below 0. False outside
 * 1000..25000 K: *out is left alone. */
bool colour_blackbody(double kelvin, Colour *out);

#endif
